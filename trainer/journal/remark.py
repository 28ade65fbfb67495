"""Adding a remark to a session that is over; not another byte of its file changes."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import yaml

from trainer.disk.strict_yaml import WRITERS_TAGS, node_tree
from trainer.disk.whole_file import ChangedMeanwhileError, write_whole
from trainer.errors import JournalError
from trainer.journal.encode import remark_text
from trainer.journal.log import LaterRemark, SessionLog
from trainer.journal.read import read_text, session_bytes

LONGEST_SESSION = timedelta(hours=12)
"""A session without an end that began longer ago was cut off; a younger one may still be played."""


def add_remark(path: Path, words: str, at: datetime, *, private: bool = False) -> SessionLog:
    """Add a remark to the session in `path`, on disk when this returns; the session with it.

    `at` is now, with its offset from UTC. The new file takes the old one's place in one step.
    Raises JournalError when there are no words, the session can't be read or may still be under
    way, or the file can't be written.
    """
    if not words.strip():
        raise JournalError("There are no words in this remark; write some.")
    old = _bytes(path)
    log, problems = read_text(path, old)
    if log is None:
        raise JournalError(f"{problems[0]}. The remark was not added.")
    if log.ended is None and at - log.started < LONGEST_SESSION:
        raise JournalError(
            f"The session in {path} has no end yet; finish it first, then add the remark."
        )
    later = LaterRemark(words.strip(), at.replace(microsecond=0), private)
    expected = replace(log, remarks=(*log.remarks, later))
    new = _with_line(old, remark_text(later))
    if new is None or read_text(path, new) != (expected, problems):
        raise JournalError(
            f"{path}: the remark finds no place in this file as it was changed by hand. Open it in "
            f"an editor and write under 'remarks:' the line: {remark_text(later).strip()}"
        )
    _replace(path, old, new)
    return expected


def _with_line(old: bytes, line: str) -> bytes | None:
    """The file with the line at the end of its list of later remarks; None if it has no place."""
    text = old.decode("utf-8-sig")
    newline = "\r\n" if "\r\n" in text else "\n"
    line = line.rstrip("\n") + newline
    found = _remarks_node(text)
    if found is None:
        gap = "" if text.endswith("\n") else newline
        return old + f"{gap}remarks:{newline}{line}".encode()
    if not isinstance(found, yaml.SequenceNode) or found.flow_style or not found.value:
        return None
    written = len(text[: found.value[-1].end_mark.index].rstrip())
    end_of_line = text.find("\n", written)
    before = text if end_of_line < 0 else text[: end_of_line + 1]
    gap = "" if before.endswith("\n") else newline
    place = len(before.encode()) + len(old) - len(text.encode())  # a byte order mark is 3 more
    added = gap + " " * found.start_mark.column + line
    return old[:place] + added.encode() + old[place:]


def _remarks_node(text: str) -> yaml.Node | None:
    root = node_tree(text, text_tags=WRITERS_TAGS)
    if not isinstance(root, yaml.MappingNode):
        return None
    return next((value for key, value in root.value if key.value == "remarks"), None)


def _bytes(path: Path) -> bytes:
    try:
        return session_bytes(path)
    except OSError as fault:
        raise JournalError(
            f"{path} can't be read ({fault.strerror}); check its name and who may open it."
        ) from fault


def _replace(path: Path, old: bytes, new: bytes) -> None:
    """Put the new file in the old one's place, unless it changed meanwhile."""
    try:
        write_whole(path, new, instead_of=old)
    except ChangedMeanwhileError as changed:
        raise JournalError(
            f"{path} was changed by another program just now; try again."
        ) from changed
    except OSError as fault:
        raise JournalError(
            f"{path} can't be written ({fault.strerror}); make room or see to who may write "
            "there. The remark was not added and the file is as it was."
        ) from fault
