"""Two invented weeks of practice: 'Ilse Varn', who doesn't exist, with habits planted in them."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from demo.made_rounds import plain_round
from trainer.coach.advice import Topic
from trainer.ear.heard import State
from trainer.journal.log import AskedExercise, NoteLog, RoundLog, SessionLog
from trainer.music.note import Articulation
from trainer.routine.round import Aims, RoundKind

HERE = ZoneInfo("Europe/Zurich")
UPWARD = ["D4", "E4", "F#4", "G4", "A4", "B4", "C#5", "D5", "E5", "F#5",
          "G5", "A5", "B5", "C#6", "D6", "E6", "F#6", "G6", "A6"]  # fmt: skip
SCALE = UPWARD + UPWARD[-2::-1]
LONG = ["Bb5", "A5", "Ab5", "G5", "Gb5", "F5"]
ASKED = (
    AskedExercise("slow-lamps", "Slow lamps (long tones)", 6.0),
    AskedExercise("hill-scale", "D major, full range", 10.0),
    AskedExercise("hill-climb", "D major, climbing", 8.0),
    AskedExercise("ferry", "The ferry, bars 5 to 8", 6.0),
)


class InventedWeeks:
    """Sessions with planted habits; the same for the same seed."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def note(self, written: str, sharp: float, before: str, fail: float) -> NoteLog:
        knot = (before, written) == ("C#6", "D6")
        if knot and self.random.random() < fail:
            missed = self.random.random() < 0.5
            return NoteLog(written, State.MISSED if missed else State.PLAYED, blip=not missed)
        register = {"4": -0.5, "5": 0.2, "6": 1.0}[written[-1]] * sharp
        return NoteLog(
            written,
            cents=round(self.random.gauss(register, 4), 1),
            off_ms=round(self.random.gauss(8, 12)),
            level_db=round(self.random.gauss(-24, 2), 1),
            vibrato_hz=round(self.random.gauss(5.2, 0.2), 2) if written in LONG else None,
        )

    def round(
        self, names: list[str], started: datetime, sharp: float, even_ms: float, **facts: object
    ) -> RoundLog:
        befores = ["", *names]
        notes = [
            self.note(name, sharp, before, 0.3)
            for before, name in zip(befores, names, strict=False)
        ]
        notes.insert(3, NoteLog("G#4", State.EXTRA))
        return plain_round(
            notes,
            started=started,
            seconds=round(self.random.uniform(25, 50), 1),
            evenness_ms=round(abs(self.random.gauss(even_ms, 3)), 1),
            **facts,  # type: ignore[arg-type]
        )

    def session(self, started: datetime, sharp: float, even_ms: float, bpm: float) -> SessionLog:
        rounds: list[RoundLog] = []

        def play(names: list[str], minute: float, **facts: object) -> None:
            at = started + timedelta(minutes=minute)
            rounds.append(self.round(names, at, sharp, even_ms, **facts))

        if self.random.random() < 0.4:
            play(LONG, 1, exercise_id="slow-lamps", title="Slow lamps", kind=RoundKind.LONG_TONES)
        for number, articulation in enumerate(list(Articulation)[:3]):
            secure = self.random.random() < 0.5
            play(
                SCALE,
                6 + number,
                exercise_id="hill-scale",
                title="D major, full range",
                key="D major",
                articulation=articulation,
                tempo_bpm=bpm,
                number=number + 1,
                aims=Aims(cents=10, evenness_ms=15, clean=0.95),
                topic=Topic.SECURE if secure else Topic.EVENNESS,
                advice="" if secure else "Let the fourth finger land as lightly as the others.",
            )
        play(
            ["C#6", "D6", "E6"],
            12,
            exercise_id="hill-scale-knot",
            title="C#6–D6–E6, slowly",
            knot=("C#6", "D6", "E6"),
            kind=RoundKind.KNOT,
            topic=Topic.SECURE,
            tempo_bpm=bpm / 2,
        )
        if self.random.random() < 0.5:
            rounds.append(
                plain_round(
                    [],
                    started=started + timedelta(minutes=15),
                    seconds=60.0,
                    exercise_id="ferry",
                    title="The ferry",
                    kind=RoundKind.PASSAGE,
                    tempo_bpm=66,
                )
            )
        return SessionLog(
            started=started,
            routine_title="Morning by the lake",
            routine_file="morning-by-the-lake.yaml",
            student="Ilse Varn",
            asked=ASKED,
            rounds=tuple(rounds),
            ended=started + timedelta(minutes=22),
            elapsed_s=1320.0,
            felt="light" if self.random.random() < 0.3 else "",
            remark="The C sharp to D sticks,\nabove all coming down." if started.day == 20 else "",
            session_id=f"invented-{started:%Y-%m-%d_%H-%M}",
        )

    def weeks(self, ending: date) -> list[SessionLog]:
        sessions = []
        for back in range(14):
            day = ending - timedelta(days=back)
            if self.random.random() < 0.15:
                continue
            started = datetime(day.year, day.month, day.day, 17, 5, 12, tzinfo=HERE)
            late = back < 7
            sessions.append(self.session(started, 16, 18 if late else 27, bpm=72 if late else 66))
        return sorted(sessions, key=lambda log: log.started)


@pytest.fixture(scope="session")
def invented_weeks() -> Callable[[int, date], list[SessionLog]]:
    """Fourteen days of sessions ending with a day, by seed."""
    return lambda seed, ending: InventedWeeks(seed).weeks(ending)


@pytest.fixture
def a_session() -> SessionLog:
    """One invented session with rounds of several kinds."""
    return InventedWeeks(3).session(datetime(2026, 11, 20, 17, 5, 12, tzinfo=HERE), 16, 18, 72)
