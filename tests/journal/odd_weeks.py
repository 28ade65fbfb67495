"""Invented weeks of many sorts, among them odd ones; the same for the same name and seed."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from demo.made_rounds import plain_round
from trainer.coach.advice import Topic
from trainer.ear.heard import State, Tone
from trainer.journal.log import AskedExercise, LaterRemark, NoteLog, RoundLog, SessionLog
from trainer.music.note import Articulation
from trainer.routine.round import Aims, RoundKind

HERE = ZoneInfo("Europe/Oslo")
ENDING = date(2026, 11, 22)
KEYS = ("D major", "B flat minor", "F sharp major", "")
RANGE = ["C4", "D4", "Eb4", "F#4", "G4", "A4", "Bb4", "C5", "D5", "Eb5", "Gb5", "F#5", "G5", "A5",
         "B5", "C#6", "D6", "E6", "F#6", "G6", "A6", "Bb6", "C7"]  # fmt: skip
KNOTS = (("C#6", "D6", "E6"), ("Bb4", "C5"), ("G5", "A5"), ())
INSTRUMENTS = ("flute", "alto flute")


class OddWeeks:
    """Sessions with everything a journal can hold, more or less of it by chance."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.slips = 0.06 if seed % 3 == 0 else 0.003
        self.sharp = 6 if seed % 2 == 0 else 17

    def maybe(self, share: float) -> bool:
        return self.random.random() < share

    def note(self, name: str, sharp: float, long: bool) -> NoteLog:
        if self.maybe(self.slips):
            return NoteLog(name, self.random.choice([State.MISSED, State.NOT_JUDGED]))
        high = name[-1] in "67"
        return NoteLog(
            name,
            cents=None if self.maybe(0.05) else self.random.gauss(sharp if high else -2, 4),
            cents_spread=self.random.uniform(1, 6),
            drift_cents=self.random.gauss(-4, 3) if long else None,
            off_ms=self.random.gauss(5, 15),
            vibrato_hz=self.random.gauss(5.1, 0.3) if long and self.maybe(0.7) else None,
            vibrato_cents=self.random.gauss(14, 4) if long and self.maybe(0.7) else None,
            tone=Tone(-3.0, -30.0, 2.0) if self.maybe(0.2) else None,
            blip=self.maybe(self.slips),
        )

    def notes(self, kind: RoundKind, sharp: float) -> list[NoteLog]:
        start = self.random.randrange(len(RANGE) - 6)
        up = RANGE[start : start + self.random.randrange(3, 14)]
        names = up + up[-2::-1] if self.maybe(0.7) else up
        notes = [self.note(name, sharp, kind is RoundKind.LONG_TONES) for name in names]
        for place in range(1, len(up)):  # the way up stands higher than the way down
            cents = notes[place].cents
            if cents is not None and names[place] in ("A4", "G5"):
                notes[place] = replace(notes[place], cents=cents + 14)
        if self.maybe(0.3):
            extra = NoteLog(self.random.choice([None, "G#4"]), State.EXTRA, cents=90.0)
            notes.insert(self.random.randrange(len(notes)), extra)
        return notes

    def round(self, started: datetime, late: bool, listens: bool = True) -> RoundLog:
        kind = self.random.choice(
            [RoundKind.TECHNIQUE] * 4
            + [RoundKind.LONG_TONES, RoundKind.PASSAGE]
            + [RoundKind.CLIMB, RoundKind.KNOT, RoundKind.LONG_TONES]
        )
        knot = self.random.choice(KNOTS)
        title = "–".join(knot) + self.random.choice(["", ", slowly", ", in rhythms"])
        topics = [Topic.SECURE, Topic.SECURE, Topic.EVENNESS, Topic.NOTES, Topic.UNHEARD, None]
        made = plain_round(
            self.notes(kind, self.sharp if late else 16) if listens else [],
            started=started,
            seconds=round(self.random.uniform(5, 80), 1),
            exercise_id=f"exercise-{self.random.randrange(5)}",
            title=title if kind is RoundKind.KNOT else f"The {kind}",
            knot=knot if kind is RoundKind.KNOT else (),
            kind=kind,
            articulation=self.random.choice(list(Articulation)[:3]),
            tempo_bpm=self.random.choice([60, 66, 72]) + (4 if late else 0),
            key=self.random.choice(KEYS),
            evenness_ms=abs(self.random.gauss(14 if late else 26, 4)) if self.maybe(0.9) else None,
            aims=Aims(evenness_ms=self.random.choice([None, 12.0, 20.0])),
            topic=self.random.choice(topics) if listens else None,
        )
        breaths = sorted(self.random.uniform(0, 60) for _ in range(self.random.randrange(4)))
        return replace(made, breaths_s=tuple((at, at + 0.4) for at in breaths))

    def session(self, started: datetime, rounds: int, listens: bool = True) -> SessionLog:
        late = started.date() > ENDING - timedelta(days=7)
        made = tuple(
            self.round(started + timedelta(minutes=number), late, listens)
            for number in range(rounds)
        )
        return SessionLog(
            started=started,
            student=self.random.choice(["Ilse Varn", "", "Ilse Varn"]),
            routine_title="Morning by the lake",
            instrument=self.random.choices(INSTRUMENTS, (4, 1))[0],
            asked=tuple(
                AskedExercise(
                    f"exercise-{number}", f"Exercise {number}", self.random.choice([None, 5, 8])
                )
                for number in range(self.random.randrange(6))
            ),
            rounds=made,
            ended=started + timedelta(minutes=20) if self.maybe(0.8) else None,
            elapsed_s=self.random.uniform(100, 3000) if self.maybe(0.8) else None,
            felt=self.random.choice(["", "light", "tired"]),
            remark=self.random.choice(["", "The C sharp to D sticks,\nabove all coming down."]),
            private=self.maybe(0.2),
            remarks=(LaterRemark("Found later.", None, self.maybe(0.5)),) * self.maybe(0.2),
            session_id=f"{started.isoformat()} {self.random.random()}",
        )

    def weeks(self, most_rounds: int = 12, skip: float = 0.15) -> list[SessionLog]:
        """Fourteen days up to `ENDING`, some with none and some with two sessions."""
        sessions = []
        for back in range(14):
            for hour in (8, 18) if self.maybe(0.2) else (17,):
                if not self.maybe(skip):
                    day = ENDING - timedelta(days=back)
                    started = datetime(day.year, day.month, day.day, hour, 5, 12, tzinfo=HERE)
                    sessions.append(
                        self.session(started, self.random.randrange(most_rounds // 3, most_rounds))
                    )
        return sessions


def at(day: date, hour: int, minute: int = 0, fold: int = 0) -> datetime:
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=HERE, fold=fold)


def _nothing() -> list[SessionLog]:
    return []


def _only_the_week_before() -> list[SessionLog]:
    early = ENDING - timedelta(days=7)
    return [log for log in OddWeeks(30).weeks() if log.day <= early]


def _one_round() -> list[SessionLog]:
    return [OddWeeks(31).session(at(ENDING, 9), 1)]


def _only_a_remark() -> list[SessionLog]:
    return [SessionLog(at(ENDING, 9), remark="No time today.", session_id="remark")]


def _none_judged() -> list[SessionLog]:
    return [
        replace(log, rounds=tuple(replace(each, secure=None) for each in log.rounds))
        for log in OddWeeks(32).weeks()
    ]


def _never_listened() -> list[SessionLog]:
    weeks = OddWeeks(33)
    return [
        weeks.session(at(ENDING - timedelta(days=back), 17), 4, listens=False) for back in range(9)
    ]


def _two_trainers_at_once() -> list[SessionLog]:
    """Started in the same second, on every day."""
    weeks = OddWeeks(34)
    starts = [at(ENDING - timedelta(days=back // 2), 17) for back in range(8)]
    return [weeks.session(started, 6) for started in starts]


def _clocks_go_back() -> list[SessionLog]:
    """The night of 25 October 2026, when 02:30 comes twice; counted four weeks later as well."""
    weeks, night = OddWeeks(35), date(2026, 10, 25)
    starts = (at(night, 1, 50), at(night, 2, 30), at(night, 2, 30, fold=1), at(night, 23, 59))
    return [weeks.session(started, 5) for started in starts]


def _far_travels() -> list[SessionLog]:
    weeks = OddWeeks(36)
    zones = ("Pacific/Auckland", "Asia/Kathmandu", "Pacific/Honolulu", "America/St_Johns")
    starts = [
        datetime(2026, 11, 19 + number % 3, 23 - number, 59, tzinfo=ZoneInfo(zone))
        for number, zone in enumerate(zones)
    ]
    return [weeks.session(started, 5) for started in starts]


def _crowded() -> list[SessionLog]:
    return OddWeeks(37).weeks(most_rounds=24, skip=0.0)


ODD: dict[str, tuple[Callable[[], list[SessionLog]], date]] = {
    "nothing": (_nothing, ENDING),
    "only the week before": (_only_the_week_before, ENDING),
    "one round": (_one_round, ENDING),
    "only a remark": (_only_a_remark, ENDING),
    "none judged": (_none_judged, ENDING),
    "never listened": (_never_listened, ENDING),
    "two trainers at once": (_two_trainers_at_once, ENDING),
    "clocks go back": (_clocks_go_back, date(2026, 10, 25)),
    "the week after the clocks": (_clocks_go_back, date(2026, 11, 1)),
    "far travels": (_far_travels, ENDING),
    "crowded": (_crowded, ENDING),
}
