"""What notes are called: in English, German, French, Italian or Spanish, and by which octave.

Everywhere inside, a note is a letter, a sign and an octave digit of scientific pitch notation
('F#5'), and a key is 'E flat major'. `renamed` puts such words into the names a student grew up
with; it is for what is shown, never for what is kept.

Octave strokes are Helmholtz's (On the Sensations of Tone, 1863): c' is middle C. The octaves of
the flute are counted from its low C, as flutists do (common practice, no source). Digits stay
those of scientific pitch notation in every language, so that A4 is 440 Hz.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from trainer.music.pitch import Pitch


class Language(StrEnum):
    """Whose names."""

    ENGLISH = "English (B, B flat)"
    GERMAN = "German (H, B)"
    FRENCH = "French (si, do ré mi)"
    ITALIAN = "Italian (si, do re mi)"
    SPANISH = "Spanish (si, do re mi, sostenido)"


class Octaves(StrEnum):
    """How the octave is said."""

    NUMBERS = "numbers (D5)"
    FLUTE = "octaves of the flute beside numbers (D5, 2nd octave)"
    STROKES = "strokes (d'')"


@dataclass(frozen=True)
class NoteNames:
    """A student's way to call notes."""

    language: Language = Language.ENGLISH
    octaves: Octaves = Octaves.NUMBERS


_SYLLABLES = dict(zip("CDEFGAB", ("do", "re", "mi", "fa", "sol", "la", "si"), strict=True))
_SIGNS: dict[Language, dict[int, str]] = {
    Language.ENGLISH: {-2: " double flat", -1: " flat", 1: " sharp", 2: " double sharp"},
    Language.FRENCH: {-2: " double bémol", -1: " bémol", 1: " dièse", 2: " double dièse"},
    Language.ITALIAN: {-2: " doppio bemolle", -1: " bemolle", 1: " diesis", 2: " doppio diesis"},
    Language.SPANISH: {-2: " doble bemol", -1: " bemol", 1: " sostenido", 2: " doble sostenido"},
}
_GERMAN_ENDINGS = {-2: "eses", -1: "es", 0: "", 1: "is", 2: "isis"}
_GERMAN_OWN = {("B", -1): "B", ("E", -1): "Es", ("A", -1): "As", ("E", -2): "Eses"} | {
    ("A", -2): "Ases"
}
_OCTAVE_WORDS = {3: "foot joint", 4: "1st octave", 5: "2nd octave", 6: "3rd octave"}
_SHORT_SIGNS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_ALTERS = {"bb": -2, "b": -1, "": 0, "#": 1, "##": 2, "x": 2} | {
    " double flat": -2,
    " flat": -1,
    " sharp": 1,
    " double sharp": 2,
}


def spoken(letter: str, alter: int, language: Language) -> str:
    """A note's name in full, without its octave: 'E flat', 'Es', 'mi bémol'."""
    if language is Language.GERMAN:
        stem = "H" if letter == "B" else letter
        return _GERMAN_OWN.get((letter, alter), stem + _GERMAN_ENDINGS[alter])
    return _stem(letter, language) + _SIGNS[language].get(alter, "")


def short(letter: str, alter: int, language: Language) -> str:
    """A note's name with a sign: 'Eb', 'mib'; German needs none."""
    if language is Language.GERMAN:
        return spoken(letter, alter, language)
    return _stem(letter, language) + _SHORT_SIGNS[alter]


def named(pitch: Pitch, names: NoteNames) -> str:
    """A pitch with its octave: 'D5', 'd''', 'ré5', 'D5 (2nd octave)'."""
    name = short(pitch.letter, pitch.alter, names.language)
    match names.octaves:
        case Octaves.STROKES:
            return _with_strokes(name, pitch.octave)
        case Octaves.FLUTE:
            return f"{name}{pitch.octave} ({_OCTAVE_WORDS.get(pitch.octave, '4th octave')})"
    return f"{name}{pitch.octave}"


def _stem(letter: str, language: Language) -> str:
    if language is Language.ENGLISH:
        return letter
    return "ré" if (letter, language) == ("D", Language.FRENCH) else _SYLLABLES[letter]


def _with_strokes(name: str, octave: int) -> str:
    """Helmholtz: small letters from the octave below middle C up, a stroke for each above it."""
    return name[0].lower() + name[1:] + "'" * (octave - 3)


_SCALES = "major|minor|natural|harmonic|melodic|chromatic|whole-tone|augmented|diminished|dominant"
_PITCH = r"(?P<letter>[A-G])(?P<sign>##|#|bb|b|x|)(?P<octave>[3-7])(?!\w)(?! *= *\d)"
_IN_WORDS = r"(?P<letter>[A-G])(?P<sign> double sharp| double flat| sharp| flat|)"
_KEY = _IN_WORDS + r"(?= (?:" + _SCALES + r")\b)"
_WORDED = _IN_WORDS + r"(?=(?: natural)? here)"
_SIGNED = r"(?P<letter>[A-G])(?P<sign>##|#|bb|b)(?![\w#])"
_ALONE = r"(?P<letter>[A-G])(?P<sign>)(?= came out as )|(?<=came out as )(?P<after>[A-G])(?![\w#])"
_PLACES = [
    re.compile(r"(?<![\w#'])(?:" + pattern + ")") for pattern in (_PITCH, _KEY, _WORDED, _SIGNED)
] + [re.compile(r"(?<![\w#'])(?:" + _ALONE + ")")]
_IN_FULL = {1, 2}
"""Places where a name stands in words."""


def renamed(text: str, names: NoteNames) -> str:
    """One of our own sentences with its notes called as the student calls them."""
    if names == NoteNames():
        return text
    found: dict[int, tuple[int, str]] = {}
    for place, pattern in enumerate(_PLACES):
        for match in pattern.finditer(text):
            found.setdefault(match.start(), (match.end(), _new_name(match, place, names)))
    parts, done = [], 0
    for start, (end, name) in sorted(found.items()):
        if start >= done:
            parts += [text[done:start], name]
            done = end
    return "".join([*parts, text[done:]])


def _new_name(match: re.Match[str], place: int, names: NoteNames) -> str:
    groups = match.groupdict()
    letter = groups["letter"] or groups.get("after") or ""
    alter = _ALTERS[groups["sign"] or ""]
    if groups.get("octave"):
        return named(Pitch(letter, alter, int(groups["octave"])), names)
    call = spoken if place in _IN_FULL else short
    return call(letter, alter, names.language)


def renamed_table(text: str, names: NoteNames) -> str:
    """A table's lines with its notes renamed; where two blanks or more follow, columns stay."""
    return "\n".join(_in_columns(line, names) for line in text.split("\n"))


def _in_columns(line: str, names: NoteNames) -> str:
    cells = re.split(r"( {2,})", line)
    out, owed = "", 0
    for cell in cells:
        if cell.isspace():
            blanks = max(1, len(cell) - owed)
            owed = max(0, owed - (len(cell) - blanks))
            out += " " * blanks
        else:
            new = renamed(cell, names)
            owed += len(new) - len(cell)
            out += new
    return out
