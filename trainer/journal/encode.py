"""A session's log as the text of its file (form: `trainer.journal.session_schema`).

Numbers are made Python's own on the way: YAML's writer refuses numpy's.
"""

from __future__ import annotations

import yaml

from trainer.journal.field_kinds import Inline, Kept, KeptFields, Record, Records
from trainer.journal.log import LaterRemark, NoteLog, RoundLog, SessionLog
from trainer.journal.session_schema import HEADING, NOTE, REMARK, ROUND, SESSION

_ONE_LINE = 1_000_000_000
"""Columns: no text of a session is broken in two."""


class _Dumper(getattr(yaml, "CSafeDumper", yaml.SafeDumper)):  # type: ignore[misc]
    """The safe dumper, with remarks of several lines written as they were typed."""


def _written_text(dumper: yaml.SafeDumper, text: str) -> yaml.Node:
    # a block that ends in blank lines makes libyaml close the whole document after it
    as_typed = "\n" in text and bool(text.strip()) and not text[-2:].isspace()
    style = "|" if as_typed else None
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


_Dumper.add_representer(str, _written_text)


Plain = dict[str, object]
HEADER = tuple(field for field in SESSION if field.key != "rounds")


def session_text(log: SessionLog) -> str:
    """The whole file."""
    return joined_text(header_text(log), [round_text(round_) for round_ in log.rounds])


def joined_text(header: str, rounds: list[str]) -> str:
    """The whole file from parts made earlier."""
    if not rounds:
        return header + "rounds: []\n"
    return header + "rounds:\n" + "\n".join(rounds)


def header_text(log: SessionLog) -> str:
    """Everything above the rounds."""
    return HEADING + _dump(_lines(HEADER, log))


def round_text(round_log: RoundLog) -> str:
    """One round, a line a note."""
    return _dump([_lines(ROUND, round_log)])


def remark_text(later: LaterRemark) -> str:
    """One remark added later, on one line."""
    return _dump([_lines(REMARK, later)])


def session_plain(log: SessionLog) -> Plain:
    """The whole session as plain data under the file's own names; times are datetimes."""
    return _lines(SESSION, log)


def note_plain(note: NoteLog) -> Plain:
    """One note under the names of its line; what was not measured is left out."""
    return _lines(NOTE, note)


def _dump(plain: object) -> str:
    text: str = yaml.dump(
        plain,
        Dumper=_Dumper,
        default_flow_style=None,  # innermost collections on one line, the rest indented
        sort_keys=False,
        allow_unicode=True,
        width=_ONE_LINE,
    )
    return text


def _lines(fields: KeptFields, log: object) -> Plain:
    """What is written of a log, in the order of its fields."""
    lines: Plain = {}
    for field in fields:
        value = getattr(log, field.attribute)
        if isinstance(field.kind, Inline):
            lines |= {} if value is None else _lines(field.kind.fields, value)
        elif (plain := _plain(field, value)) is not None:
            lines[field.key] = plain
    return lines


def _plain(field: Kept, value: object) -> object:
    """A value as it is written; None where it is not."""
    if value is None or (field.tacit and value == field.absent):
        return None
    match field.kind:
        case Record(fields=fields):
            return _lines(fields, value) or None
        case Records(fields=fields):
            assert isinstance(value, tuple)
            return [_lines(fields, item) for item in value]
        case kind:
            plain: object = kind.plain(value)
            return None if plain == "" and not field.required else plain
