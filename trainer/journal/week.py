"""The summary of seven days, for the student and for the lesson. Pure: sessions in, facts out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from trainer.journal.log import SessionLog


@dataclass(frozen=True)
class Week:
    """Seven days of practice."""

    first_day: date
    ending: date


def week(sessions: Iterable[SessionLog], ending: date) -> Week:
    """The seven days that end with `ending`, compared with the seven before.

    Pass at least the sessions of those fourteen days; others are left out.
    """
    raise NotImplementedError
