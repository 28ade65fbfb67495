"""Which sound answers which expected note.

A walk through the sounds in order, holding a place in the expected notes: each sound is the note
due, a wrong note in its place, or an extra; notes may be skipped, repeated, or gone back to. The
cheapest walk is found by dynamic programming. Costs are our own estimate, in units of one missed
note; only their order matters: a glitch costs least, then a wrong note, a missed one, a jump.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from trainer.ear.heard import WRONG_SEMITONES
from trainer.ear.segments.note_segment import BLIP_S, OCTAVE, NoteSegment

Cost = NDArray[np.float64]

OUT_OF_TUNE = 0.25
"""At the edge of what still counts as the right note."""
WRONG = 1.5
"""Cost of another note in the place of the one asked for."""
WRONG_PER_SEMITONE = 0.05
"""... and the further away, the more."""
OCTAVE_SLIP = 1.2
"""Cost of the octave in its place: the commonest wrong note of a flute."""
MISSED = 1.0
"""Cost of a note that is not answered."""
EXTRA = 1.1
EXTRA_BLIP = 0.35
"""A sound too short to be meant."""
JUMP = 2.2
"""Going back, to the same note too, or on by more than the missed notes in between would cost."""
FURTHEST_ON = 3
"""Missing more notes in a row than this costs more than a jump."""
HELD_ON = 0.2
"""Cost of a note that isn't answered, a repeated one or one a half-step away, where the sound
before lasts for two: a hall or a slur hid its stroke, or mixed the two, and a whole phrase was
sought elsewhere for it. At the cost of a missed note fifteen more of 3,700 notes answered elsewhere
than where they were played (72 times a tune, halls near and far), eight more were called missed;
from 0.2 to 0.5 the same. Our own estimate."""
LASTS_FOR_TWO = 1.5
"""A sound so many times as long as was asked for may be two notes."""
SOFT_FROM_DB, SOFT_BY_DB = 18.0, 18.0
"""Below the loud sounds: from here on a sound is less likely meant, from so much further hardly;
recorded notes of one player, pianissimo to fortissimo, lie within some 20 dB."""
SOFT = 0.7
"""For a note answered by a sound that soft: so a tail never stands for a louder sound of its pitch,
and so much less does it cost as an extra."""
LOUD_SHARE = 0.8
HALF_STEP = 1.3
"""Semitones, out of tune."""
LATE, MOST_LATE = 0.25, 0.375
"""For a note a whole note's length off its place after the one before, and the most for any."""


@dataclass(frozen=True)
class Answer:
    """What one sound is."""

    segment: int
    """Place among the sounds."""
    index: int | None
    """The expected note it answers; None: an extra sound."""
    wrong: bool = False
    """It stands in the place of the expected note, at another pitch."""
    once_more: bool = False
    """It plays an expected note once more that another sound answers already."""

    @property
    def right(self) -> bool:
        """It is the expected note, at its pitch."""
        return self.index is not None and not self.wrong


def played_at(answers: Sequence[Answer]) -> dict[int, int]:
    """Of each expected note that was played, the place of its sound."""
    return {a.index: a.segment for a in answers if a.index is not None and a.right}


def align(
    segments: Sequence[NoteSegment],
    midi: Cost,
    beats_s: Cost,
    lengths_s: Cost,
    missed: Cost | None = None,
    loud: float | None = None,
) -> tuple[Answer, ...]:
    """An answer for each sound.

    `midi`, `beats_s`, `lengths_s`: the expected notes' sounding pitch and times at the asked
    tempo, shape (notes,). `missed`: what it costs to leave each out, shape (notes,); `loud`: as
    `loud_db`, where these are some of the sounds of a take. Only time steps between neighbours
    count, so that neither a late beginning nor a stop costs more than itself. A note answered twice
    keeps its first answer.
    """
    if not segments or midi.size == 0:
        return tuple(Answer(place, None) for place in range(len(segments)))
    costs = np.full(midi.size, MISSED) if missed is None else missed
    unlikely = SOFT * _softness(segments, loud_db(segments) if loud is None else loud)
    steps, kinds = _walk(segments, midi, beats_s, lengths_s, costs, unlikely)
    return _answers(segments, steps, kinds)


_EXTRA, _RIGHT, _WRONG = 0, 1, 2
"""What a sound may be."""
_NOT_MET, _JUMPED, _WAYS = 0, 1, FURTHEST_ON + 2
"""How a note is come to, as kept along the walk: not at all, by a jump, or over ever fewer missed
ones. Of ways that cost the same the last is taken."""
_NUMBERS = np.arange(1, _WAYS + 1, dtype=np.uint8)[:, None]


def _walk(
    segments: Sequence[NoteSegment],
    midi: Cost,
    beats_s: Cost,
    lengths_s: Cost,
    missed: Cost,
    unlikely: Cost,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Place held after each sound, and what the sound was, along the cheapest walk.

    Places are 0 (before the first note) to notes; place p means note p - 1 was the last one met.
    Jumped from is only the likeliest place, and jumped to are only notes that a sound fits: another
    one doesn't tell where the player is. To end early costs no more than to jump over what is left.
    """
    line, walks = _asked_line(midi, beats_s, lengths_s, missed), _CheapestWalks(midi.size)
    short = np.array([segment.length_s < BLIP_S for segment in segments])
    extra = np.where(short, EXTRA_BLIP, EXTRA - unlikely)
    pitches, pitch_of = np.unique(midi, return_inverse=True)
    note_costs, own, fitting = _note_costs(segments, pitches, short, unlikely)
    unfit = np.where(fitting, 0.0, np.inf)
    ways = np.empty((len(segments), midi.size), np.uint8)
    jumped_from = np.empty(len(segments), np.int64)
    for number, segment in enumerate(segments):
        held = jumped_from[number] = int(walks.cost.argmin())
        reached = _reached(line, walks, held, segment.from_s, unfit[number].take(pitch_of))
        to_note, way = _cheapest(reached)
        to_note += note_costs[number].take(pitch_of)
        met = walks.go_on(to_note, extra[number], segment.from_s, segment.length_s > line.for_two_s)
        np.multiply(way, met, out=ways[number])
    place = int((walks.cost + _over(line.before[-1] - line.before)).argmin())
    steps, taken = _walked_back(ways, jumped_from, place)
    rightly = np.where(own[np.arange(steps.size), pitch_of[steps - 1]], _RIGHT, _WRONG)
    return steps, np.where(taken == _NOT_MET, _EXTRA, rightly)


@dataclass(frozen=True)
class _AskedLine:
    """What was asked, as the walk goes over it."""

    beats_s: Cost
    """When each note is due, shape (notes,)."""
    for_two_s: Cost
    """What lasts longer may be two notes; likewise."""
    met_s: Cost
    """When the note met last was due, shape (places,)."""
    before: Cost
    """Cost of all notes before, if they were missed; likewise."""
    by_second: Cost
    """Cost of coming a second off its place to each note, by a jump and from each near place, shape
    (ways, notes)."""
    near_asked_s: Cost
    """From when the note met last was due to each note, shape (near places, notes)."""
    near_over: Cost
    """Cost of the notes missed in between; likewise."""
    held_on: Cost
    """As of `_held_on`; likewise."""


def _asked_line(midi: Cost, beats_s: Cost, lengths_s: Cost, missed: Cost) -> _AskedLine:
    met_s = np.append(beats_s[:1], beats_s)
    before = np.append(0.0, np.cumsum(missed))
    near = _near_places(midi.size)
    near_late = np.where(near > 0, LATE, 0.0)
    return _AskedLine(
        beats_s=beats_s,
        for_two_s=LASTS_FOR_TWO * lengths_s,
        met_s=met_s,
        before=before,
        by_second=np.vstack([np.full(midi.size, LATE), near_late]) / lengths_s,
        near_asked_s=beats_s - met_s[near],
        near_over=_over(before[:-1] - before[near]),
        held_on=_held_on(near, midi, missed),
    )


class _CheapestWalks:
    """The cheapest walks over the sounds so far, one to each place, each array with a view of the
    near places of each note."""

    def __init__(self, notes: int) -> None:
        self.cost, self.near_cost = _with_near(np.append(0.0, np.full(notes, np.inf)), np.inf)
        self.last_s, self.near_last_s = _with_near(np.zeros(notes + 1), 0.0)
        """Where the sound began that met the last note."""
        self.lasts, self.near_lasts = _with_near(np.zeros(notes + 1), 0.0)
        """1 where it lasts for two, else 0."""

    def go_on(
        self, to_note: Cost, extra: float, from_s: float, for_two: NDArray[np.bool_]
    ) -> NDArray[np.bool_]:
        """Over one sound more, of so much cost as each note or as an extra; which notes it meets.
        All of shape (notes,)."""
        self.cost += extra
        met = to_note < self.cost[1:]
        np.minimum(self.cost[1:], to_note, out=self.cost[1:])
        np.putmask(self.last_s[1:], met, from_s)
        np.putmask(self.lasts[1:], met, for_two)
        return met


def _reached(
    line: _AskedLine, walks: _CheapestWalks, held: int, from_s: float, unfit: Cost
) -> Cost:
    """Cost of having come to each note when a sound begins, by a jump from the place held, which
    costs so much more to what the sound is unfit for, and from each near place; shape (ways,
    notes)."""
    off_s, reached = np.empty((2, _WAYS, line.beats_s.size))
    off_s[0] = from_s - walks.last_s[held] - (line.beats_s - line.met_s[held])
    if held == 0:
        off_s[0] = 0.0
    np.subtract(from_s, walks.near_last_s, out=off_s[1:])
    off_s[1:] -= line.near_asked_s
    reached[0, :held], reached[0, held:] = JUMP, _over(line.before[held:-1] - line.before[held])
    reached[0] += walks.cost[held]
    reached[0] += unfit
    np.add(walks.near_cost, line.near_over, out=reached[1:])
    reached += _late(off_s, line.by_second)
    reached[1:] -= line.held_on * walks.near_lasts
    return reached


def _cheapest(reached: Cost) -> tuple[Cost, NDArray[np.uint8]]:
    """The least cost of coming to each note, and the last of the ways that cost no more, from 1."""
    least = reached.min(axis=0)
    return least, (_NUMBERS * (reached == least).view(np.uint8)).max(axis=0)


def _walked_back(
    ways: NDArray[np.uint8], jumped_from: NDArray[np.int64], place: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Place held after each sound, and the way by which its note was come to, from the place held
    last; ways of shape (sounds, notes), all others (sounds,)."""
    steps, taken = np.zeros((2, len(ways)), np.int64)
    for number in range(len(ways) - 1, -1, -1):
        steps[number] = place
        taken[number] = way = int(ways[number, place - 1]) if place else _NOT_MET
        if way == _JUMPED:
            place = int(jumped_from[number])
        elif way != _NOT_MET:
            place -= 1 + _WAYS - way
    return steps, taken


def _late(off_s: Cost, by_second: Cost) -> Cost:
    """Cost of coming so far off the place after the note held, at so much a second; written over
    `off_s`."""
    np.abs(off_s, out=off_s)
    off_s *= by_second
    return np.minimum(off_s, MOST_LATE, out=off_s)


def loud_db(segments: Sequence[NoteSegment]) -> float:
    """The level of the loud fifth of all the time that sounds: a puff before one long note is no
    other loud sound."""
    level_db = np.array([segment.level_db for segment in segments])
    order = level_db.argsort()
    sounded_s = np.cumsum(np.array([segment.length_s for segment in segments])[order])
    return float(level_db[order[np.searchsorted(sounded_s, LOUD_SHARE * sounded_s[-1])]])


def _softness(segments: Sequence[NoteSegment], loud: float) -> Cost:
    """How unlikely each sound is meant, 0 to 1, going by its level against the loud ones."""
    below_db = loud - np.array([segment.level_db for segment in segments])
    return np.asarray(np.clip((below_db - SOFT_FROM_DB) / SOFT_BY_DB, 0.0, 1.0))


def _near_places(notes: int) -> NDArray[np.int64]:
    """Places from which each note is reached without a jump, the furthest first, shape (ways,
    notes); 0 for those there aren't.

    Note n stands after place n; from lower ones notes are missed.
    """
    over = np.arange(FURTHEST_ON, -1, -1)
    return np.asarray(np.maximum(np.arange(notes) - over[:, None], 0), np.int64)


def _with_near(of_places: Cost, where_none: float) -> tuple[Cost, Cost]:
    """Something of each place, shape (places,), and a view of it, of the near places of each note;
    of those there aren't it is where_none."""
    padded = np.append(np.full(FURTHEST_ON, where_none), of_places)
    return padded[FURTHEST_ON:], sliding_window_view(padded, of_places.size - 1)[:-1]


def _held_on(near: NDArray[np.int64], midi: Cost, missed: Cost) -> Cost:
    """How much less it costs to go on from these places to each note over those that come no
    further than a half-step from the note held, where that one lasts for two; shape (ways, notes).
    """
    saved = np.maximum(0.0, missed - HELD_ON)
    before = np.concatenate([[0.0], np.cumsum(saved)])
    ends = np.arange(midi.size) + FURTHEST_ON + 1
    for ahead in range(FURTHEST_ON, 0, -1):
        left = np.flatnonzero(np.abs(midi[ahead:] - midi[:-ahead]) > HALF_STEP)
        ends[left] = left + ahead
    until = np.minimum(ends[np.maximum(near - 1, 0)], np.arange(midi.size))
    over = np.maximum(0.0, before[until] - before[near])
    return np.asarray(np.where((near > 0) & (until > near), over, 0.0))


def _over(missed: Cost) -> Cost:
    """Cost of going on over notes that would cost so much if they were missed: of each of them, or
    of a jump, which is a little dearer the further it goes."""
    return np.minimum(missed, JUMP + MISSED * 0.02 * missed)


def _note_costs(
    segments: Sequence[NoteSegment], pitches: Cost, short: NDArray[np.bool_], unlikely: Cost
) -> tuple[Cost, NDArray[np.bool_], NDArray[np.bool_]]:
    """Cost of each sound being a note of each pitch; whether it has that pitch, all others being
    played wrongly; and whether it fits it, or an octave from it; each of shape (sounds, pitches).
    """
    heard_midi = np.array([segment.midi for segment in segments])
    away = np.abs(heard_midi[:, None] - pitches)
    own, octave = away < WRONG_SEMITONES, np.abs(away - OCTAVE) < WRONG_SEMITONES
    wrong = np.where(octave, OCTAVE_SLIP, WRONG + WRONG_PER_SEMITONE * np.minimum(away, OCTAVE))
    wrong += np.where(short, EXTRA, 0.0)[:, None]
    right = OUT_OF_TUNE * (away / WRONG_SEMITONES) ** 2 + unlikely[:, None]
    return np.where(own, right, wrong), own, own | octave


def _answers(
    segments: Sequence[NoteSegment], steps: NDArray[np.int64], kinds: NDArray[np.int64]
) -> tuple[Answer, ...]:
    """Answers in order; of several right ones to a note the first counts, before any wrong one; but
    who goes back stops within a note, and of that the next time counts."""
    right: dict[int, int] = {}
    rightly = np.flatnonzero(kinds == _RIGHT).tolist()
    broken_off = _broken_off(segments, rightly, steps)
    for number in sorted(rightly, key=lambda one: (one in broken_off, one), reverse=True):
        right[int(steps[number]) - 1] = number
    answers = []
    wronged: set[int] = set()
    for number in range(len(segments)):
        index = int(steps[number]) - 1
        if kinds[number] == _RIGHT and right[index] == number:
            answers.append(Answer(number, index))
        elif kinds[number] == _WRONG and index not in right and index not in wronged:
            wronged.add(index)
            answers.append(Answer(number, index, wrong=True))
        else:
            answers.append(Answer(number, None, once_more=kinds[number] == _RIGHT))
    return tuple(answers)


def _broken_off(
    segments: Sequence[NoteSegment], rightly: Sequence[int], steps: NDArray[np.int64]
) -> set[int]:
    """The last sounds before the player goes back, those of one pitch in a row together."""
    broken_off: set[int] = set()
    for one, after in reversed(list(pairwise(rightly))):
        same = after in broken_off and segments[one].has_pitch_of(segments[after])
        if steps[after] < steps[one] or same:
            broken_off.add(one)
    return broken_off
