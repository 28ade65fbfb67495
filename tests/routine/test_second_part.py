"""The partner's own part beside the student's, against music21 (M. S. Cuthbert and others)."""

from __future__ import annotations

import warnings
from datetime import date
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

from trainer.music.key import Key, Mode, major_keys, minor_keys
from trainer.music.pitch import Pitch
from trainer.routine.along import along_sentences, along_words
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.problem_report import describe
from trainer.routine.round import PartnerPart, Round

DAY = date(2026, 3, 2)
LOWEST, HIGHEST = Pitch.parse("C4"), Pitch.parse("C7")


def rounds(entry: str) -> tuple[Round, ...]:
    routine, problems = read_routine(f"title: T\nexercises:\n- {{{entry}}}\n", "t.yaml")
    assert routine is not None, describe(problems)
    return plan(routine, DAY, 0)[0].rounds


def mistakes(entry: str) -> str:
    _, problems = read_routine(f"title: T\nexercises:\n- {{{entry}}}\n", "t.yaml")
    return describe(problems)


@cache
def music21() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21 as library
    return library


def theirs(pitch: Pitch) -> Any:
    return music21().pitch.Pitch(str(pitch).replace("b", "-"))


def key_of(key: Key) -> Any:
    tonic = key.tonic.replace("b", "-")
    return music21().key.Key(tonic if key.mode is Mode.MAJOR else tonic.lower())


ASKED = {"in thirds": 3, "in thirds below": -3, "in sixths": -6, "in sixths above": 6}


@pytest.mark.parametrize("asked", ASKED)
@pytest.mark.parametrize("form", ["major", "natural minor"])
def test_each_note_is_the_third_or_sixth_of_the_key(asked: str, form: str) -> None:
    """music21 moves a note by a generic interval within a key; its octave may be the nearer one."""
    library = music21()
    for key in (major_keys() if form == "major" else minor_keys())[::6]:
        scale = f"scale: s, key: {key.name}, form: {form}, partner: {asked}"
        (round_,) = rounds(scale)
        step = library.interval.GenericInterval(ASKED[asked])
        assert len(round_.second_part) == len(round_.notes)
        for own, second in zip(round_.notes, round_.second_part, strict=True):
            moved = step.transposePitchKeyAware(theirs(own.pitch), key_of(key))
            assert theirs(second.pitch).name == moved.name
            assert abs(second.pitch.midi - moved.midi) in (0, 12)
            inside = LOWEST.midi <= moved.midi <= HIGHEST.midi
            assert inside is (second.pitch.midi == moved.midi)
            assert LOWEST.midi <= second.pitch.midi <= HIGHEST.midi
            assert (second.beat, second.length, second.start) == (
                own.beat,
                own.length,
                own.start,
            )


def test_melodic_minor_goes_up_and_down_with_the_student() -> None:
    """A minor in one octave, from A4: F and G are sharp for both going up, and for neither going
    down. Written out by hand."""
    (round_,) = rounds("scale: s, key: A minor, range: one octave, partner: in thirds")
    assert [str(note.pitch) for note in round_.second_part] == [
        *("C5", "D5", "E5", "F#5", "G#5", "A5", "B5", "C6"),
        *("B5", "A5", "G5", "F5", "E5", "D5", "C5"),
    ]


def test_a_melody_in_minor_keeps_its_leading_note_for_the_bar() -> None:
    """In the bar with G sharp the partner's G is sharp, too; by hand."""
    (round_,) = rounds(
        "passage: p, key: A minor, partner: in thirds below,"
        " notes: 'quarter B4 G#4 B4 C5 | C5 B4 A4 G4'"
    )
    assert [str(note.pitch) for note in round_.second_part] == [
        *("G#4", "E4", "G#4", "A4"),
        *("A4", "G4", "F4", "E4"),
    ]


@pytest.mark.parametrize(
    ("asked", "beats", "told"),
    [
        ("canon after a bar", 4, "a bar"),
        ("canon after 2 bars", 8, "2 bars"),
        ("canon after a beat", 1, "a beat"),
        ("canon after 3 beats", 3, "3 beats"),
    ],
)
def test_a_canon_is_the_students_own_line_later(asked: str, beats: int, told: str) -> None:
    (alone,) = rounds("arpeggio: a, key: D, range: one octave, rhythm: quarters")
    (round_,) = rounds(
        f"arpeggio: a, key: D, range: one octave, rhythm: quarters, partner: {asked}"
    )
    assert round_.notes == alone.notes
    shifted = [(note.pitch, note.beat - beats, note.length) for note in round_.second_part]
    assert shifted == [(note.pitch, note.beat, note.length) for note in alone.notes]
    assert round_.beats == alone.beats + beats
    assert along_words(round_) == (f"canon after {told}",)
    assert along_sentences(round_) == (
        f"The partner follows {told} behind you: keep to your own line.",
    )


def test_the_student_is_told_where_the_partner_changes_sides() -> None:
    (low,) = rounds("scale: s, key: C, range: one octave, partner: in thirds")
    (full,) = rounds("scale: s, key: C, partner: in thirds")
    assert along_sentences(low) == ("The partner plays a third above you.",)
    assert along_sentences(full) == (
        "The partner plays a third above you, a sixth below where that lies too high.",
    )


def test_a_routines_own_range_holds_for_the_partner() -> None:
    text = (
        "title: T\nhighest note: C6\nexercises:\n"
        "- {scale: s, key: C, range: two octaves, partner: in thirds}\n"
    )
    routine, _ = read_routine(text, "t.yaml")
    assert routine is not None
    (round_,) = plan(routine, DAY, 0)[0].rounds
    assert max(note.pitch.midi for note in round_.second_part) <= Pitch.parse("C6").midi


@pytest.mark.parametrize(
    ("entry", "mend"),
    [
        ("arpeggio: a, key: C, partner: in thirds", "canon after a bar"),
        ("scale: s, key: C, form: blues, partner: in sixths below", "canon after a bar"),
        ("scale: s, key: C, form: chromatic, partner: in thirds", "canon after a bar"),
        ("passage: p, notes: 'whole C5', partner: in thirds", "Add a key"),
        ("trills: t, pairs: [G4 A4], partner: in thirds", "Trills have no key"),
        ("scale: s, key: C, temperament: pure, partner: canon after a bar", "drone on the tonic"),
    ],
)
def test_where_thirds_make_no_sense_the_teacher_is_told(entry: str, mend: str) -> None:
    assert mend in mistakes(entry)


def test_notes_that_settle_are_the_students_alone() -> None:
    settling, round_ = rounds("scale: s, key: C, partner: in thirds, settle: 1 second")
    assert (settling.partner, settling.second_part) == (None, ())
    assert round_.second_part


# The drone that moves


def test_the_drone_goes_to_the_root_of_each_bars_chord() -> None:
    """Broken chords; music21 names the root of each."""
    bars = [
        "G4 B4 D5 G5",
        "C5 E5 G5 C5",
        "A4 C5 E5 A4",
        "D5 F#5 A5 C5",
        "E5 G5 B5 E5",
        "G4 B4 D5 G4",
    ]
    (round_,) = rounds(
        f"passage: p, key: G, partner: drone with the harmony, notes: 'quarter {' | '.join(bars)}'"
    )
    roots = [music21().chord.Chord(bar).root().name for bar in bars]
    assert [pitch.name for _, pitch in round_.drone_moves] == roots
    assert [beat for beat, _ in round_.drone_moves] == [4 * bar for bar in range(len(bars))]
    assert all(60 <= pitch.midi <= 71 for _, pitch in round_.drone_moves)
    assert along_sentences(round_) == ("The drone goes with the harmony: G, C, A, D, and so on.",)


def test_the_drone_under_a_minor_melody_has_its_dominant() -> None:
    bars = ["A4 C5 E5 A4", "D5 F5 A5 D5", "E5 G#4 B4 D5", "A4 C5 E5 A4"]
    (round_,) = rounds(
        "passage: p, key: A minor, partner: drone with the harmony,"
        f" notes: 'quarter {' | '.join(bars)}'"
    )
    roots = [music21().chord.Chord(bar).root().name for bar in bars]
    assert [pitch.name for _, pitch in round_.drone_moves] == roots


def test_a_drone_that_has_nowhere_to_go_stays() -> None:
    (round_,) = rounds(
        "arpeggio: a, key: E flat, range: two octaves, partner: drone with the harmony"
    )
    assert round_.drone_moves == ((Fraction(0), Pitch.parse("Eb4")),)
    assert round_.partner is PartnerPart.DRONE
    assert along_sentences(round_) == ()
