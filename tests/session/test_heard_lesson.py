"""A lesson's recording: its rounds named and placed, told apart where anything tells."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from tests.sound.microphones import spoken
from trainer.app.open_session import planned_for
from trainer.app.simulated_flutist import shaping_of
from trainer.ear.alignment.line_fit import fits
from trainer.ear.heard import HeardNote, State, Take
from trainer.music.instrument import instrument_named
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES
from trainer.player.room import in_room
from trainer.routine.load import load_routine
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round
from trainer.session.accompaniment import as_sounding
from trainer.session.heard_lesson import FoundRound, find_rounds, heard_logs, too_short
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


def heard_as(
    round_: Round, moved: Mapping[int, int], extra: Mapping[int, tuple[int, float]]
) -> Take:
    """The round with some notes so many half steps away, and after some another sound so far from
    them and so long, a note's second half after it."""
    heard: list[HeardNote] = []
    for place, note in enumerate(round_.notes):
        away, at_s = moved.get(place, 0), 0.4 * place
        midi = float(note.pitch.midi + away)
        if away:
            heard.append(HeardNote(place, note.pitch, State.MISSED))
        index, instead = (None, place) if away else (place, None)
        state = State.EXTRA if away else State.PLAYED
        times = {"onset_s": at_s, "end_s": at_s + 0.2}
        heard.append(HeardNote(index, note.pitch, state, midi=midi, instead_of=instead, **times))
        if place in extra:
            up, long_s = extra[place]
            for from_midi, from_s, to_s in ((midi + up, 0.2, 0.2 + long_s), (midi, 0.3, 0.4)):
                times = {"onset_s": at_s + from_s, "end_s": at_s + to_s}
                heard.append(HeardNote(None, None, State.EXTRA, midi=from_midi, **times))
    return Take(RATE, 440.0, 0.0, tuple(heard))


@pytest.mark.parametrize(
    ("moved", "extra", "is_it"),
    [
        ({2: -12, 12: -12}, {}, True),
        ({2: -1, 4: 2}, {}, True),
        ({2: -1, 12: -1}, {}, False),
        ({}, {2: (-12, 0.06), 5: (-12, 0.06), 8: (-12, 0.06)}, True),
        ({}, {2: (1, 0.1), 12: (1, 0.1)}, False),
    ],
    ids=["its octaves", "slips here and there", "another degree", "cut in two", "one degree more"],
)
def test_a_line_with_slips_is_known_and_one_with_another_degree_is_another(
    planned: tuple[PlannedExercise, ...],
    moved: Mapping[int, int],
    extra: Mapping[int, tuple[int, float]],
    is_it: bool,
) -> None:
    """One octave of a scale up and down: its third stands at 2 and 12."""
    round_ = next(one for one in planned if one.id == "hill").rounds[0]
    assert [round_.notes[place].pitch.name for place in (2, 12)] == ["F#", "F#"]
    assert fits(round_.notes, heard_as(round_, moved, extra)) is is_it


def test_one_silent_note_in_a_line_that_goes_on_is_not_held_against_the_player(
    tmp_path: Path,
) -> None:
    """As in a round that is played to the trainer; silent again at the same place, it counts."""
    (whole_range,) = planned_in(tmp_path, OTHERS.replace("one octave", "full"))
    (round_,) = whole_range.rounds
    whole = heard_as(round_, {}, {})
    silent = HeardNote(6, round_.notes[6].pitch, State.MISSED)
    holed = replace(whole, notes=(*whole.notes[:6], silent, *whole.notes[7:]))
    found = [FoundRound(0.0, 6.0, (round_,), take) for take in (holed, holed, holed)]
    first, *_, last = heard_logs(found, datetime(2026, 3, 6, tzinfo=UTC), "lesson.wav")
    assert first.notes[6].state is State.NOT_JUDGED
    assert last.notes[6].state is State.MISSED
    assert [log.measures.missed for log in (first, last) if log.measures] == [0, 1]
