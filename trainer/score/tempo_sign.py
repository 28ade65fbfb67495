"""The note value of a tempo among words: our own outline, so that no font need have it."""

from __future__ import annotations

from fractions import Fraction


def tempo_sign(beat_quarters: Fraction) -> str:
    """The note value of a beat, as small as a letter."""
    dotted = beat_quarters.numerator == 3
    plain = beat_quarters * 2 / 3 if dotted else beat_quarters
    hollow = plain >= 2
    head = (
        f'<ellipse cx="12" cy="62" rx="11" ry="8" transform="rotate(-20 12 62)" '
        f'fill="{"none" if hollow else "black"}" stroke="black" stroke-width="3"/>'
    )
    stem = '<path d="M23 58 L23 6" stroke="black" stroke-width="3.4" fill="none"/>'
    flag = (
        '<path d="M23 6 C24 20 40 24 34 44" stroke="black" stroke-width="3.4" fill="none"/>'
        if plain == Fraction(1, 2)
        else ""
    )
    dot = '<circle cx="33" cy="62" r="4" fill="black"/>' if dotted else ""
    width = 40 if dotted or flag else 28
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="value" viewBox="0 0 {width} 74" '
        f'width="{width / 17:.2f}mm" height="{74 / 17:.2f}mm">{head}{stem}{flag}{dot}</svg>'
    )
