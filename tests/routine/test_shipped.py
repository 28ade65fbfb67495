"""Every routine we ship loads clean and can be played on any day."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from trainer.music.note import Articulation
from trainer.routine.fields import KINDS
from trainer.routine.load import load_routine
from trainer.routine.model import Routine
from trainer.routine.plan import plan
from trainer.routine.round import RoundKind

SHIPPED = sorted((Path(__file__).parents[2] / "routines").glob("*.yaml"))
FIRST_DAY = date(2026, 1, 1)
MULTIPLE = {Articulation.DOUBLE, Articulation.REVERSE_DOUBLE}


def loaded(name: str) -> Routine:
    routine, problems = load_routine(Path(__file__).parents[2] / "routines" / name)
    assert routine is not None, problems
    return routine


def test_the_routines_are_there():
    assert {file.stem for file in SHIPPED} >= {
        "morning",
        "busy_day",
        "first_year",
        "minor_and_arpeggios",
        "first_try",
        "warm_up",
        "week_of_keys",
        "articulation",
        "fingers_and_trills",
        "singing_lines",
        "after_a_pause",
        "low_and_wide",
        "piccolo",
        "alto_flute",
    }


@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_loads_without_a_word(file):
    routine, problems = load_routine(file)
    assert routine is not None
    assert problems == ()


@pytest.mark.slow
@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_can_be_played_sixty_days_running(file):
    routine = loaded(file.name)
    for offset in range(60):
        for exercise in plan(routine, FIRST_DAY + timedelta(days=offset), seed=7):
            assert exercise.minutes > 0
            for number, round_ in enumerate(exercise.rounds, start=1):
                assert round_.number == number
                assert round_.bars.beat_ends(round_.beats) == round_.beats, round_.title
                assert [note.index for note in round_.notes] == list(range(len(round_.notes)))
                for note in round_.notes:
                    assert routine.lowest.midi <= note.pitch.midi <= routine.highest.midi
                for note, after in zip(round_.notes, round_.notes[1:], strict=False):
                    assert note.beat + note.length <= after.beat


def test_the_morning_has_all_a_morning_needs():
    planned = {exercise.id: exercise for exercise in plan(loaded("morning.yaml"), FIRST_DAY, 0)}
    scale = planned["scale of the day"]
    assert [round_.articulation for round_ in scale.rounds] == [
        Articulation.SLURRED,
        Articulation.LEGATO_TONGUE,
        Articulation.SINGLE,
        Articulation.AIR_ONLY,
        Articulation.DOUBLE,
        Articulation.REVERSE_DOUBLE,
    ]
    assert {round_.tempo_bpm for round_ in scale.rounds} == {60}
    climb = planned["sixty to a hundred and twenty"]
    assert climb.climb is not None
    assert (climb.climb.from_bpm, climb.climb.to_bpm, climb.climb.minutes) == (60, 120, 10)
    assert climb.rounds[0].articulation is Articulation.SLURRED
    assert climb.rounds[0].key == scale.rounds[0].key
    kinds = {exercise.rounds[0].kind for exercise in planned.values() if exercise.rounds}
    assert kinds >= {
        RoundKind.TECHNIQUE,
        RoundKind.CLIMB,
        RoundKind.VOICING,
        RoundKind.LONG_TONES,
        RoundKind.PASSAGE,
    }


def test_every_kind_of_round_comes_in_a_shipped_routine():
    kinds = {
        round_.kind
        for file in SHIPPED
        for exercise in plan(loaded(file.name), FIRST_DAY, 0)
        for round_ in exercise.rounds
    }
    assert kinds == {*RoundKind} - {RoundKind.KNOT}


def test_first_year_asks_for_no_multiple_tonguing_and_two_octaves():
    routine = loaded("first_year.yaml")
    assert routine.highest.midi - routine.lowest.midi == 24
    planned = plan(routine, FIRST_DAY, 0)
    assert not {r.articulation for exercise in planned for r in exercise.rounds} & MULTIPLE


def test_the_short_routine_is_short():
    planned = plan(loaded("first_try.yaml"), FIRST_DAY, 0)
    assert 2 <= sum(exercise.minutes for exercise in planned) <= 3
    assert 5 <= sum(len(exercise.rounds) for exercise in planned) <= 7


def test_a_busy_day_takes_ten_minutes():
    minutes = sum(exercise.minutes for exercise in plan(loaded("busy_day.yaml"), FIRST_DAY, 0))
    assert 8 <= minutes <= 11


@pytest.mark.parametrize("level", ["", "easier", "harder"])
def test_the_week_loads_at_every_level_and_is_free_on_sundays(level):
    file = Path(__file__).parents[2] / "routines" / "week_of_keys.yaml"
    routine, problems = load_routine(file, level)
    assert routine is not None, problems
    days = [plan(routine, date(2026, 3, 2) + timedelta(days=day), 0) for day in range(7)]
    assert [len([one for one in day if one.rounds]) for day in days[:1] + days[6:]] == [
        5 if level == "easier" else 6,
        0,
    ]
    keys = [day[2].rounds[0].key.tonic for day in (days[0], days[1], days[3])]
    assert keys == ["F", "G", "D"]


def test_all_that_the_language_can_ask_for_is_asked_somewhere():
    """Weeks, levels, other files, progress, rhythms, dynamics, colours, meters: one file each."""
    words = "".join(file.read_text(encoding="utf-8") for file in SHIPPED)
    fields = {field.name for kind in KINDS.values() for field in kind.fields}
    assert {field for field in (*KINDS, *fields) if f"{field}:" not in words} <= {"only"}


def test_every_file_is_explained_to_somebody_who_never_programmed():
    for file in SHIPPED:
        lines = file.read_text(encoding="utf-8").splitlines()
        assert lines[0].startswith("# "), file.name
        assert len(lines) <= 130, file.name


def test_every_instrument_of_the_family_has_a_routine():
    played = {loaded(file.name).instrument for file in SHIPPED}
    assert played >= {"C flute", "C flute with B foot", "piccolo", "alto flute"}


def test_the_first_five_notes_are_five():
    rounds = [r for exercise in plan(loaded("first_five_notes.yaml"), FIRST_DAY, 0)
              for r in exercise.rounds]  # fmt: skip
    pitches = {str(note.pitch) for round_ in rounds for note in round_.notes}
    assert pitches == {"G4", "A4", "B4", "C5", "D5"}
