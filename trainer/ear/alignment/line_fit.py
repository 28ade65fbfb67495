"""Whether a take is its line of notes, with slips, or another line that is near to it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from statistics import median

from trainer.ear.alignment.line_places import (
    EXTRA,
    MOST_WRONG,
    OCTAVE_SLIP,
    left_out_costs,
    runs_of,
)
from trainer.ear.heard import WRONG_SEMITONES, State, Take
from trainer.ear.segments.note_segment import NoteSegment
from trainer.music import pitch
from trainer.music.note import Note

MOST_OTHER = 0.12
"""Of the notes, what speaks for another line: a scale with one other degree differs in one of
seven, .14, and in every place of it."""
HALF_WAY = 0.5
"""Half steps: from here on the neighbouring one is nearer."""


def fits(notes: Sequence[Note], take: Take) -> bool:
    """Whether it is this line, with slips: few of them, and next to nothing of another line's."""
    return wrong_share(notes, take) <= MOST_WRONG and _other_share(notes, take) <= MOST_OTHER


def wrong_share(notes: Sequence[Note], take: Take) -> float:
    """Notes that were missed, or came out as others, and sounds too much, of the line's notes; each
    weighed as where the line was looked for."""
    octaves = _octaves(notes, take)
    missed = [OCTAVE_SLIP if index in octaves else 1.0 for index in _missed(take)]
    return (sum(missed) + sum(_too_much(take))) / len(notes)


def _other_share(notes: Sequence[Note], take: Take) -> float:
    """The places of each degree that mostly came out as another, and whole sounds too much, of the
    line's notes."""
    wrong = (_missed(take) - _octaves(notes, take)) | _nearer_to_others(notes, take)
    places = defaultdict[int, list[int]](list)
    for index, note in enumerate(notes):
        places[note.pitch.midi % pitch.OCTAVE.semitones].append(index)
    other = sum(len(each) for each in places.values() if 2 * len(wrong & {*each}) > len(each))
    return (other + _too_much(take).count(EXTRA)) / len(notes)


def _missed(take: Take) -> set[int]:
    return {
        note.index
        for note in take.expected_notes
        if note.index is not None and note.state is State.MISSED
    }


def _nearer_to_others(notes: Sequence[Note], take: Take) -> set[int]:
    """The notes that answer, but lie nearer to a neighbouring half step, as the line lies."""
    away = {
        note.index: note.midi - notes[note.index].pitch.midi
        for note in take.expected_notes
        if note.index is not None and note.midi is not None
    }
    lies = median(away.values()) if away else 0.0
    return {index for index, each in away.items() if abs(each - lies) > HALF_WAY}


def _octaves(notes: Sequence[Note], take: Take) -> set[int]:
    """The notes in whose place their octave came, which the ear takes for them now and then."""
    return {
        note.instead_of
        for note in take.notes
        if note.instead_of is not None
        and note.midi is not None
        and _is_octave(note.midi, notes[note.instead_of].pitch.midi)
    }


def _is_octave(midi: float, other: float) -> bool:
    return abs(abs(midi - other) - pitch.OCTAVE.semitones) <= WRONG_SEMITONES


def _too_much(take: Take) -> list[float]:
    """What each sound costs that answers nothing, and isn't part of a note cut in two."""
    sounds, answers_s = list[NoteSegment](), list[float]()
    for note in take.notes:
        if note.midi is None or note.onset_s is None or note.end_s is None:
            continue
        sounds.append(NoteSegment(note.midi, note.onset_s, note.end_s, note.level_db or 0.0))
        if note.index is not None or note.instead_of is not None:
            answers_s.append(note.onset_s)
    runs = runs_of(sorted(sounds, key=lambda sound: sound.from_s))
    return [
        cost
        for run, cost in zip(runs, left_out_costs(runs), strict=True)
        if not any(run.from_s <= at_s <= run.to_s for at_s in answers_s)
    ]
