"""The order of the notes, counted by hand for every key and checked as properties."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sweeps import mostly_slow
from trainer.music.instrument import INSTRUMENT_NAMES, instrument_named
from trainer.music.key import major_keys, minor_keys
from trainer.music.layout import (
    PATTERNS,
    End,
    full_range,
    ladder,
    octaves,
    pattern_named,
    turning_note,
    turning_notes,
)
from trainer.music.pitch import Pitch, sharp_name
from trainer.music.scales import ArpeggioKind, ScaleKind, scale_within

MAJORS = tuple(key.tonic for key in major_keys())
MINORS = tuple(key.tonic for key in minor_keys())
CASES = [
    (tonic, kind)
    for kind in (*ScaleKind, *ArpeggioKind)
    for tonic in sorted({*MAJORS, *MINORS})
    # its seventh would be B with three flats
    if (tonic, kind) != ("Cb", ArpeggioKind.DIMINISHED_SEVENTH)
]

# Tonic, top, bottom, notes, distinct notes: counted apart from the program with music21's major
# scales, from the lowest tonic up to the highest note, down to the lowest, back to the tonic.
# Full range: P. Surman, 'Getting started with T&G EJ4'; the order: common practice, no source.
C_FOOT = """
    Cb  Cb5  Cb7  Db4  41  21
    Gb  Gb4  Cb7  Db4  41  21
    Db  Db4  C7   C4   43  22
    Ab  Ab4  C7   C4   43  22
    Eb  Eb4  C7   C4   43  22
    Bb  Bb4  C7   C4   43  22
    F   F4   C7   C4   43  22
    C   C4   C7   C4   43  22
    G   G4   C7   C4   43  22
    D   D4   B6   C#4  41  21
    A   A4   B6   C#4  41  21
    E   E4   B6   C#4  41  21
    B   B4   B6   C#4  41  21
    F#  F#4  B6   C#4  41  21
    C#  C#4  B#6  B#3  43  22
"""
B_FOOT = """
    Cb  Cb4  Cb7  Cb4  43  22
    Gb  Gb4  Cb7  Cb4  43  22
    Db  Db4  C7   C4   43  22
    Ab  Ab4  C7   C4   43  22
    Eb  Eb4  C7   C4   43  22
    Bb  Bb4  C7   C4   43  22
    F   F4   C7   C4   43  22
    C   C4   C7   B3   45  23
    G   G4   C7   B3   45  23
    D   D4   B6   B3   43  22
    A   A4   B6   B3   43  22
    E   E4   B6   B3   43  22
    B   B3   B6   B3   43  22
    F#  F#4  B6   B3   43  22
    C#  C#4  B#6  B#3  43  22
"""
COUNTS = [
    (foot, *line.split())
    for foot, table in (("C flute", C_FOOT), ("C flute with B foot", B_FOOT))
    for line in table.strip().splitlines()
]


def on(instrument, tonic, kind):
    flute = instrument_named(instrument)
    return ladder(scale_within(tonic, kind, flute.lowest, flute.highest))


def in_words(pitches):
    return " ".join(str(pitch) for pitch in pitches)


@pytest.mark.parametrize(("foot", "tonic", "start", "top", "bottom", "notes", "distinct"), COUNTS)
def test_full_range_has_the_notes_counted(foot, tonic, start, top, bottom, notes, distinct):
    path = full_range(on(foot, tonic, ScaleKind.MAJOR))
    assert len(COUNTS) == 30
    assert (str(path[0]), str(path[-1])) == (start, start)
    assert str(max(path, key=lambda pitch: pitch.midi)) == top
    assert str(min(path, key=lambda pitch: pitch.midi)) == bottom
    assert (len(path), len(set(path))) == (int(notes), int(distinct))


@pytest.mark.parametrize("foot", mostly_slow(INSTRUMENT_NAMES, 2))
def test_every_key_goes_to_both_ends_and_home_by_neighbouring_degrees(foot):
    flute = instrument_named(foot)
    for (tonic, kind), first_end in product(CASES, End):
        steps = on(foot, tonic, kind)
        path = full_range(steps, first_end=first_end)
        assert path[0] == path[-1] == steps.up[steps.place(None)]
        assert {steps.up[-1], steps.down[0]} <= set(path)
        assert all(flute.lowest.midi <= pitch.midi <= flute.highest.midi for pitch in path)
        places = [(steps.up if p in steps.up else steps.down).index(p) for p in path]
        assert all(abs(after - before) == 1 for before, after in pairwise(places))
        assert len(path) == 2 * len(steps.up) - 1


@pytest.mark.parametrize(
    ("foot", "tonic", "end", "turn"),
    [
        # the two forms of melodic minor at the ends of the range; common practice, no source
        ("C flute", "E", End.BOTTOM, "E4 D4 C4 D4 E4"),
        ("C flute", "C#", End.TOP, "G#6 A#6 B#6 A#6 G#6"),
        ("C flute", "D", End.TOP, "G6 A6 B6 A6 G6"),
        ("C flute with B foot", "C", End.BOTTOM, "D4 C4"),
        ("C flute with B foot", "D", End.BOTTOM, "E4 D4 C4 D4"),
        ("C flute", "A", End.TOP, "A6 B6 C7 B6 A6"),
    ],
)
def test_melodic_minor_turns_without_an_augmented_second(foot, tonic, end, turn):
    path = full_range(on(foot, tonic, ScaleKind.MELODIC_MINOR))
    assert turn in in_words(path)
    place = turning_note(path, end)
    assert place is None or str(path[place]) in turn


@pytest.mark.parametrize("foot", INSTRUMENT_NAMES)
@pytest.mark.parametrize("tonic", MINORS)
def test_melodic_minor_has_no_step_wider_than_a_whole_tone(tonic, foot):
    for first_end in End:
        path = full_range(on(foot, tonic, ScaleKind.MELODIC_MINOR), first_end=first_end)
        assert all(
            abs(step.steps) == 1 and 1 <= abs(step.semitones) <= 2
            for step in (before.interval_to(after) for before, after in pairwise(path))
        )


def test_melodic_minor_changes_its_form_with_the_direction():
    path = octaves(on("C flute", "A", ScaleKind.MELODIC_MINOR), 1)
    assert in_words(path) == "A4 B4 C5 D5 E5 F#5 G#5 A5 G5 F5 E5 D5 C5 B4 A4"


def test_the_bottom_first():
    path = full_range(on("C flute", "D", ScaleKind.MAJOR), first_end=End.BOTTOM)
    assert in_words(path[:5]) == "D4 C#4 D4 E4 F#4"
    assert in_words(path[-3:]) == "F#4 E4 D4"
    assert len(path) == 41


def test_from_another_tonic():
    path = full_range(on("C flute", "F", ScaleKind.MAJOR), start=Pitch.parse("F5"))
    assert (path[0], path[-1]) == (Pitch.parse("F5"), Pitch.parse("F5"))
    assert len(path) == 43


def test_from_a_tonic_at_the_top_the_way_leads_down():
    path = full_range(on("C flute", "C", ScaleKind.MAJOR), start=Pitch.parse("C7"))
    assert in_words(path[:3]) == "C7 B6 A6"
    assert len(path) == 43


def test_turning_notes_twice_when_asked():
    steps = on("C flute", "G", ScaleKind.MAJOR)
    once, twice = full_range(steps), full_range(steps, turning_notes_twice=True)
    assert len(twice) == len(once) + 2
    assert "B6 C7 C7 B6" in in_words(twice)
    assert "D4 C4 C4 D4" in in_words(twice)


@pytest.mark.parametrize(
    ("pattern", "expected"),
    [
        ("stepwise", "C5 D5 E5 F5 G5 A5 B5 C6 B5 A5 G5 F5 E5 D5 C5"),
        ("thirds", "C5 E5 D5 F5 E5 G5 F5 A5 G5 B5 A5 C6 B5 G5 A5 F5 G5 E5 F5 D5 E5 C5"),
        ("sixths", "C5 A5 D5 B5 E5 C6 B5 D5 A5 C5"),
        (
            "groups of three",
            "C5 D5 E5 D5 E5 F5 E5 F5 G5 F5 G5 A5 G5 A5 B5 A5 B5 C6 "
            "B5 A5 G5 A5 G5 F5 G5 F5 E5 F5 E5 D5 E5 D5 C5",
        ),
        (
            "groups of four",
            "C5 D5 E5 F5 D5 E5 F5 G5 E5 F5 G5 A5 F5 G5 A5 B5 G5 A5 B5 C6 "
            "B5 A5 G5 F5 A5 G5 F5 E5 G5 F5 E5 D5 F5 E5 D5 C5",
        ),
        (
            "1-2-3-1",
            "C5 D5 E5 C5 D5 E5 F5 D5 E5 F5 G5 E5 F5 G5 A5 F5 G5 A5 B5 G5 A5 B5 C6 A5 "
            "C6 B5 A5 C6 B5 A5 G5 B5 A5 G5 F5 A5 G5 F5 E5 G5 F5 E5 D5 F5 E5 D5 C5 E5 C5",
        ),
    ],
)
def test_patterns_over_an_octave(pattern, expected):
    steps = on("C flute", "C", ScaleKind.MAJOR)
    path = octaves(steps, 1, start=Pitch.parse("C5"), pattern=pattern_named(pattern))
    assert in_words(path) == expected


@given(
    st.sampled_from(CASES),
    st.sampled_from(INSTRUMENT_NAMES),
    st.sampled_from(list(PATTERNS)),
    st.sampled_from(list(End)),
)
def test_a_pattern_reaches_both_ends_comes_home_and_never_repeats_a_note(
    case, foot, pattern, first_end
):
    steps = on(foot, *case)
    path = full_range(steps, pattern=PATTERNS[pattern], first_end=first_end)
    assert path[0] == path[-1] == steps.up[steps.place(None)]
    assert {steps.up[-1], steps.up[0]} <= set(path)
    assert all(before.midi != after.midi for before, after in pairwise(path))
    assert set(path) <= {*steps.up, *steps.down}


@settings(max_examples=300)
@given(
    st.sampled_from(CASES),
    st.integers(48, 84),
    st.integers(12, 30),
    st.lists(st.integers(0, 9), max_size=4).map(lambda degrees: (0, *degrees)),
    st.sampled_from(list(End)),
    st.booleans(),
)
def test_any_pattern_in_any_range_reaches_both_ends_and_comes_home(
    case, lowest, semitones, pattern, first_end, twice
):
    low, high = Pitch.parse(sharp_name(lowest)), Pitch.parse(sharp_name(lowest + semitones))
    steps = ladder(scale_within(*case, low, high))
    path = full_range(steps, pattern=pattern, first_end=first_end, turning_notes_twice=twice)
    assert path[0] == path[-1] == steps.up[steps.place(None)]
    assert {steps.up[-1].midi, steps.up[0].midi} <= {pitch.midi for pitch in path}
    assert all(low.midi <= pitch.midi <= high.midi for pitch in path)


@given(
    st.sampled_from(CASES),
    st.sampled_from(INSTRUMENT_NAMES),
    st.integers(1, 3),
)
def test_octaves_go_up_so_far_and_back_or_say_why_not(case, foot, count):
    steps = on(foot, *case)
    if steps.up[steps.place(None)].midi + 12 * count > steps.up[-1].midi:
        with pytest.raises(ValueError, match="the top of the range"):
            octaves(steps, count)
        return
    path = octaves(steps, count)
    assert path[0] == path[-1]
    assert len(path) == 2 * count * steps.degrees + 1
    assert path[len(path) // 2].midi == path[0].midi + 12 * count


def test_faults_are_told_in_sentences():
    steps = on("C flute", "D", ScaleKind.MAJOR)
    with pytest.raises(ValueError, match="3 octaves from D4 would pass B6, the top of the range"):
        octaves(steps, 3)
    with pytest.raises(ValueError, match="0 octaves: write 1 or more"):
        octaves(steps, 0)
    with pytest.raises(ValueError, match="E4 is no tonic in range: start on D4, D5, D6"):
        full_range(steps, start=Pitch.parse("E4"))
    with pytest.raises(ValueError, match="has no C in range to start from"):
        ladder(scale_within("C", ScaleKind.MAJOR, Pitch.parse("D4"), Pitch.parse("B4")))
    for words in ("zigzag", "2-3", "1-0-2", "1"):
        with pytest.raises(ValueError, match="or degrees from 1 such as 1-3-2-4"):
            pattern_named(words)


def test_turning_notes_in_playing_order():
    steps = on("C flute", "G", ScaleKind.MAJOR)
    path = full_range(steps)
    assert [str(path[place]) for place in turning_notes(path)] == ["C7", "C4"]
    down_first = full_range(steps, first_end=End.BOTTOM)
    assert [str(down_first[place]) for place in turning_notes(down_first)] == ["C4", "C7"]


@pytest.mark.parametrize(
    "line", ["G4", "G4 A4", "G4 G4 G4", "G4 A4 B4", "G4 G4 A4 A4", "B4 A4 G4 G4"]
)
def test_a_line_that_only_goes_one_way_has_no_turn(line):
    assert turning_notes([Pitch.parse(note) for note in line.split()]) == ()


@given(st.lists(st.integers(59, 98), min_size=1, max_size=40))
def test_a_turning_note_is_an_extreme_between_other_notes(midis):
    pitches = [Pitch.parse(sharp_name(midi)) for midi in midis]
    turns = turning_notes(pitches)
    assert list(turns) == sorted(set(turns))
    for place in turns:
        assert midis[place] in (max(midis), min(midis))
        assert any(midi != midis[place] for midi in midis[:place])
        assert any(midi != midis[place] for midi in midis[place + 1 :])
