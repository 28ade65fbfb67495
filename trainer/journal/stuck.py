"""Who is stuck where: knots that stay open and tempos that don't rise, each with its evidence."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.outline import piece_of
from trainer.journal.technique import ENOUGH_ROUNDS, HELD_TIMES, secure_tempo
from trainer.journal.trouble import knot_name
from trainer.music.articulations import AnyArticulation
from trainer.routine.round import RoundKind
from trainer.wording.days import date_words

# When something counts as stuck: our own estimate.
STUCK_WEEKS = 3
STUCK = timedelta(weeks=STUCK_WEEKS)
LOOK_BACK = 2 * STUCK
"""A tempo of the last three weeks is held against the three before."""
"""From the first day looked at to the last."""
ENOUGH_DAYS = 3
KNOT_DAYS = 2
"""A knot met on one day may be undone on the next."""

Played = tuple[date, RoundLog]


def first_outlined(ending: date) -> date:
    """The first of the days that who is stuck is seen from."""
    return ending - LOOK_BACK + timedelta(days=1)


@dataclass(frozen=True)
class OpenKnot:
    """A knot practised on two days or more that still goes wrong."""

    title: str
    exercise_id: str
    rounds: int
    days: int
    first_day: date
    last_day: date

    @property
    def since(self) -> str:
        """'19 October'."""
        return date_words(self.first_day)


@dataclass(frozen=True)
class StuckTempo:
    """An exercise whose tempo was pushed for three weeks and didn't rise."""

    exercise_id: str
    articulation: AnyArticulation
    held_bpm: float | None
    """The fastest tempo held twice in the last three weeks."""
    held_before_bpm: float | None
    """The same in the three weeks before."""
    tries: int
    """Rounds of the last three weeks that were faster than what was held and not secure."""
    days: int
    """Days with such a round."""

    @property
    def what(self) -> str:
        """'rope ladder, slurred'."""
        return f"{self.exercise_id}, {self.articulation}"


def open_knots(sessions: Sequence[SessionLog]) -> tuple[OpenKnot, ...]:
    """The knots still open, those first met first; `sessions` oldest first.

    The same notes put right since then in another exercise are no longer open in the first.
    """
    rounds: dict[tuple[str, str], list[Played]] = defaultdict(list)
    anywhere: dict[str, list[Played]] = defaultdict(list)
    for day, round_ in _played(sessions):
        if round_.kind is RoundKind.KNOT:
            rounds[round_.exercise_id, knot_name(round_)].append((day, round_))
            anywhere[knot_name(round_)].append((day, round_))
    return tuple(
        OpenKnot(title, exercise_id, len(played), len(days), min(days), max(days))
        for (exercise_id, title), played in rounds.items()
        if len(days := {day for day, _ in played}) >= KNOT_DAYS
        and still_wrong(played)
        and still_wrong(anywhere[title])
    )


def still_wrong(played: Sequence[Played]) -> bool:
    """Whether a trouble spot's rounds say that it still goes wrong: on the last day on which it was
    judged not secure as often as secure, and not put right at the end of it."""
    judged = [(day, round_.secure) for day, round_ in played if round_.secure is not None]
    if not judged:
        return False
    last = [secure for day, secure in judged if day == judged[-1][0]]
    put_right = len(last) >= HELD_TIMES and all(last[-HELD_TIMES:])
    return not put_right and 2 * sum(last) <= len(last)


def stuck_tempos(sessions: Sequence[SessionLog], ending: date) -> tuple[StuckTempo, ...]:
    """The exercises stuck at a tempo on a day, by name; `sessions` at least of the look back.

    Told only with at least five judged rounds in the three weeks before, and five rounds on three
    days since then that were faster than anything held and not secure. All keys of an exercise
    count together.
    """
    rounds: dict[tuple[str, AnyArticulation], list[Played]] = defaultdict(list)
    for day, round_ in _played(sessions):
        if piece_of(round_) is not None and ending - LOOK_BACK < day <= ending:
            rounds[round_.exercise_id, round_.articulation].append((day, round_))
    found = (
        _stuck(exercise_id, articulation, played, ending)
        for (exercise_id, articulation), played in sorted(rounds.items(), key=_by_name)
    )
    return tuple(stuck for stuck in found if stuck is not None)


def _by_name(item: tuple[tuple[str, AnyArticulation], list[Played]]) -> tuple[str, str]:
    (exercise_id, articulation), _ = item
    return exercise_id, str(articulation)


def _stuck(
    exercise_id: str, articulation: AnyArticulation, played: Sequence[Played], ending: date
) -> StuckTempo | None:
    since = ending - STUCK
    before = [round_ for day, round_ in played if day <= since]
    if sum(round_.secure is not None for round_ in before) < ENOUGH_ROUNDS:
        return None
    held, held_before = secure_tempo(r for d, r in played if d > since), secure_tempo(before)
    tries = [
        day
        for day, round_ in played
        if day > since and round_.secure is False and round_.tempo_bpm > (held or 0.0)
    ]
    rose = held is not None and (held_before is None or held > held_before)
    if rose or len(tries) < ENOUGH_ROUNDS or len(set(tries)) < ENOUGH_DAYS:
        return None
    return StuckTempo(
        exercise_id=exercise_id,
        articulation=articulation,
        held_bpm=held,
        held_before_bpm=held_before,
        tries=len(tries),
        days=len(set(tries)),
    )


def _played(sessions: Iterable[SessionLog]) -> Iterator[Played]:
    for log in sessions:
        for round_ in log.rounds:
            yield log.day, round_
