"""A round beside the last time it was played, in one quiet line."""

from __future__ import annotations

from trainer.coach.advice import FigureThenAndNow, LastTime

BETWEEN = "  "


def beside_line(last: LastTime | None, width: int) -> str:
    """'Since Tuesday at 66:  94 → 98 % clean  more even  9 → 11 cents', as it fits."""
    if last is None:
        return ""
    line = f"Since {_then(last)}:"
    for figure in map(_figure, last.figures):
        longer = BETWEEN.join((line, figure))
        line = longer if len(longer) <= width else line
    return line


def beside_words(last: LastTime) -> str:
    """The same for the ear: 'Since Tuesday at 66: clean before 94, now 98 %; …'."""
    spoken = "; ".join(map(_spoken, last.figures))
    return f"Since {_then(last)}: {spoken}."


def _then(last: LastTime) -> str:
    return last.when if last.tempo_bpm is None else f"{last.when} at {last.tempo_bpm:.0f}"


def _spoken(one: FigureThenAndNow) -> str:
    if one.unit == "ms":
        return _how_even(one)
    return f"{one.name} before {one.before}, now {one.now} {one.unit}".strip()


def _how_even(one: FigureThenAndNow) -> str:
    """In words: thousandths of a second say nothing to a player."""
    return {None: "as even", True: "more even", False: "less even"}[one.better]


def _figure(one: FigureThenAndNow) -> str:
    if one.unit == "ms":
        return _how_even(one)
    return f"{one.before} → {one.now} {one.unit} {one.name}".rstrip()
