"""What the player did on earlier days, as far as it changes what is said and asked today."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from itertools import takewhile
from statistics import median

from trainer.coach.advice import Topic
from trainer.music.articulations import AnyArticulation
from trainer.music.pitch import Pitch
from trainer.routine.round import Manner, RoundKind

RETURN_DAYS = (1, 3, 7, 14)
"""An old knot comes back after so many days, later the oftener it was smooth. A gain from sleep
between two sessions was shown for 24 hours (Simmons 2012, JRME 59:357, 29 musicians); that longer
and longer gaps help further is common practice. So: it may help; nothing is promised."""
KNOWN_DAYS = 4
"""So many practice days back count for what is news. Our own estimate."""
KNOWN_TIMES = 3
"""Said on so many of them, a thing is known, and something new goes first. Our own estimate."""
DAYS_OFF = 4
"""From so many days without practice the load is looked at. Our own estimate."""
RISE = 1.5
"""Today's routine against the usual day. That sudden increases are a common trigger of injury:
BAPAM, 'Return to play'; NASM-PAMA student information sheet. No figure is published; our own."""
RISE_MINUTES = 10.0
"""... and at least so many minutes more."""
USUAL_DAYS = 7
SECURE_DAYS = 2
"""After so many days with everything secure, blocked order gives way to mixed order where the
teacher allows it. Our own estimate; the benefit is weakly supported (Carter & Grahn 2016)."""


@dataclass(frozen=True)
class Figures:
    """What a round came to. None wherever there was too little to measure."""

    clean_share: float | None = None
    """Clean notes among those judged, 0 to 1."""
    evenness_ms: float | None = None
    """Standard deviation of the onsets about the player's own line."""
    within_cents: float | None = None
    """Nine notes in ten stood so near."""


@dataclass(frozen=True)
class PastRound:
    """One round of an earlier day, or of this session."""

    exercise_id: str
    kind: RoundKind
    tempo_bpm: float
    topic: Topic | None
    """What was said; None where nothing could be judged."""
    cents: Mapping[str, float] = field(default_factory=dict)
    """Written pitch → median cents."""
    longest_breath_s: float | None = None
    """The longest stretch between two breaths; None where nobody listened."""
    number: int = 1
    articulation: AnyArticulation | None = None
    notes: str = ""
    """Written pitches in order, 'D4 E4 F#4'; empty where nobody listened."""
    rhythm: tuple[Fraction, ...] | None = None
    """Beats from the first note to each; None where only the journal knows the round."""
    manner: Manner | None = None
    """What was asked of the sound; None where only the journal knows the round."""
    figures: Figures = field(default_factory=Figures)
    note_cents: tuple[float | None, ...] = ()
    """Where each of the notes stood, sharp positive; None where that wasn't judged, of a wrong note
    and of a harmonic of this session, which is measured against another place."""


@dataclass(frozen=True)
class PastDay:
    """One day on which something was played."""

    day: date
    played_s: float
    rounds: tuple[PastRound, ...]


@dataclass(frozen=True)
class OldKnot:
    """A knot that was taken out on an earlier day."""

    exercise_id: str
    pitches: tuple[Pitch, ...]
    """Written."""
    last: date
    smooth_days: int
    """On how many days it ended smooth, since it last did not."""

    def due_days(self, today: date) -> int:
        """In how many days it should come back; 0 and less: today."""
        gap = RETURN_DAYS[min(self.smooth_days, len(RETURN_DAYS) - 1)]
        return gap - (today - self.last).days

    def due(self, today: date) -> bool:
        """Whether it should come back today."""
        return self.due_days(today) <= 0


@dataclass(frozen=True)
class History:
    """Earlier days, oldest first; today is not among them."""

    today: date
    days: tuple[PastDay, ...] = ()
    knots: tuple[OldKnot, ...] = ()
    climbed_bpm: Mapping[str, float] = field(default_factory=dict)
    """Exercise → the fastest secure tempo of its last climb."""

    def known(self, exercise_id: str) -> frozenset[Topic]:
        """What has been said of an exercise on most of the last days."""
        days = [
            {one.topic for one in day.rounds if one.exercise_id == exercise_id}
            for day in self.days
            if any(one.exercise_id == exercise_id for one in day.rounds)
        ][-KNOWN_DAYS:]
        topics = {topic for day in days for topic in day if topic is not None}
        return frozenset(
            topic for topic in topics if sum(topic in day for day in days) >= KNOWN_TIMES
        )

    def secure_days(self, exercise_id: str) -> int:
        """How many of the last days of an exercise, in a row, had every round of it secure."""
        secure = [
            all(one.topic is Topic.SECURE for one in rounds)
            for day in self.days
            if (rounds := [one for one in day.rounds if one.exercise_id == exercise_id])
        ]
        return sum(1 for _ in takewhile(bool, reversed(secure)))

    def usual_cents(self, pitch: Pitch) -> float | None:
        """Where this player's note usually stands; None before there are enough days."""
        by_day = [
            median(found)
            for day in self.days
            if (found := [one.cents[str(pitch)] for one in day.rounds if str(pitch) in one.cents])
        ]
        return median(by_day) if len(by_day) >= KNOWN_TIMES else None

    def breaths(self, exercise_id: str) -> tuple[tuple[date, float], ...]:
        """The longest breath of an exercise, day by day."""
        return tuple(
            (day.day, max(found))
            for day in self.days
            if (
                found := [
                    one.longest_breath_s
                    for one in day.rounds
                    if one.exercise_id == exercise_id and one.longest_breath_s is not None
                ]
            )
        )

    def last_knots(self, exercise_id: str, count: int) -> tuple[OldKnot, ...]:
        """The trouble spots of an exercise taken out most lately, due or not, the last first."""
        here = [knot for knot in self.knots if knot.exercise_id == exercise_id]
        return tuple(sorted(here, key=lambda knot: knot.last, reverse=True)[:count])

    def knots_due(self, exercise_id: str) -> tuple[OldKnot, ...]:
        """Old knots of an exercise that should come back today, the longest unseen first."""
        due = [k for k in self.knots if k.exercise_id == exercise_id and k.due(self.today)]
        return tuple(sorted(due, key=lambda knot: knot.last))


def load_caution(played_s: Mapping[date, float], today: date, minutes_today: float) -> str | None:
    """A word on load that rises too fast; None where there is nothing to say, or nothing known.

    `played_s`: how long was played on each earlier day on which something was.
    """
    if not played_s:
        return None
    off = (today - max(played_s)).days - 1
    usual = median(played_s[day] for day in sorted(played_s)[-USUAL_DAYS:]) / 60
    if off >= DAYS_OFF:
        return (
            f"{off} days without the flute: begin with a part of this, rest early, and come back "
            "to the whole over some days. If anything hurts, stop, and ask a clinician."
        )
    if minutes_today >= RISE * usual and minutes_today >= usual + RISE_MINUTES:
        return (
            f"Today holds about {minutes_today:.0f} minutes; lately it was {usual:.0f} a day. "
            "A sudden rise is a common cause of trouble: leave something out, or stop half-way."
        )
    return None
