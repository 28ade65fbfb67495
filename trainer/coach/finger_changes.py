"""What the fingers do between two notes, in words; our own estimate, from no published table."""

from __future__ import annotations

from trainer.music.instrument import FingerChange, instrument_named
from trainer.music.pitch import Pitch

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_MANY_FINGERS = 3
"""From so many on their number is said."""

# Written notes are fingered alike on the whole family; the B foot's table holds them all.
_FLUTE = instrument_named("C flute with B foot")


def change_between(frm: Pitch, to: Pitch) -> FingerChange | None:
    """The finger change of two written notes; None where the flute hasn't got one of them."""
    try:
        return _FLUTE.finger_change(frm, to)
    except ValueError:
        return None


def why_hard(frm: Pitch, to: Pitch) -> str | None:
    """'seven fingers move, over the break'; None where the fingers explain nothing."""
    change = change_between(frm, to)
    if change is None:
        return None
    moving = len(change.fingers)
    reasons = []
    if moving >= _MANY_FINGERS:
        reasons.append(f"{_NUMBERS[moving]} fingers move")
    if change.contrary and moving > len(change.slide):
        reasons.append("some down while others come up")
    if "R4" in change.slide:
        reasons.append("the little finger slides")
    if change.crosses_break:
        reasons.append("over the break")
    return ", ".join(reasons) or None


def register_of(pitch: Pitch) -> str | None:
    """'low', 'middle' or 'high'; None off the flute."""
    try:
        return _FLUTE.register(pitch).name
    except ValueError:
        return None
