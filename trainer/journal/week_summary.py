"""The summary of seven days, for the student and for the lesson. Pure: sessions in, facts out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, timedelta

from trainer.journal.findings import WeekFinding, findings
from trainer.journal.held_notes import AirAndVibrato, air_and_vibrato
from trainer.journal.improvements import got_better
from trainer.journal.log import SessionLog, judged
from trainer.journal.stuck import open_knots, stuck_tempos
from trainer.journal.technique import Technique, techniques
from trainer.journal.time_spent import (
    DAYS_IN_WEEK,
    AskedDone,
    DayTime,
    KindTime,
    asked_and_done,
    days_spent,
    kinds_spent,
)
from trainer.journal.to_ask import to_ask
from trainer.journal.trouble import KnotWork, Trouble, knots_worked, troubles
from trainer.journal.tuning_map import TuningMap, tuning_maps

TWO_WEEKS = timedelta(days=2 * DAYS_IN_WEEK - 1)
"""From the first day compared to the last."""


@dataclass(frozen=True)
class Remark:
    """The student's own words on one session."""

    day: date
    felt: str
    remark: str
    private: bool = False
    """For the student alone."""


@dataclass(frozen=True)
class Week:
    """Seven days of practice."""

    first_day: date
    ending: date
    """The last of the seven."""
    student: str
    days: tuple[DayTime, ...]
    days_before: int
    """Days with a session in the week before."""
    minutes_before: float
    """Of the week before."""
    kinds: tuple[KindTime, ...]
    asked: tuple[AskedDone, ...]
    tuning: tuple[TuningMap, ...]
    techniques: tuple[Technique, ...]
    troubles: tuple[Trouble, ...]
    knots: tuple[KnotWork, ...]
    air: AirAndVibrato
    judged_rounds: int
    """Rounds the coach could say secure or not secure of."""
    secure_rounds: int
    judged_before: int
    """The same of the week before."""
    secure_before: int
    findings: tuple[WeekFinding, ...]
    """What went wrong often and still does, the heaviest first."""
    better: tuple[str, ...]
    """What improved on the week before by more than chance."""
    to_ask: tuple[str, ...]
    """For the lesson, a sentence each."""
    remarks: tuple[Remark, ...]

    @property
    def sessions(self) -> int:
        """Sessions in these days."""
        return sum(day.sessions for day in self.days)

    @property
    def rounds(self) -> int:
        """Finished rounds."""
        return sum(day.rounds for day in self.days)

    @property
    def minutes(self) -> float:
        """From start to end of each session, rests included."""
        return sum(day.minutes for day in self.days)

    @property
    def days_practised(self) -> int:
        """Days with at least one session."""
        return sum(day.sessions > 0 for day in self.days)


def week(sessions: Iterable[SessionLog], ending: date, outlined: Iterable[SessionLog] = ()) -> Week:
    """The seven days that end with `ending`, compared with the seven before.

    Pass at least the sessions of those fourteen days; others are left out. `outlined`: the last
    six weeks, which may be without notes: who is stuck is seen from them. A session counts wholly
    for the day on which it began, by the clock where the student was.
    """
    ordered = sorted(sessions, key=lambda log: log.started.astimezone(UTC))
    first_day = ending - timedelta(days=DAYS_IN_WEEK - 1)
    now = [log for log in ordered if first_day <= log.day <= ending]
    before = [log for log in ordered if 0 < (first_day - log.day).days <= DAYS_IN_WEEK]
    scales = techniques(now, before)
    worked, tuning = knots_worked(now, before), tuning_maps(now, before)
    lately = sorted(outlined, key=lambda log: log.started.astimezone(UTC)) or [*before, *now]
    judged, judged_before = _judged(now), _judged(before)
    spots, tempos = open_knots(lately), stuck_tempos(lately, ending)
    return Week(
        first_day=first_day,
        ending=ending,
        student=next((log.student for log in reversed(now) if log.student), ""),
        days=days_spent(now, first_day),
        days_before=len({log.day for log in before}),
        minutes_before=sum(log.lasted_s for log in before) / 60,
        kinds=kinds_spent(now),
        asked=asked_and_done(now),
        tuning=tuning,
        techniques=scales,
        troubles=troubles(now),
        knots=worked,
        air=air_and_vibrato(now, before),
        judged_rounds=len(judged),
        secure_rounds=sum(judged),
        judged_before=len(judged_before),
        secure_before=sum(judged_before),
        findings=findings(now, before, worked, tuning, scales, spots, tempos),
        better=got_better(now, before, scales),
        to_ask=to_ask(now, spots, tempos),
        remarks=tuple(remark for log in now for remark in _remarks(log)),
    )


def _judged(sessions: Sequence[SessionLog]) -> list[bool]:
    return judged(round_ for log in sessions for round_ in log.rounds)


def _remarks(log: SessionLog) -> Iterator[Remark]:
    if log.felt or log.remark:
        yield Remark(log.day, log.felt, log.remark, log.private)
    for later in log.remarks:
        yield Remark(log.day, "", later.remark, later.private)
