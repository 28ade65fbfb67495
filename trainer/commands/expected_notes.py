"""Expected notes for `trainer listen`, from words, from a MIDI file, or from a routine."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import mido

from trainer.disk.regular_file import regular_bytes
from trainer.errors import TrainerError
from trainer.music.instrument import instrument_named
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch, sharp_name
from trainer.routine.model import Routine
from trainer.routine.plan import at_tempo, plan
from trainer.routine.round import Round

GUIDE_BPM = 60.0
"""With one beat a second, beats and seconds are the same."""
LONGEST_MIDI_BYTES = 250_000
"""A flute's part of an hour has a fifth of it."""
MOST_MIDI_NOTES = 5000
"""Half an hour at three notes a second."""


def from_words(text: str) -> tuple[Note, ...]:
    """'G4 A4 Bb4' as notes of one beat each; TrainerError names what is not a note."""
    try:
        pitches = [Pitch.parse(word) for word in text.split()]
    except ValueError as error:
        raise TrainerError(f"--notes: {error}") from error
    if not pitches:
        raise TrainerError('--notes: write the notes in order, such as "G4 A4 B4"')
    return tuple(
        Note(index, pitch, Fraction(index), Fraction(1), Start.TONGUED)
        for index, pitch in enumerate(pitches)
    )


def from_midi(path: Path) -> tuple[Note, ...]:
    """The notes of a MIDI file in order of onset, beats in seconds.

    Raises TrainerError with what is wrong. Of notes that begin together the
    highest is kept: a flute plays no chords.
    """
    notes: list[Note] = []
    try:
        sounding = _sounding(_midi_file(path))
    except OverflowError as error:
        raise TrainerError(f"{path}: its notes stand beyond all time: export it again") from error
    for onset_s, end_s, midi in sounding:
        pitch = Pitch.parse(sharp_name(midi))
        beat, length = _beats(onset_s), max(_beats(end_s - onset_s), Fraction(1, 1000))
        if notes and notes[-1].beat == beat:
            notes.pop()
        notes.append(Note(len(notes), pitch, beat, length, Start.TONGUED))
    if not notes:
        raise TrainerError(f"{path}: no notes in this MIDI file")
    if len(notes) > MOST_MIDI_NOTES:
        raise TrainerError(
            f"{path}: it has {len(notes)} notes; write at most {MOST_MIDI_NOTES} of them to a file"
        )
    return tuple(notes)


def from_routine(
    routine: Routine,
    exercise_id: str,
    articulation: str | None,
    tempo_bpm: float | None,
    day: date,
) -> Round:
    """The round of an exercise as it stands on a day, at sounding pitch.

    Without an articulation the exercise's first round. Raises TrainerError naming the exercises or
    articulations there are.
    """
    playable = {planned.id: planned for planned in plan(routine, day, seed=0) if planned.rounds}
    exercise = playable.get(exercise_id)
    if exercise is None:
        raise TrainerError(f"--exercise: write one of {', '.join(playable)}")
    rounds: dict[str, Round] = {}
    for each in exercise.rounds:
        rounds.setdefault(str(each.articulation), each)
    round_ = exercise.rounds[0] if articulation is None else rounds.get(articulation)
    if round_ is None:
        raise TrainerError(f"--articulation: {exercise.id} has {', '.join(rounds)}")
    if tempo_bpm is not None:
        round_ = at_tempo(round_, tempo_bpm, round_.number)
    instrument = instrument_named(routine.instrument)
    sounding = tuple(note.at(instrument.sounding) for note in round_.notes)
    return replace(round_, notes=sounding)


def _midi_file(path: Path) -> mido.MidiFile:
    try:
        content = regular_bytes(path, LONGEST_MIDI_BYTES)
        file = mido.MidiFile(file=BytesIO(content), clip=True)
    except OSError as error:
        reason = error.strerror or "it is not a MIDI file"
        raise TrainerError(f"{path}: can't be read: {reason}") from error
    except (ValueError, EOFError, LookupError, TypeError, AttributeError,
            mido.KeySignatureError) as error:  # fmt: skip
        raise TrainerError(f"{path}: can't be read: it is not a whole MIDI file") from error
    if file.type == 2 or file.ticks_per_beat <= 0:
        raise TrainerError(f"{path}: its notes stand on no beats: export it as MIDI of form 0 or 1")
    return file


def _sounding(file: mido.MidiFile) -> list[tuple[float, float, int]]:
    """(onset, end, MIDI number) of each note in seconds, by onset, lower notes first."""
    time_s, open_notes, notes = 0.0, dict[int, float](), list[tuple[float, float, int]]()
    for message in file:
        time_s += message.time
        if message.type not in ("note_on", "note_off"):
            continue
        began_s = open_notes.pop(message.note, None)
        if began_s is not None:
            notes.append((began_s, time_s, message.note))
        if message.type == "note_on" and message.velocity > 0:
            open_notes[message.note] = time_s
    notes += [(began_s, time_s, midi) for midi, began_s in open_notes.items()]
    return sorted(notes, key=lambda note: (note[0], note[2]))


def _beats(seconds: float) -> Fraction:
    return Fraction(round(1000 * seconds), 1000)
