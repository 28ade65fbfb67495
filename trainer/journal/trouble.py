"""Steps between neighbouring notes that went wrong, and the knots that were worked on."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from trainer.ear.heard import State
from trainer.journal.log import NoteLog, RoundLog, SessionLog, judged
from trainer.journal.technique import HELD_TIMES, secure_tempo
from trainer.routine.round import RoundKind

TWICE = 2
"""What went wrong once may be chance."""
MOST_SHOWN = 6
"""The worst come first."""


@dataclass(frozen=True)
class Trouble:
    """The step from one written pitch to the next."""

    before: str
    """Empty when the note opened its round."""
    written: str
    passes: int
    """Times it was asked for and could be judged."""
    missed: int
    blips: int
    """Times a false note sounded between the two."""

    @property
    def failed(self) -> int:
        """Times it went wrong."""
        return self.missed + self.blips

    @property
    def share(self) -> float:
        """Of all passes, those that went wrong."""
        return self.failed / self.passes


@dataclass(frozen=True)
class KnotWork:
    """A knot that is or was practised on its own."""

    title: str
    rounds: int
    """This week; 0 for one left open the week before and not touched since."""
    secure_bpm: float | None
    """The fastest tempo held twice."""
    secure_before_bpm: float | None
    """The same in the week before."""
    solved: bool
    """The last two judged rounds were secure."""


def troubles(sessions: Sequence[SessionLog]) -> tuple[Trouble, ...]:
    """The steps that went wrong at least twice, most often first; no more than six."""
    passes: Counter[tuple[str, str]] = Counter()
    missed: Counter[tuple[str, str]] = Counter()
    blips: Counter[tuple[str, str]] = Counter()
    for log in sessions:
        for round_ in log.rounds:
            for before, note in _steps(round_):
                step = (before, note.written or "")
                passes[step] += 1
                missed[step] += note.state is State.MISSED
                blips[step] += note.state is State.PLAYED and note.blip
    found = (Trouble(*step, passes[step], missed[step], blips[step]) for step in passes)
    worst = sorted(
        (trouble for trouble in found if trouble.failed >= TWICE),
        key=lambda trouble: (-trouble.failed, -trouble.share, trouble.before, trouble.written),
    )
    return tuple(worst[:MOST_SHOWN])


def _steps(round_: RoundLog) -> Iterator[tuple[str, NoteLog]]:
    """Each judged expected note with the written pitch asked for before it."""
    before = ""
    for note in round_.notes:
        if note.state is State.EXTRA:
            continue
        if note.state is not State.NOT_JUDGED:
            yield before, note
        before = note.written or ""


def knots_worked(
    sessions: Sequence[SessionLog], before: Sequence[SessionLog] = ()
) -> tuple[KnotWork, ...]:
    """The week's knots in the order they were first met, then those left open the week before."""
    rounds, rounds_before = _by_name(sessions), _by_name(before)
    now = [
        KnotWork(
            title,
            len(each),
            secure_tempo(each),
            secure_tempo(rounds_before.get(title, [])),
            _solved(each),
        )
        for title, each in rounds.items()
    ]
    left_open = [
        KnotWork(title, 0, None, secure_tempo(each), solved=False)
        for title, each in rounds_before.items()
        if title not in rounds and not _solved(each)
    ]
    return (*now, *left_open)


def _by_name(sessions: Sequence[SessionLog]) -> dict[str, list[RoundLog]]:
    rounds: dict[str, list[RoundLog]] = defaultdict(list)
    for log in sessions:
        for round_ in log.rounds:
            if round_.kind is RoundKind.KNOT:
                rounds[knot_name(round_)].append(round_)
    return rounds


def knot_name(round_: RoundLog) -> str:
    """The knot practised: 'C5–D5'; the round's title where its pitches aren't known."""
    return "–".join(round_.knot) or round_.title


def _solved(rounds: Sequence[RoundLog]) -> bool:
    went_well = judged(rounds)
    return len(went_well) >= HELD_TIMES and all(went_well[-HELD_TIMES:])
