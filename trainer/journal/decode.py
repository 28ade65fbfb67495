"""A session's log from the text of its file (form: `journal.session_schema`, older ones too).

A required line that is missing or wrong costs its round, or the session when it stands at the top;
any other wrong line is told and taken as missing. Nothing is guessed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import StrEnum
from typing import TypeVar

from trainer.ear.heard import RoundMeasures, State, Tone
from trainer.journal.log import (
    SCHEMA_VERSION,
    AskedExercise,
    LaterRemark,
    NoteLog,
    RoundLog,
    SessionLog,
)
from trainer.journal.older import in_present_form
from trainer.journal.session_schema import AIMS, MEASURES, NOTE_FIELDS, RANGES, TONE_FIELDS, WIDEST
from trainer.music.note import Articulation, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import Aims, RoundKind

Place = tuple[str | int, ...]
"""Where a value stands: ('rounds', 2, 'tempo_bpm')."""

_E = TypeVar("_E", bound=StrEnum)
_T = TypeVar("_T")


@dataclass(frozen=True)
class DecodeFault:
    """One wrong value."""

    place: Place
    sentence: str


class _MissingError(Exception):
    """A line that can't be done without is missing or wrong; the fault has been noted."""


@dataclass
class _Reader:
    """One mapping of the file, read field by field; wrong fields are noted in `faults`."""

    mapping: Mapping[object, object]
    place: Place
    faults: list[DecodeFault] = field(default_factory=list)

    def note_fault(self, key: str | None, sentence: str) -> None:
        place = self.place if key is None else (*self.place, key)
        self.faults.append(DecodeFault(place, sentence))

    def optional(self, key: str, read: Callable[[str, object], _T]) -> _T | None:
        value = self.mapping.get(key)
        if value is None:
            return None
        try:
            return read(key, value)
        except ValueError as wrong:
            self.note_fault(key, str(wrong))
            return None

    def required(self, key: str, read: Callable[[str, object], _T]) -> _T:
        if self.mapping.get(key) is None:
            self.note_fault(None, f"'{key}' is missing here; write it, or leave this part out")
            raise _MissingError
        value = self.optional(key, read)
        if value is None:
            raise _MissingError
        return value

    def text(self, key: str) -> str:
        return self.optional(key, _text) or ""

    def number(self, key: str) -> float | None:
        return self.optional(key, _number)

    def inner(self, key: str) -> _Reader | None:
        mapping = self.optional(key, _mapping)
        return None if mapping is None else _Reader(mapping, (*self.place, key), self.faults)

    def items(self, key: str) -> list[_Reader]:
        """The mappings of a list; what is no mapping is noted and left out."""
        found = []
        for index, item in enumerate(self.optional(key, _list) or []):
            place = (*self.place, key, index)
            if isinstance(item, dict):
                found.append(_Reader(item, place, self.faults))
            else:
                self.faults.append(
                    DecodeFault(place, f"{_shown(item)} should be lines of 'name: value'")
                )
        return found


def session_from(plain: object) -> tuple[SessionLog | None, tuple[DecodeFault, ...]]:
    """The session in a loaded YAML document, and every fault in it."""
    if not isinstance(plain, dict):
        return None, (
            DecodeFault((), "this is not a practice session: there is no 'version' line"),
        )
    reader = _Reader(in_present_form(plain), ())
    try:
        return _session(reader), tuple(reader.faults)
    except _MissingError:
        return None, tuple(reader.faults)


def _session(reader: _Reader) -> SessionLog:
    version = reader.required("version", _version)
    started = reader.required("started", _time)
    a4_hz = reader.number("a4_hz")
    return SessionLog(
        version=version,
        session_id=reader.text("session"),
        student=reader.text("student"),
        routine_title=reader.text("routine"),
        routine_file=reader.text("routine_file"),
        instrument=reader.text("instrument") or SessionLog.instrument,
        a4_hz=SessionLog.a4_hz if a4_hz is None else a4_hz,
        started=started,
        ended=reader.optional("ended", _time),
        elapsed_s=reader.number("elapsed_s"),
        felt=reader.text("felt"),
        remark=reader.text("remark"),
        private=_private(reader),
        remarks=_whole(reader.items("remarks"), _later_remark),
        asked=_whole(reader.items("asked"), _asked),
        rounds=_whole(reader.items("rounds"), _round),
    )


def _whole(readers: list[_Reader], read: Callable[[_Reader], _T]) -> tuple[_T, ...]:
    """What could be read; what lacks something required is left out."""
    found = []
    for reader in readers:
        try:
            found.append(read(reader))
        except _MissingError:
            continue
    return tuple(found)


def _private(reader: _Reader) -> bool:
    """Also where the line can't be understood: better hidden by mistake than shown."""
    written = reader.mapping.get("private") is not None
    return written and reader.optional("private", _yes_or_no) is not False


def _later_remark(reader: _Reader) -> LaterRemark:
    return LaterRemark(
        remark=reader.required("remark", _text),
        at=reader.optional("at", _time),
        private=_private(reader),
    )


def _asked(reader: _Reader) -> AskedExercise:
    return AskedExercise(
        exercise_id=reader.required("exercise", _text),
        title=reader.text("title"),
        minutes=reader.number("minutes"),
    )


def _round(reader: _Reader) -> RoundLog:
    number = reader.optional("number", _count)
    return RoundLog(
        exercise_id=reader.required("exercise", _text),
        title=reader.text("title"),
        kind=reader.required("kind", _choice(RoundKind)),
        number=1 if number is None else number,
        key=reader.text("key"),
        articulation=reader.required("articulation", _choice(Articulation)),
        tempo_bpm=reader.required("tempo_bpm", _number),
        started=reader.required("started", _time),
        seconds=reader.required("seconds", _number),
        aims=_aims(reader.inner("aims")),
        secure=reader.optional("secure", _yes_or_no),
        advice=reader.text("advice"),
        topic=reader.text("topic"),
        felt=reader.text("felt"),
        disagreed=bool(reader.optional("disagreed", _yes_or_no)),
        measures=_measures(reader.inner("measures")),
        breaths_s=reader.optional("breaths_s", _breaths) or (),
        warnings=reader.optional("warnings", _texts) or (),
        notes=tuple(_note(note) for note in reader.items("notes")),
    )


def _aims(reader: _Reader | None) -> Aims:
    return Aims(**{key: reader.number(key) for key in AIMS}) if reader else Aims()


def _measures(reader: _Reader | None) -> RoundMeasures | None:
    if reader is None:
        return None
    return RoundMeasures(
        played=reader.required("played", _count),
        missed=reader.required("missed", _count),
        extra=reader.required("extra", _count),
        **{key: reader.number(key) for key in MEASURES},
    )


def _note(reader: _Reader) -> NoteLog:
    return NoteLog(
        written=_written(reader),
        state=reader.required("state", _choice(State))
        if "state" in reader.mapping
        else State.PLAYED,
        start=reader.optional("start", _choice(Start)),
        tone=_tone(reader),
        blip=reader.optional("blip", _yes_or_no) or False,
        instead_of=reader.optional("instead_of", _pitch),
        **{field_: reader.number(key) for key, field_ in NOTE_FIELDS.items()},
    )


def _written(reader: _Reader) -> str | None:
    if reader.mapping.get("state") == State.EXTRA:
        return reader.optional("note", _pitch)
    return reader.required("note", _pitch)


def _tone(reader: _Reader) -> Tone | None:
    values = {field_: reader.number(key) for key, field_ in TONE_FIELDS.items()}
    present = {field_: value for field_, value in values.items() if value is not None}
    return Tone(**present) if len(present) == len(values) else None


def _version(key: str, value: object) -> int:
    version = _count(key, value)
    if version > SCHEMA_VERSION:
        raise ValueError(
            f"a newer trainer wrote this file (form {version}, this trainer reads up to "
            f"{SCHEMA_VERSION}); update the trainer to read it"
        )
    if version < SCHEMA_VERSION:
        raise ValueError(f"'version: {version}' never was; write 'version: {SCHEMA_VERSION}'")
    return version


def _text(key: str, value: object) -> str:
    if isinstance(value, (list, dict)):
        raise ValueError(f"'{key}' should be words; put them in quotes")
    return value if isinstance(value, str) else str(value)


def _texts(key: str, value: object) -> tuple[str, ...]:
    return tuple(_text(key, item) for item in _list(key, value))


def _number(key: str, value: object) -> float:
    lowest, highest = RANGES.get(key, WIDEST)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ValueError(f"'{key}' should be a number, not {_shown(value)}")
    if not lowest <= value <= highest:  # also false for NaN
        raise ValueError(f"'{key}: {_shown(value)}' should lie from {lowest:g} to {highest:g}")
    return float(value)


def _count(key: str, value: object) -> int:
    number = _number(key, value)
    if number != math.floor(number):
        raise ValueError(f"'{key}' should be a whole number, not {_shown(value)}")
    return int(number)


def _yes_or_no(key: str, value: object) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"'{key}' should be true or false, not {_shown(value)}")
    return value


def _choice(kind: type[_E]) -> Callable[[str, object], _E]:
    def read(key: str, value: object) -> _E:
        try:
            return kind(str(value))
        except ValueError:
            choices = ", ".join(item.value for item in kind)
            raise ValueError(f"'{key}: {_shown(value)}' should be one of: {choices}") from None

    return read


def _pitch(_key: str, value: object) -> str:
    return str(Pitch.parse(str(value)))


def _time(key: str, value: object) -> datetime:
    try:
        moment = datetime.fromisoformat(str(value))
    except ValueError:
        raise ValueError(
            f"'{key}: {_shown(value)}' is no time; write it as 2026-11-23 17:05:12+01:00"
        ) from None
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _breaths(key: str, value: object) -> tuple[tuple[float, float], ...]:
    breaths = []
    for item in _list(key, value):
        if not isinstance(item, list) or len(item) != 2:
            raise ValueError(f"'{key}' should be pairs of seconds: [[8.1, 8.5]]")
        breaths.append((_number(key, item[0]), _number(key, item[1])))
    return tuple(breaths)


def _mapping(key: str, value: object) -> Mapping[object, object]:
    if not isinstance(value, dict):
        raise ValueError(f"'{key}' should be lines of 'name: value', not {_shown(value)}")
    return value


def _list(key: str, value: object) -> list[object]:
    if not isinstance(value, list):
        raise ValueError(f"'{key}' should be a list, one line each beginning with '-'")
    return value


def _shown(value: object) -> str:
    """A value short enough for a sentence."""
    if isinstance(value, (list, dict)):
        return "a list" if isinstance(value, list) else "more lines"
    text = str(value)
    return text if len(text) <= 40 else text[:39] + "…"
