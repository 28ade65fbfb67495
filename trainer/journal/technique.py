"""Evenness and secure tempo of scales and arpeggios, by key and articulation, and the trend.

Evenness is compared between weeks only where there are enough rounds in both and they were played
at about the same tempo: the same fingers spread less in milliseconds when they go faster.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.statistics import Spread, clearly_changed, spread
from trainer.music.articulations import AnyArticulation, articulation_order
from trainer.routine.round import RoundKind

SCALE_KINDS = {RoundKind.TECHNIQUE, RoundKind.CLIMB}
ENOUGH_ROUNDS = 5
"""In each week, before a change of evenness is told (common practice, no source)."""
SAME_TEMPO_SHARE = 0.1
HELD_TIMES = 2
"""Once may be luck: a tempo counts as secure when it, or a faster one, was secure this often."""


@dataclass(frozen=True)
class Change:
    """A figure against the week before."""

    before: float
    change: float
    """Now minus before."""
    clear: bool
    """More than chance would commonly do."""


@dataclass(frozen=True)
class Technique:
    """One key in one articulation."""

    key: str
    """Empty where the exercises have none."""
    articulation: AnyArticulation
    rounds: int
    tempo_bpm: Spread
    """As asked for."""
    evenness_ms: Spread | None
    """Spread of onsets about an even line."""
    evenness_change: Change | None
    aim_ms: float | None
    """The strictest evenness the teacher asked for."""
    secure_bpm: float | None
    """The fastest tempo held twice."""
    secure_before_bpm: float | None
    """The same in the week before."""


def techniques(now: Sequence[SessionLog], before: Sequence[SessionLog]) -> tuple[Technique, ...]:
    """Every key and articulation practised, in that order."""
    rounds_before = _by_key(before)
    return tuple(
        _technique(key, articulation, rounds, rounds_before.get((key, articulation), []))
        for (key, articulation), rounds in sorted(_by_key(now).items(), key=_order)
    )


def _by_key(sessions: Sequence[SessionLog]) -> dict[tuple[str, AnyArticulation], list[RoundLog]]:
    rounds: dict[tuple[str, AnyArticulation], list[RoundLog]] = defaultdict(list)
    for log in sessions:
        for round_ in log.rounds:
            if round_.kind in SCALE_KINDS:
                rounds[round_.key, round_.articulation].append(round_)
    return rounds


def _order(item: tuple[tuple[str, AnyArticulation], list[RoundLog]]) -> tuple[str, tuple[int, str]]:
    (key, articulation), _ = item
    return key, articulation_order(articulation)


def _technique(
    key: str, articulation: AnyArticulation, now: Sequence[RoundLog], before: Sequence[RoundLog]
) -> Technique:
    aims = [round_.aims.evenness_ms for round_ in now if round_.aims.evenness_ms is not None]
    tempo_bpm = spread([round_.tempo_bpm for round_ in now])
    assert tempo_bpm is not None, "a key is listed for its rounds"
    return Technique(
        key=key,
        articulation=articulation,
        rounds=len(now),
        tempo_bpm=tempo_bpm,
        evenness_ms=spread([ms for ms, _ in _evenness(now)]),
        evenness_change=_evenness_change(_evenness(before), _evenness(now)),
        aim_ms=min(aims, default=None),
        secure_bpm=secure_tempo(now),
        secure_before_bpm=secure_tempo(before),
    )


def secure_tempo(rounds: Iterable[RoundLog]) -> float | None:
    """The fastest tempo such that it or faster was secure twice."""
    secure = sorted((round_.tempo_bpm for round_ in rounds if round_.secure), reverse=True)
    return secure[HELD_TIMES - 1] if len(secure) >= HELD_TIMES else None


def _evenness(rounds: Sequence[RoundLog]) -> list[tuple[float, float]]:
    """Evenness in ms and the tempo it was played at."""
    return [
        (round_.measures.evenness_ms, round_.tempo_bpm)
        for round_ in rounds
        if round_.measures is not None and round_.measures.evenness_ms is not None
    ]


def _evenness_change(
    before: Sequence[tuple[float, float]], now: Sequence[tuple[float, float]]
) -> Change | None:
    if min(len(before), len(now)) < ENOUGH_ROUNDS:
        return None
    before_ms, before_bpm = zip(*before, strict=True)
    now_ms, now_bpm = zip(*now, strict=True)
    if abs(median(now_bpm) / median(before_bpm) - 1) > SAME_TEMPO_SHARE:
        return None
    change_ms = median(now_ms) - median(before_ms)
    return Change(median(before_ms), change_ms, clearly_changed(before_ms, now_ms))


def technique_words(technique: Technique) -> str:
    """'E flat major, legato tongue'."""
    return f"{technique.key or 'no key'}, {technique.articulation}"
