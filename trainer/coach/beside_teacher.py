"""A student's take beside the teacher's of the same line: tempo, lengths, loud and soft, in words.

Only what both were heard to play is compared, each against the player's own middle: a microphone
nearer to one of the two, or another flute, changes nothing. Nobody is judged: the teacher is the
model, not the metronome.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, sqrt
from statistics import median

import numpy as np

from trainer.ear.heard import HeardNote, Take
from trainer.figures.enough import ENOUGH_SHARE, FIGURE_NOTES, TEMPO_NOTES
from trainer.figures.note_figures import is_right
from trainer.figures.own_line import own_line
from trainer.figures.robust import robust_spread
from trainer.music.note import Note
from trainer.wording.sentence_list import say

TEMPO_SHARE = 0.04
"""Tempos that differ by less are heard as one: the just noticeable difference of a run of beats is
2 to 4 % (Drake & Botte 1993, Percept Psychophys 54:277)."""
CLEARLY_SHARE = 0.12
"""From so much on it is no longer a little. Our own estimate."""
LENGTH_SHARE = 0.12
"""Of the time from note to note: notes held so much longer or shorter sound so. Our own."""
SWELL_DB = 3.0
"""A place that stands out by less is no swell to speak of. Our own estimate."""
SWELL_NOTES = 3
"""A swell is heard over so many neighbours, not in one note."""
SURE = 3.0
"""A difference counts where it is so many times its standard error."""


@dataclass(frozen=True)
class BothPlayed:
    """What of a line both played: for each such note, in order."""

    notes: tuple[Note, ...]
    teacher: tuple[HeardNote, ...]
    student: tuple[HeardNote, ...]


def beside_teacher(notes: Sequence[Note], teacher: Take, student: Take) -> tuple[str, ...]:
    """What differs, a sentence each; notes: those asked for, in beats of one length."""
    line = _of_both(notes, teacher, student)
    if len(line.notes) < max(FIGURE_NOTES, ENOUGH_SHARE * len(notes)):
        return (say("too little of both"),)
    return (*_tempo(line), *_lengths(line), *_loudness(line))


def heard_share(notes: Sequence[Note], take: Take) -> float:
    """How much of the line was heard, 0 to 1."""
    return len(_right(take)) / len(notes)


def tempo_of(notes: Sequence[Note], take: Take) -> float | None:
    """The tempo of a take, in beats a minute; None where too few notes were heard."""
    right = _right(take)
    placed = [(float(note.beat), right[note.index]) for note in notes if note.index in right]
    if len(placed) < TEMPO_NOTES:
        return None
    line = own_line([beat for beat, _ in placed], [_onset_s(one) for _, one in placed])
    return 60.0 / line.beat_s if line is not None and line.beat_s > 0 else None


def _right(take: Take) -> dict[int, HeardNote]:
    return {
        one.index: one
        for one in take.expected_notes
        if one.index is not None and one.onset_s is not None and is_right(one.state, one.cents)
    }


def _of_both(notes: Sequence[Note], teacher: Take, student: Take) -> BothPlayed:
    theirs, own = _right(teacher), _right(student)
    both = tuple(note for note in notes if note.index in theirs and note.index in own)
    return BothPlayed(
        both,
        tuple(theirs[note.index] for note in both),
        tuple(own[note.index] for note in both),
    )


# Tempo


def _tempo(line: BothPlayed) -> Iterator[str]:
    """By halves, so that a held-back end is told from a slow whole."""
    middle = len(line.notes) // 2
    halves = [_slower(line, 0, middle), _slower(line, middle, len(line.notes))]
    if halves[0] == halves[1] == "":
        yield say("tempo of the teacher")
    elif halves[0] == halves[1]:
        yield say("tempo beside the teacher", how=halves[0])
    else:
        for how, half in zip(halves, ("first", "second"), strict=True):
            if how:
                yield say("half beside the teacher", how=how, half=half)


def _slower(line: BothPlayed, first: int, end: int) -> str:
    """'a little slower', 'much faster', or '' where both went alike or nothing is sure."""
    if end - first < FIGURE_NOTES:
        return ""
    beats = [float(note.beat) for note in line.notes[first:end]]
    theirs, own = (
        own_line(beats, [_onset_s(one) for one in played[first:end]])
        for played in (line.teacher, line.student)
    )
    if theirs is None or own is None:
        return ""
    share = own.beat_s / theirs.beat_s - 1
    error = hypot(own.tempo_error, theirs.tempo_error)
    if abs(share) < max(TEMPO_SHARE, SURE * error):
        return ""
    how = "a little" if abs(share) < CLEARLY_SHARE else "much"
    return f"{how} {'slower' if share > 0 else 'faster'}"


# Lengths


def _lengths(line: BothPlayed) -> Iterator[str]:
    """Where notes are held longer or shorter on the way to the next one."""
    apart = [
        _held(own, own_next) - _held(theirs, theirs_next)
        for (note, after), (theirs, theirs_next), (own, own_next) in zip(
            pairwise(line.notes), pairwise(line.teacher), pairwise(line.student), strict=True
        )
        if after.index == note.index + 1 and not note.breath_after
    ]
    if len(apart) < FIGURE_NOTES:
        return
    error = 1.25 * robust_spread(apart) / sqrt(len(apart))  # of a median
    if abs(median(apart)) >= max(LENGTH_SHARE, SURE * error):
        yield say("shorter than the teacher" if median(apart) < 0 else "longer than the teacher")


def _held(note: HeardNote, after: HeardNote) -> float:
    """How much of the way to the next note it sounds, 1 for all of it."""
    begin, to_next = _onset_s(note), _onset_s(after)
    end = to_next if note.end_s is None else min(note.end_s, to_next)
    return (end - begin) / (to_next - begin) if to_next > begin else 1.0


# Loud and soft


def _loudness(line: BothPlayed) -> Iterator[str]:
    """The place where the two lines of loud and soft lie furthest apart."""
    levels = [
        (note, theirs.level_db, own.level_db)
        for note, theirs, own in zip(line.notes, line.teacher, line.student, strict=True)
        if theirs.level_db is not None and own.level_db is not None
    ]
    if len(levels) < FIGURE_NOTES:
        return
    theirs = np.array([level for _, level, _ in levels])
    own = np.array([level for _, _, level in levels])
    above = (theirs - np.median(theirs)) - (own - np.median(own))
    about = np.convolve(above, np.full(SWELL_NOTES, 1 / SWELL_NOTES), "valid")
    place = int(np.argmax(np.abs(about)))
    if abs(about[place]) < SWELL_DB:
        yield say("loud and soft as the teacher")
        return
    middle = levels[place + SWELL_NOTES // 2][0]
    name = "teacher swells" if about[place] > 0 else "teacher softer"
    yield say(name, a_note=str(middle.pitch))


def _onset_s(note: HeardNote) -> float:
    assert note.onset_s is not None
    return note.onset_s
