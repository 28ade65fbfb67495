"""A place in the beat, or every second note, that always comes early or late."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import ORDINALS, Observation, chance_of_more

_LINES = range(2)
"""That of the strokes and that of the speaking."""
_Place = Callable[[NoteMark], int]
"""Where a note stands in its group, from 0."""


def _in_beat(note: NoteMark) -> int:
    return note.group_place


def _in_twos(note: NoteMark) -> int:
    return note.index % 2


_PLACES: tuple[_Place, ...] = (_in_beat, _in_twos)


def in_group_places(marks: Marks) -> Iterator[Observation]:
    """A place in the beat, or half of the notes in turn, that always comes early or late, whichever
    note stands there: one that is late wherever it stands is a late note."""
    found = [
        (_chance(marks, place_of, place, off_ms), place, place_of)
        for place_of in _PLACES
        for place, off_ms in _middles_ms(marks, place_of).items()
    ]
    chance, worst, place_of = min(found, key=lambda one: one[0], default=(1.0, 0, _in_beat))
    if chance >= thresholds.GROUP_CHANCE:
        return
    middles_ms = _middles_ms(marks, place_of)
    amount, group = middles_ms[worst], "group"
    which = f"the {ORDINALS[worst]} note of each group"
    if place_of is _in_twos:  # which of the halves the line runs through is chance
        amount = middles_ms.get(1, 0.0) - middles_ms.get(0, 0.0)
        worst, group, which = 1, "two", "every second note"
    here = [n.index for n in marks.heard if place_of(n) == worst and n.off_ms is not None]
    yield Observation(
        Topic.EVENNESS,
        abs(amount) / thresholds.GROUP_MS,
        tuple(
            f"the {ORDINALS[place]} of each {group}: {off_ms:+.0f} ms"
            for place, off_ms in sorted(middles_ms.items())
        ),
        tuple(here),
        amount=amount,
        times=len(here),
        detail=which,
    )


def furthest_place_ms(marks: Marks) -> float:
    """How far off the line of the strokes or off that of the speaking, whichever is kept better,
    the place lies that is furthest from it, early or late: note by note the nearer of the two would
    hide a place that neither has in time."""
    return min(
        max(
            (abs(m) for place_of in _PLACES for m in _middles_ms(marks, place_of, off).values()),
            default=0.0,
        )
        for off in (_off_strokes, _off_speaking)
    )


def _off_beat(note: NoteMark) -> float | None:
    return note.off_ms


def _off_strokes(note: NoteMark) -> float | None:
    return None if note.off_ms is None else note.from_lines_ms[0]


def _off_speaking(note: NoteMark) -> float | None:
    return None if note.off_ms is None else note.from_lines_ms[-1]


def _middles_ms(
    marks: Marks, place_of: _Place, off: Callable[[NoteMark], float | None] = _off_beat
) -> dict[int, float]:
    """For each place what its pitches usually lie off, each counted once."""
    of_pitch: dict[tuple[int, int], list[float]] = defaultdict(list)
    for note in marks.heard:
        if (off_ms := off(note)) is not None:
            of_pitch[place_of(note), note.written.midi].append(off_ms)
    places: dict[int, list[float]] = defaultdict(list)
    for (place, _), each in of_pitch.items():
        places[place].append(float(np.median(each)))
    return {place: float(np.median(each)) for place, each in places.items()}


def _chance(marks: Marks, place_of: _Place, place: int, off_ms: float) -> float:
    """How likely a place lies so far off by chance; who lays either the strokes or the speaking in
    time plays evenly, so the likelier of the two."""
    side = 1.0 if off_ms > 0 else -1.0
    chances = []
    for line in _LINES:
        here, others = _place_and_others(marks, place_of, place, side, line)
        if len(here) < thresholds.GROUP_PITCHES or np.median(here) < thresholds.GROUP_MS:
            return 1.0
        chances.append(chance_of_more(here, others, thresholds.DISPLACEMENT_JND_MS))
    return max(chances)


def _place_and_others(
    marks: Marks, place_of: _Place, place: int, side: float, line: int
) -> tuple[list[float], list[float]]:
    """What the pitches at a place lie off a line to this side, each counted once, and those
    elsewhere. Of a pitch that was never sure elsewhere it is known that it came no later."""
    sure: dict[tuple[int, int], list[float]] = defaultdict(list)
    latest: dict[tuple[int, int], list[float]] = defaultdict(list)
    for note in marks.heard:
        if note.from_lines_ms:
            kept = latest if note.off_ms is None else sure
            kept[place_of(note), note.written.midi].append(side * note.from_lines_ms[line])
    here = [_middle_ms(each) for at, each in sure.items() if at[0] == place]
    others = [_middle_ms(each) for at, each in sure.items() if at[0] != place]
    if side > 0:
        others += [
            _middle_ms(each) for at, each in latest.items() if at[0] != place and at not in sure
        ]
    return here, others


def _middle_ms(off_ms: Sequence[float]) -> float:
    """What a pitch usually lies off, no more than what no habit brings."""
    return float(np.clip(np.median(off_ms), -thresholds.SLIP_MS, thresholds.SLIP_MS))
