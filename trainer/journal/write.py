"""Writing a session's file as the session goes: each finished round is on disk at once."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from trainer.journal.log import RoundLog, SessionLog


class JournalFile:
    """The file of the session under way.

    Nothing is written before the first round (or remark), so opening the trainer leaves no file.
    The whole log stays in memory: what could not be written now is written with the next round.
    """

    log: SessionLog
    """Everything so far, on disk or not."""
    path: Path
    """The session's file, or where it will be."""
    fault: str | None
    """A sentence while the practice folder can't be written; None when all is on disk."""

    @classmethod
    def begin(
        cls, folder: Path, log: SessionLog, spare_folder: Path | None = None
    ) -> JournalFile:
        """Make ready to write in `folder`, making it if need be. Never raises: see `fault`.

        `spare_folder` is where the session is kept while `folder` can't be written.
        """
        raise NotImplementedError

    def add_round(self, round_log: RoundLog, elapsed_s: float | None = None) -> None:
        """Take in a finished round and write it; it is on disk when this returns.

        `elapsed_s`: the session's length so far. Raises JournalError when the practice folder
        can't be written; the round is kept (in the spare folder or in memory) and tried again.
        """
        raise NotImplementedError

    def finish(
        self,
        ended: datetime,
        elapsed_s: float | None = None,
        *,
        felt: str = "",
        remark: str = "",
    ) -> None:
        """Write the end of the session. Raises JournalError as `add_round` does; call again to retry."""
        raise NotImplementedError
