"""What today's round means beside the player's own earlier days: lines of evidence."""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median

from trainer.coach.advice import UNJUDGED, Topic
from trainer.coach.history import KNOWN_DAYS, History
from trainer.coach.marks import Marks
from trainer.coach.observations.observation import Observation
from trainer.ear.heard import Take
from trainer.routine.round import RoundKind

_OF_PITCH = frozenset({Topic.TUNING, Topic.TUNING_HIGH, Topic.TUNING_LOW})
LONGER_S = 1.0
"""A breath that lasted this much longer than some weeks ago is news. Our own estimate."""


def news(
    seen: Observation | None, marks: Marks, take: Take, history: History | None
) -> tuple[str, ...]:
    """How the thing said, or what is no longer heard, compares with earlier days."""
    if history is None:
        return ()
    return (
        *_known(seen, marks, history),
        *_usual_pitch(seen, marks, history),
        *_breath(marks, take, history),
    )


def _known(seen: Observation | None, marks: Marks, history: History) -> Iterator[str]:
    known = history.known(marks.exercise_id)
    if seen is not None and seen.topic in known:
        yield f"not new: said on most of your last {KNOWN_DAYS} days of this"
    if seen is None:
        for topic in sorted(known - UNJUDGED - {Topic.SECURE}):
            yield f"not heard this time, though on most of your last days: {topic}"


def _usual_pitch(seen: Observation | None, marks: Marks, history: History) -> Iterator[str]:
    """Where these notes usually stand with this player: a tendency learned, not supposed."""
    if seen is None or seen.topic not in _OF_PITCH or not seen.note_indices:
        return
    usual = [
        cents
        for index in seen.note_indices
        if (cents := history.usual_cents(marks.notes[index].written)) is not None
    ]
    if usual:
        yield f"your usual on these notes: {median(usual):+.0f} cents"


def _breath(marks: Marks, take: Take, history: History) -> Iterator[str]:
    """How long one breath lasts now, and what it was when the days began."""
    if marks.kind is not RoundKind.BREATH:
        return
    today_s = longest_breath_s(take)
    before = history.breaths(marks.exercise_id)
    if today_s is None:
        return
    yield f"longest on one breath: {today_s:.0f} s"
    if before and today_s - before[0][1] >= LONGER_S:
        days = (history.today - before[0][0]).days
        yield f"{days} days ago it was {before[0][1]:.0f} s"


def longest_breath_s(take: Take) -> float | None:
    """The longest stretch of playing without a breath; None where nothing was played."""
    played = [note for note in take.expected_notes if note.onset_s is not None]
    if not played:
        return None
    first_s = min(note.onset_s for note in played if note.onset_s is not None)
    last_s = max(note.end_s or note.onset_s or 0.0 for note in played)
    inside = [(a, b) for a, b in take.breaths_s if first_s < a < last_s]
    starts = [first_s, *(b for _, b in inside)]
    ends = [*(a for a, _ in inside), last_s]
    return max(end - start for start, end in zip(starts, ends, strict=True))
