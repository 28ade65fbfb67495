"""The back stroke of double tonguing, weaker or later than the front ones around it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import Observation
from trainer.figures.enough import FIGURE_NOTES
from trainer.music.note import Start

_SHARED = 2 / 3
"""Each note is in three contrasts with its neighbours, signs in turn: their mean varies by what a
note does on the one side of each stroke and on the other, a contrast by itself by 3/2 of that."""
_Measured = Callable[[NoteMark], float | None]
_NOT_KNOWN = float("inf")
_Triple = tuple[NoteMark, NoteMark, NoteMark]
"""A stroke between two others."""


@dataclass(frozen=True)
class _Apart:
    """How far back strokes stand from front ones."""

    more: float
    """What they usually have more."""
    chance: float
    """How likely so much more or less is by chance."""
    spread: float
    """Of the strokes, in the same unit as `more`; infinite where there are too few."""


def in_back_syllable(rounds: Sequence[Marks]) -> Iterator[Observation]:
    """The K of the last of these rounds, where it is weak or late."""
    level = _weaker(rounds)
    later_ms = _more_of_each(rounds[-1], _off_ms)
    place = _strokes_apart(rounds[-1], later_ms, thresholds.STROKE_SPREAD_MS)
    strengths = [
        -level.more / thresholds.BACK_DB if level.chance < thresholds.GROUP_CHANCE else 0.0,
        place.more / thresholds.BACK_LATE_MS if place.chance < thresholds.GROUP_CHANCE else 0.0,
    ]
    if max(strengths) >= 1:
        weak = strengths[0] >= strengths[1]
        backs = [note.index for _, note, _ in _around(rounds[-1], Start.BACK_TONGUED)]
        yield Observation(
            Topic.BACK_SYLLABLE,
            max(strengths),
            (
                f"K against the T around it: {level.more:+.1f} dB",
                f"{place.more:+.0f} ms, over {len(backs)} strokes",
            ),
            tuple(backs),
            amount=-level.more if weak else place.more,
            times=len(backs),
            detail="weak" if weak else "late",
        )


def _level_db(note: NoteMark) -> float | None:
    return note.level_db


def _off_ms(note: NoteMark) -> float | None:
    return note.off_ms


def _weaker(rounds: Sequence[Marks]) -> _Apart:
    """The level of the strokes of the last round; where the rounds before had the same notes
    started alike, less what each had there, if that leaves the strokes clearly less apart: how loud
    a room, or the flute, makes each note is then known. (How late it makes them isn't: so taken off
    the strokes of 48 even lines in rooms of 0.4 and 0.8 s spread more, not less, by 10 ms for 6.)
    """
    more_db, alike_db = _more_of_each(rounds[-1], _level_db), _more_where_alike(rounds, _level_db)
    less_db = {index: db - alike_db[index] for index, db in more_db.items() if index in alike_db}
    alone = _strokes_apart(rounds[-1], more_db, thresholds.STROKE_SPREAD_DB)
    known = _strokes_apart(rounds[-1], less_db, thresholds.KNOWN_ROOM_SPREAD_DB)
    return known if known.spread < thresholds.LESS_APART * alone.spread else alone


def _in_threes(marks: Marks) -> Iterator[_Triple]:
    """Each clean note with the ones before and after it, these clean as well."""
    for triple in zip(marks.notes, marks.notes[1:], marks.notes[2:], strict=False):
        if all(note.clean for note in triple):
            yield triple


def _around(marks: Marks, middle: Start) -> list[_Triple]:
    """Strokes of one kind, each between two of the other."""
    other = Start.TONGUED if middle is Start.BACK_TONGUED else Start.BACK_TONGUED
    return [
        triple
        for triple in _in_threes(marks)
        if [note.asked_start for note in triple] == [other, middle, other]
    ]


def _more_of_each(marks: Marks, measured: _Measured) -> dict[int, float]:
    """Index → what a note has more than those around it."""
    return {
        triple[1].index: more
        for triple in _in_threes(marks)
        if (more := _more(triple, measured)) is not None
    }


def _more(triple: _Triple, measured: _Measured) -> float | None:
    """What the middle one has more than those around it."""
    before, here, after = (measured(note) for note in triple)
    if before is None or here is None or after is None:
        return None
    return here - (before + after) / 2


def _more_where_alike(rounds: Sequence[Marks], measured: _Measured) -> dict[int, float]:
    """Index → what the same note has more than those around it, in the mean, in the rounds before
    the last in which these three notes were to start alike."""
    pitches = {note.index: note.written.midi for note in rounds[-1].notes}
    found: dict[int, list[float]] = defaultdict(list)
    for triple in (triple for marks in rounds[:-1] for triple in _in_threes(marks)):
        same = all(pitches.get(note.index) == note.written.midi for note in triple)
        alike = len({note.asked_start for note in triple}) == 1
        if same and alike and (more := _more(triple, measured)) is not None:
            found[triple[1].index].append(more)
    return {index: float(np.mean(each)) for index, each in found.items()}


def _strokes_apart(marks: Marks, more_of: Mapping[int, float], known_spread: float) -> _Apart:
    """How much more of something the back strokes usually have than the front ones, and how likely
    so much more or less is by chance: where a pitch has both, half of what parts them, about which
    each stroke varies by itself; a pitch that always has the same stroke counts once, since the
    room may do the same to it each time it comes, or it may speak late by itself.

    Student's t, for which a few strokes hardly show how far they vary: what strokes vary by in
    rooms counts as known beforehand (Smyth 2004, Stat Appl Genet Mol Biol 3:3, moderated t).
    more_of: index → what a note has more than those around it; known_spread: that of strokes, in
    the same unit.
    """
    backs, fronts = (_around(marks, start) for start in (Start.BACK_TONGUED, Start.TONGUED))
    of_backs, of_fronts = _by_pitch(backs, more_of), _by_pitch(fronts, more_of)
    more: list[float] = []
    of_each_back: list[float] = []
    of_each_front: list[float] = []
    for midi in of_backs.keys() | of_fronts.keys():
        back, front = (np.array(of.get(midi, [])) for of in (of_backs, of_fronts))
        if back.size and front.size:
            usual_back, usual_front = float(np.median(back)), float(np.median(front))
            apart = (usual_back - usual_front) / 2
            more += ((back - usual_front) / 2).tolist()
            of_each_back += (apart + back - usual_back).tolist()
            of_each_front += (apart + usual_front - front).tolist()
        elif back.size:
            more.append(float(np.median(back)))
            of_each_back.append(float(np.median(back)))
        else:
            of_each_front.append(-float(np.median(front)))
    fewest = min(len(of_each_back), len(of_each_front))
    if len(backs) < FIGURE_NOTES or 2 * fewest < FIGURE_NOTES:
        return _Apart(0.0, 1.0, _NOT_KNOWN)
    values = of_each_back + of_each_front
    known, own = thresholds.STROKES_KNOWN, len(values) - 2
    varied = float(np.var(values, ddof=1))
    squares = known * known_spread**2 + own * varied
    shared = _SHARED * (1 / len(of_each_back) + 1 / len(of_each_front))
    error = float(np.sqrt(squares / (known + own) * shared))
    chance = float(stdtr(known + own, -abs(float(np.mean(values))) / error))
    return _Apart(float(np.median(more)), chance, float(np.sqrt(varied)))


def _by_pitch(triples: Sequence[_Triple], more_of: Mapping[int, float]) -> dict[int, list[float]]:
    found: dict[int, list[float]] = defaultdict(list)
    for _, note, _ in triples:
        if note.index in more_of:
            found[note.written.midi].append(more_of[note.index])
    return found
