"""Note names in five languages, against music21's, and put into our own sentences."""

from __future__ import annotations

import pytest
from music21 import pitch as reference

from trainer.music.names import Language, NoteNames, Octaves, named, renamed, renamed_table, spoken
from trainer.music.pitch import LETTERS, Pitch

ATTRIBUTE = {
    Language.GERMAN: "german",
    Language.FRENCH: "french",
    Language.ITALIAN: "italian",
    Language.SPANISH: "spanish",
}
GERMAN = NoteNames(Language.GERMAN)
FRENCH = NoteNames(Language.FRENCH)


@pytest.mark.parametrize("language", ATTRIBUTE)
@pytest.mark.parametrize("letter", LETTERS)
@pytest.mark.parametrize("alter", [-2, -1, 0, 1, 2])
def test_names_are_those_of_a_reference_library(
    language: Language, letter: str, alter: int
) -> None:
    sign = {-2: "--", -1: "-", 0: "", 1: "#", 2: "##"}[alter]
    known = getattr(reference.Pitch(letter + sign), ATTRIBUTE[language])
    assert spoken(letter, alter, language) == known


@pytest.mark.parametrize(
    ("octaves", "name"),
    [
        (Octaves.NUMBERS, "F#5"),
        (Octaves.STROKES, "f#''"),
        (Octaves.FLUTE, "F#5 (2nd octave)"),
    ],
)
def test_octaves_are_said_in_three_ways(octaves: Octaves, name: str) -> None:
    assert named(Pitch.parse("F#5"), NoteNames(Language.ENGLISH, octaves)) == name


def test_strokes_count_from_middle_c() -> None:
    """H. von Helmholtz, On the Sensations of Tone: c' is middle C; b (German h) lies below it."""
    strokes = NoteNames(Language.GERMAN, Octaves.STROKES)
    assert [named(Pitch.parse(one), strokes) for one in ("B3", "C4", "Bb4", "D6")] == [
        "h",
        "c'",
        "b'",
        "d'''",
    ]


@pytest.mark.parametrize(
    ("ours", "german", "french"),
    [
        ("E flat major, full range", "Es major, full range", "mi bémol major, full range"),
        ("A minor, from A4 to B5", "A minor, from A4 to H5", "la minor, from la4 to si5"),
        ("F# came out as F twice", "Fis came out as F twice", "fa# came out as fa twice"),
        (
            "B came out as Bb: it is B natural here",
            "H came out as B: it is H natural here",
            "si came out as sib: it is si natural here",
        ),
        ("B–C", "B–C", "B–C"),
        ("C#5–D5 changed late", "Cis5–D5 changed late", "do#5–ré5 changed late"),
        ("C flute, A4 = 440 Hz", "C flute, A4 = 440 Hz", "C flute, A4 = 440 Hz"),
        ("A false note. Draw a hair.", "A false note. Draw a hair.", "A false note. Draw a hair."),
        ("Bb dominant seventh", "B dominant seventh", "sib dominant seventh"),
        ("F sharp melodic minor", "Fis melodic minor", "fa dièse melodic minor"),
    ],
)
def test_our_sentences_are_put_into_the_students_names(ours: str, german: str, french: str) -> None:
    assert renamed(ours, GERMAN) == german
    assert renamed(ours, FRENCH) == french
    assert renamed(ours, NoteNames()) == ours


def test_a_table_keeps_its_columns() -> None:
    table = "E flat major      2 min\nD major           2 min"
    lines = renamed_table(table, FRENCH).split("\n")
    assert lines == ["mi bémol major    2 min", "ré major          2 min"]
