"""What is written down of a session while it goes on; a fault of the disk never stops practice."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from trainer.coach.advice import Felt
from trainer.errors import JournalError
from trainer.journal.log import RoundLog
from trainer.journal.write import JournalFile
from trainer.session.clock import Clock
from trainer.session.notices import Notices


class Logbook:
    """A session's journal file, the student's own words for it, and whom to tell of faults."""

    def __init__(
        self, journal: JournalFile, clock: Clock, now: Callable[[], datetime], notices: Notices
    ) -> None:
        self._journal = journal
        self._clock = clock
        self._now = now
        self._notices = notices
        self._is_finished = False
        self._felt: Felt | None = None
        self._remark = ""

    @property
    def path(self) -> str:
        """Where it is kept."""
        return str(self._journal.path)

    def add(self, log: RoundLog) -> None:
        """Put a round just played on disk."""
        with self._notices.telling(JournalError):
            self._journal.add_round(log, self._clock.elapsed_s)

    def amend(self, log: RoundLog) -> None:
        """Write the last round down anew."""
        with self._notices.telling(JournalError):
            self._journal.amend_round(log)

    def finish(self) -> None:
        """Write down that the session is over."""
        self._is_finished = True
        with self._notices.telling(JournalError):
            self._journal.finish(
                self._now(),
                self._clock.elapsed_s,
                felt="" if self._felt is None else str(self._felt),
                remark=self._remark,
            )

    def take_felt(self, felt: Felt) -> None:
        """Take how the whole session felt, once it is over."""
        self._felt = felt
        self.finish()

    def take_remark(self, remark: str) -> None:
        """Take the student's own words, in place of those before."""
        self._remark = remark
        if self._is_finished:
            self.finish()
