"""Breaths heard where none was planned, stops, and planned breaths that were played through."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import pairwise

import numpy as np

from trainer.ear.heard import HeardNote, State, Take
from trainer.figures.enough import FIGURE_NOTES, TEMPO_NOTES
from trainer.music.note import Note, Start
from trainer.music.pulse import begins_anew_after
from trainer.routine.round import Round

BREATH_AFTER_SLUR_S = 0.24
"""A marked breath is judged after slurred notes at least so long: a quick one takes about half of
the note away. Our own estimate."""

BREATH_AFTER_TONGUED_S = 0.45
"""... and after tongued notes at least so long: behind shorter ones a room rings through a breath
(our own measurement in a room of 0.5 s). Our own estimate."""

BREATH_SILENCE_S = 0.03
"""Played through: the silence there is no longer by this much than the player's others. Breaths
taken left 60 to 300 ms more, breaths left out 8 ms at most, 25 in a room (our own measurement with
the played-in flutist). Our own estimate."""

HABIT_BREATHS = 3
"""Of fewer nothing can be said of how often they come."""

BREATHS_APART_S = 2.0
"""Silences that usually follow each other sooner are short notes: at rest an adult breathes 12 to
20 times a minute (from memory), and who plays takes longer over the breath. Our own estimate."""

QUICK_BREATH_S = 0.4
"""What a quick breath costs at the most. Our own estimate."""

STOP_S = QUICK_BREATH_S / 2
"""The line stood still: twice what any late note of a fluent player comes to."""

MADE_UP_NOTES = 6
"""Whose line is where it would have been before so many more notes are heard has not stood still:
one note was late, or a hall hid the strokes of several. Our own estimate."""

NOTES_BEFORE = 3
"""From so many together a stop is measured: one of them may be heard early. Our own estimate."""


def unplanned_breaths(notes: Sequence[Note], take: Take) -> Iterator[int]:
    """Notes after which a breath was heard where neither a breath nor a rest was planned.

    Silence beside a note that was not played is that note's, not a breath; nor is one no longer
    than the silences between this player's notes usually are: those are short notes; nor are those
    that come oftener than anybody breathes.
    """
    planned = {
        note.index
        for note, after in pairwise(notes)
        if note.breath_after or note.beat + note.length < after.beat
    } | begins_anew_after(notes)
    played = {note.index: note for note in take.expected_notes if note.onset_s is not None}
    touching = [(note, after) for note, after in pairwise(notes) if _touch(note, after)]
    silences_s = list(_silences_s(touching, take).values())
    known = len(silences_s) >= FIGURE_NOTES
    least_s = float(np.median(silences_s)) + BREATH_SILENCE_S if known else 0.0
    found_s: dict[int, float] = {}
    for start_s, end_s in take.breaths_s:
        if end_s - start_s < least_s:
            continue
        before = [index for index, note in played.items() if (note.onset_s or 0.0) < start_s]
        last = max((index for index in before if index is not None), default=None)
        if last is not None and last not in planned and last + 1 in played:
            found_s[last] = start_s
    apart_s = np.diff(list(found_s.values()))
    if apart_s.size < HABIT_BREATHS - 1 or float(np.median(apart_s)) >= BREATHS_APART_S:
        yield from found_s


def stops(notes: Sequence[Note], take: Take, breaths: Collection[int]) -> Iterator[int]:
    """Notes after which the line stood still for a moment and then went on as before.

    A breath whose silence the room filled, or a stumble: sound alone can't tell. `breaths`: notes
    after which a breath is known; what costs more than a quick one is a stop as well, and so is a
    quick one in a line that stood still without one, where the room may have filled the other
    silence. After silence a note begins surely, which one that rings from before doesn't.
    """
    onsets = {note.index: note.onset_s for note in take.expected_notes if note.onset_s is not None}
    waits = begins_anew_after(notes) | {note.index for note in notes if note.free}
    waits |= {n.index for n, after in pairwise(notes) if after.free or not _touch(n, after)}
    steps = [
        (note.index, after.index, onsets[after.index] - onsets[note.index], after.beat - note.beat)
        for note, after in pairwise(note for note in notes if note.index in onsets)
        if waits.isdisjoint(range(note.index, after.index))
    ]
    if len(steps) < TEMPO_NOTES:
        return
    beat_s = float(np.median([seconds / float(beats) for _, _, seconds, beats in steps]))
    over_s = [seconds - float(beats) * beat_s for _, _, seconds, beats in steps]
    planned = {note.index for note in notes if note.breath_after}
    unsure = {note.index for note in take.expected_notes if not note.onset_sure}
    found_s: dict[int, float] = {}
    for place, (index, after, _, _) in enumerate(steps):
        from_before_s = float(np.median(np.cumsum(over_s[place::-1][:NOTES_BEFORE])))
        stood_s = min(over_s[place], from_before_s)
        back_s = np.cumsum(over_s[place + 1 :][:MADE_UP_NOTES]).min(initial=0.0)
        goes_on = after == index + 1 and index not in planned and after not in unsure
        if goes_on and stood_s >= STOP_S and back_s >= -0.5 * stood_s:
            found_s[index] = stood_s
    if found_s.keys() <= set(breaths):
        found_s = {index: cost_s for index, cost_s in found_s.items() if cost_s >= QUICK_BREATH_S}
    yield from found_s


def breaths_left_out(round_: Round, take: Take) -> Iterator[int]:
    """Notes after which the teacher asks for a breath, and the player surely went on without one.

    Out of a slur the next note was heard slurred, too, where a breath would have had it begun anew;
    between tongued notes neither the silence nor the gap by the notes' own harmonics was longer
    than this player leaves anyway. A room rings on through short silences, so that short notes are
    not judged, nor where that gap isn't known, and soft strokes not at all.
    """
    if not round_.breaths_asked:
        return
    heard = {note.index: note for note in take.expected_notes}
    pairs = [
        (note, after)
        for note, after in pairwise(round_.notes)
        if _touch(note, after) and not (note.free or after.free or note.time_stands_after)
    ]
    silences = _silences_s(pairs, take)
    marked = {note.index for note, _ in pairs if note.breath_after}
    others = [silence_s for index, silence_s in silences.items() if index not in marked]
    if len(others) < FIGURE_NOTES:
        return
    limit_s = float(np.median(others)) + BREATH_SILENCE_S
    gaps_s = [
        gap_s
        for note, after in pairs
        if note.index not in marked
        and after.index in heard
        and (gap_s := heard[after.index].gap_s) is not None
    ]
    usual_gap_s = float(np.median(gaps_s)) if gaps_s else 0.0
    for note, _ in pairs:
        if note.index in marked and silences.get(note.index, limit_s) < limit_s:
            seconds = float(note.length) * round_.beat_s
            if _went_on(note, heard[note.index + 1], seconds, usual_gap_s):
                yield note.index


def _went_on(note: Note, after: HeardNote, seconds: float, usual_gap_s: float) -> bool:
    if note.start is Start.SLURRED:
        return after.start is Start.SLURRED and seconds >= BREATH_AFTER_SLUR_S
    if note.start not in (Start.TONGUED, Start.BACK_TONGUED) or after.gap_s is None:
        return False
    return seconds >= BREATH_AFTER_TONGUED_S and after.gap_s < usual_gap_s + BREATH_SILENCE_S


def _touch(note: Note, after: Note) -> bool:
    return note.beat + note.length == after.beat


def _silences_s(pairs: Sequence[tuple[Note, Note]], take: Take) -> dict[int, float]:
    """The silence after each first of two notes, by its index, where it is surely known."""
    heard = {note.index: note for note in take.expected_notes}
    return {
        note.index: silence_s
        for note, after in pairs
        if (silence_s := _silence_s(heard.get(note.index), heard.get(after.index))) is not None
    }


def _silence_s(before: HeardNote | None, after: HeardNote | None) -> float | None:
    """Between two notes that were both played; None where that is not sure."""
    if before is None or after is None:
        return None
    if {before.state, after.state} != {State.PLAYED}:
        return None
    if before.end_s is None or after.onset_s is None:
        return None
    return after.onset_s - before.end_s
