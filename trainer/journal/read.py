"""Reading sessions back. A broken file is told in a sentence and hides no other."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date
from pathlib import Path

from trainer.disk.regular_file import UnfitFileError, regular_bytes
from trainer.disk.strict_yaml import StrictYamlError, YamlContent, lines_of, yaml_content
from trainer.journal.decode import session_from
from trainer.journal.log import SessionLog

LARGEST_FILE_BYTES = 8_000_000
"""500 rounds of 50 notes have 5 MB: what is larger is no session of ours."""

SUFFIXES = {".yaml", ".yml"}

_DAY_IN_NAME = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True)
class JournalProblem:
    """One thing wrong with a session's file."""

    path: Path
    line: int | None
    """Line in the file, from 1; None when it concerns the whole file."""
    sentence: str
    """What is wrong and how to mend it."""

    def __str__(self) -> str:
        place = f"{self.path}:{self.line}" if self.line else f"{self.path}"
        return f"{place}: {self.sentence}"

    @property
    def brief(self) -> str:
        """The sentence with the place named as shortly as will do on a screen."""
        place = f"{self.path.name}, line {self.line}" if self.line else self.path.name
        return f"{place}: {self.sentence}"


def read_session(path: Path) -> tuple[SessionLog | None, tuple[JournalProblem, ...]]:
    """One session and what is wrong with its file; broken rounds are left out, each reported."""
    try:
        raw = session_bytes(path)
    except OSError as fault:
        return None, (JournalProblem(path, None, _unread_sentence(fault)),)
    return read_text(path, raw)


def session_bytes(path: Path) -> bytes:
    """A session file's content; OSError where there is none or it can be no session."""
    return regular_bytes(path, LARGEST_FILE_BYTES)


def read_text(path: Path, raw: bytes) -> tuple[SessionLog | None, tuple[JournalProblem, ...]]:
    """As `read_session`, from the file's content; `path` is only named in problems."""
    try:
        text = _decoded(raw)
        content = _loaded(text)
    except _UnreadableError as fault:
        return None, (JournalProblem(path, fault.line, fault.sentence),)
    log, faults = session_from(content.plain)
    lines = lines_of(text, [fault.place for fault in faults if fault.place]) if faults else {}
    problems = [JournalProblem(path, one.line, one.sentence) for one in content.repeated]
    problems += [JournalProblem(path, lines.get(one.place), one.sentence) for one in faults]
    return log, tuple(problems)


def read_sessions(
    folder: Path, from_day: date | None = None, to_day: date | None = None
) -> tuple[tuple[SessionLog, ...], tuple[JournalProblem, ...]]:
    """The sessions of these days (both included), oldest first, and every problem met.

    As `read_files`, without the files.
    """
    files, problems = read_files(folder, from_day, to_day)
    return tuple(log for _, log in files), problems


def read_files(
    folder: Path, from_day: date | None = None, to_day: date | None = None
) -> tuple[tuple[tuple[Path, SessionLog], ...], tuple[JournalProblem, ...]]:
    """The sessions of these days (both included) with their files, and every problem met.

    Files are named by their day, so those of other days are not even opened. A session copied by
    a syncing program counts once. A folder that isn't there holds no sessions. Never raises,
    never changes a file.
    """
    first, last = from_day or date.min, to_day or date.max
    paths, folder_problems = session_paths(folder, first, last)
    found: list[tuple[Path, SessionLog]] = []
    problems = list(folder_problems)
    for path in paths:
        log, faults = read_session(path)
        problems += faults
        if log is not None and first <= log.day <= last:
            found.append((path, log))
    files, copies = each_once(found)
    ordered = sorted(files, key=lambda file: file[1].started.astimezone(UTC))
    return tuple(ordered), (*problems, *copies)


def session_paths(
    folder: Path, first: date, last: date
) -> tuple[list[Path], tuple[JournalProblem, ...]]:
    """The files that may hold a session of these days, by their names alone, in order."""
    try:
        return sorted(path for path in folder.iterdir() if _may_hold(path, first, last)), ()
    except FileNotFoundError:
        return [], ()
    except OSError as fault:
        sentence = f"this folder can't be read ({fault.strerror}); check who may open it"
        return [], (JournalProblem(folder, None, sentence),)


def _may_hold(path: Path, first: date, last: date) -> bool:
    """Whether a file may hold a session of these days, by its name alone."""
    if path.suffix.lower() not in SUFFIXES or path.name.startswith("."):
        return False
    named = _DAY_IN_NAME.match(path.name)
    if named is None:
        return True
    try:
        day = date.fromisoformat(named.group())
    except ValueError:
        return True
    return first <= day <= last


def each_once(
    found: list[tuple[Path, SessionLog]],
) -> tuple[list[tuple[Path, SessionLog]], list[JournalProblem]]:
    """Of files that hold the same session, the fullest; of the others, a problem each."""
    fullest: dict[str, tuple[Path, SessionLog]] = {}
    copies: list[JournalProblem] = []
    for path, log in found:
        known = fullest.get(log.identity)
        if known is None:
            fullest[log.identity] = (path, log)
            continue
        kept, left = sorted([known, (path, log)], key=lambda pair: fullness(pair[1]))[::-1]
        fullest[log.identity] = kept
        copies.append(JournalProblem(left[0], None, _copy_sentence(kept, left)))
    return list(fullest.values()), copies


def _copy_sentence(kept: tuple[Path, SessionLog], left: tuple[Path, SessionLog]) -> str:
    path = kept[0].name if kept[0].parent == left[0].parent else kept[0]
    if holds_all_of(kept[1], left[1]):
        return f"a copy of the session in {path}, not counted again; you may delete this one"
    return (
        f"the same session as {path}, with other rounds or words in it; the fuller one is "
        "counted. Move over what is missing there, then delete this file"
    )


def fullness(log: SessionLog) -> tuple[int, bool, int]:
    """Of two copies the one that sorts higher tells more: rounds, then an end, then words."""
    words = sum(map(bool, (log.felt, log.remark, *log.remarks)))
    return len(log.rounds), log.ended is not None, words


def holds_all_of(log: SessionLog, other: SessionLog) -> bool:
    """Whether nothing played or said in `other` is missing from `log`."""
    return (
        set(other.rounds) <= set(log.rounds)
        and set(other.remarks) <= set(log.remarks)
        and other.felt in ("", log.felt)
        and other.remark in ("", log.remark)
        and other.ended in (None, log.ended)
    )


class _UnreadableError(Exception):
    def __init__(self, sentence: str, line: int | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.line = line


def _unread_sentence(fault: OSError) -> str:
    if isinstance(fault, UnfitFileError):
        return f"this can't be a practice session: {fault.strerror}; move it elsewhere"
    return f"this file can't be read ({fault.strerror}); check who may open it"


def _decoded(raw: bytes) -> str:
    if not raw.strip():
        raise _UnreadableError("this file is empty; it may be deleted")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        raise _UnreadableError("this is not UTF-8 text; save it again as UTF-8", line) from None


def _loaded(text: str) -> YamlContent:
    try:
        return yaml_content(text)
    except StrictYamlError as fault:
        sentence = f"{fault.what} {fault.mend}".rstrip(".")
        line = None if fault.line is None else min(fault.line, len(text.splitlines()))
        raise _UnreadableError(sentence, line) from None
