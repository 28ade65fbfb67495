"""From an exercise in a key to its notes in time, before an articulation is chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate
from math import ceil

from trainer.music.breath import (
    breaths_at_turns,
    breaths_before_beats,
    breaths_every,
    breaths_for_tempo,
)
from trainer.music.instrument import Instrument, instrument_named
from trainer.music.key import Key, Mode, tonic_pitch
from trainer.music.layout import End, Ladder, Pattern, full_range, ladder, octaves
from trainer.music.note import Note, Start
from trainer.music.pitch import OCTAVE, Interval, Pitch
from trainer.music.rhythm import laid_out, sustained
from trainer.music.scales import ArpeggioKind, ScaleKind, key_of, root_in_key, scale_within
from trainer.routine.model import (
    Arpeggio,
    DroneOn,
    Exercise,
    FromTo,
    FullRange,
    KeyedExercise,
    LongTones,
    OctaveCount,
    Partner,
    Passage,
    RangeAsked,
    Routine,
    Scale,
    Voicing,
    VoicingForm,
    WrittenNote,
)

_PLAIN_SCALES = {Mode.MAJOR: ScaleKind.MAJOR, Mode.MINOR: ScaleKind.MELODIC_MINOR}
_PLAIN_CHORDS = {Mode.MAJOR: ArpeggioKind.MAJOR, Mode.MINOR: ArpeggioKind.MINOR}


def scale_form(exercise: KeyedExercise, key: Key) -> ScaleKind:
    """The scale an exercise is made from."""
    form = form_of(exercise)
    return form if isinstance(form, ScaleKind) else _PLAIN_SCALES[key.mode]


def chord_form(exercise: Arpeggio, key: Key) -> ArpeggioKind:
    """The chord an arpeggio is made from."""
    return exercise.chord or _PLAIN_CHORDS[key.mode]


def form_of(exercise: KeyedExercise) -> ScaleKind | ArpeggioKind | None:
    """The form or chord an exercise asks for by name, if any."""
    match exercise:
        case Scale(form=form):
            return form
        case Arpeggio(chord=chord):
            return chord
    return None


def needed_mode(form: ScaleKind | ArpeggioKind | None) -> Mode | None:
    """The mode of key a form belongs to; None where it goes with both."""
    if form is None or (isinstance(form, ArpeggioKind) and form not in _PLAIN_CHORDS.values()):
        return None
    key = key_of("C", form)
    return None if key is None else key.mode


def notes_of(routine: Routine, exercise: Exercise, key: Key | None) -> tuple[Note, ...]:
    """The notes with their breaths, all slurred. Raises ValueError where they don't fit the flute.

    A passage keeps the starts and breaths the teacher wrote. The last note is held to the next
    whole beat, so that every round ends on one.
    """
    *before, last = _notes_in_time(routine, exercise, key)
    ending = last.beat + last.length
    return (*before, replace(last, length=ceil(ending) - last.beat))


def _notes_in_time(routine: Routine, exercise: Exercise, key: Key | None) -> tuple[Note, ...]:
    if isinstance(exercise, Passage):
        return _written_out(exercise.notes)
    if isinstance(exercise, LongTones) and exercise.pitches:
        pitches: tuple[Pitch, ...] = exercise.pitches
        return sustained(pitches, exercise.beats_each, exercise.beats_between)
    if not isinstance(exercise, KeyedExercise) or key is None:
        raise ValueError(f"{exercise.id} has no key")
    steps = _ladder(routine, exercise, key)
    match exercise:
        case Scale() | Arpeggio():
            pitches = _path(steps, exercise.range, exercise.pattern)
            return _with_breaths(laid_out(pitches, exercise.per_beat), exercise)
        case Voicing(form=VoicingForm.OCTAVES):
            return _octave_pairs(_upward(steps, exercise.range), exercise.beats_each)
        case Voicing():
            pitches = _path(steps, exercise.range, (0,))
            instrument = instrument_named(routine.instrument)
            notes = _stopped_at_breaks(pitches, exercise.beats_each, instrument)
            return _with_breaths(notes, exercise)
        case LongTones():
            pitches = _upward(steps, exercise.range)
            return sustained(pitches, exercise.beats_each, exercise.beats_between)
    raise ValueError(f"{exercise.id} has no notes")


def _ladder(routine: Routine, exercise: KeyedExercise, key: Key) -> Ladder:
    low, high = routine.lowest, routine.highest
    if isinstance(exercise.range, FromTo):
        low = max(low, exercise.range.low, key=lambda pitch: pitch.midi)
        high = min(high, exercise.range.high, key=lambda pitch: pitch.midi)
    if isinstance(exercise, Arpeggio):
        chord = chord_form(exercise, key)
        return ladder(scale_within(root_in_key(key, chord), chord, low, high))
    return ladder(scale_within(key.tonic, scale_form(exercise, key), low, high))


def _path(steps: Ladder, asked: RangeAsked, pattern: Pattern) -> tuple[Pitch, ...]:
    match asked:
        case OctaveCount(count):
            return octaves(steps, count, pattern=pattern)
        case FullRange(first):
            return full_range(steps, first_end=first, pattern=pattern)
        case FromTo():
            return full_range(steps, pattern=pattern)


def _upward(steps: Ladder, asked: RangeAsked) -> tuple[Pitch, ...]:
    if isinstance(asked, OctaveCount):
        octaves(steps, asked.octaves)  # its sentence where there is no room
        home = steps.place(None)
        return steps.up[home : home + asked.octaves * steps.degrees + 1]
    return steps.up


def _octave_pairs(upward: Sequence[Pitch], beats_each: Fraction) -> tuple[Note, ...]:
    """Each note and its octave on one breath, as far as the range has the octave."""
    sounds = {pitch.midi for pitch in upward}
    pairs = [(low, low.transposed(OCTAVE)) for low in upward if low.midi + 12 in sounds]
    if not pairs:
        raise ValueError("The range has no note with its octave.")
    pitches = [pitch for pair in pairs for pitch in pair]
    notes = _of_lengths(pitches, [beats_each] * len(pitches))
    last = len(notes) - 1
    return tuple(
        replace(note, breath_after=note.index % 2 == 1 and note.index < last) for note in notes
    )


def _stopped_at_breaks(
    pitches: Sequence[Pitch], beats_each: Fraction, instrument: Instrument
) -> tuple[Note, ...]:
    """Slow notes; the last before each change of register is held twice as long, then a breath."""
    registers = [instrument.register(pitch) for pitch in pitches]
    last = len(pitches) - 1
    stops = {place for place in range(last) if registers[place] != registers[place + 1]}
    lengths = [beats_each * (2 if place in stops or place == last else 1)
               for place in range(len(pitches))]  # fmt: skip
    notes = _of_lengths(pitches, lengths)
    return tuple(replace(note, breath_after=note.index in stops) for note in notes)


def _of_lengths(pitches: Sequence[Pitch], lengths: Sequence[Fraction]) -> tuple[Note, ...]:
    beats = accumulate(lengths, initial=Fraction(0))
    return tuple(
        Note(index, pitch, beat, length, Start.SLURRED)
        for index, (pitch, beat, length) in enumerate(zip(pitches, beats, lengths, strict=False))
    )


def _written_out(written: Sequence[WrittenNote]) -> tuple[Note, ...]:
    notes: list[Note] = []
    for index, one in enumerate(written):
        repeated = one.slurred_from_last and notes[-1].pitch.midi == one.pitch.midi
        slurred = Start.LEGATO_TONGUE if repeated else Start.SLURRED
        start = slurred if one.slurred_from_last else Start.TONGUED
        notes.append(Note(index, one.pitch, one.beat, one.length, start, one.breath_after))
    return tuple(notes)


def _with_breaths(notes: tuple[Note, ...], exercise: KeyedExercise) -> tuple[Note, ...]:
    asked = exercise.breaths
    over_all = asked.as_needed and isinstance(exercise.range, FullRange)
    ends = [End.TOP] * (asked.at_top or over_all) + [End.BOTTOM] * asked.at_bottom
    notes = breaths_at_turns(notes, ends)
    if asked.every_beats is not None:
        notes = breaths_every(notes, asked.every_beats)
    notes = breaths_before_beats(notes, asked.after_beats)
    return breaths_for_tempo(notes, exercise.tempo_bpm) if asked.as_needed else notes


def signature_of(exercise: Exercise, key: Key | None) -> Key | None:
    """The key whose signature stands on the staff."""
    if not isinstance(exercise, Scale) or key is None:
        return key
    return key_of(key.tonic, scale_form(exercise, key)) or key


_FIFTH = Interval(4, 7)
_HIGHEST_DRONE_MIDI = 71


def drone_of(key: Key, partner: Partner) -> Pitch:
    """The written pitch a drone holds: the tonic or the fifth, from middle C to the B above."""
    tonic = tonic_pitch(key.tonic)
    if partner.drone_on is DroneOn.TONIC:
        return tonic
    fifth = tonic.transposed(_FIFTH)
    return fifth if fifth.midi <= _HIGHEST_DRONE_MIDI else fifth.transposed(-OCTAVE)
