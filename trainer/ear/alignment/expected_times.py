"""When each expected note should sound, going by the notes around it that were found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.ear.alignment.align import Answer
from trainer.ear.analysis.frames import Track
from trainer.ear.segments.note_segment import NoteSegment

FEWEST = 2
"""Two notes make a tempo."""


@dataclass(frozen=True)
class Due:
    """When a note should sound, going by those around it."""

    midi: float
    from_s: float
    to_s: float

    @property
    def length_s(self) -> float:
        """How long it should sound."""
        return self.to_s - self.from_s


def due_notes(
    segments: Sequence[NoteSegment],
    answers: Sequence[Answer],
    midi: Track,
    beats_s: Track,
    lengths_s: Track,
) -> list[Due]:
    """A place in time for each expected note; none where too few were found to tell.

    `midi`, `beats_s`, `lengths_s`: the expected notes' sounding pitch and times at the asked
    tempo, shape (notes,).
    """
    places = _places(segments, answers)
    if len(places) < FEWEST:
        return []
    asked_s, found_s = _asked_and_found_s(places, beats_s)
    pace = _pace(asked_s, found_s)
    if np.isnan(pace):
        return []

    def at(times_s: Track) -> Track:
        before_s = found_s[0] + (times_s - asked_s[0]) * pace
        after_s = found_s[-1] + (times_s - asked_s[-1]) * pace
        inside_s = np.interp(times_s, asked_s, found_s)
        late_s: Track = np.where(times_s > asked_s[-1], after_s, inside_s)
        at_s: Track = np.where(times_s < asked_s[0], before_s, late_s)
        return at_s

    return [
        Due(float(pitch), float(from_s), float(to_s))
        for pitch, from_s, to_s in zip(midi, at(beats_s), at(beats_s + lengths_s), strict=True)
    ]


def due_from(
    segments: Sequence[NoteSegment],
    answers: Sequence[Answer],
    midi: Track,
    beats_s: Track,
    lengths_s: Track,
) -> tuple[list[Due], list[Due]]:
    """Where each expected note falls at the pace of the whole, counted from the note found before
    it and back from the one found after it: other places than between the two where either stands
    for a note that it isn't. None where too few were found; parameters as for `due_notes`."""
    places = _places(segments, answers)
    own = pace(segments, answers, beats_s)
    if np.isnan(own):
        return [], []
    asked_s, found_s = _asked_and_found_s(places, beats_s)
    after = np.searchsorted(asked_s, beats_s, "right")

    def counted(known: NDArray[np.int64]) -> list[Due]:
        from_s = found_s[known] + (beats_s - asked_s[known]) * own
        ends = zip(midi.tolist(), from_s.tolist(), (from_s + own * lengths_s).tolist(), strict=True)
        return [Due(*one) for one in ends]

    last = asked_s.size - 1
    return counted(np.clip(after - 1, 0, last)), counted(np.clip(after, 0, last))


def pace(segments: Sequence[NoteSegment], answers: Sequence[Answer], beats_s: Track) -> float:
    """Seconds played for each second asked; NaN where too few notes were found to tell.

    `beats_s`: as for the notes due.
    """
    places = _places(segments, answers)
    return np.nan if len(places) < FEWEST else _pace(*_asked_and_found_s(places, beats_s))


def _pace(asked_s: Track, found_s: Track) -> float:
    ratio = float(np.median(np.diff(found_s) / np.diff(asked_s)))
    return ratio if ratio > 0 else np.nan


def _asked_and_found_s(places: dict[int, float], beats_s: Track) -> tuple[Track, Track]:
    indices = np.array(sorted(places))
    return beats_s[indices], np.array([places[index] for index in indices])


def _places(segments: Sequence[NoteSegment], answers: Sequence[Answer]) -> dict[int, float]:
    """Where notes were found, those left out that would go back in time."""
    found: dict[int, float] = {}
    last_index, last_s = -1, -np.inf
    for answer in answers:
        at_s = segments[answer.segment].from_s
        if answer.index is not None and answer.index > last_index and at_s > last_s:
            found[answer.index] = at_s
            last_index, last_s = answer.index, at_s
    return found
