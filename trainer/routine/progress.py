"""Progress rules: what the next day asks for once the aims have been met often enough.

A rule is data, and so is what the journal remembers: whoever keeps the journal hands over one
`Attempt` for each time an exercise was played through. Where a student stands is read from the
last of them, so that an exercise goes on from where it was left.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from trainer.music.key import Key
from trainer.routine.round import RoundKind


@dataclass(frozen=True)
class Attempt:
    """One exercise played through in one session, as the journal remembers it."""

    key: str
    """Name of its key, such as 'E flat major'; empty where it has none."""
    tempo_bpm: float
    """The slowest tempo of its whole rounds."""
    met: bool
    """Every aim that could be judged was met in all its rounds."""


class Remembered(Protocol):
    """What is needed of a round as the journal keeps it."""

    @property
    def exercise_id(self) -> str: ...  # noqa: D102
    @property
    def kind(self) -> RoundKind: ...  # noqa: D102
    @property
    def key(self) -> str: ...  # noqa: D102
    @property
    def tempo_bpm(self) -> float: ...  # noqa: D102
    @property
    def secure(self) -> bool | None:
        """Everything asked for was heard; None where nothing could be judged."""
        ...


def attempts_in(sessions: Iterable[Iterable[Remembered]]) -> dict[str, list[Attempt]]:
    """Exercise id → its attempts, from the rounds of each session, sessions oldest first.

    Rounds that practised a knot don't count; an exercise of which nothing was judged is no attempt.
    """
    found: dict[str, list[Attempt]] = {}
    for session in sessions:
        whole: dict[str, list[Remembered]] = {}
        for one in session:
            if one.kind is not RoundKind.KNOT and one.secure is not None:
                whole.setdefault(one.exercise_id, []).append(one)
        for exercise_id, rounds in whole.items():
            slowest_bpm = min(one.tempo_bpm for one in rounds)
            met = all(one.secure for one in rounds)
            found.setdefault(exercise_id, []).append(Attempt(rounds[-1].key, slowest_bpm, met))
    return found


@dataclass(frozen=True)
class NextKey:
    """The next key of the exercise's list or cycle."""


@dataclass(frozen=True)
class Faster:
    """A faster tempo."""

    step_bpm: float
    up_to_bpm: float | None = None
    """None: as fast as a routine may ask."""


@dataclass(frozen=True)
class Progress:
    """What comes next, and after how many times."""

    step: NextKey | Faster
    times: int = 2
    """So many attempts running must meet the aims before the step is taken."""


def key_reached(cycle: tuple[Key, ...], rule: Progress, attempts: Sequence[Attempt]) -> Key:
    """The key to play: the last one's, or the next of the cycle where the aims were met.

    The first of the cycle where there is no attempt yet, or the last was in no key of it.
    """
    names = [key.name for key in cycle]
    last = attempts[-1].key if attempts else ""
    if last not in names:
        return cycle[0]
    place = names.index(last)
    met = _met_running([attempt for attempt in attempts if attempt.key == last])
    return cycle[(place + (met >= rule.times)) % len(cycle)]


def tempo_reached(
    asked_bpm: float, step: Faster, times: int, attempts: Sequence[Attempt], fastest_bpm: float
) -> float:
    """The tempo to play: the last one's, or a step faster where the aims were met there.

    Never slower than the teacher asks, and never beyond the rule's own end.
    """
    end_bpm = step.up_to_bpm or fastest_bpm
    if not attempts or attempts[-1].tempo_bpm < asked_bpm:
        return asked_bpm
    last_bpm = min(attempts[-1].tempo_bpm, end_bpm)
    at_least_so_fast = [attempt for attempt in attempts if attempt.tempo_bpm >= last_bpm]
    if _met_running(at_least_so_fast) < times:
        return last_bpm
    return min(last_bpm + step.step_bpm, end_bpm)


def _met_running(attempts: Sequence[Attempt]) -> int:
    """How many of the latest attempts met the aims, without one between that did not."""
    count = 0
    for attempt in reversed(attempts):
        if not attempt.met:
            break
        count += 1
    return count
