"""A short day is chosen from the journal: what still goes wrong most, never what has healed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from demo.made_rounds import plain_round
from trainer.app.few_minutes import few_minutes, planned_few
from trainer.app.open_session import planned_for
from trainer.app.paths import user_paths
from trainer.app.shelf import SPOT, shelf_of, spot_due
from trainer.app.short_morning import short_morning_of
from trainer.coach.advice import Topic
from trainer.journal.findings import FindingKind, WeekFinding
from trainer.journal.log import NoteLog, RoundLog, SessionLog
from trainer.journal.week_summary import week
from trainer.music.instrument import INSTRUMENT_NAMES, instrument_named
from trainer.music.pitch import Pitch
from trainer.routine.load import load_routine, read_routine
from trainer.routine.model import Routine
from trainer.routine.round import RoundKind
from trainer.routine.shipped import shipped_routines
from trainer.session.view import ShelvedSpot

TODAY = date(2026, 11, 22)
SCALE = [
    f"{name}{octave}"
    for octave, names in ((4, "D E F# G A B"), (5, "C# D E F# G A B"), (6, "C# D"))
    for name in names.split()
]
THERE_AND_BACK = [*SCALE, *SCALE[-2::-1]]
STEPS = [*pairwise(SCALE[1:])][:-1]
ROUNDS_A_DAY = 3
SPOT_C5 = ShelvedSpot(
    exercise_id="tide",
    pitches=(Pitch.parse("C5"), Pitch.parse("D5")),
    begin_bpm=50.0,
    best_bpm=60.0,
    met_days=9,
    last_days=2,
    due_days=0,
    healed=False,
)


@dataclass(frozen=True)
class Journal:
    """Two weeks, and what is true of them."""

    sessions: tuple[SessionLog, ...]
    worst: frozenset[str]
    healed: frozenset[str]


def round_log(started: datetime, failing: dict[frozenset[str], float], dice: object) -> RoundLog:
    """A scale there and back; a step fails by its chance, and any other once in two hundred."""
    assert isinstance(dice, np.random.Generator)
    notes = [NoteLog(THERE_AND_BACK[0], off_ms=0.0)]
    for before, written in pairwise(THERE_AND_BACK):
        chance = failing.get(frozenset((before, written)), 0.005)
        notes.append(
            NoteLog(
                written,
                cents=float(dice.normal(0, 4)),
                off_ms=float(dice.normal(0, 9)),
                blip=bool(dice.random() < chance),
            )
        )
    return plain_round(
        notes,
        exercise_id="tide",
        title="D major",
        tempo_bpm=72.0,
        started=started,
        seconds=20.0,
        key="D major",
        topic=Topic.NOTES,
    )


def journal(seed: int) -> Journal:
    """One spot that is plainly worst, perhaps a lesser one, and one that has healed."""
    dice = np.random.default_rng([seed, 5])
    chosen = dice.choice(len(STEPS), size=3, replace=False)
    worst, lesser, healed = (frozenset(STEPS[place]) for place in chosen)
    has_worst, has_lesser = dice.random() < 0.85, dice.random() < 0.5
    sessions = []
    for day in range(14):
        if dice.random() < 0.25 and day not in (12, 13):
            continue
        started = datetime(2026, 11, 9, 17, tzinfo=UTC) + timedelta(days=day)
        failing = {healed: 0.6} if day < 8 else {}
        if has_worst:
            failing[worst] = 0.55
        if has_lesser and has_worst:
            failing[lesser] = 0.25
        rounds = tuple(round_log(started, failing, dice) for _ in range(ROUNDS_A_DAY))
        sessions.append(SessionLog(started, "Tides", "tides.yaml", rounds=rounds))
    named = [frozenset({"–".join(sorted(step, key=midi))}) for step in (worst, healed)]
    return Journal(tuple(sessions), named[0] if has_worst else frozenset(), named[1])


def midi(written: str) -> int:
    return Pitch.parse(written).midi


def chosen_from(sessions: tuple[SessionLog, ...]) -> ShelvedSpot | None:
    return spot_due(shelf_of(week(sessions, TODAY, sessions).findings, sessions, TODAY))


@pytest.mark.slow
def test_of_two_hundred_journals_the_worst_spot_is_chosen_and_never_a_healed_one() -> None:
    right = 0
    for seed in range(200):
        invented = journal(seed)
        spot = chosen_from(invented.sessions)
        name = frozenset() if spot is None else frozenset({spot.name})
        assert not name & invented.healed, seed
        right += name == invented.worst
    assert right >= 190


def test_the_worst_spot_is_chosen_and_a_healed_one_left_in_peace() -> None:
    for seed in range(3):
        invented = journal(seed)
        spot = chosen_from(invented.sessions)
        assert (frozenset() if spot is None else frozenset({spot.name})) == invented.worst


def usual() -> Routine:
    routine, problems = load_routine(shipped_routines() / "morning.yaml")
    assert routine is not None, problems
    return routine


def test_a_spots_rounds_belong_to_the_exercise_it_came_from() -> None:
    routine = usual()
    spot = SPOT_C5
    planned = planned_few(few_minutes(routine, None, ()), spot, TODAY)
    assert [exercise.title for exercise in planned[:2]] == ["two long tones", "C5–D5"]
    rounds = planned[1].rounds
    assert {(one.exercise_id, one.kind, one.knot) for one in rounds} == {
        ("tide", RoundKind.KNOT, spot.pitches)
    }
    assert [one.tempo_bpm for one in rounds] == [50, 67]
    assert sum(exercise.minutes for exercise in planned) < 5


def test_without_a_spot_there_are_long_tones_and_a_scale() -> None:
    planned = planned_few(few_minutes(usual(), None, ()), None, TODAY)
    assert [exercise.id for exercise in planned] == ["two long tones", "one scale"]
    assert SPOT not in {exercise.id for exercise in planned}


def test_the_note_most_out_of_tune_is_held_with_its_octave() -> None:
    off = WeekFinding(FindingKind.NOTE, "C#6", 0.5, 20, 20, sharp=True)
    (tones, *_) = planned_few(few_minutes(usual(), None, [off]), None, TODAY)
    assert [str(note.pitch) for note in tones.rounds[0].notes] == ["C#6", "C#5"]


@pytest.mark.parametrize("name", INSTRUMENT_NAMES)
@pytest.mark.parametrize("key", ["C", "F sharp minor", "G flat"])
def test_it_can_be_played_on_every_flute_in_every_key(name: str, key: str) -> None:
    text = f"title: x\ninstrument: {name}\nexercises:\n  - scale: y\n    key: {key}\n"
    routine, problems = read_routine(text, "x.yaml")
    assert routine is not None, problems
    (asked,) = planned_for(routine, TODAY, ())
    few = few_minutes(routine, asked.rounds[0].key, ())
    own = instrument_named(name)
    for exercise in planned_few(few, None, TODAY):
        for round_ in exercise.rounds:
            assert all(own.lowest.midi <= n.pitch.midi <= own.furthest.midi for n in round_.notes)
    assert planned_few(few, None, TODAY)[-1].rounds[0].key == asked.rounds[0].key


def test_an_empty_journal_gives_a_short_morning_too(tmp_path: Path) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path)})
    morning = short_morning_of(usual(), paths, TODAY)
    assert len(morning.view.today.lines) == 2
    assert morning.view.today.title == "A few minutes"
    assert spot_due(shelf_of((), (), TODAY)) is None


def knot_round(day: int, bpm: float, *, secure: bool) -> SessionLog:
    started = datetime(2026, 11, 1, 17, tzinfo=UTC) + timedelta(days=day)
    log = plain_round(
        [],
        exercise_id="tide",
        title="C5–D5, slowly",
        kind=RoundKind.KNOT,
        tempo_bpm=bpm,
        started=started,
        seconds=5.0,
        knot=("C5", "D5"),
        topic=Topic.SECURE if secure else Topic.NOTES,
    )
    return SessionLog(started, "Tides", "tides.yaml", rounds=(log, log))


def test_a_spots_story_is_its_days_its_best_tempo_and_when_it_comes_back() -> None:
    sessions = (knot_round(10, 50, secure=False), knot_round(19, 60, secure=True))
    (spot,) = shelf_of((), sessions, TODAY)
    assert (spot.name, spot.best_bpm, spot.met_days, spot.last_days) == ("C5–D5", 60, 11, 2)
    assert spot.healed
    assert spot.due_days == 1, "smooth once: it comes back after three days"
    assert spot_due((spot,)) is None, "healed and not due: left in peace"
    (spot,) = shelf_of((), sessions, TODAY + timedelta(days=1))
    assert spot_due((spot,)) == spot
