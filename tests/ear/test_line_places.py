"""A line found among other playing, by its notes alone; nothing found where it isn't."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trainer.ear.alignment.line_places import line_of, places_of, runs_of
from trainer.ear.segments.note_segment import NoteSegment
from trainer.music.articulations import articulated
from trainer.music.note import Articulation, Note
from trainer.music.pitch import Pitch
from trainer.music.rhythm import laid_out

D_MAJOR = (
    "D4 E4 F#4 G4 A4 B4 C#5 D5 E5 F#5 G5 A5 B5 C#6 D6 C#6 B5 A5 G5 F#5 E5 D5 C#5 B4 A4 G4 F#4 E4 D4"
)
D_MIXOLYDIAN = D_MAJOR.replace("C#", "C")


def notes(names: str) -> tuple[Note, ...]:
    pitches = [Pitch.parse(name) for name in names.split()]
    return articulated(laid_out(pitches, per_beat=4), Articulation.SLURRED)


def sounds(*lines: str, apart_s: float = 1.5) -> list[NoteSegment]:
    """Each line's notes joined, 0.2 s each, a little out of tune; silence between the lines."""
    dice, at_s, found = np.random.default_rng(1), 0.0, []
    for line in lines:
        for name in line.split():
            midi = Pitch.parse(name).midi + dice.normal(0, 0.1)
            found.append(NoteSegment(midi, at_s, at_s + 0.19, -20.0))
            at_s += 0.2
        at_s += apart_s
    return found


def found_in(played: list[NoteSegment], line: str = D_MAJOR, wrong: float = 0.12) -> list[float]:
    """Where the line begins, in seconds; at most so much of it wrong."""
    runs, asked = runs_of(played), line_of(notes(line))
    return [
        round(runs[place.first].from_s, 3)
        for place in places_of(runs, asked)
        if place.wrong <= wrong
    ]


def test_it_is_found_each_time_it_is_played_whole() -> None:
    noodling = "D5 F#5 A5 G5 E5 C#5 D5 E5 D5"
    lasts_s, noodled_s = 29 * 0.2 + 1.5, 9 * 0.2 + 1.5
    assert found_in(sounds(noodling, D_MAJOR, D_MAJOR, noodling)) == [
        round(noodled_s, 3),
        round(noodled_s + lasts_s, 3),
    ], "not the second half of one with the first half of the next"


@pytest.mark.parametrize(
    "other",
    [
        D_MIXOLYDIAN,
        D_MAJOR.replace("F#", "F"),
        " ".join(D_MAJOR.split()[:20]),
        "E4 " + " ".join(reversed(D_MAJOR.split()[:15])),
    ],
)
def test_another_scale_and_half_of_it_cost_more_than_the_line_itself(other: str) -> None:
    assert found_in(sounds(other)) == []


def test_a_wrong_note_a_missed_one_and_a_false_one_between_fingers_hide_nothing() -> None:
    names = D_MAJOR.split()
    names[9] = "F5"
    del names[20]
    played = sounds(" ".join(names))
    blip = NoteSegment(played[5].midi + 5, played[5].to_s - 0.04, played[5].to_s, -25.0)
    assert found_in([*played[:6], blip, *played[6:]]) == [0.0]


def test_a_soft_note_heard_an_octave_below_for_a_while_hides_nothing() -> None:
    played = sounds(D_MAJOR)
    for place in (12, 8, 4):
        note = played[place]
        half_s = (note.from_s + note.to_s) / 2
        below = replace(note, midi=note.midi - 12, from_s=half_s)
        played[place : place + 1] = [replace(note, to_s=half_s), below]
    assert found_in(played, wrong=0.05) == [0.0]


def test_a_short_line_stands_alone_and_is_no_part_of_something_longer() -> None:
    octave = "D4 E4 F#4 G4 A4 B4 C#5 D5"
    assert found_in(sounds(octave), octave) == [0.0]
    assert found_in(sounds(D_MAJOR), octave) == []
    assert found_in(sounds("D4 F#4 A4 D5"), "D4 F#4 A4 D5") == [], "too few notes to say"


def test_repeated_notes_count_as_one() -> None:
    line = "D4 D4 E4 E4 F#4 F#4 G4 G4 A4 A4 B4 B4 C#5 C#5 D5 D5"
    assert found_in(sounds(line), line) == [0.0]
