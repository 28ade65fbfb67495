"""A cache of session summaries, so that years are read as quickly as weeks.

The YAML files stay the truth. A file whose size or time of change differs from what the cache
remembers is read again; a vanished one is forgotten. The cache may be deleted at any time: it is
rebuilt by the next reading, as it is when it is broken or of another form.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sqlite3
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from trainer.journal.log import SCHEMA_VERSION, SessionLog
from trainer.journal.read import (
    JournalProblem,
    each_once,
    read_session,
    session_paths,
)
from trainer.journal.summary import (
    KindSummary,
    ScaleSummary,
    SessionSummary,
    TuningSummary,
    session_summary,
)
from trainer.music.note import Articulation
from trainer.routine.round import RoundKind

SUMMARY_FORM = 1
"""Raise it whenever a summary changes."""
FORM = 1000 * SUMMARY_FORM + SCHEMA_VERSION
"""A cache of another form is built anew: it may call a file broken that can be read by now."""
PATIENCE_S = 5.0
"""How long to wait while another trainer writes the cache."""
MANY = 200
"""Files read between two commits: a first build that is broken off is not lost."""

_TABLE = """
CREATE TABLE IF NOT EXISTS file (
    name BLOB PRIMARY KEY,
    size INTEGER NOT NULL,
    changed_ns INTEGER NOT NULL,
    summary TEXT,
    problems TEXT NOT NULL
) WITHOUT ROWID
"""


@dataclass(frozen=True)
class _Row:
    """What is remembered of one file."""

    path: Path
    summary: SessionSummary | None
    """None of a file that holds no readable session."""
    problems: tuple[JournalProblem, ...]


Stamp = tuple[int, int]
"""Size in bytes and time of change in ns."""


def read_summaries(
    folder: Path, state_folder: Path, from_day: date | None = None, to_day: date | None = None
) -> tuple[tuple[SessionSummary, ...], tuple[JournalProblem, ...]]:
    """The summaries of these days' sessions (both included), and every problem met.

    The same as `session_summary` of each of `read_sessions`, from the cache in `state_folder`
    where that is fresh. Where the cache can't be kept, everything is read directly. Never raises.
    """
    first, last = from_day or date.min, to_day or date.max
    paths, folder_problems = session_paths(folder, first, last)
    rows = _rows(paths, index_file(folder, state_folder))
    if from_day is None and to_day is None:
        _forget_vanished(paths, index_file(folder, state_folder))
    shown = [row for row in rows if row.summary is not None and first <= row.summary.day <= last]
    kept, copies = _each_once(shown)
    ordered = sorted(kept, key=lambda summary: summary.started.astimezone(UTC))
    problems = (problem for row in rows for problem in row.problems)
    return tuple(ordered), (*folder_problems, *problems, *copies)


def index_file(folder: Path, state_folder: Path) -> Path:
    """The cache of one journal folder; others have their own."""
    mark = hashlib.sha256(str(folder.absolute()).encode("utf-8", "surrogatepass")).hexdigest()[:12]
    return state_folder / f"journal-{mark}.sqlite"


def _rows(paths: Sequence[Path], cache_file: Path) -> list[_Row]:
    try:
        return _rows_through(paths, cache_file)
    except (sqlite3.OperationalError, OSError):  # in use, or not to be written
        return [_read(path) for path in paths]
    except sqlite3.DatabaseError:  # broken
        with contextlib.suppress(OSError):
            cache_file.unlink()
    try:
        return _rows_through(paths, cache_file)
    except (sqlite3.Error, OSError):
        return [_read(path) for path in paths]


def _rows_through(paths: Sequence[Path], cache_file: Path) -> list[_Row]:
    cache_file.parent.mkdir(parents=True, exist_ok=True)
    with contextlib.closing(sqlite3.connect(cache_file, timeout=PATIENCE_S)) as cache:
        _prepare(cache)
        fresh = _fresh(cache, paths)
        _remember(cache, (path for path in paths if path not in fresh), fresh)
        return [fresh[path] for path in paths]


def _prepare(cache: sqlite3.Connection) -> None:
    (form,) = cache.execute("PRAGMA user_version").fetchone()
    if form != FORM:
        cache.execute("DROP TABLE IF EXISTS file")
        cache.execute(f"PRAGMA user_version = {FORM}")
    cache.execute(_TABLE)
    cache.commit()


def _forget_vanished(there: Sequence[Path], cache_file: Path) -> None:
    """A vanished file is never shown; forgetting it keeps the cache small."""
    with (
        contextlib.suppress(sqlite3.Error),
        contextlib.closing(sqlite3.connect(cache_file, timeout=PATIENCE_S)) as cache,
    ):
        known = {name for (name,) in cache.execute("SELECT name FROM file")}
        gone = known - {os.fsencode(path.name) for path in there}
        cache.executemany("DELETE FROM file WHERE name = ?", ((name,) for name in gone))
        cache.commit()


def _fresh(cache: sqlite3.Connection, paths: Sequence[Path]) -> dict[Path, _Row]:
    """The files remembered as they are now."""
    by_name = {os.fsencode(path.name): path for path in paths}
    found = {}
    for name, size, changed_ns, summary, problems in _remembered(cache, list(by_name)):
        path = by_name[name]
        if _stamp(path) == (size, changed_ns):
            with contextlib.suppress(ValueError, TypeError, KeyError):  # a damaged row
                found[path] = _row(path, summary, problems)
    return found


def _remembered(
    cache: sqlite3.Connection, names: Sequence[bytes]
) -> Iterator[tuple[bytes, int, int, str | None, str]]:
    for start in range(0, len(names), MANY):
        some = names[start : start + MANY]
        places = ",".join("?" * len(some))
        yield from cache.execute(f"SELECT * FROM file WHERE name IN ({places})", some)


def _remember(cache: sqlite3.Connection, paths: Iterable[Path], rows: dict[Path, _Row]) -> None:
    """Read these files into `rows` and the cache."""
    for number, path in enumerate(paths, start=1):
        stamp = _stamp(path)  # before reading: a change during it is then noticed next time
        rows[path] = _read(path)
        if stamp is not None:
            values = (os.fsencode(path.name), *stamp, *_texts(rows[path]))
            cache.execute("INSERT OR REPLACE INTO file VALUES (?, ?, ?, ?, ?)", values)
        if number % MANY == 0:
            cache.commit()
    cache.commit()


def _stamp(path: Path) -> Stamp | None:
    """None of a file that can't be looked at, which is never remembered."""
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_size, status.st_mtime_ns


def _read(path: Path) -> _Row:
    log, problems = read_session(path)
    return _Row(path, None if log is None else session_summary(log), problems)


def _each_once(rows: Sequence[_Row]) -> tuple[list[SessionSummary], tuple[JournalProblem, ...]]:
    """As `trainer.journal.read.each_once`; only files that hold the same session are opened."""
    ids = Counter(row.summary.session_id for row in rows if row.summary)
    single = [row for row in rows if row.summary and not _is_copied(row.summary, ids)]
    copied = [row.path for row in rows if row.summary and _is_copied(row.summary, ids)]
    read = [(path, read_session(path)[0]) for path in copied]
    files: list[tuple[Path, SessionLog]] = [(path, log) for path, log in read if log is not None]
    kept, problems = each_once(files)
    by_path = {row.path: row.summary for row in single if row.summary}
    by_path |= {path: session_summary(log) for path, log in kept}
    return [by_path[path] for path in sorted(by_path)], tuple(problems)


def _is_copied(summary: SessionSummary, ids: Counter[str]) -> bool:
    return bool(summary.session_id) and ids[summary.session_id] > 1


def _texts(row: _Row) -> tuple[str | None, str]:
    problems = json.dumps([[problem.line, problem.sentence] for problem in row.problems])
    if row.summary is None:
        return None, problems
    plain = asdict(row.summary) | {"started": row.summary.started.isoformat()}
    return json.dumps(plain), problems


def _row(path: Path, summary: str | None, problems: str) -> _Row:
    told = tuple(JournalProblem(path, line, sentence) for line, sentence in json.loads(problems))
    return _Row(path, None if summary is None else _summary(json.loads(summary)), told)


def _summary(plain: dict[str, Any]) -> SessionSummary:
    """From JSON, which knows no tuples, times nor our own words."""
    kinds = (KindSummary(**each | {"kind": RoundKind(each["kind"])}) for each in plain["kinds"])
    read = {
        "started": datetime.fromisoformat(plain["started"]),
        "kinds": tuple(kinds),
        "scales": tuple(_scale(each) for each in plain["scales"]),
        "tuning": tuple(TuningSummary(**each) for each in plain["tuning"]),
    }
    return SessionSummary(**plain | read)


def _scale(plain: dict[str, Any]) -> ScaleSummary:
    read = {
        "articulation": Articulation(plain["articulation"]),
        "secure_bpm": tuple(plain["secure_bpm"]),
    }
    return ScaleSummary(**plain | read)
