"""Older forms of a session's file, brought to the present one as it is read.

The file itself stays as it was written. Each step leads from one form to the next; a new form adds
the step that leads to it and a file of the form before to the tests. A step never changes
afterwards, so the words it knows are its own.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from math import isfinite
from statistics import median, pstdev

Plain = Mapping[object, object]
Step = Callable[[Plain], Plain]


def in_present_form(plain: Plain) -> Plain:
    """The same session in the form of `journal.session_schema`; what is in none, as it is."""
    version = plain.get("version")
    while isinstance(version, int) and not isinstance(version, bool) and version in STEPS:
        plain = _with(STEPS[version](plain), version=version + 1)
        version += 1
    return plain


SECURE_IN_0 = "everything asked for was heard"
NOT_JUDGED_IN_0 = (None, "", "the sound itself could not be judged", "nothing was heard")


def _from_0(plain: Plain) -> Plain:
    """A session's length stood in `minutes`."""
    plain = _each(plain, "rounds", _round_from_0)
    minutes = plain.get("minutes")
    return _with(plain, elapsed_s=60 * minutes) if isinstance(minutes, (int, float)) else plain


def _round_from_0(plain: Plain) -> Plain:
    """The tempo stood in `tempo`; whether the round was secure followed from its `topic`."""
    plain = _each(_renamed(plain, "tempo", "tempo_bpm"), "notes", _note_from_0)
    topic = plain.get("topic")
    return plain if topic in NOT_JUDGED_IN_0 else _with(plain, secure=topic == SECURE_IN_0)


def _note_from_0(plain: Plain) -> Plain:
    """The distance from the beat stood in `late_ms`."""
    return _renamed(plain, "late_ms", "off_ms")


FEWEST_IN_1 = 6
"""Fewer places in time give no evenness from form 2 on."""
FAR_OFF_IN_1 = 65.0
"""Further off, in cents, another note was sounding."""


def _from_1(plain: Plain) -> Plain:
    """Evenness was counted about straight lines, and the middle of the tuning over all notes."""
    return _each(plain, "rounds", _round_from_1)


def _round_from_1(plain: Plain) -> Plain:
    """A knot's pitches stood in its title: 'C#5–D5, slowly'."""
    knot = _pitches_from_1(plain.get("title")) if plain.get("kind") == "knot" else []
    if knot:
        plain = _with(plain, knot=knot)
    measures = plain.get("measures")
    if not isinstance(measures, dict):
        return plain
    notes = plain.get("notes")
    return _with(plain, measures=_counted_anew(measures, notes if isinstance(notes, list) else []))


def _pitches_from_1(title: object) -> list[str]:
    names = str(title).split(",")[0].split("–")
    return names if all(re.fullmatch(r"[A-G](##?|bb?)?-?\d", name) for name in names) else []


def _counted_anew(measures: Plain, notes: list[object]) -> Plain:
    """From the notes; where these weren't kept, what was counted then stands apart in `older`."""
    changed = {"evenness_ms", "cents_median"}
    same: Plain = {key: value for key, value in measures.items() if key not in changed}
    lines = [note for note in notes if isinstance(note, dict)]
    if not lines:
        older = {key: value for key, value in measures.items() if key in changed}
        return _with(same, older=older) if older else same
    off_ms = [off for note in lines if (off := _number_in_1(note, "off_ms")) is not None]
    cents = [
        away
        for note in lines
        if note.get("state", "played") == "played"
        if (away := _number_in_1(note, "cents")) is not None and abs(away) <= FAR_OFF_IN_1
    ]
    if len(off_ms) >= FEWEST_IN_1:
        same = _with(same, evenness_ms=round(pstdev(off_ms), 1))
    return _with(same, cents_median=round(median(cents), 1)) if cents else same


def _number_in_1(note: Plain, key: str) -> float | None:
    value = note.get(key)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not isfinite(value):
        return None
    return float(value)


STEPS: dict[int, Step] = {0: _from_0, 1: _from_1}
"""Form → the same session in the next form."""


def _with(plain: Plain, **values: object) -> Plain:
    changed = dict(plain)
    changed.update(values)
    return changed


def _renamed(plain: Plain, old: str, new: str) -> Plain:
    return {new if key == old else key: value for key, value in plain.items()}


def _each(plain: Plain, key: str, step: Step) -> Plain:
    """With each mapping of the list under `key` changed; what is no list stays as it is."""
    items = plain.get(key)
    if not isinstance(items, list):
        return plain
    return _with(plain, **{key: [step(item) if isinstance(item, dict) else item for item in items]})
