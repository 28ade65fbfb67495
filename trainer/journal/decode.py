"""A session's log from the text of its file (form: `journal.session_schema`, older ones too).

A required line that is missing or wrong costs its round, or the session when it stands at the top;
any other wrong line is told and taken as missing. Nothing is guessed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from trainer.disk.strict_yaml import Place
from trainer.journal.field_kinds import (
    Inline,
    Kept,
    KeptFields,
    Record,
    Records,
    listed,
    mapped,
    shown,
)
from trainer.journal.log import SessionLog
from trainer.journal.older import in_present_form
from trainer.journal.session_schema import SESSION

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

    def inner(self, key: str) -> _Reader | None:
        mapping = self.optional(key, mapped)
        return None if mapping is None else _Reader(mapping, (*self.place, key), self.faults)

    def items(self, key: str) -> list[_Reader]:
        """The mappings of a list; what is no mapping is noted and left out."""
        found = []
        for index, item in enumerate(self.optional(key, listed) or []):
            place = (*self.place, key, index)
            if isinstance(item, dict):
                found.append(_Reader(item, place, self.faults))
            else:
                self.faults.append(
                    DecodeFault(place, f"{shown(item)} should be lines of 'name: value'")
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
        return SessionLog(**_values(reader, SESSION)), tuple(reader.faults)
    except _MissingError:
        return None, tuple(reader.faults)


def _values(reader: _Reader, fields: KeptFields) -> dict[str, Any]:
    """The fields of a log, from its lines."""
    return {field.attribute: _value(reader, field) for field in fields}


def _value(reader: _Reader, field: Kept) -> Any:
    match field.kind:
        case Record(fields=fields, make=make):
            inner = reader.inner(field.key)
            return field.absent if inner is None else make(**_values(inner, fields))
        case Inline(fields=fields, make=make):
            parts = _values(reader, fields)
            return make(**parts) if None not in parts.values() else None
        case Records(fields=fields, make=make, each_counts=each_counts):
            items = reader.items(field.key)
            return tuple(_each(items, lambda item: make(**_values(item, fields)), each_counts))
        case _:
            return _one_value(reader, field)


def _one_value(reader: _Reader, field: Kept) -> Any:
    if _is_required(reader, field):
        return reader.required(field.key, field.kind.read)
    if reader.mapping.get(field.key) is None:
        return field.absent
    value = reader.optional(field.key, field.kind.read)
    if value is None and field.if_wrong is not None:
        return field.if_wrong
    return field.absent if value in (None, "") else value


def _is_required(reader: _Reader, field: Kept) -> bool:
    if field.required_unless is not None:
        key, word = field.required_unless
        return reader.mapping.get(key) != word
    return field.required or (field.strict and field.key in reader.mapping)


def _each(readers: list[_Reader], read: Callable[[_Reader], _T], each_counts: bool) -> Iterator[_T]:
    """What could be read; what lacks something required is left out, unless each one counts."""
    for reader in readers:
        try:
            yield read(reader)
        except _MissingError:
            if each_counts:
                raise
