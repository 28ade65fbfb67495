"""Older forms of a session's file, brought to the present one as it is read.

The file itself stays as it was written. Each step leads from one form to the next; a new form adds
the step that leads to it and a file of the form before to the tests. A step never changes
afterwards, so the words it knows are its own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

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


STEPS: dict[int, Step] = {0: _from_0}
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
