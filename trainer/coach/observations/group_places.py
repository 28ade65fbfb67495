"""Groups of notes in which one place always comes early or late."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks
from trainer.coach.observations.observation import ORDINALS, Observation, chance_of_more

_LINES = range(2)
"""That of the strokes and that of the speaking."""


def in_group_places(marks: Marks) -> Iterator[Observation]:
    """A place in the beat that always comes early or late, whichever note stands there: one that
    is late wherever it stands is a late note."""
    middles_ms = _middles_ms(marks)
    chances = {place: _chance(marks, place, off_ms) for place, off_ms in middles_ms.items()}
    worst = min(chances, key=lambda place: chances[place], default=None)
    if worst is None or chances[worst] >= thresholds.GROUP_CHANCE:
        return
    here = [n.index for n in marks.heard if n.group_place == worst and n.off_ms is not None]
    yield Observation(
        Topic.EVENNESS,
        abs(middles_ms[worst]) / thresholds.GROUP_MS,
        tuple(
            f"the {ORDINALS[place]} of each group: {off_ms:+.0f} ms"
            for place, off_ms in sorted(middles_ms.items())
        ),
        tuple(here),
        amount=middles_ms[worst],
        times=len(here),
        detail=ORDINALS[worst],
    )


def _middles_ms(marks: Marks) -> dict[int, float]:
    """For each place in the group what its pitches usually lie off the beat, each counted once."""
    of_pitch: dict[tuple[int, int], list[float]] = defaultdict(list)
    for note in marks.heard:
        if note.off_ms is not None:
            of_pitch[note.group_place, note.written.midi].append(note.off_ms)
    places: dict[int, list[float]] = defaultdict(list)
    for (place, _), each in of_pitch.items():
        places[place].append(float(np.median(each)))
    return {place: float(np.median(each)) for place, each in places.items()}


def _chance(marks: Marks, place: int, off_ms: float) -> float:
    """How likely a place lies so far off by chance; who lays either the strokes or the speaking in
    time plays evenly, so the likelier of the two."""
    side = 1.0 if off_ms > 0 else -1.0
    chances = []
    for line in _LINES:
        here, others = _place_and_others(marks, place, side, line)
        if not here or np.median(here) < thresholds.GROUP_MS:
            return 1.0
        chances.append(chance_of_more(here, others, thresholds.DISPLACEMENT_JND_MS))
    return max(chances)


def _place_and_others(
    marks: Marks, place: int, side: float, line: int
) -> tuple[list[float], list[float]]:
    """What the pitches at a place in the group lie off a line to this side, each counted once, and
    those elsewhere. Of a pitch that was never sure elsewhere it is known that it came no later."""
    sure: dict[tuple[int, int], list[float]] = defaultdict(list)
    latest: dict[tuple[int, int], list[float]] = defaultdict(list)
    for note in marks.heard:
        if note.from_lines_ms:
            kept = latest if note.off_ms is None else sure
            kept[note.group_place, note.written.midi].append(side * note.from_lines_ms[line])
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
