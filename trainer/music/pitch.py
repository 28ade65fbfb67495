"""Spelled pitches and the intervals between them: C flat is not B.

Octave digits follow scientific pitch notation, in which the digit belongs to the letter:
C4 is middle C (MIDI 60), so Cb4 sounds as B3 and B#3 sounds as C4.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

LETTERS = "CDEFGAB"
LETTER_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
ACCIDENTALS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_ALTERS = {sign: alter for alter, sign in ACCIDENTALS.items()} | {"x": 2}
_PITCH = re.compile(r"([A-Ga-g])(##|#|x|bb|b|)(-?\d)")


@dataclass(frozen=True)
class Interval:
    """A spelled interval: letter steps and semitones, both positive upwards."""

    steps: int
    """Letter names moved: 2 for any kind of third."""
    semitones: int

    def __add__(self, other: Interval) -> Interval:
        return Interval(self.steps + other.steps, self.semitones + other.semitones)

    def __neg__(self) -> Interval:
        return Interval(-self.steps, -self.semitones)


OCTAVE = Interval(7, 12)


@dataclass(frozen=True)
class Pitch:
    """A written pitch: letter, accidental and octave."""

    letter: str
    """One of C D E F G A B."""
    alter: int
    """Semitones of the accidental, -2 (double flat) to 2 (double sharp)."""
    octave: int
    """Scientific octave of the letter: middle C is C4."""

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read 'F#4', 'Bb3', 'C##5' or 'Cx5'. Raises ValueError with a plain sentence."""
        match = _PITCH.fullmatch(text.strip())
        if match is None:
            raise ValueError(f"'{text}' is not a note: write a letter, # or b, and an octave: F#4")
        letter, sign, octave = match.groups()
        return cls(letter.upper(), _ALTERS[sign], int(octave))

    @classmethod
    def named(cls, name: str, midi: int) -> Pitch:
        """The pitch of this name that sounds as a MIDI number: ('Cb', 59) is Cb4.

        Raises ValueError where the name can't sound so.
        """
        pitch = cls.parse(f"{name}4")
        octaves, rest = divmod(midi - pitch.midi, 12)
        if rest:
            raise ValueError(f"MIDI {midi} can't be called {name}")
        return cls(pitch.letter, pitch.alter, pitch.octave + octaves)

    @property
    def name(self) -> str:
        """The note name without its octave: 'F#'."""
        return self.letter + ACCIDENTALS[self.alter]

    @property
    def midi(self) -> int:
        """MIDI note number of the sound: 60 for C4, 59 for Cb4."""
        return 12 * (self.octave + 1) + LETTER_SEMITONES[self.letter] + self.alter

    @property
    def staff_step(self) -> int:
        """Diatonic steps above C0, for placing a note head: C4 is 28, D4 is 29."""
        return 7 * self.octave + LETTERS.index(self.letter)

    def transposed(self, interval: Interval) -> Pitch:
        """This pitch moved by a spelled interval; ValueError beyond double accidentals."""
        octave, letter_index = divmod(self.staff_step + interval.steps, 7)
        letter = LETTERS[letter_index]
        natural_midi = 12 * (octave + 1) + LETTER_SEMITONES[letter]
        alter = self.midi + interval.semitones - natural_midi
        if alter not in ACCIDENTALS:
            raise ValueError(f"{self} moved by {interval} needs more than a double accidental")
        return Pitch(letter, alter, octave)

    def interval_to(self, other: Pitch) -> Interval:
        """The spelled interval from this pitch to the other."""
        return Interval(other.staff_step - self.staff_step, other.midi - self.midi)

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"


USUAL_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")
"""How flutists call the twelve where no key says it (common practice, no source)."""


def usual_pitch(midi: int) -> Pitch:
    """A sounding note as flutists call it where no key is asked: 63 is Eb4."""
    return Pitch.named(USUAL_NAMES[midi % 12], midi)


def sharp_name(midi: int) -> str:
    """The key under which tables list a sounding note, spelled with sharps: 61 → 'C#4'."""
    names = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    return f"{names[midi % 12]}{midi // 12 - 1}"
