"""From an exercise in a key to its notes in time, before an articulation is chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate
from math import ceil

from trainer.music.bars import Bars
from trainer.music.breath import (
    breaths_at_turns,
    breaths_before_beats,
    breaths_every,
    breaths_for_tempo,
)
from trainer.music.harmony import as_drone
from trainer.music.instrument import Instrument, instrument_named
from trainer.music.key import Key, Mode, tonic_pitch
from trainer.music.layout import End, Pattern, ScaleDegrees, full_range, ladder, octaves
from trainer.music.note import Mark, Note, Start
from trainer.music.ornaments import neighbours_of
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
    Trills,
    Voicing,
    VoicingForm,
    WrittenNote,
)

_PLAIN_SCALES = {Mode.MAJOR: ScaleKind.MAJOR, Mode.MINOR: ScaleKind.MELODIC_MINOR}
_PLAIN_CHORDS = {Mode.MAJOR: ArpeggioKind.MAJOR, Mode.MINOR: ArpeggioKind.MINOR}


_OF_A_MODE = frozenset(
    {
        ScaleKind.MAJOR,
        ScaleKind.NATURAL_MINOR,
        ScaleKind.HARMONIC_MINOR,
        ScaleKind.MELODIC_MINOR,
        *_PLAIN_CHORDS.values(),
    }
)
"""The others are asked for on a tonic, whatever the key's mode."""


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
    if form not in _OF_A_MODE:
        return None
    assert form is not None
    key = key_of("C", form)
    return None if key is None else key.mode


def notes_of(routine: Routine, exercise: Exercise, key: Key | None) -> tuple[Note, ...]:
    """The notes with their breaths, all slurred. Raises ValueError where they don't fit the flute.

    A passage keeps the starts and breaths the teacher wrote.
    """
    if isinstance(exercise, Passage):
        return _written_out(exercise.notes, exercise.bars, exercise.tempo_bpm)
    if isinstance(exercise, Trills):
        return trill_notes(exercise, exercise.per_beat[0])
    if isinstance(exercise, LongTones) and exercise.pitches:
        pitches: tuple[Pitch, ...] = exercise.pitches
        return sustained(pitches, exercise.beats_each, exercise.beats_between)
    if isinstance(exercise, Voicing) and exercise.roots:
        return _harmonics(exercise.roots, exercise, routine.highest)
    if not isinstance(exercise, KeyedExercise) or key is None:
        raise ValueError(f"{exercise.id} has no key")
    steps = _ladder(routine, exercise, key)
    match exercise:
        case Scale() | Arpeggio():
            pitches = _repeated(_path(steps, exercise.range, exercise.pattern), exercise.each)
            notes = _with_breaths(laid_out(pitches, exercise.per_beat), exercise)
            return _breathing_after_repeats(notes) if exercise.each > 1 else notes
        case Voicing(form=VoicingForm.OCTAVES):
            return _octave_pairs(_upward(steps, exercise.range), exercise.beats_each)
        case Voicing(form=VoicingForm.SAME_NAMES):
            return _same_names(_upward(steps, exercise.range), exercise.beats_each)
        case Voicing(form=VoicingForm.HARMONICS):
            lowest = _upward(steps, exercise.range)[:FUNDAMENTALS]
            return _harmonics(lowest, exercise, routine.highest)
        case Voicing():
            pitches = _path(steps, exercise.range, (0,))
            instrument = instrument_named(routine.instrument)
            notes = _stopped_at_breaks(pitches, exercise.beats_each, instrument)
            return _with_breaths(notes, exercise)
        case LongTones():
            pitches = _upward(steps, exercise.range)
            return sustained(pitches, exercise.beats_each, exercise.beats_between)
    raise ValueError(f"{exercise.id} has no notes")


def check_room(routine: Routine, exercise: KeyedExercise, key: Key) -> None:
    """Raise ValueError where the notes don't fit the flute; cheaper than making them all."""
    if isinstance(exercise, (Scale, Arpeggio)):
        _path(_ladder(routine, exercise, key), exercise.range, exercise.pattern)
    else:
        notes_of(routine, exercise, key)


def _ladder(routine: Routine, exercise: KeyedExercise, key: Key) -> ScaleDegrees:
    low, high = routine.lowest, routine.highest
    if isinstance(exercise.range, FromTo):
        low = max(low, exercise.range.low, key=lambda pitch: pitch.midi)
        high = min(high, exercise.range.high, key=lambda pitch: pitch.midi)
    if isinstance(exercise, Arpeggio):
        chord = chord_form(exercise, key)
        return ladder(scale_within(root_in_key(key, chord), chord, low, high))
    return ladder(scale_within(key.tonic, scale_form(exercise, key), low, high))


def _path(steps: ScaleDegrees, asked: RangeAsked, pattern: Pattern) -> tuple[Pitch, ...]:
    match asked:
        case OctaveCount(count):
            return octaves(steps, count, pattern=pattern)
        case FullRange(first):
            return full_range(steps, first_end=first, pattern=pattern)
        case FromTo():
            return full_range(steps, pattern=pattern)


def _repeated(pitches: Sequence[Pitch], times: int) -> tuple[Pitch, ...]:
    """Each pitch so often, the last one once: it is where the line comes to rest."""
    *others, last = pitches
    return (*(pitch for pitch in others for _ in range(times)), last)


def _breathing_after_repeats(notes: Sequence[Note]) -> tuple[Note, ...]:
    """No breath between two of the same pitch: it comes after the last of them."""
    due, result = False, []
    for note, after in zip(notes, [*notes[1:], None], strict=True):
        due = due or note.breath_after
        here = due and after is not None and after.pitch != note.pitch
        result.append(replace(note, breath_after=here))
        due = due and not here
    return tuple(result)


def _upward(steps: ScaleDegrees, asked: RangeAsked) -> tuple[Pitch, ...]:
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


def _same_names(upward: Sequence[Pitch], beats_each: Fraction) -> tuple[Note, ...]:
    """Each name in every octave of the range, lowest first, a breath after each name."""
    octaves_of: dict[str, list[Pitch]] = {}
    for pitch in upward:
        octaves_of.setdefault(pitch.name, []).append(pitch)
    names = [pitches for pitches in octaves_of.values() if len(pitches) > 1]
    if not names:
        raise ValueError("The range has no note in two octaves.")
    return _in_groups(names, beats_each)


FUNDAMENTALS = 5
"""So many of the lowest notes lend their fingerings; higher up harmonics speak unwillingly."""
_HARMONICS = (OCTAVE, Interval(11, 19), Interval(14, 24), Interval(16, 28), Interval(18, 31))
"""From a note to its second, third and so on to its sixth harmonic."""


def _harmonics(roots: Sequence[Pitch], exercise: Voicing, highest: Pitch) -> tuple[Note, ...]:
    """Each low note, then each of its harmonics and the true note of the same pitch."""
    groups: list[list[Pitch]] = []
    fundamentals: list[Pitch] = []
    for low in roots:
        over = [low.transposed(interval) for interval in _HARMONICS[: exercise.partials - 1]]
        over = [pitch for pitch in over if pitch.midi <= highest.midi]
        groups.append([low, *(pitch for each in over for pitch in (each, each))])
        fundamentals += [low] * len(groups[-1])
    notes = _in_groups(groups, exercise.beats_each)
    return tuple(
        replace(note, harmonic_of=low) if _is_first_of_two(notes, note) else note
        for note, low in zip(notes, fundamentals, strict=True)
    )


def _is_first_of_two(notes: Sequence[Note], note: Note) -> bool:
    """The next note is the same pitch: this one is the harmonic, that one the true note."""
    after = notes[note.index + 1] if note.index + 1 < len(notes) else None
    return after is not None and after.pitch == note.pitch


def _in_groups(groups: Sequence[Sequence[Pitch]], beats_each: Fraction) -> tuple[Note, ...]:
    """Notes of one length, a breath after each group."""
    pitches = [pitch for group in groups for pitch in group]
    ends = set(accumulate(len(group) for group in groups))
    notes = _of_lengths(pitches, [beats_each] * len(pitches))
    return tuple(
        replace(note, breath_after=note.index + 1 in ends and note.index + 1 < len(notes))
        for note in notes
    )


def trill_notes(exercise: Trills, per_beat: int) -> tuple[Note, ...]:
    """Each pair in turns, then its main note held for two beats, and a breath."""
    notes: list[Note] = []
    beat = Fraction(0)
    for main, other in exercise.pairs:
        turns = max(2, int(exercise.beats_each * per_beat) // 2 * 2)
        for turn in range(turns):
            pitch = (main, other)[turn % 2]
            start = beat + Fraction(turn, per_beat)
            notes.append(Note(len(notes), pitch, start, Fraction(1, per_beat), Start.SLURRED))
        end = beat + Fraction(turns, per_beat)
        held = ceil(end) + TRILL_END_BEATS - end
        notes.append(Note(len(notes), main, end, held, Start.SLURRED, breath_after=True))
        beat = end + held
    return (*notes[:-1], replace(notes[-1], breath_after=False))


TRILL_END_BEATS = 2
"""A trill comes to rest on its main note for so long."""


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


def _written_out(written: Sequence[WrittenNote], bars: Bars, tempo_bpm: float) -> tuple[Note, ...]:
    notes: list[Note] = []
    for index, one in enumerate(written):
        bar = bars.at(one.beat)
        sharps = bar.key.signature if bar.key else 0
        notes.append(
            Note(
                index,
                one.pitch,
                one.beat,
                one.length,
                _written_start(one, notes),
                one.breath_after,
                dynamic=one.dynamic,
                hairpin=one.hairpin,
                mark=one.mark,
                graces=one.graces,
                ornament=one.ornament,
                neighbours=neighbours_of(one.pitch, sharps, one.upper_sign)
                if one.ornament is not None
                else (),
                fermata=one.fermata,
                stop_after=one.stop_after,
                in_cadenza=bar.free,
                tempo_share=one.tempo_bpm / tempo_bpm if one.tempo_bpm is not None else 1.0,
            )
        )
    return tuple(notes)


def _written_start(one: WrittenNote, before: Sequence[Note]) -> Start:
    """Dots and dashes under a slur, and a repeated note, ask for a soft stroke."""
    if not one.slurred_from_last:
        return Start.TONGUED
    repeated = before[-1].pitch.midi == one.pitch.midi
    soft = repeated or one.mark in (Mark.STACCATO, Mark.TENUTO)
    return Start.LEGATO_TONGUE if soft else Start.SLURRED


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
    """The key whose signature stands on the staff; none over a list of plain notes."""
    if isinstance(exercise, LongTones) and exercise.pitches:
        return None
    if isinstance(exercise, Voicing) and exercise.roots:
        return None
    if not isinstance(exercise, Scale) or key is None:
        return key
    return key_of(key.tonic, scale_form(exercise, key)) or key


_FIFTH = Interval(4, 7)


def drone_of(key: Key, partner: Partner) -> Pitch:
    """The written pitch a drone holds, or is tuned to where it moves: the tonic or the fifth."""
    tonic = tonic_pitch(key.tonic)
    return as_drone(tonic.transposed(_FIFTH)) if partner.drone_on is DroneOn.FIFTH else tonic
