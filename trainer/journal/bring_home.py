"""Sessions kept in the spare folder come back to the journal folder once it can be written again.

A session is never in neither folder, and one that is in both counts once. Two trainers may do this
at the same time, and while a third is still writing.
"""

from __future__ import annotations

import contextlib
import secrets
from pathlib import Path

from trainer.disk.whole_file import (
    SUFFIX,
    claim,
    drop,
    flush_folder,
    holds,
    take_place,
    unfinished_file,
)
from trainer.journal.encode import session_text
from trainer.journal.log import SessionLog
from trainer.journal.read import fullness, holds_all_of, read_files, read_text, session_bytes

LEAVING_SUFFIX = ".leaving"


def bring_home(spare: Path, home: Path) -> tuple[Path, ...]:
    """Move every readable session of the spare folder into `home`; where each stands now.

    What can't be read, and all of it while `home` can't be written, stays where it is. Never
    raises.
    """
    _show_again(spare)
    brought = []
    for path in _named(spare, SUFFIX):
        with contextlib.suppress(OSError):
            raw = session_bytes(path)
            log, problems = read_text(path, raw)
            if log is not None and not path.name.startswith("."):
                brought.append(_stands_at_home(log, raw, home, whole=not problems))
                _leave(path, raw)
    return tuple(brought)


def brought_words(count: int) -> str:
    """What to tell the student."""
    sessions = "One session" if count == 1 else f"{count} sessions"
    return (
        f"{sessions} kept aside while the practice folder could not be written "
        f"{'is' if count == 1 else 'are'} back in it."
    )


def _named(folder: Path, suffix: str) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.suffix == suffix)
    except OSError:
        return []


def _show_again(spare: Path) -> None:
    """What a trainer was just taking away when it was stopped has its name back."""
    for leaving in _named(spare, LEAVING_SUFFIX):
        with contextlib.suppress(OSError):
            log, _ = read_text(leaving, session_bytes(leaving))
            if log is not None:
                claim(leaving, spare, log.file_stem)
                drop(leaving)


def _stands_at_home(log: SessionLog, raw: bytes, home: Path, *, whole: bool) -> Path:
    """The file at home that holds the session, written if need be; OSError if it can't be.

    `whole`: all of `raw` could be read, so that it may be compared with what is at home.
    """
    known = _at_home(log, home) if whole else None
    if known is not None and _tells_no_less(known[1], log):
        return known[0]
    stem = log.file_stem
    unfinished = unfinished_file(home, stem, raw)
    try:
        if known is not None and _may_replace(*known, log):
            take_place(unfinished, known[0], raw)
            path = known[0]
        else:
            path = claim(unfinished, home, stem, already=raw)
    finally:
        drop(unfinished)
    flush_folder(home)
    return path


def _at_home(log: SessionLog, home: Path) -> tuple[Path, SessionLog] | None:
    """The fullest file of the same session."""
    files, _ = read_files(home, log.day, log.day)
    return next((file for file in files if file[1].identity == log.identity), None)


def _tells_no_less(log: SessionLog, other: SessionLog) -> bool:
    return holds_all_of(log, other) and fullness(log) >= fullness(other)


def _may_replace(path: Path, at_home: SessionLog, fuller: SessionLog) -> bool:
    """Only what a trainer wrote and no hand has touched since."""
    return _tells_no_less(fuller, at_home) and holds(path, session_text(at_home).encode())


def _leave(path: Path, raw: bytes) -> None:
    """Take the file out of the spare folder, unless it has grown since it was read."""
    leaving = path.with_name(f".{path.stem}-{secrets.token_hex(4)}{LEAVING_SUFFIX}")
    path.rename(leaving)
    if session_bytes(leaving) != raw:
        claim(leaving, path.parent, path.stem)
    drop(leaving)
