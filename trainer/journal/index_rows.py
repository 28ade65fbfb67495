"""What the index keeps of a session: its rows, and the outline made of them again."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from typing import Any

from trainer.figures.round_measures import RoundMeasures
from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.outline import (
    MEASURES_KEPT,
    ROUND_KEPT,
    SESSION_KEPT,
    outline,
    piece_of,
    session_tuning,
)

COLUMNS = (*ROUND_KEPT, *MEASURES_KEPT)
ROUND_COLUMNS = ", ".join(field.attribute for field in COLUMNS)
ROUND_COLUMN_KINDS = ", ".join(f"{field.attribute} {field.kind.sql}" for field in COLUMNS)
TABLES = f"""
CREATE TABLE file (
    id INTEGER PRIMARY KEY,
    path BLOB NOT NULL UNIQUE,
    size INTEGER NOT NULL,
    changed_ns INTEGER NOT NULL,
    problems TEXT NOT NULL,
    day TEXT,
    identity TEXT,
    session TEXT,
    tuning TEXT
);
CREATE INDEX file_by_day ON file (day, identity);
CREATE INDEX file_with_problems ON file (id) WHERE problems <> '[]';
CREATE TABLE round (
    file INTEGER NOT NULL,
    place INTEGER NOT NULL,
    day TEXT NOT NULL,
    {ROUND_COLUMN_KINDS},
    piece TEXT,
    PRIMARY KEY (file, place)
) WITHOUT ROWID;
CREATE INDEX round_by_piece ON round (piece, day);
CREATE INDEX round_secure ON round (piece, articulation, tempo_bpm, day) WHERE secure = 1;
"""
FILE_COLUMNS = "path, size, changed_ns, problems, day, identity, session, tuning"
_ROUND_INSERT = f"INSERT INTO round (file, place, day, piece, {ROUND_COLUMNS})"


def keep_session(
    base: sqlite3.Connection, file: tuple[object, ...], log: SessionLog | None
) -> None:
    """Add a file's row (path, size, time of change, problems), and its session where it has one."""
    values = (*file, *((None,) * 4 if log is None else _session_row(log)))
    places = ", ".join("?" * len(values))
    made = base.execute(f"INSERT INTO file ({FILE_COLUMNS}) VALUES ({places})", values).lastrowid
    if log is not None:
        rows = (
            (made, place, str(log.day), _piece_text(round_), *_round_row(round_))
            for place, round_ in enumerate(outline(log).rounds)
        )
        base.executemany(f"{_ROUND_INSERT} VALUES ({', '.join('?' * (4 + len(COLUMNS)))})", rows)


def _piece_text(log: RoundLog) -> str | None:
    piece = piece_of(log)
    return None if piece is None else json.dumps(piece)


def _session_row(log: SessionLog) -> tuple[str, str, str, str]:
    facts = {
        field.attribute: field.kind.kept(getattr(log, field.attribute)) for field in SESSION_KEPT
    }
    tuning = session_tuning(log)
    return (
        str(log.day),
        _fit(log.identity),
        json.dumps(facts),
        json.dumps([tuning.instrument, tuning.cents]),
    )


def kept_session(text: str, rounds: Sequence[tuple[Any, ...]]) -> SessionLog:
    """The outline of a session from its text and its rounds' rows (`ROUND_COLUMNS`)."""
    facts = json.loads(text)
    read = {field.attribute: field.kind.back(facts[field.attribute]) for field in SESSION_KEPT}
    return SessionLog(**read, rounds=tuple(map(_round, rounds)))


def _round_row(log: RoundLog) -> tuple[object, ...]:
    own = (field.kind.kept(getattr(log, field.attribute)) for field in ROUND_KEPT)
    measured = (getattr(log.measures, field.attribute, None) for field in MEASURES_KEPT)
    return (*own, *measured)


def _round(row: Sequence[Any]) -> RoundLog:
    own, measured = row[: len(ROUND_KEPT)], row[len(ROUND_KEPT) :]
    return RoundLog(
        **{
            field.attribute: field.kind.back(value)
            for field, value in zip(ROUND_KEPT, own, strict=True)
        },
        measures=_measures(measured),
    )


def _measures(row: Sequence[Any]) -> RoundMeasures | None:
    """None where the first of the counts is missing: the trainer did not listen."""
    if row[0] is None:
        return None
    kept = zip(MEASURES_KEPT, row, strict=True)
    return RoundMeasures(**{field.attribute: value for field, value in kept})


def _fit(text: str) -> str:
    """The text without half characters, which no database takes."""
    return text.encode("utf-8", "replace").decode()
