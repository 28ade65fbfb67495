"""Written against sounding: whose notes a part has, and the same music for another flute."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trainer.errors import ScoreError
from trainer.music.instrument import INSTRUMENT_NAMES, Instrument, instrument_named
from trainer.music.key import Key, Mode, key_on, major_keys, minor_keys, tonic_pitch
from trainer.music.ornaments import neighbours_of
from trainer.music.pitch import LETTERS, Interval, Pitch
from trainer.routine.model import WrittenNote
from trainer.score.part import UNISON, Part


def instrument_for(part: Part, asked: str | None) -> tuple[Instrument, Interval, Interval]:
    """The instrument, its transposition, and how far the written notes are to be moved.

    Without one asked for: the flute that transposes as the part does, by the part's name where
    several do; the C flute where none does. Raises ScoreError for a name that is no flute.
    """
    if asked is not None:
        try:
            instrument = instrument_named(asked)
        except ValueError as error:
            raise ScoreError(f"--for: {error}") from error
        return instrument, instrument.transposition, part.transposition + -instrument.transposition
    instruments = [instrument_named(name) for name in INSTRUMENT_NAMES]
    fitting = [one for one in instruments if one.transposition == part.transposition]
    named = [one for one in fitting if one.name in part.name.lower()]
    return (named or fitting or instruments)[0], part.transposition, UNISON


def moved_key(key: Key | None, interval: Interval) -> tuple[Key | None, Interval]:
    """The key moved, and the interval for its notes: another spelling of it where the key would
    need more than seven sharps or flats.
    """
    if key is None:
        return None, interval
    tonic = _shifted(tonic_pitch(key.tonic), interval)
    moved = key_on(tonic.name, key.mode) if tonic is not None else None
    if moved is not None:
        return moved, interval
    sound = (tonic_pitch(key.tonic).midi + interval.semitones) % 12
    keys = minor_keys() if key.mode is Mode.MINOR else major_keys()
    same = (one for one in keys if tonic_pitch(one.tonic).midi % 12 == sound)
    simplest = min(same, key=lambda one: abs(one.signature))
    between = LETTERS.index(simplest.tonic[0]) - LETTERS.index(key.tonic[0])
    octaves = (between + 7 * octave for octave in range(-6, 7))
    steps = min(octaves, key=lambda one: abs(one - interval.steps))
    return simplest, Interval(steps, interval.semitones)


def moved_notes(notes: Sequence[WrittenNote], interval: Interval) -> tuple[WrittenNote, ...]:
    """All notes moved. Raises ScoreError where one would have no name."""
    found = []
    for note in notes:
        pitch = _shifted(note.pitch, interval)
        if pitch is None or not 0 <= pitch.octave <= 9:
            raise ScoreError(f"{note.pitch} can't be written for this instrument. Leave out --for.")
        graces = [_shifted(grace, interval) for grace in note.graces]
        kept = tuple(grace for grace in graces if grace is not None)
        moved = replace(note, pitch=pitch, graces=kept)
        if note.upper_sign is not None:
            above = _shifted(neighbours_of(note.pitch, 0, note.upper_sign)[0], interval)
            moved = replace(moved, upper_sign=None if above is None else above.alter)
        found.append(moved)
    return tuple(found)


def _shifted(pitch: Pitch, interval: Interval) -> Pitch | None:
    try:
        return pitch.transposed(interval)
    except ValueError:
        return None
