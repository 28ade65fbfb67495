"""Modes, pentatonic, octatonic, blues and the larger chords against music21 (music21.org).

The blues scale is not in music21 by name; its degrees are those of any jazz primer (common
practice, no source).
"""

from __future__ import annotations

from typing import Any

import pytest

from trainer.music.key import Key, Mode
from trainer.music.pitch import Pitch
from trainer.music.scales import (
    ARPEGGIO_DEGREES,
    SCALE_DEGREES,
    ArpeggioKind,
    ScaleKind,
    key_of,
    root_in_key,
    scale_within,
)

LOW, HIGH = Pitch.parse("C4"), Pitch.parse("C7")
TONICS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def music21() -> Any:
    import music21 as library

    return library


def sounds(tonic: str, kind: ScaleKind | ArpeggioKind) -> list[int]:
    return [pitch.midi for pitch in scale_within(tonic, kind, LOW, HIGH).ascending]


@pytest.mark.parametrize("tonic", TONICS)
@pytest.mark.parametrize(
    "kind",
    [
        ScaleKind.DORIAN,
        ScaleKind.PHRYGIAN,
        ScaleKind.LYDIAN,
        ScaleKind.MIXOLYDIAN,
        ScaleKind.LOCRIAN,
    ],
)
def test_modes_are_spelled_as_music21_spells_them(tonic: str, kind: ScaleKind) -> None:
    scale = getattr(music21().scale, f"{kind.value.capitalize()}Scale")
    theirs = scale(tonic.replace("b", "-")).getPitches("C4", "C7")
    ours = scale_within(tonic, kind, LOW, HIGH).ascending
    inside = [p.nameWithOctave.replace("-", "b") for p in theirs if 60 <= p.midi <= 96]
    assert [str(pitch) for pitch in ours] == inside


@pytest.mark.parametrize("tonic", TONICS)
@pytest.mark.parametrize(
    ("kind", "half_first"),
    [(ScaleKind.OCTATONIC, False), (ScaleKind.OCTATONIC_HALF_FIRST, True)],
)
def test_octatonic_sounds_as_published(tonic: str, kind: ScaleKind, half_first: bool) -> None:
    library = music21()
    mode = 1 if half_first else 2
    scale = library.scale.OctatonicScale(tonic.replace("b", "-"), mode)
    classes = {pitch.pitchClass for pitch in scale.getPitches("C4", "C7")}
    assert {sound % 12 for sound in sounds(tonic, kind)} == classes


CHORDS = {
    ArpeggioKind.HALF_DIMINISHED: "m7b5",
    ArpeggioKind.MAJOR_SEVENTH: "maj7",
    ArpeggioKind.MINOR_SEVENTH: "m7",
    ArpeggioKind.DOMINANT_NINTH: "9",
    ArpeggioKind.MAJOR_NINTH: "M9",
    ArpeggioKind.MINOR_NINTH: "m9",
    ArpeggioKind.ADDED_SIXTH: "6",
    ArpeggioKind.MINOR_ADDED_SIXTH: "m6",
}


@pytest.mark.parametrize("root", TONICS)
@pytest.mark.parametrize("kind", CHORDS)
def test_chords_sound_as_their_symbols_say(root: str, kind: ArpeggioKind) -> None:
    symbol = music21().harmony.ChordSymbol(root.replace("b", "-") + CHORDS[kind])
    classes = {pitch.pitchClass for pitch in symbol.pitches}
    assert {sound % 12 for sound in sounds(root, kind)} == classes


@pytest.mark.parametrize(
    ("kind", "semitones"),
    [
        (ScaleKind.PENTATONIC, {0, 2, 4, 7, 9}),
        (ScaleKind.MINOR_PENTATONIC, {0, 3, 5, 7, 10}),
        (ScaleKind.BLUES, {0, 3, 5, 6, 7, 10}),
    ],
)
def test_pentatonic_and_blues(kind: ScaleKind, semitones: set[int]) -> None:
    for tonic in TONICS:
        root = Pitch.parse(f"{tonic}4").midi
        assert {(sound - root) % 12 for sound in sounds(tonic, kind)} == semitones


def test_the_half_diminished_stands_where_the_key_has_it() -> None:
    """The seventh degree in major, the second in minor, as music21's roman numerals have them."""
    roman = music21().roman
    for key, numeral in ((Key("G", Mode.MAJOR), "viiø7"), (Key("G", Mode.MINOR), "iiø7")):
        theirs = roman.RomanNumeral(numeral, "G" if key.mode is Mode.MAJOR else "g")
        root = root_in_key(key, ArpeggioKind.HALF_DIMINISHED)
        assert root == theirs.root().name.replace("-", "b")
        ours = scale_within(root, ArpeggioKind.HALF_DIMINISHED, LOW, HIGH).ascending
        assert {p.name for p in ours} == {p.name.replace("-", "b") for p in theirs.pitches}


def test_every_kind_with_degrees_begins_on_its_tonic() -> None:
    for degrees in (*SCALE_DEGREES.values(), *ARPEGGIO_DEGREES.values()):
        sizes = [degree.semitones for degree in degrees]
        assert sizes == sorted(set(sizes))
        assert sizes[0] == 0


def test_modes_stand_in_the_signature_of_their_third() -> None:
    assert key_of("D", ScaleKind.DORIAN) == Key("D", Mode.MINOR)
    assert key_of("D", ScaleKind.LYDIAN) == Key("D", Mode.MAJOR)
    assert key_of("D", ScaleKind.OCTATONIC) is None
