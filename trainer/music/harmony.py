"""The chords under a line, bar by bar, as far as its own notes say them.

Each bar gets the chord of the key that most of its time belongs to; a bar between two chords gets
the one named first below. Chords and their roots are common practice, and so is it that a chord on
the leading note stands for the one on the fifth degree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from trainer.music.bars import Bars
from trainer.music.key import Key, Mode, tonic_pitch
from trainer.music.note import Note
from trainer.music.pitch import OCTAVE, Interval, Pitch

_DOWNBEAT_COUNTS = 2
"""The note on a bar's first beat counts so often (common practice, no source)."""
_HIGHEST_DRONE_MIDI = 71
"""B4: a higher drone would lie among the player's own notes."""


@dataclass(frozen=True)
class _Chord:
    """A chord of a key: its root and its notes, above the tonic."""

    root: Interval
    semitones: frozenset[int]
    seventh: int | None = None
    """It may sound with it, but says less than the others that the chord does."""


_CHORDS = {
    Mode.MAJOR: (
        _Chord(Interval(0, 0), frozenset({0, 4, 7})),
        _Chord(Interval(4, 7), frozenset({7, 11, 2}), seventh=5),
        _Chord(Interval(3, 5), frozenset({5, 9, 0})),
        _Chord(Interval(1, 2), frozenset({2, 5, 9})),
        _Chord(Interval(5, 9), frozenset({9, 0, 4})),
        _Chord(Interval(2, 4), frozenset({4, 7, 11})),
    ),
    Mode.MINOR: (
        _Chord(Interval(0, 0), frozenset({0, 3, 7})),
        _Chord(Interval(4, 7), frozenset({7, 11, 2}), seventh=5),
        _Chord(Interval(3, 5), frozenset({5, 8, 0})),
        _Chord(Interval(5, 8), frozenset({8, 0, 3})),
        _Chord(Interval(2, 3), frozenset({3, 7, 10})),
        _Chord(Interval(6, 10), frozenset({10, 2, 5})),
    ),
}
"""I V7 IV ii vi iii, and in minor i V7 iv VI III VII."""


def as_drone(pitch: Pitch) -> Pitch:
    """The pitch where a drone holds it: no higher than the B above middle C."""
    return pitch if pitch.midi <= _HIGHEST_DRONE_MIDI else pitch.transposed(-OCTAVE)


def roots_under(notes: Sequence[Note], bars: Bars, key: Key) -> tuple[tuple[Fraction, Pitch], ...]:
    """(beat, root from there on, from middle C to the B above) wherever the harmony moves.

    The first root holds from beat 0, and a bar in which no note begins keeps the one before. key:
    where no signature says it.
    """
    found: list[tuple[Fraction, Pitch]] = []
    for bar, inside in groupby(notes, lambda note: bars.at(note.beat)):
        here = bar.key or key
        chord = _chord_of(list(inside), here, bar.begins)
        root = as_drone(tonic_pitch(here.tonic).transposed(chord.root))
        if not found or root != found[-1][1]:
            found.append((bar.begins if found else Fraction(0), root))
    return tuple(found)


def _chord_of(notes: Sequence[Note], key: Key, downbeat: Fraction) -> _Chord:
    tonic = tonic_pitch(key.tonic).midi

    def said_by(chord: _Chord, note: Note) -> Fraction:
        place = (note.pitch.midi - tonic) % 12
        if place == chord.seventh:
            return note.length / 2
        if place not in chord.semitones:
            return Fraction(0)
        return note.length * (_DOWNBEAT_COUNTS if note.beat == downbeat else 1)

    def said(chord: _Chord) -> Fraction:
        return sum((said_by(chord, note) for note in notes), Fraction(0))

    return max(_CHORDS[key.mode], key=said)
