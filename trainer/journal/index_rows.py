"""What the index keeps of a session: its rows, and the outline made of them again."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from trainer.ear.heard import RoundMeasures
from trainer.journal.log import AskedExercise, RoundLog, SessionLog
from trainer.journal.outline import outline, piece_of, session_tuning
from trainer.music.note import Articulation
from trainer.routine.round import RoundKind

TABLES = """
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
    exercise_id TEXT NOT NULL,
    title TEXT NOT NULL,
    kind TEXT NOT NULL,
    number INTEGER NOT NULL,
    key TEXT NOT NULL,
    articulation TEXT NOT NULL,
    tempo_bpm REAL NOT NULL,
    started TEXT NOT NULL,
    seconds REAL NOT NULL,
    secure INTEGER,
    played INTEGER,
    missed INTEGER,
    extra INTEGER,
    evenness_ms REAL,
    piece TEXT,
    PRIMARY KEY (file, place)
) WITHOUT ROWID;
CREATE INDEX round_by_piece ON round (piece, day);
CREATE INDEX round_secure ON round (piece, articulation, tempo_bpm, day) WHERE secure = 1;
"""
FILE_COLUMNS = "path, size, changed_ns, problems, day, identity, session, tuning"
ROUND_COLUMNS = (
    "exercise_id, title, kind, number, key, articulation, tempo_bpm, started, seconds, secure, "
    "played, missed, extra, evenness_ms"
)
_KINDS = {kind.value: kind for kind in RoundKind}
_ARTICULATIONS = {articulation.value: articulation for articulation in Articulation}
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
        base.executemany(f"{_ROUND_INSERT} VALUES ({', '.join('?' * 18)})", rows)


def _piece_text(log: RoundLog) -> str | None:
    piece = piece_of(log)
    return None if piece is None else json.dumps(piece)


def _session_row(log: SessionLog) -> tuple[str, str, str, str]:
    facts = {
        "version": log.version,
        "session_id": log.session_id,
        "student": log.student,
        "routine_title": log.routine_title,
        "routine_file": log.routine_file,
        "instrument": log.instrument,
        "a4_hz": log.a4_hz,
        "started": log.started.isoformat(),
        "ended": log.ended.isoformat() if log.ended else None,
        "elapsed_s": log.elapsed_s,
        "asked": [[each.exercise_id, each.title, each.minutes] for each in log.asked],
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
    read = {
        "started": datetime.fromisoformat(facts["started"]),
        "ended": datetime.fromisoformat(facts["ended"]) if facts["ended"] else None,
        "asked": tuple(AskedExercise(*each) for each in facts["asked"]),
        "rounds": tuple(_round(*row) for row in rounds),
    }
    return SessionLog(**facts | read)


def _round_row(log: RoundLog) -> tuple[object, ...]:
    measures = log.measures
    heard = (
        (None,) * 4
        if measures is None
        else (measures.played, measures.missed, measures.extra, measures.evenness_ms)
    )
    return (
        _fit(log.exercise_id),
        _fit(log.title),
        log.kind.value,
        log.number,
        _fit(log.key),
        log.articulation.value,
        log.tempo_bpm,
        log.started.isoformat(),
        log.seconds,
        log.secure,
        *heard,
    )


def _round(
    exercise_id: str,
    title: str,
    kind: str,
    number: int,
    key: str,
    articulation: str,
    tempo_bpm: float,
    started: str,
    seconds: float,
    secure: int | None,
    played: int | None,
    missed: int | None,
    extra: int | None,
    evenness_ms: float | None,
) -> RoundLog:
    measures = None
    if played is not None and missed is not None and extra is not None:
        measures = RoundMeasures(played, missed, extra, evenness_ms=evenness_ms)
    return RoundLog(
        exercise_id=exercise_id,
        title=title,
        kind=_KINDS[kind],
        number=number,
        key=key,
        articulation=_ARTICULATIONS[articulation],
        tempo_bpm=tempo_bpm,
        started=datetime.fromisoformat(started),
        seconds=seconds,
        secure=None if secure is None else bool(secure),
        measures=measures,
    )


def _fit(text: str) -> str:
    """The text without half characters, which no database takes."""
    return text.encode("utf-8", "replace").decode()
