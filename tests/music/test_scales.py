"""Scales and arpeggios against music21 (M. S. Cuthbert and others, music21.org).

music21 is imported on first use: it is slow to load.
"""

from __future__ import annotations

import warnings
from functools import cache
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.instrument import instrument_named
from trainer.music.key import Key, Mode, major_keys, minor_keys
from trainer.music.pitch import Pitch, sharp_name
from trainer.music.scales import (
    ArpeggioKind,
    Kind,
    ScaleKind,
    key_of,
    root_in_key,
    scale_within,
)

MAJOR_TONICS = tuple(key.tonic for key in major_keys())
MINOR_TONICS = tuple(key.tonic for key in minor_keys())
"""All fifteen of each; that they are all is checked against music21 in test_key.py."""

CHORD_INTERVALS = {
    ArpeggioKind.MAJOR: ("P1", "M3", "P5"),
    ArpeggioKind.MINOR: ("P1", "m3", "P5"),
    ArpeggioKind.AUGMENTED: ("P1", "M3", "A5"),
    ArpeggioKind.DIMINISHED: ("P1", "m3", "d5"),
    ArpeggioKind.DOMINANT_SEVENTH: ("P1", "M3", "P5", "m7"),
    ArpeggioKind.DIMINISHED_SEVENTH: ("P1", "m3", "d5", "d7"),
}
"""The names of the chords' intervals, as in any harmony book, for music21 to spell."""


@cache
def music21() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21 as library
        import music21.roman
    return library


def theirs(name: str) -> str:
    """Our note name as music21 writes it: 'Eb4' → 'E-4'."""
    return name[0] + name[1:].replace("b", "-")


def ours(pitch: Any) -> Pitch:
    """A music21 pitch as ours."""
    return Pitch(pitch.step, int(pitch.alter), pitch.octave)


@cache
def scale_everywhere(tonic: str, kind: ScaleKind, going_up: bool) -> tuple[Pitch, ...]:
    """The pitches of music21's scale over the whole keyboard, lowest first."""
    library = music21()
    made = {
        ScaleKind.MAJOR: library.scale.MajorScale,
        ScaleKind.NATURAL_MINOR: library.scale.MinorScale,
        ScaleKind.HARMONIC_MINOR: library.scale.HarmonicMinorScale,
        ScaleKind.MELODIC_MINOR: library.scale.MelodicMinorScale,
    }[kind](theirs(tonic))
    direction = library.scale.Direction
    pitches = made.getPitches(
        theirs(f"{tonic}2"),
        theirs(f"{tonic}8"),
        direction=direction.ASCENDING if going_up else direction.DESCENDING,
    )
    return tuple(sorted((ours(pitch) for pitch in pitches), key=lambda pitch: pitch.midi))


@cache
def chord_everywhere(root: str, kind: ArpeggioKind) -> tuple[Pitch, ...]:
    """The chord's notes as music21 spells them over the whole keyboard, lowest first."""
    library = music21()
    return tuple(
        ours(library.pitch.Pitch(theirs(f"{root}{octave}")).transpose(interval))
        for octave in range(2, 8)
        for interval in CHORD_INTERVALS[kind]
    )


def published_run(tonic: str, kind: Kind, going_up: bool, low: Pitch, high: Pitch) -> list[Pitch]:
    """The published notes whose sound lies in a range, lowest first."""
    if isinstance(kind, ArpeggioKind):
        everywhere = chord_everywhere(tonic, kind)
    else:
        everywhere = scale_everywhere(tonic, kind, going_up)
    return [pitch for pitch in everywhere if low.midi <= pitch.midi <= high.midi]


FEET = ("C flute", "C flute with B foot")
TONICS: dict[Kind, tuple[str, ...]] = {
    ScaleKind.MAJOR: MAJOR_TONICS,
    ScaleKind.NATURAL_MINOR: MINOR_TONICS,
    ScaleKind.HARMONIC_MINOR: MINOR_TONICS,
    ScaleKind.MELODIC_MINOR: MINOR_TONICS,
}
ROOTS: dict[ArpeggioKind, tuple[str, ...]] = {
    ArpeggioKind.MAJOR: MAJOR_TONICS,
    ArpeggioKind.MINOR: MINOR_TONICS,
    ArpeggioKind.AUGMENTED: MAJOR_TONICS,
    ArpeggioKind.DIMINISHED: MINOR_TONICS,
    ArpeggioKind.DOMINANT_SEVENTH: MAJOR_TONICS,
    ArpeggioKind.DIMINISHED_SEVENTH: (*MINOR_TONICS, "E#", "B#", "F##", "C##", "G##"),
}
SCALE_CASES = [(t, kind, foot) for kind, ts in TONICS.items() for t in ts for foot in FEET]
ARPEGGIO_CASES = [(r, kind, foot) for kind, rs in ROOTS.items() for r in rs for foot in FEET]


def test_the_cases_are_all_keys_kinds_and_feet():
    assert len(SCALE_CASES) == (15 + 3 * 15) * 2 == 120
    assert len(ARPEGGIO_CASES) == (5 * 15 + 20) * 2 == 190


@pytest.mark.parametrize(("tonic", "kind", "foot"), SCALE_CASES + ARPEGGIO_CASES)
def test_every_note_in_range_is_as_published(tonic, kind, foot):
    flute = instrument_named(foot)
    run = scale_within(tonic, kind, flute.lowest, flute.highest)
    expected_up = published_run(tonic, kind, True, flute.lowest, flute.highest)
    expected_down = published_run(tonic, kind, False, flute.lowest, flute.highest)
    assert list(run.ascending) == expected_up
    assert list(run.descending) == expected_down[::-1]


@pytest.mark.parametrize("foot", FEET)
@pytest.mark.parametrize("tonic", MAJOR_TONICS)
def test_chromatic_sounds_every_semitone_and_keeps_the_key(tonic, foot):
    flute = instrument_named(foot)
    run = scale_within(tonic, ScaleKind.CHROMATIC, flute.lowest, flute.highest)
    every = list(range(flute.lowest.midi, flute.highest.midi + 1))
    assert [pitch.midi for pitch in run.ascending] == every
    assert [pitch.midi for pitch in run.descending] == every[::-1]
    in_key = {pitch.name for pitch in scale_everywhere(tonic, ScaleKind.MAJOR, True)}
    for spelled in (run.ascending, run.descending):
        assert in_key <= {pitch.name for pitch in spelled}
    outside = {p.name for p in run.ascending} - in_key, {p.name for p in run.descending} - in_key
    assert not any("b" in name for name in outside[0])
    assert not any("#" in name for name in outside[1])
    assert not {"E#", "B#", "Cb", "Fb"} & (outside[0] | outside[1])
    assert all(len(name) <= 2 for name in outside[0] | outside[1])


@pytest.mark.parametrize("foot", FEET)
@pytest.mark.parametrize("tonic", MAJOR_TONICS)
def test_whole_tone_sounds_as_published_from_every_tonic(tonic, foot):
    flute = instrument_named(foot)
    run = scale_within(tonic, ScaleKind.WHOLE_TONE, flute.lowest, flute.highest)
    theirs_up = music21().scale.WholeToneScale(theirs(tonic)).getPitches("C2", "C8")
    expected = {p.midi for p in theirs_up if flute.lowest.midi <= p.midi <= flute.highest.midi}
    assert [pitch.midi for pitch in run.ascending] == sorted(expected)
    assert run.descending == run.ascending[::-1]
    assert tonic in {pitch.name for pitch in run.ascending}


@pytest.mark.parametrize(
    ("tonic", "kind", "up", "down"),
    [
        # sharps going up, flats coming down: the usual way of writing it, no source
        ("C", ScaleKind.CHROMATIC, "C C# D D# E F F# G G# A A# B", "B Bb A Ab G Gb F E Eb D Db C"),
        ("Eb", ScaleKind.CHROMATIC, "C C# D Eb E F F# G Ab A Bb B", "B Bb A Ab G Gb F E Eb D Db C"),
        ("E", ScaleKind.CHROMATIC, "C C# D D# E F F# G G# A A# B", "B Bb A G# G F# F E D# D C# C"),
        ("C", ScaleKind.WHOLE_TONE, "C D E F# G# A#", "A# G# F# E D C"),
        ("Db", ScaleKind.WHOLE_TONE, "Db Eb F G A B", "B A G F Eb Db"),
    ],
)
def test_scales_of_equal_steps_are_spelled_as_players_write_them(tonic, kind, up, down):
    run = scale_within(tonic, kind, Pitch.parse("C4"), Pitch.parse("B4"))
    assert [pitch.name for pitch in run.ascending] == up.split()
    assert [pitch.name for pitch in run.descending] == down.split()


def test_minor_chromatic_is_spelled_from_its_minor_key():
    run = scale_within("G#", ScaleKind.CHROMATIC, Pitch.parse("G#4"), Pitch.parse("G#5"))
    assert " ".join(pitch.name for pitch in run.ascending) == "G# A A# B C C# D D# E F F# G G#"


def _their_names(numeral, tonic):
    """The chord on a degree, as music21's roman numerals spell it."""
    library = music21()
    chord = library.roman.RomanNumeral(numeral, library.key.Key(theirs(tonic)))
    return [ours(pitch).name for pitch in chord.pitches]


@pytest.mark.parametrize(
    ("keys", "kind", "numeral"),
    [
        (major_keys(), ArpeggioKind.MAJOR, "I"),
        (minor_keys(), ArpeggioKind.MINOR, "i"),
        (major_keys(), ArpeggioKind.DOMINANT_SEVENTH, "V7"),
        (minor_keys(), ArpeggioKind.DIMINISHED_SEVENTH, "viio7"),
        (major_keys(), ArpeggioKind.DIMINISHED, "viio"),
    ],
)
def test_chords_in_a_key_stand_on_the_degree_theory_gives_them(keys, kind, numeral):
    for key in keys:
        tonic = key.tonic if key.mode is Mode.MAJOR else key.tonic.lower()
        root = root_in_key(key, kind)
        run = scale_within(root, kind, Pitch.parse("C3"), Pitch.parse("C7"))
        names = [pitch.name for pitch in run.ascending]
        start = names.index(root)
        assert names[start : start + run.degrees] == _their_names(numeral, tonic)


@pytest.mark.parametrize(
    ("tonic", "kind", "expected"),
    [
        ("Eb", ScaleKind.MAJOR, Key("Eb", Mode.MAJOR)),
        ("G#", ScaleKind.HARMONIC_MINOR, Key("G#", Mode.MINOR)),
        ("D", ArpeggioKind.MINOR, Key("D", Mode.MINOR)),
        ("G", ArpeggioKind.DOMINANT_SEVENTH, Key("C", Mode.MAJOR)),
        ("F##", ArpeggioKind.DIMINISHED_SEVENTH, Key("G#", Mode.MINOR)),
        ("C", ScaleKind.CHROMATIC, None),
        ("C", ScaleKind.WHOLE_TONE, None),
        ("Gb", ScaleKind.NATURAL_MINOR, None),
    ],
)
def test_the_signature_that_suits(tonic, kind, expected):
    assert key_of(tonic, kind) == expected


@pytest.mark.parametrize("tonic", ["Cbb", "Gbb"])
def test_a_triple_accidental_is_refused_in_a_sentence(tonic):
    with pytest.raises(ValueError, match=f"{tonic} harmonic minor needs a triple accidental"):
        scale_within(tonic, ScaleKind.HARMONIC_MINOR, Pitch.parse("C4"), Pitch.parse("C7"))


def test_double_flats_are_spelled_where_the_key_needs_them():
    run = scale_within("Gb", ScaleKind.NATURAL_MINOR, Pitch.parse("Gb4"), Pitch.parse("Gb5"))
    assert " ".join(pitch.name for pitch in run.ascending) == "Gb Ab Bbb Cb Db Ebb Fb Gb"


@pytest.mark.parametrize("tonic", ["H", "C4", "", "sol"])
def test_a_word_that_is_no_tonic_is_refused(tonic):
    with pytest.raises(ValueError, match="is not a tonic: write a letter and # or b"):
        scale_within(tonic, ScaleKind.MAJOR, Pitch.parse("C4"), Pitch.parse("C7"))


def test_a_chromatic_scale_without_a_key_to_spell_it_in_is_refused():
    with pytest.raises(ValueError, match="write it on another tonic"):
        scale_within("B#", ScaleKind.CHROMATIC, Pitch.parse("C4"), Pitch.parse("C7"))


def test_a_range_without_a_note_of_the_scale_is_refused():
    with pytest.raises(ValueError, match="no note of C major lies from F#4 to F#4"):
        scale_within("C", ScaleKind.MAJOR, Pitch.parse("F#4"), Pitch.parse("F#4"))


SEVEN_NOTE_CASES = st.sampled_from([(tonic, kind) for tonic, kind, _ in SCALE_CASES])
RANGES = st.tuples(st.integers(48, 72), st.integers(84, 100))


@given(SEVEN_NOTE_CASES, RANGES)
def test_neighbours_in_a_scale_are_neighbouring_letters_and_none_is_left_out(case, limits):
    low, high = (Pitch.parse(sharp_name(midi)) for midi in limits)
    run = scale_within(*case, low, high)
    for line, sign in ((run.ascending, 1), (run.descending, -1)):
        assert all(low.midi <= pitch.midi <= high.midi for pitch in line)
        steps = [before.interval_to(after) for before, after in pairwise(line)]
        assert all(step.steps == sign and 1 <= sign * step.semitones <= 3 for step in steps)
        # no scale has a gap wider than an augmented second at either end of the range
        ends = run.ascending if sign > 0 else run.descending[::-1]
        assert ends[0].midi - low.midi < 3
        assert high.midi - ends[-1].midi < 3
