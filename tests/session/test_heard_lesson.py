"""A lesson's recording: its rounds named and placed, told apart where anything tells."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from tests.sound.microphones import spoken
from trainer.app.open_session import planned_for
from trainer.app.simulated_flutist import shaping_of
from trainer.ear.heard import HeardNote, State, Take
from trainer.music.instrument import instrument_named
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES
from trainer.player.room import in_room
from trainer.routine.load import load_routine
from trainer.routine.plan import PlannedExercise
from trainer.session.accompaniment import as_sounding
from trainer.session.heard_lesson import MOST_WRONG, find_rounds, too_short, wrong_share
from trainer.sound.port import Samples

RATE = 48000
FLUTE = instrument_named("alto flute")
ROUTINE = """
title: Seven
instrument: alto flute
defaults: {tempo: 96}
exercises:
  - long tones: air
    notes: [A4, G4]
  - {scale: hill, key: D, range: one octave, articulations: [slurred, single]}
  - passage: dots
    key: G
    notes: "dotted eighth G4 sixteenth A4 dotted eighth B4 sixteenth C5
      dotted eighth D5 sixteenth E5 dotted eighth F#5 sixteenth G5"
  - {passage: even, key: G, notes: "eighth G4 A4 B4 C5 D5 E5 F#5 G5"}
  - {passage: once, key: A, notes: "eighth A4 C#5 B4 D5 C#5 E5 D5 F#5 E5 A5"}
  - {passage: again, key: A, tempo: 60, notes: "eighth A4 C#5 B4 D5 C#5 E5 D5 F#5 E5 A5"}
"""
OTHERS = """
title: Others
instrument: alto flute
exercises:
  - {scale: mixolydian, key: D, form: mixolydian, range: one octave,
     articulations: [single]}
"""


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[PlannedExercise, ...]:
    return planned_in(tmp_path_factory.mktemp("lesson"), ROUTINE)


def others() -> tuple[PlannedExercise, ...]:
    """Not in the routine: the hill with one degree a half step lower."""
    with TemporaryDirectory() as folder:
        return planned_in(Path(folder), OTHERS)


def planned_in(folder: Path, text: str) -> tuple[PlannedExercise, ...]:
    file = folder / "routine.yaml"
    file.write_text(text)
    routine, problems = load_routine(file)
    assert routine is not None, problems
    return planned_for(routine, date(2026, 3, 6), ())


def played(planned: tuple[PlannedExercise, ...], name: str, number: int, bpm: float) -> Samples:
    (exercise,) = (one for one in planned if one.id == name)
    round_ = exercise.rounds[number]
    notes = as_sounding(round_.notes, round_, FLUTE)
    flutist = Flutist(EXAMPLES["student"], seed=4)
    return flutist.play(notes, bpm, round_.tuning, RATE, number, shaping_of(round_)).samples


def test_rounds_are_named_and_placed_and_told_apart_where_anything_tells(
    planned: tuple[PlannedExercise, ...],
) -> None:
    pause = np.zeros(RATE, np.float32)
    rounds = [("hill", 1, 84.0), ("dots", 0, 88.0), ("even", 0, 88.0), ("again", 0, 76.0)]
    parts, begins_s = [spoken(2.0), pause], []
    for name, number, bpm in rounds:
        begins_s.append(sum(map(len, parts)) / RATE)
        parts += [played(planned, name, number, bpm), pause, spoken(1.0, seed=len(parts)), pause]
    parts += [played(others(), "mixolydian", 0, 84.0), pause]
    sound = in_room(np.concatenate(parts), RATE, 0.3, seed=2)
    found = find_rounds(planned, FLUTE, lambda: [sound], RATE, lambda _: None)
    assert [one.exercise_ids for one in found] == [
        ("hill",),
        ("dots",),
        ("even",),
        ("once", "again"),
    ], "the same notes in other lengths are told apart; the same in the same lengths are both named"
    assert [one.begins_s for one in found] == pytest.approx(begins_s, abs=0.45)
    assert [one.rounds[0].tempo_bpm for one in found] == pytest.approx([84, 88, 88, 76], rel=0.04)
    assert [str(round_.articulation) for round_ in found[0].rounds] == ["single"]
    assert too_short(planned) == ("air",)


@pytest.mark.parametrize(("semitones", "fits"), [(-12, True), (-1, False)])
def test_with_a_note_an_octave_low_it_may_be_the_line_with_one_a_half_step_low_not(
    planned: tuple[PlannedExercise, ...], semitones: int, fits: bool
) -> None:
    """A scale with another degree differs by half steps; the ear now and then by an octave."""
    (round_,) = next(one for one in planned if one.id == "even").rounds
    heard: list[HeardNote] = []
    for note in round_.notes:
        other = note.index == 2
        midi = float(note.pitch.midi + semitones * other)
        times = {"onset_s": 0.3 * note.index, "end_s": 0.3 * note.index + 0.2}
        if other:
            heard.append(HeardNote(note.index, note.pitch, State.MISSED))
        index, instead = (None, note.index) if other else (note.index, None)
        state = State.EXTRA if other else State.PLAYED
        heard.append(HeardNote(index, note.pitch, state, midi=midi, instead_of=instead, **times))
    share = wrong_share(round_.notes, Take(RATE, 440.0, 0.0, tuple(heard)))
    assert (share <= MOST_WRONG) is fits
