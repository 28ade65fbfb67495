"""How notes start, where the breath comes, and whether the sound fades."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import assert_never

import numpy as np

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import Observation, names, recent
from trainer.coach.observations.pattern_starts import in_pattern, least_share
from trainer.figures.enough import FIGURE_NOTES
from trainer.music.articulations import ArticulationPattern
from trainer.music.note import Start
from trainer.routine.round import RoundKind

_PARTED = frozenset({Start.TONGUED, Start.BACK_TONGUED, Start.LEGATO_TONGUE, Start.BREATH})
"""Starts that sound alone tells apart too poorly to hold against anyone."""


def in_sound(marks: Marks, earlier: Sequence[Marks]) -> Iterator[Observation]:
    """Starts not as asked, breaths where none was planned, and fading."""
    if isinstance(marks.articulation, ArticulationPattern):
        yield from in_pattern(marks, marks.articulation)
    else:
        yield from _starts(marks)
    yield from _breaths(marks, recent(marks, earlier))
    yield from _fading(marks)


def _starts(marks: Marks) -> Iterator[Observation]:
    """Starts not as asked, a large share of all of them, slurs or strokes: only where most of these
    could be told, since what a room leaves to be told looks like a slur first."""
    told_in_all = sum(note.heard_start is not None for note in marks.heard)
    for slur_asked, share in (
        (True, thresholds.SLURS_TOLD_SHARE),
        (False, thresholds.TOLD_SHARE),
    ):
        asked = [n for n in marks.heard if (n.asked_start is Start.SLURRED) == slur_asked]
        told = [note for note in asked if note.heard_start is not None]
        other = [note for note in told if note.heard_start not in _alike(note.asked_start)]
        least = max(thresholds.START_TIMES, least_share(other) * told_in_all)
        if len(other) >= least and len(told) >= share * len(asked):
            yield _not_as_asked(other, told, len(other) / least)


def _not_as_asked(
    other: Sequence[NoteMark], told: Sequence[NoteMark], strength: float
) -> Observation:
    (asked, heard), times = Counter((n.asked_start, n.heard_start) for n in other).most_common(1)[0]
    return Observation(
        Topic.START,
        strength,
        (f"asked {asked}, heard {heard}: {times} of {len(told)} notes",),
        tuple(note.index for note in other),
        times=len(other),
        chances=len(told),
        detail=f"{heard} where {asked} was asked",
    )


def _alike(asked: Start) -> frozenset[Start]:
    """What may be heard when this was asked."""
    match asked:
        case Start.SLURRED | Start.SILENT_AIR:
            return frozenset({asked})
        case Start.TONGUED | Start.BACK_TONGUED | Start.LEGATO_TONGUE | Start.BREATH:
            return _PARTED
        case _:
            assert_never(asked)


def _breaths(marks: Marks, rounds: Sequence[Marks]) -> Iterator[Observation]:
    """Marked breaths left out or taken elsewhere; without any of those, breaths nobody marked."""
    left_out = list(_left_out(marks, rounds))
    yield from left_out or _unplanned(marks, rounds)


def _left_out(marks: Marks, rounds: Sequence[Marks]) -> Iterator[Observation]:
    times = sum(len(other.breaths_left_out) for other in rounds)
    here = marks.breaths_left_out
    if not here or times < thresholds.HABIT_TIMES:
        return
    place = here[0]
    near = [one for one in marks.unplanned_breaths if abs(one - place) <= thresholds.BREATH_NEAR]
    elsewhere = min(near, key=lambda one: abs(one - place), default=None)
    after = names(marks.notes[index].written for index in here)
    yield Observation(
        Topic.BREATH,
        times / thresholds.HABIT_TIMES,
        (f"no breath after {after}; {times} in the last {len(rounds)} rounds",),
        here if elsewhere is None else tuple(sorted((*here, elsewhere))),
        frm=marks.notes[place].written,
        to=None if elsewhere is None else marks.notes[elsewhere].written,
        amount=0.0 if elsewhere is None else elsewhere - place,
        times=times,
        detail="left out" if elsewhere is None else "elsewhere",
    )


def _unplanned(marks: Marks, rounds: Sequence[Marks]) -> Iterator[Observation]:
    """Breaths, else stops: one of each makes no habit of either."""
    enough = 1 if marks.kind is RoundKind.BREATH else thresholds.HABIT_TIMES
    breaths = [other.unplanned_breaths for other in rounds]
    stops = [other.stops for other in rounds]
    yield from list(_broken_off(marks, breaths, enough)) or _broken_off(
        marks, stops, thresholds.HABIT_TIMES, "stop"
    )


def _broken_off(
    marks: Marks, places: Sequence[Sequence[int]], enough: int, detail: str = ""
) -> Iterator[Observation]:
    """places: in each of the rounds, the last of which is these marks'."""
    here, times = places[-1], sum(map(len, places))
    if here and times >= enough:
        after = names(marks.notes[index].written for index in here)
        yield Observation(
            Topic.BREATH,
            times / thresholds.HABIT_TIMES,
            (f"a {detail or 'breath'} after {after}; {times} in the last {len(places)} rounds",),
            tuple(here),
            frm=marks.notes[here[0]].written,
            times=times,
            detail=detail,
        )


def _fading(marks: Marks) -> Iterator[Observation]:
    """The same written notes, later against earlier in the round; not where one note alone makes
    it so: a hall may hide the last ones and leave its tail in their place."""
    notes = marks.heard
    change = _change(notes, len(marks.notes))
    if change is None or change.known < FIGURE_NOTES or change.db > -thresholds.FADING_DB:
        return
    without_one = (_change([n for n in notes if n is not one], len(marks.notes)) for one in notes)
    fades = all(less is not None and less.db <= -thresholds.FADING_DB for less in without_one)
    if fades and -change.db / change.error_db >= thresholds.CERTAIN:
        yield Observation(
            Topic.FADING,
            -change.db / thresholds.FADING_DB,
            (f"the end against the beginning, same notes: {change.db:+.1f} dB",),
            amount=change.db,
            times=change.known,
        )


@dataclass(frozen=True)
class _Change:
    """What the level of the same notes did over a round."""

    db: float
    """The end against the beginning."""
    error_db: float
    known: int
    """How many notes stood against an earlier one."""


def _change(notes: Sequence[NoteMark], of_round: int) -> _Change | None:
    """One slope for all notes, each pitch about its own mean (analysis of covariance). Every note
    counts once towards how sure that is, however many others it stands against. None where too few
    came again. of_round: how many notes the round has."""
    same: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for note in notes:
        if note.level_db is not None:
            same[note.written.midi].append((note.index / of_round, note.level_db))
    again = [np.array(each) for each in same.values() if len(each) > 1]
    known = sum(len(each) - 1 for each in again)
    if known < 2:
        return None
    place, level_db = np.concatenate([each - each.mean(axis=0) for each in again]).T
    change_db = float(place @ level_db / (place @ place))
    rest_db = level_db - change_db * place
    error_db = float(np.sqrt(rest_db @ rest_db / (known - 1) / (place @ place))) + 1e-9
    return _Change(change_db, error_db, known)
