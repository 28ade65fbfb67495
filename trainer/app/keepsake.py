"""Then and now: the week's last round that went well and has an old take of the same to be set
beside it.

What went well is what the coach said of the round; that two rounds are the same thing, and what
changed between them, is what is said after a round of the last time. Nothing is judged here anew.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from trainer.app.begun_walk import take_title
from trainer.app.paths import Paths
from trainer.app.settings import read_settings
from trainer.coach.advice import FigureThenAndNow
from trainer.coach.last_time import beside, same
from trainer.journal.kept import kept_sessions
from trainer.journal.log import RoundLog
from trainer.routine.problem import listed
from trainer.routine.round import RoundKind
from trainer.session.history_from_journal import past_round
from trainer.sound.kept_takes import kept_at, kept_takes, words_of_title
from trainer.wording.days import day_words
from trainer.wording.sentence_list import say

WEEK = timedelta(days=7)
COMPARABLE = 1.25
"""One tempo may be so many times the other: further apart it is another exercise. Our own."""
LATEST = timedelta(minutes=30)
"""A take is kept when its round is over, so long after its beginning at most."""
WHOLE_SECOND = timedelta(seconds=1)
"""A take's name leaves out what is less."""
NOT_KEPT = (
    "Takes are not kept, so there is nothing old to hear. Settings, or 'trainer takes --keep yes', "
    "keep each round's sound on this computer from now on."
)
NONE_YET = (
    "No round that went well this week has an older take of the same to be heard beside it. Takes "
    "are kept from now on, the oldest as long as there is room."
)


@dataclass(frozen=True)
class Keepsake:
    """Two takes of the same, and what is known of both."""

    title: str
    then: RoundLog
    now: RoundLog
    then_file: Path
    now_file: Path
    figures: tuple[FigureThenAndNow, ...]

    @property
    def then_words(self) -> str:
        """'Wednesday 14 October, at 60'."""
        return _when(self.then)

    @property
    def now_words(self) -> str:
        """'Friday 27 November, at 66'."""
        return _when(self.now)

    @property
    def changed(self) -> str:
        """What changed, a sentence; only what the figures show."""
        told = [_CHANGES[one.unit, one.better] for one in self.figures if one.better is not None]
        if not told:
            return say("then and now alike")
        return say("then and now", what=listed(told, "and"))


_CHANGES = {
    ("%", True): "more notes are clean",
    ("%", False): "fewer notes are clean",
    ("ms", True): "it is more even",
    ("ms", False): "it is less even",
    ("cents", True): "the notes stand nearer in tune",
    ("cents", False): "the notes stand further out of tune",
}


def keepsake(paths: Paths, today: date) -> Keepsake | str:
    """The two takes, or why there are none, a sentence.

    Raises TrainerError when the settings can't be read.
    """
    takes = [_KeptTake(file, *kept_at(file)) for file in kept_takes(paths.takes)]
    if not takes and not read_settings(paths.config_file).keep_takes:
        return NOT_KEPT
    first = today - WEEK + timedelta(days=1)
    ours = _taken(paths, first, today, takes)
    days = _Days(paths, [take for take in takes if take.at.date() < first])
    found = [
        Keepsake(now.title, then, now, then_file, now_file, last.figures)
        for now, now_file in ours
        if now.secure and now.kind is not RoundKind.KNOT
        for then, then_file in days.oldest_of(now)
        if (last := beside(past_round(now), past_round(then), "")) is not None
    ]
    return max(found, key=_longest_way, default=NONE_YET)


def _longest_way(one: Keepsake) -> tuple[timedelta, datetime]:
    """How far the two lie apart in days; of several, the last played."""
    days = one.now.started.date() - one.then.started.date()
    return days, one.now.started


@dataclass(frozen=True)
class _KeptTake:
    """A kept take, as its name tells of it."""

    file: Path
    at: datetime
    """By the clock on the wall."""
    words: str
    """Of the round's title and tempo."""


class _Days:
    """The older takes with their rounds, a day's sessions read when they are asked for."""

    def __init__(self, paths: Paths, takes: Sequence[_KeptTake]) -> None:
        """takes: oldest first."""
        self._paths = paths
        self._takes = takes
        self._read: dict[date, Sequence[tuple[RoundLog, Path]]] = {}

    def oldest_of(self, now: RoundLog) -> Sequence[tuple[RoundLog, Path]]:
        """The oldest round that is the same, at a tempo that compares, as a list of one or none."""
        words = _without_tempo(words_of_title(take_title(now)))
        for take in self._takes:
            if _without_tempo(take.words) != words:
                continue
            for then, file in self._of_day(take.at.date()):
                alike = file == take.file and same(past_round(now), past_round(then))
                if alike and _near(now, then):
                    return [(then, file)]
        return []

    def _of_day(self, day: date) -> Sequence[tuple[RoundLog, Path]]:
        if day not in self._read:
            takes = [take for take in self._takes if take.at.date() == day]
            self._read[day] = _taken(self._paths, day, day, takes)
        return self._read[day]


def _without_tempo(words: str) -> str:
    return words.rpartition(" ")[0]


def _near(one: RoundLog, other: RoundLog) -> bool:
    slower, faster = sorted((one.tempo_bpm, other.tempo_bpm))
    return faster <= COMPARABLE * slower


def _taken(
    paths: Paths, first: date, last: date, takes: Sequence[_KeptTake]
) -> list[tuple[RoundLog, Path]]:
    """The rounds of these days whose sound was kept, each with its take, oldest first."""
    sessions, _ = kept_sessions(paths.journal_folders, first, last)
    rounds = sorted(
        (one for session in sessions for one in session.rounds if not one.heard_from),
        key=_by_the_wall,
    )
    found = []
    for take in takes:
        begun = bisect_right(rounds, take.at + WHOLE_SECOND, key=_by_the_wall)
        round_ = rounds[begun - 1] if begun else None
        if round_ is None or take.at - _by_the_wall(round_) > LATEST:
            continue
        if take.words == words_of_title(take_title(round_)):
            found.append((round_, take.file))
    return found


def _by_the_wall(round_: RoundLog) -> datetime:
    """When it began by the clock on the wall, which names the takes."""
    return round_.started.replace(tzinfo=None)


def _when(round_: RoundLog) -> str:
    day = round_.started
    return f"{day_words(day)}, at {round_.tempo_bpm:.0f}"
