"""Notes that repeat the one before, where fewer were found than were asked for; and one that was
asked for once, where more were.

A room fills the gap between two strokes, and what is left of it may be too faint to be taken for a
stroke by itself. Where the same note was due several times the places are looked at together,
against the places where it was due: the more of them were surely struck, the less will do for the
others. A note held instead is seldom cut by that. Of one that was asked for once, each start more
is a claim, and has to be as sure as what is said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trainer.ear.alignment.align import LASTS_FOR_TWO, Answer, played_at
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Track
from trainer.ear.segments.note_segment import JOINED_S, NoteSegment
from trainer.ear.segments.note_segments import (
    LIKELY,
    UNASKED,
    Counts,
    again_chances,
    split_at,
    stretch_of,
)
from trainer.ear.segments.note_start import SURE
from trainer.ear.segments.reattacks import STROKES_APART_S, Reattack, new_starts

SAME_PITCH_SEMITONES = 0.5
"""Between expected notes: less is another tuning, not another note."""
ASKED = Counts(again=3.0, not_again=0.5)
"""A player does as asked six times to one before anything is known of this one, who does it
throughout or not at all: a stroke called missed that was played is worse than one called played
that wasn't. Of our own estimates (3 to 0.1 and 0.5) the one that cuts the fewer held notes."""
STEADY_SHARE, UNEVEN_SHARE = 0.05, 0.15
"""A start lies near where it is due, normally distributed with so much of a step for a steady
player and so much for one who isn't, or, in a room that rings over it, anywhere about it, as likely
the one as the others; what is none lies anywhere in the step. Our own estimate."""
PACES = np.linspace(0.88, 1.12, 13)
"""Of the pace that was asked for or found: so much faster or slower the repeats may go."""
SHIFTS = np.linspace(-0.2, 0.2, 5)
"""Steps that the first of them may lie off the others: of 168 takes of repeated notes in rooms none
needs it, but without it two notes that were played in 32 tunes in halls are called missed."""
FOUND_ODDS = 6.0
"""Log odds that a sound found without the score is a start."""
NOTHING_ODDS = -2.3
"""Where nothing looks like a start at all. By measure -4: of 600 strokes in rooms of 0.4 and 0.8 s
none shows nothing, of 900 in halls of 1.0 to 1.8 s 16, of 410 steps of held notes 404 (our own
measurement on recorded notes). Called missed though it was played is the worse fault: a stroke is
given five times as much, so that where some of a row were struck the others are left in doubt."""
LONG = Counts(again=0.6, not_again=0.6)
"""Of a sound asked for once that lasts for two: the note was held on or struck again. Neither was
asked, and the one is held as likely as the other. Our own estimate."""
HARDLY = 0.1
"""A stroke less likely than this was left out; of one between this and likely nothing is said, nor
of any that isn't likely where the room fills the gaps between strokes, as far as one note's end
tells, or where nothing is known of it."""
EXTRA_ODDS = float(np.log(SURE / (1 - SURE))) - UNASKED.log_odds
"""Log odds of a stroke that nobody asked for and that is as sure as what is said has to be."""
PULSES = 5
"""Starts inside a note asked for once, from which they are its pulses, a vibrato that a room
deepens to dips: of 192 recorded notes held for 8 s with pulses of 1.6 to 4.9 a second in rooms and
a hall 12 were cut at them into 7 to 46 notes (our own measurement). Nobody strikes a note so often
by mistake."""
EXTRA_APART_S = 0.1
"""Strokes nearer than this to one that was asked nobody plays by mistake: the quickest double
tongues go little faster (from memory), and a room that rings makes dips about each stroke, and a
tone that is slow to speak rises so long."""


def repeat_groups(midi: Track) -> NDArray[np.int64]:
    """Which notes repeat one another: a number for each note, the same while the pitch stays; both
    of shape (notes,)."""
    changes = np.abs(np.diff(midi, prepend=midi[:1])) >= SAME_PITCH_SEMITONES
    return np.asarray(np.cumsum(changes), np.int64)


@dataclass(frozen=True)
class Recut:
    """The sounds of a take, those of a repeated note cut where it most likely started again."""

    segments: tuple[NoteSegment, ...]
    hidden: dict[int, int]
    """How many strokes of each group a room may have hidden: they can't be told from a note that
    was held on."""
    strokes: dict[int, dict[NoteSegment, int]]
    """Of each group, which of its notes each sound is the stroke of, by where they are due; none
    where a sound that was found is none of them."""


def repeated_as_asked(
    features: Features,
    found: Sequence[NoteSegment],
    answers: Sequence[Answer],
    groups: NDArray[np.int64],
    beats_s: Track,
    lasts_s: Track,
) -> Recut:
    """The sounds, those that answer a note asked several times in a row cut where it most likely
    started again, each stroke near where it was due.

    groups, beats_s, lasts_s: of the expected notes, shape (notes,); how long each lasts at the pace
    at which they are played, NaN where that isn't known.
    """
    answered = played_at(answers)
    answering = set(answered.values())
    extra = {a.segment for a in answers if a.index is None}
    recut: dict[int, list[NoteSegment]] = {}
    hidden: dict[int, int] = {}
    strokes: dict[int, dict[NoteSegment, int]] = {}
    for group, asked in enumerate(
        np.split(np.arange(groups.size), np.flatnonzero(np.diff(groups)) + 1)
    ):
        sounds = sorted(answered[index] for index in asked.tolist() if index in answered)
        if not sounds:
            continue
        apart_s = JOINED_S if asked.size == 1 else 0.0
        own = _with_extras(found, _one_time(found, sounds, answering), extra, apart_s)
        whole = _rejoined(features, [found[number] for number in own], apart_s)
        cut_s = [at_s for number in own if (at_s := found[number].again_s) is not None]
        if asked.size == 1 and len(own) > len(whole):
            once_s = float(lasts_s[asked[0]])
            cut = [
                part for sound in whole for part in _cut_where_sure(features, sound, once_s, cut_s)
            ]
            recut |= {number: [] for number in own} | {own[0]: cut}
        elif asked.size > 1:
            due_s = beats_s[asked] - beats_s[asked[0]]
            cut, strokes[group], hidden[group] = _cut_as_due(features, whole, due_s, cut_s)
            recut |= {number: [] for number in own} | {own[0]: cut}
    parts = [part for number, one in enumerate(found) for part in recut.get(number, [one])]
    return Recut(tuple(sorted(parts, key=lambda part: part.from_s)), hidden, strokes)


def as_struck(
    answers: Sequence[Answer], recut: Recut, groups: NDArray[np.int64]
) -> tuple[Answer, ...]:
    """The answers, those to a note asked several times in a row as its strokes lie: of one pitch
    their order doesn't tell which are hidden.

    groups: of the expected notes, shape (notes,).
    """
    struck: dict[int, int] = {}
    numbers = {one: number for number, one in enumerate(recut.segments)}
    answered = {a.segment: a.index for a in answers if a.index is not None and a.right}
    for group, strokes in recut.strokes.items():
        asked = np.flatnonzero(groups == group)
        places = {numbers[one]: time for one, time in strokes.items()}
        given = [
            answered[segment] - int(asked[0]) - time
            for segment, time in places.items()
            if segment in answered and groups[answered[segment]] == group
        ]
        if given:
            left_out = asked.size - 1 - max(places.values())
            alone = asked.size == groups.size  # nothing beside it tells which end is left out
            commonest = 0 if alone else int(np.bincount(np.maximum(given, 0)).argmax())
            first = int(asked[0]) + min(commonest, left_out)
            struck |= {segment: first + step for segment, step in places.items()}
    taken = set(struck.values())
    return tuple(
        Answer(a.segment, struck[a.segment])
        if a.segment in struck
        else Answer(a.segment, None)
        if a.index in taken
        else a
        for a in answers
    )


def hidden_notes(
    answers: Sequence[Answer], groups: NDArray[np.int64], hidden: Mapping[int, int]
) -> frozenset[int]:
    """The repeated notes that no sound answers because a room may have hidden their strokes: where
    that may be so of half of those unanswered, of all of them.

    groups: of the expected notes, shape (notes,).
    """
    played = played_at(answers)
    unanswered = {
        group: [int(n) for n in np.flatnonzero(groups == group) if int(n) not in played]
        for group in hidden
    }
    return frozenset(
        index
        for group, missing in unanswered.items()
        if len(missing) <= 2 * hidden[group]
        for index in missing
    )


def _one_time(
    found: Sequence[NoteSegment], sounds: Sequence[int], answering: set[int]
) -> list[int]:
    """Those of some sounds that belong to one time through, the one in which they last longest:
    between two times others answer other notes. answering: all sounds that answer notes."""
    times: list[list[int]] = []
    for number in sounds:
        if times and answering.isdisjoint(range(times[-1][-1] + 1, number)):
            times[-1].append(number)
        else:
            times.append([number])
    return max(times, key=lambda time: sum(found[one].length_s for one in time))


def _with_extras(
    found: Sequence[NoteSegment], sounds: Sequence[int], extra: set[int], apart_s: float
) -> list[int]:
    """Some sounds and the extra ones between them and so near to them, those of their pitch."""
    first, end = sounds[0], sounds[-1] + 1
    while first - 1 in extra and _belong(found[first - 1], found[first], apart_s):
        first -= 1
    while end in extra and _belong(found[end - 1], found[end], apart_s):
        end += 1
    return [
        number
        for number in range(first, end)
        if number in sounds or (number in extra and found[number].has_pitch_of(found[sounds[0]]))
    ]


def _belong(before: NoteSegment, after: NoteSegment, apart_s: float) -> bool:
    """Whether two sounds are one that was cut, or that a room broke for so long."""
    return before.has_pitch_of(after) and after.from_s - before.to_s <= apart_s


def _rejoined(
    features: Features, sounds: Sequence[NoteSegment], apart_s: float
) -> list[NoteSegment]:
    """The sounds, those that were one as one again."""
    runs: list[list[NoteSegment]] = []
    for sound in sounds:
        if runs and _belong(runs[-1][-1], sound, apart_s):
            runs[-1].append(sound)
        else:
            runs.append([sound])
    return [
        run[0] if len(run) == 1 else stretch_of(run[0], run[0].from_s, run[-1].to_s, features)
        for run in runs
    ]


def _new_starts(features: Features, sound: NoteSegment, cut_s: Sequence[float]) -> list[Reattack]:
    """As `new_starts`, each where the sound was cut before if that is the same stroke: while it
    sounds and afterwards not as much is known of the room, and what is heard of the stroke is not
    measured again for a step of the network's."""
    kept = []
    for start in new_starts(sound, features):
        before_s = min(cut_s, key=lambda at_s: abs(at_s - start.at_s), default=np.inf)
        is_same = abs(before_s - start.at_s) < STROKES_APART_S / 2
        kept.append(replace(start, at_s=before_s) if is_same else start)
    return kept


def _cut_where_sure(
    features: Features, sound: NoteSegment, lasts_s: float, cut_s: Sequence[float]
) -> list[NoteSegment]:
    """A sound that was asked for once and should last so long, cut only where it surely started
    again, and not so often as pulses: an extra note is claimed as a start is. cut_s: where it was
    cut before."""
    starts = _new_starts(features, sound, cut_s)
    log_odds = np.array([start.log_odds for start in starts])
    before = UNASKED
    if sound.length_s > LASTS_FOR_TWO * lasts_s:
        at = (np.array([start.at_s for start in starts]) - sound.from_s) / lasts_s
        log_odds += _place_odds(at - np.maximum(1, np.round(at)))
        before = LONG
    chances = again_chances(log_odds, before)
    sure = [
        start.at_s
        for start, chance in zip(starts, chances, strict=True)
        if chance > SURE and start.at_s - sound.from_s > EXTRA_APART_S
    ]
    return split_at(sound, sure if len(sure) < PULSES else [], features)


@dataclass(frozen=True)
class _Starts:
    """Places where one note may start, those of several sounds together; each shape (places,)."""

    at_s: Track
    log_odds: Track
    sounds: NDArray[np.int64]
    """The sound that each lies in; -1 for the beginning of one."""


def _cut_as_due(
    features: Features, whole: Sequence[NoteSegment], due_s: Track, cut_s: Sequence[float]
) -> tuple[list[NoteSegment], dict[NoteSegment, int], int]:
    """The sounds of one note asked for several times, cut where it started again; which time each
    is, unless a sound found is none of them; and how many strokes may be hidden.

    due_s: when each is due after the first sound begins, at the pace asked for, shape (notes,);
    cut_s: where the sounds were cut before.
    """
    pace = max(1.0, (whole[-1].from_s - whole[0].from_s) / float(due_s[-1]))
    step_s = pace * float(np.median(np.diff(due_s)))
    starts = _starts(features, whole, step_s, cut_s)
    places, log_odds = _likeliest_due(starts, whole[0].from_s, pace * due_s, step_s)
    chances = again_chances(log_odds, ASKED)
    struck = np.zeros(starts.at_s.size, bool)
    likely = np.flatnonzero((places >= 0) & (chances > LIKELY))
    twice = likely.size - np.unique(places[likely]).size
    struck[places[likely]] = True
    times = dict(zip(places[likely].tolist(), likely.tolist(), strict=True))
    away_s = np.abs(starts.at_s[:, None] - starts.at_s[struck]).min(axis=1, initial=np.inf)
    struck |= (starts.log_odds > EXTRA_ODDS) & (away_s > EXTRA_APART_S)
    cut: list[NoteSegment] = []
    strokes: dict[NoteSegment, int] = {}
    for number, sound in enumerate(whole):
        again = np.flatnonzero(struck & (starts.sounds == number)).tolist()
        parts = split_at(sound, starts.at_s[again].tolist(), features)
        cut += parts
        began = zip(parts, (number, *again), strict=True)
        strokes |= {part: times[start] for part, start in began if start in times}
    may_hide = features.room is None or features.room.blurs
    doubtful = (may_hide | (chances > HARDLY)) & ((chances <= LIKELY) | (places < 0))
    if not times.keys() >= set(range(len(whole))):
        strokes = {}
    return cut, strokes, int(np.count_nonzero(doubtful)) + twice


def _starts(
    features: Features, whole: Sequence[NoteSegment], step_s: float, cut_s: Sequence[float]
) -> _Starts:
    rows = [(sound.from_s, FOUND_ODDS, -1) for sound in whole]
    for number, sound in enumerate(whole):
        if sound.length_s > LASTS_FOR_TWO * step_s:
            again = _new_starts(features, sound, cut_s)
            rows += [(start.at_s, start.log_odds, number) for start in again]
    at_s, log_odds, sounds = zip(*rows, strict=True)
    return _Starts(np.array(at_s), np.array(log_odds), np.array(sounds, np.int64))


def _likeliest_due(
    starts: _Starts, from_s: float, due_s: Track, step_s: float
) -> tuple[NDArray[np.int64], Track]:
    """For each note the likeliest start near where it is due, -1 for none, and its log odds; at the
    pace at which they are likeliest together."""
    best = np.full(due_s.size, -1), np.full(due_s.size, NOTHING_ODDS)
    most = float(_support(best[1]))
    for pace in PACES:
        place_s = from_s + pace * due_s + SHIFTS[:, None] * step_s
        off = (starts.at_s - place_s[:, :, None]) / (pace * step_s)
        near = np.nonzero(np.abs(off) < 0.5)
        odds = np.full(off.shape, -np.inf)
        odds[near] = starts.log_odds[near[2]] + _place_odds(off[near])
        highest = odds.max(axis=2)
        log_odds = np.where(np.isfinite(highest), highest, NOTHING_ODDS)
        support = _support(log_odds)
        shift = int(support.argmax())
        if support[shift] > most:
            most = float(support[shift])
            likeliest = np.where(np.isfinite(highest[shift]), odds[shift].argmax(axis=1), -1)
            best = likeliest, log_odds[shift]
    return best


def _support(log_odds: Track) -> Track:
    """How well starts near where they are due speak for a pace; log_odds of shape (..., notes)."""
    return np.asarray(np.maximum(0.0, log_odds + ASKED.log_odds).sum(axis=-1))


def _place_odds(off: Track) -> Track:
    """What its place adds to the log odds of a start so many steps off where it is due."""
    density = sum(
        np.exp(-0.5 * (off / share) ** 2) / (share * np.sqrt(2 * np.pi))
        for share in (STEADY_SHARE, UNEVEN_SHARE)
    )
    return np.asarray(np.log((density + 1.0) / 3.0))
