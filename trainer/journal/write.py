"""Writing a session's file as the session goes: each finished round is on disk at once.

How a file comes to stand there whole: `trainer.disk.whole_file`. A crash costs the round under way.
"""

from __future__ import annotations

import contextlib
import errno
import secrets
from dataclasses import replace
from datetime import datetime
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
from trainer.errors import JournalError
from trainer.journal.encode import header_text, joined_text, round_text
from trainer.journal.log import RoundLog, SessionLog


class JournalFile:
    """The file of the session under way.

    Nothing is written before the first round (or remark), so opening the trainer leaves no file.
    The whole log stays in memory: what could not be written now is written with the next round.
    """

    def __init__(self, folder: Path, log: SessionLog, spare_folder: Path | None = None) -> None:
        stem = log.file_stem
        identity = log.session_id or f"{stem}-{secrets.token_hex(3)}"
        self.log = replace(log, session_id=identity)
        """Everything so far, on disk or not."""
        self.fault: str | None = None
        """A sentence while the practice folder can't be written; None when all is on disk."""
        self._round_texts = [round_text(round_) for round_ in log.rounds]
        self._home = _Slot(folder, stem)
        self._spare = _Slot(spare_folder, stem) if spare_folder else None

    @classmethod
    def begin(cls, folder: Path, log: SessionLog, spare_folder: Path | None = None) -> JournalFile:
        """Make ready to write in `folder`, making it if need be. Never raises: see `fault`.

        `spare_folder` is where the session is kept while `folder` can't be written.
        """
        journal = cls(folder, log, spare_folder)
        try:
            journal._home.try_out(journal._content())
        except OSError as fault:
            journal.fault = _sentence(folder, fault, spare_folder)
        return journal

    @property
    def path(self) -> Path:
        """The session's file in the practice folder, or where it will be."""
        return self._home.path

    @property
    def spare_path(self) -> Path | None:
        """The session's file in the spare folder while it is kept there."""
        return self._spare.path if self._spare and self._spare.written is not None else None

    def add_round(self, round_log: RoundLog, elapsed_s: float | None = None) -> None:
        """Take in a finished round and write it; it is on disk when this returns.

        `elapsed_s`: the session's length so far. Raises JournalError when the practice folder
        can't be written; the round is kept (in the spare folder or in memory) and tried again.
        """
        self.log = replace(
            self.log,
            rounds=(*self.log.rounds, round_log),
            elapsed_s=self.log.elapsed_s if elapsed_s is None else elapsed_s,
        )
        self._round_texts.append(round_text(round_log))
        self.save()

    def amend_round(self, round_log: RoundLog) -> None:
        """Put a new log in the place of the last round's, as when the student says how it felt.

        Raises JournalError as `add_round` does.
        """
        self.log = replace(self.log, rounds=(*self.log.rounds[:-1], round_log))
        self._round_texts[-1] = round_text(round_log)
        self.save()

    def finish(
        self,
        ended: datetime,
        elapsed_s: float | None = None,
        *,
        felt: str = "",
        remark: str = "",
        private: bool = False,
    ) -> None:
        """Write the end of the session; a session without a round or a word leaves no file.

        `private` keeps `felt` and `remark` out of exports and of the lesson page.

        Raises JournalError as `add_round` does; `save` tries again.
        """
        self.log = replace(
            self.log,
            ended=ended,
            elapsed_s=self.log.elapsed_s if elapsed_s is None else elapsed_s,
            felt=felt or self.log.felt,
            remark=remark or self.log.remark,
            private=private or self.log.private,
        )
        if self.log.rounds or self.log.felt or self.log.remark:
            self.save()

    def save(self) -> None:
        """Put everything on disk, in the spare folder where the practice folder refuses.

        Raises JournalError when the practice folder refuses.
        """
        kept_meanwhile = self._spare.written if self._spare else None
        try:
            self._home.put(self._content(), kept_meanwhile)
        except OSError as fault:
            self.fault = _sentence(self._home.folder, fault, self._put_spare())
            raise JournalError(self.fault) from fault
        self.fault = None
        if self._spare:
            self._spare.clear()

    def _put_spare(self) -> Path | None:
        """The folder the session is kept in meanwhile; None when that can't be written either."""
        if self._spare is None:
            return None
        try:
            self._spare.put(self._content())
        except OSError:
            return None
        return self._spare.folder

    def _content(self) -> bytes:
        return joined_text(header_text(self.log), self._round_texts).encode()


class _Slot:
    """One folder's file for this session, and what we last put there."""

    def __init__(self, folder: Path, stem: str) -> None:
        self.folder = folder
        self.path = folder / f"{stem}{SUFFIX}"
        self.written: bytes | None = None
        self._stem = stem

    def try_out(self, content: bytes) -> None:
        """Raise OSError unless a file of this content can be written to the folder."""
        unfinished_file(self.folder, self._stem, content).unlink()

    def put(self, content: bytes, elsewhere: bytes | None = None) -> None:
        """Make `content` the session's file, on disk when this returns; OSError if it can't be.

        A file that isn't as we left it belongs to someone else (the student's editor, a syncing
        program): it stays, and the session goes on under the next free name. `elsewhere` is what
        we left in the spare folder: another trainer may have brought it home meanwhile.
        """
        unfinished = unfinished_file(self.folder, self._stem, content)
        try:
            if holds(self.path, self.written) or holds(self.path, elsewhere):
                take_place(unfinished, self.path, content)
            else:
                self.path = claim(unfinished, self.folder, self._stem)
        finally:
            drop(unfinished)
        self.written = content
        flush_folder(self.folder)

    def clear(self) -> None:
        """Remove our file if it is as we left it."""
        with contextlib.suppress(OSError):
            if holds(self.path, self.written):
                self.path.unlink()
        self.written = None


_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_FORBIDDEN = {errno.EACCES, errno.EPERM, errno.EROFS}


def _sentence(folder: Path, fault: OSError, kept_in: Path | None) -> str:
    if fault.errno in _FULL:
        why, mend = "the disk is full", "Make room on it"
    elif fault.errno in _FORBIDDEN:
        why, mend = "you may not write there", "Change the folder's permissions"
    else:
        why, mend = fault.strerror or str(fault), "See to the folder"
    kept = f"kept in {kept_in}" if kept_in else "kept in memory only"
    return (
        f"The practice folder {folder} can't be written: {why}. {mend}; meanwhile this session is "
        f"{kept}, and the next round tries again."
    )
