"""Every layout lands on a beat, whatever the key, kind, foot, pattern and grouping."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.instrument import INSTRUMENT_NAMES, instrument_named
from trainer.music.key import major_keys, minor_keys
from trainer.music.layout import PATTERNS, End, full_range, ladder, octaves
from trainer.music.note import Start
from trainer.music.pitch import Pitch, sharp_name
from trainer.music.rhythm import GROUPINGS, RHYTHMS, in_rhythm, laid_out, sustained
from trainer.music.scales import ArpeggioKind, ScaleKind, scale_within

CASES = [
    (tonic, kind)
    for kind in (*ScaleKind, *ArpeggioKind)
    for tonic in sorted({key.tonic for key in (*major_keys(), *minor_keys())})
    # its seventh would be B with three flats
    if (tonic, kind) != ("Cb", ArpeggioKind.DIMINISHED_SEVENTH)
]
PITCHES = st.lists(st.integers(59, 98).map(sharp_name).map(Pitch.parse), min_size=1, max_size=60)


def full_range_of(instrument, tonic, kind, **asked):
    flute = instrument_named(instrument)
    steps = ladder(scale_within(tonic, kind, flute.lowest, flute.highest))
    return full_range(steps, **asked)


def check_landing(pitches, notes, per_beat):
    """The round is gapless, begins on its first beat and ends on a beat, held for one or more."""
    assert [note.pitch for note in notes] == list(pitches)
    assert [note.index for note in notes] == list(range(len(notes)))
    assert notes[0].beat == 0
    assert all(before.beat + before.length == after.beat for before, after in pairwise(notes))
    assert notes[-1].beat.denominator == 1
    assert notes[-1].length >= 1
    unit = Fraction(1, per_beat)
    held = [note.length / unit - 1 for note in notes[:-1]]
    assert all(units >= 0 for units in held)
    assert sum(held) < per_beat
    assert all(units <= 1 for units in held[1:])


@pytest.mark.slow
@pytest.mark.parametrize("instrument", INSTRUMENT_NAMES)
def test_every_key_lands_on_a_beat_in_every_grouping(instrument):
    for (tonic, kind), first_end in product(CASES, End):
        pitches = full_range_of(instrument, tonic, kind, first_end=first_end)
        for per_beat in GROUPINGS.values():
            check_landing(pitches, laid_out(pitches, per_beat), per_beat)


@given(
    st.sampled_from(CASES),
    st.sampled_from(list(PATTERNS.values())),
    st.integers(1, 16),
    st.booleans(),
)
def test_every_pattern_lands_on_a_beat(case, pattern, per_beat, twice):
    pitches = full_range_of(
        "C flute with B foot", *case, pattern=pattern, turning_notes_twice=twice
    )
    check_landing(pitches, laid_out(pitches, per_beat), per_beat)


@given(PITCHES, st.integers(1, 16))
def test_any_line_of_notes_lands_on_a_beat(pitches, per_beat):
    check_landing(pitches, laid_out(pitches, per_beat), per_beat)


@pytest.mark.parametrize(
    ("tonic", "per_beat", "longer"),
    [
        # which notes are held longer, in units: turning notes first, the rest on the first note
        ("Db", 4, {"C7": 2, "C4": 2}),
        ("C", 4, {"C4": 2, "C7": 2}),
        ("D", 4, {}),
        ("Db", 3, {}),
        ("D", 3, {"B6": 2, "C#4": 2}),
        ("Db", 8, {"Db4": 5, "C7": 2, "C4": 2}),
        ("Db", 1, {}),
    ],
)
def test_which_notes_are_held_to_fill_the_beats(tonic, per_beat, longer):
    notes = laid_out(full_range_of("C flute", tonic, ScaleKind.MAJOR), per_beat)
    unit = Fraction(1, per_beat)
    held = {str(note.pitch): note.length / unit for note in notes[:-1] if note.length > unit}
    assert held == longer


def test_forty_three_sixteenths_come_home_on_the_twelfth_beat():
    notes = laid_out(full_range_of("C flute", "Eb", ScaleKind.MAJOR))
    assert len(notes) == 43
    assert (notes[-1].beat, notes[-1].length) == (11, 1)


def test_a_scale_of_an_octave_in_eighths_needs_no_held_note():
    steps = ladder(scale_within("F", ScaleKind.MAJOR, Pitch.parse("F4"), Pitch.parse("F5")))
    notes = laid_out(octaves(steps, 1), GROUPINGS["eighths"])
    assert [note.beat for note in notes] == [Fraction(n, 2) for n in range(15)]


def test_notes_start_slurred_and_hold_the_last_as_long_as_asked():
    notes = laid_out([Pitch.parse("G4"), Pitch.parse("A4")], 2, last_beats=Fraction(4))
    assert {note.start for note in notes} == {Start.SLURRED}
    assert [(note.beat, note.length) for note in notes] == [(0, 1), (1, 4)]


@pytest.mark.parametrize(
    ("lengths", "expected"),
    [
        ("dotted", [0, Fraction(3, 4), 1, Fraction(7, 4), 2]),
        ("reversed dotted", [0, Fraction(1, 4), 1, Fraction(5, 4), 2]),
        ("long and three short", [0, 1, Fraction(4, 3), Fraction(5, 3), 2]),
    ],
)
def test_practice_rhythms_on_eighths(lengths, expected):
    pitches = [Pitch.parse(name) for name in ("C5", "D5", "E5", "F5", "G5")]
    notes = in_rhythm(laid_out(pitches, 2), RHYTHMS[lengths])
    assert [note.beat for note in notes] == expected


def test_a_held_note_keeps_the_rhythm_on_the_beat():
    notes = in_rhythm(laid_out(full_range_of("C flute", "C", ScaleKind.MAJOR)), RHYTHMS["dotted"])
    assert [note.beat for note in notes[:4]] == [0, Fraction(1, 2), Fraction(7, 8), 1]
    assert notes[21].length == Fraction(1, 2)
    assert notes[-1].beat == 11


def test_an_incomplete_group_before_the_last_note_stays_even():
    pitches = [Pitch.parse(name) for name in ("C5", "D5", "E5", "F5")]
    notes = in_rhythm(laid_out(pitches, 3), RHYTHMS["dotted"])
    assert [note.beat for note in notes] == [0, Fraction(1, 2), Fraction(2, 3), 1]


@given(
    PITCHES,
    st.integers(1, 8),
    st.one_of(
        st.sampled_from(list(RHYTHMS.values())),
        st.lists(st.integers(1, 9), min_size=1, max_size=6),
    ),
)
def test_a_rhythm_moves_no_beat_it_stands_on(pitches, per_beat, lengths):
    even = laid_out(pitches, per_beat)
    bent = in_rhythm(even, lengths)
    assert [note.pitch for note in bent] == pitches
    assert all(before.beat + before.length == after.beat for before, after in pairwise(bent))
    assert all(note.length > 0 for note in bent)
    assert (bent[0].beat, bent[-1]) == (0, even[-1])
    group = min(note.length for note in even) * len(lengths)
    assert all(
        after.beat == before.beat
        for before, after in zip(even, bent, strict=True)
        if before.beat % group == 0
    )


def test_equal_lengths_change_nothing():
    even = laid_out(full_range_of("piccolo", "G", ScaleKind.MAJOR), 4)
    assert in_rhythm(even, (1, 1)) == even


def test_long_tones_have_a_breath_and_a_rest_between_them():
    notes = sustained([Pitch.parse("B4"), Pitch.parse("Bb4")], Fraction(8), Fraction(2))
    assert [(note.beat, note.length, note.breath_after) for note in notes] == [
        (0, 8, True),
        (10, 8, False),
    ]


def test_faults_are_told_in_sentences():
    pitch = Pitch.parse("G4")
    with pytest.raises(ValueError, match="a round needs at least one note"):
        laid_out([])
    with pytest.raises(ValueError, match="0 notes to a beat: write 1 or more"):
        laid_out([pitch], 0)
    with pytest.raises(ValueError, match="a last note of 1/2 beats: write 1 or more"):
        laid_out([pitch], 2, last_beats=Fraction(1, 2))
    for lengths in ((), (1, 0), (3, -1)):
        with pytest.raises(ValueError, match="lengths above 0: 3 1 for dotted"):
            in_rhythm(laid_out([pitch]), lengths)
