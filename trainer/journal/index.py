"""An index of the journal, so that years are read as quickly as weeks.

The YAML files stay the truth. A file whose size or time of change differs from what the index
remembers is read again; a vanished one is forgotten. The index may be deleted at any time: it is
built anew by the next reading, as it is when it is broken or of another form. Where it can't be
kept, it is built in memory for the one answer.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, date
from pathlib import Path
from typing import Any, TypeVar

from trainer.disk.private import private_appending
from trainer.journal.index_rows import ROUND_COLUMNS, TABLES, keep_session, kept_session
from trainer.journal.log import SCHEMA_VERSION, SessionLog
from trainer.journal.outline import PiecePlayed, SessionTuning
from trainer.journal.read import JournalProblem, each_once, read_session, session_paths
from trainer.music.articulations import AnyArticulation, articulation_named

INDEX_FORM = 4
"""Raise it whenever what the index remembers changes."""
FORM = 1000 * INDEX_FORM + SCHEMA_VERSION
"""An index of another form is built anew: it may call a file broken that can be read by now."""
PATIENCE_S = 5.0
"""How long to wait while another trainer writes the index."""
MANY = 200
"""Files read between two commits: a first build that is broken off is not lost."""

Read = Callable[[Path], tuple[SessionLog | None, tuple[JournalProblem, ...]]]
Days = tuple[date, date]
"""First and last day, both included."""
ALL_DAYS: Days = (date.min, date.max)

_T = TypeVar("_T")
_IN_MEMORY = ":memory:"


class Index:
    """The index of some folders, up to date for the days it was asked for."""

    def __init__(self, base: sqlite3.Connection, paths: Sequence[Path], days: Days) -> None:
        self.base = base
        self.days = days
        self._paths = {os.fsencode(path): path for path in paths}
        self.copies, self.copy_problems = self._copies()

    def sessions(self, first: date, last: date) -> tuple[SessionLog, ...]:
        """The outlines of these days' sessions (both included), oldest first."""
        found = [(file, session) for file, _, session, _ in self._files(first, last)]
        rounds = self._rounds(first, last)
        logs = [kept_session(session, rounds.get(file, ())) for file, session in found]
        return tuple(sorted(logs, key=lambda log: log.started.astimezone(UTC)))

    def tunings(self, first: date, last: date) -> tuple[SessionTuning, ...]:
        """How each of these days' sessions stood in tune, by day."""
        found = [(day, json.loads(text)) for _, day, _, text in self._files(first, last)]
        return tuple(
            SessionTuning(date.fromisoformat(day), instrument, tuple(map(tuple, cents)))
            for day, (instrument, cents) in sorted(found, key=lambda each: each[0])
        )

    def pieces(self, last: date) -> dict[PiecePlayed, date]:
        """What was played with a tempo of its own, and the last day of each, up to a day.

        Seeks from piece to piece: the cost is that of the pieces, not of the rounds.
        """
        rows = self.base.execute(
            "WITH RECURSIVE each (piece) AS (SELECT MIN(piece) FROM round UNION ALL "
            "SELECT (SELECT MIN(piece) FROM round WHERE piece > each.piece) FROM each "
            "WHERE each.piece IS NOT NULL) "
            "SELECT piece, (SELECT MAX(day) FROM round WHERE round.piece = each.piece AND day <= ?)"
            " FROM each WHERE piece IS NOT NULL",
            (str(last),),
        )
        return {
            PiecePlayed(*json.loads(text)): date.fromisoformat(day) for text, day in rows if day
        }

    def articulations(self, piece: PiecePlayed) -> tuple[AnyArticulation, ...]:
        """How a piece was played where it was secure."""
        rows = self.base.execute(
            "SELECT DISTINCT articulation FROM round WHERE piece = ? AND secure = 1",
            (json.dumps(piece),),
        )
        return tuple(articulation_named(name) for (name,) in rows)

    def secure_rounds(
        self, piece: PiecePlayed, articulation: AnyArticulation, last: date
    ) -> Iterator[tuple[float, date]]:
        """Tempo and day of each secure round up to a day, fastest first; read as they are asked."""
        rows = self.base.execute(
            "SELECT tempo_bpm, day, file FROM round WHERE piece = ? AND articulation = ? AND "
            "secure = 1 AND day <= ? ORDER BY tempo_bpm DESC, day",
            (json.dumps(piece), str(articulation), str(last)),
        )
        for tempo_bpm, day, file in rows:
            if file not in self.copies:
                yield tempo_bpm, date.fromisoformat(day)

    def problems(self) -> tuple[JournalProblem, ...]:
        """Everything that is wrong with the files of the days asked for."""
        rows = self.base.execute("SELECT path, problems FROM file WHERE problems <> '[]'")
        told = [
            JournalProblem(self._paths[path], line, sentence)
            for path, problems in rows
            if path in self._paths
            for line, sentence in json.loads(problems)
        ]
        return (*sorted(told, key=lambda problem: problem.path), *self.copy_problems)

    def _files(self, first: date, last: date) -> Iterator[tuple[int, str, str, str]]:
        """Of each session's file: its number, day, session and tuning; by path."""
        rows = self.base.execute(
            "SELECT id, path, day, session, tuning FROM file WHERE day BETWEEN ? AND ? "
            "ORDER BY path",
            (str(first), str(last)),
        )
        for file, path, day, session, tuning in rows:
            if path in self._paths and file not in self.copies:
                yield file, day, session, tuning

    def _rounds(self, first: date, last: date) -> dict[int, list[tuple[Any, ...]]]:
        rows = self.base.execute(
            f"SELECT round.file, {ROUND_COLUMNS} FROM file JOIN round ON round.file = file.id "
            "WHERE file.day BETWEEN ? AND ? ORDER BY round.file, place",
            (str(first), str(last)),
        )
        rounds: dict[int, list[tuple[Any, ...]]] = defaultdict(list)
        for file, *facts in rows:
            rounds[file].append(tuple(facts))
        return rounds

    def _copies(self) -> tuple[frozenset[int], tuple[JournalProblem, ...]]:
        """The files that repeat another's session, as `trainer.journal.read.each_once` says.

        Only files that hold the same session are opened.
        """
        days = tuple(map(str, self.days))
        rows = self.base.execute(
            "SELECT id, path FROM file WHERE day BETWEEN ? AND ? AND identity IN (SELECT identity "
            "FROM file WHERE day BETWEEN ? AND ? GROUP BY identity HAVING COUNT(*) > 1) "
            "ORDER BY path",
            days * 2,
        )
        ids = {self._paths[path]: file for file, path in rows if path in self._paths}
        read = [(path, read_session(path)[0]) for path in ids]
        kept, problems = each_once([(path, log) for path, log in read if log is not None])
        left = ids.keys() - {path for path, _ in kept}
        return frozenset(ids[path] for path in left), tuple(problems)


def ask_index(
    ask: Callable[[Index], _T],
    folders: Sequence[Path],
    state_folder: Path,
    days: Days = ALL_DAYS,
    read: Read = read_session,
) -> tuple[_T, tuple[JournalProblem, ...]]:
    """What `ask` finds in the index of these folders, and every problem met on those days.

    The index is kept in `state_folder` and first brought up to date; afterwards it holds these
    days' files and no others, so that it doesn't grow for ever where only the last weeks are asked.
    `ask` must only read. `read` reads a file that is new or has changed. Never raises for what
    files can do.
    """
    listed = [session_paths(folder, *days) for folder in folders]
    paths = [path for found, _ in listed for path in found]
    faults = [problem for _, problems in listed for problem in problems]

    def answer(place: str) -> tuple[_T, tuple[JournalProblem, ...]]:
        with contextlib.closing(sqlite3.connect(place, timeout=PATIENCE_S)) as base:
            _prepare(base)
            _bring_up_to_date(base, paths, read)
            index = Index(base, paths, days)
            return ask(index), (*faults, *index.problems())

    file = index_file(folders, state_folder)
    try:
        private_appending(file).close()
        return answer(str(file))
    except (sqlite3.OperationalError, OSError):  # in use, or not to be written
        return answer(_IN_MEMORY)
    except (sqlite3.DatabaseError, ValueError, TypeError, KeyError):  # broken
        with contextlib.suppress(OSError):
            file.unlink()
    try:
        return answer(str(file))
    except (sqlite3.Error, OSError):
        return answer(_IN_MEMORY)


def index_file(folders: Sequence[Path], state_folder: Path) -> Path:
    """The index of these journal folders; others have their own."""
    names = "\n".join(str(folder.absolute()) for folder in folders)
    mark = hashlib.sha256(names.encode("utf-8", "surrogatepass")).hexdigest()[:12]
    return state_folder / f"journal-{mark}.sqlite"


def _prepare(base: sqlite3.Connection) -> None:
    (form,) = base.execute("PRAGMA user_version").fetchone()
    tables = {name for (name,) in base.execute("SELECT name FROM sqlite_master")}
    if form == FORM and {"file", "round"} <= tables:
        return
    base.execute("BEGIN")  # on disk together with the first files read: one flush, not eight
    for name in {"file", "round"} & tables:
        base.execute(f"DROP TABLE {name}")
    for statement in TABLES.split(";"):
        base.execute(statement)
    base.execute(f"PRAGMA user_version = {FORM}")


def _bring_up_to_date(base: sqlite3.Connection, paths: Sequence[Path], read: Read) -> None:
    known = {
        path: (size, changed_ns)
        for path, size, changed_ns in base.execute("SELECT path, size, changed_ns FROM file")
    }
    there = {os.fsencode(path): path for path in paths}
    for name in known.keys() - there.keys():
        _forget(base, name)
    read_now = 0
    for name, path in there.items():
        stamp = _stamp(path)  # before reading: a change during it is then noticed next time
        if stamp is not None and stamp == known.get(name):
            continue
        _forget(base, name)
        _remember(base, path, stamp or (-1, -1), *read(path))
        read_now += 1
        if read_now % MANY == 0:
            base.commit()
    if base.in_transaction:
        base.commit()


def _stamp(path: Path) -> tuple[int, int] | None:
    """Size in bytes and time of change in ns; None of a file that can't be looked at."""
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_size, status.st_mtime_ns


def _forget(base: sqlite3.Connection, name: bytes) -> None:
    base.execute("DELETE FROM round WHERE file = (SELECT id FROM file WHERE path = ?)", (name,))
    base.execute("DELETE FROM file WHERE path = ?", (name,))


def _remember(
    base: sqlite3.Connection,
    path: Path,
    stamp: tuple[int, int],
    log: SessionLog | None,
    problems: Sequence[JournalProblem],
) -> None:
    told = json.dumps([[problem.line, problem.sentence] for problem in problems])
    keep_session(base, (os.fsencode(path), *stamp, told), log)
