"""The notes of sessions as one tidy table in a column file (Apache Parquet), a row a note.

The columns are those of the CSV export; `columns` describes each. Wants the library pyarrow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trainer.disk.missing_library import install_words
from trainer.errors import TrainerError
from trainer.journal.export import (
    NOTE_COLUMNS,
    ROUND_COLUMNS,
    ROUND_FIELDS,
    SESSION_COLUMNS,
    SESSION_FIELDS,
    note_rows,
)
from trainer.journal.field_kinds import KeptKind, Number, Time, Truth, Whole, flat
from trainer.journal.log import SessionLog
from trainer.journal.session_schema import NOTE

WANTED = "A column file wants the library pyarrow: {how}"
PLACE = "Counts the lines of a round from 1, extra notes too."


@dataclass(frozen=True)
class Column:
    """One column of the table."""

    name: str
    kind: str
    """'text', 'number', 'whole number', 'truth', or 'time', as the student's clock showed it."""
    says: str


_FACTS = (
    *zip(SESSION_COLUMNS, SESSION_FIELDS, strict=True),
    *zip(ROUND_COLUMNS, ROUND_FIELDS, strict=True),
)
"""Columns that hold the same in every note of a round."""


def columns() -> tuple[Column, ...]:
    """Every column in order, with what it holds."""
    notes = zip(NOTE_COLUMNS[1:], flat(NOTE), strict=True)
    return (
        *(Column(name, _kind(field.kind), field.says) for name, field in _FACTS),
        Column(NOTE_COLUMNS[0], "whole number", PLACE),
        *(Column(name, _kind(field.kind), field.says) for name, field in notes),
    )


def _kind(kind: KeptKind) -> str:
    match kind:
        case Whole():
            return "whole number"
        case Number():
            return "number"
        case Truth():
            return "truth"
        case Time():
            return "time"
        case _:
            return "text"


def note_table(sessions: Sequence[SessionLog]) -> tuple[bytes, int]:
    """The column file, and how many rows it has. Carries none of the student's own words.

    Raises TrainerError where pyarrow is missing.
    """
    try:
        import pyarrow as arrow
        from pyarrow import parquet
    except ImportError as error:
        raise TrainerError(WANTED.format(how=install_words("pyarrow"))) from error
    kinds = {
        "text": arrow.string(),
        "number": arrow.float64(),
        "whole number": arrow.int64(),
        "truth": arrow.bool_(),
        "time": arrow.timestamp("us"),
    }
    schema = arrow.schema(
        [
            arrow.field(each.name, kinds[each.kind], metadata={"description": each.says})
            for each in columns()
        ]
    )
    kinds_kept = {name: field.kind for name, field in _FACTS}
    rows = [
        {name: _value(kinds_kept.get(name), value) for name, value in row.items()}
        for log in sessions
        for round_ in log.rounds
        for row in note_rows(log, round_)
    ]
    buffer = arrow.BufferOutputStream()
    parquet.write_table(arrow.Table.from_pylist(rows, schema=schema), buffer)
    return buffer.getvalue().to_pybytes(), len(rows)


def _value(kind: KeptKind | None, value: Any) -> Any:
    """As it is written; a time without its offset, as the clock showed it. A note's values (no
    kind) stand so already."""
    if isinstance(value, datetime):
        return value.replace(tzinfo=None)
    return value if kind is None or value is None else kind.plain(value)


def columns_plain() -> list[dict[str, str]]:
    """The description, ready for `json.dumps`."""
    return [{"column": one.name, "kind": one.kind, "says": one.says} for one in columns()]
