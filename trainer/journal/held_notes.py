"""How long the air lasted, how held notes kept their pitch, and how the vibrato swung."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median

from trainer.ear.heard import State
from trainer.journal.log import NoteLog, SessionLog
from trainer.journal.statistics import Spread, clearly_changed, spread
from trainer.journal.technique import Change
from trainer.routine.round import RoundKind

ENOUGH_SESSIONS = 5
"""In each week, before a change is told: notes of one session share its breath and its day
(common practice, no source)."""


@dataclass(frozen=True)
class AirAndVibrato:
    """The week's figures, None where none was heard, each with its change on the week before."""

    breath_gap_s: Spread | None
    """From the end of one breath to the start of the next, inside rounds."""
    breath_gap_change: Change | None
    held_drift_cents: Spread | None
    """Pitch at the end of a long tone against its beginning; sinking is negative."""
    held_drift_change: Change | None
    vibrato_hz: Spread | None
    vibrato_hz_change: Change | None
    vibrato_cents: Spread | None
    """Half the peak-to-peak extent."""
    vibrato_cents_change: Change | None


def air_and_vibrato(now: Sequence[SessionLog], before: Sequence[SessionLog]) -> AirAndVibrato:
    """The figures of the sessions `now`, and their changes on `before`.

    A change compares medians of sessions, where each week has five that tell.
    """

    def change(figures: _Figures) -> Change | None:
        return _change(_session_medians(before, figures), _session_medians(now, figures))

    return AirAndVibrato(
        breath_gap_s=_spread(now, _gaps_s),
        breath_gap_change=change(_gaps_s),
        held_drift_cents=_spread(now, _drifts_cents),
        held_drift_change=change(_drifts_cents),
        vibrato_hz=_spread(now, _vibrato_hz),
        vibrato_hz_change=change(_vibrato_hz),
        vibrato_cents=_spread(now, _vibrato_cents),
        vibrato_cents_change=change(_vibrato_cents),
    )


_Figures = Callable[[SessionLog], list[float]]
"""All of a session's figures of one sort."""


def _gaps_s(log: SessionLog) -> list[float]:
    return [
        after[0] - before[1]
        for round_ in log.rounds
        for before, after in zip(round_.breaths_s, round_.breaths_s[1:], strict=False)
    ]


def _drifts_cents(log: SessionLog) -> list[float]:
    return [
        note.drift_cents
        for round_ in log.rounds
        if round_.kind is RoundKind.LONG_TONES
        for note in round_.notes
        if note.state is State.PLAYED and note.drift_cents is not None
    ]


def _vibrato_hz(log: SessionLog) -> list[float]:
    return [note.vibrato_hz for note in _notes(log) if note.vibrato_hz is not None]


def _vibrato_cents(log: SessionLog) -> list[float]:
    return [note.vibrato_cents for note in _notes(log) if note.vibrato_cents is not None]


def _notes(log: SessionLog) -> Iterator[NoteLog]:
    for round_ in log.rounds:
        yield from round_.notes


def _spread(sessions: Sequence[SessionLog], figures: _Figures) -> Spread | None:
    return spread([value for log in sessions for value in figures(log)])


def _session_medians(sessions: Sequence[SessionLog], figures: _Figures) -> list[float]:
    return [median(values) for values in map(figures, sessions) if values]


def _change(before: Sequence[float], now: Sequence[float]) -> Change | None:
    if min(len(before), len(now)) < ENOUGH_SESSIONS:
        return None
    was = median(before)
    return Change(was, median(now) - was, clearly_changed(before, now))
