"""Every trouble spot with its story: the open ones, the heaviest first, then the healed ones."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from trainer.coach.breakdown import RETURNING
from trainer.coach.history import OldKnot
from trainer.coach.knots import knot_name as name_of
from trainer.journal.findings import FindingKind, WeekFinding
from trainer.journal.log import RoundLog, SessionLog
from trainer.journal.technique import secure_tempo
from trainer.journal.trouble import knot_name
from trainer.music.pitch import Pitch
from trainer.routine.round import RoundKind
from trainer.session.history_from_journal import history_of
from trainer.session.view import ShelvedSpot

SPOT = "trouble spot"
"""The exercise a spot is practised under that was never taken out of one."""
SPOT_BPM = 60.0
"""The tempo of a spot of which none is known (common practice, no source)."""
SLOWEST_BPM, FASTEST_BPM = 30.0, 120.0
"""A spot is begun between these: calmly. Our own choice."""


def shelf_of(
    findings: Sequence[WeekFinding], sessions: Sequence[SessionLog], today: date
) -> tuple[ShelvedSpot, ...]:
    """The spots of these sessions, oldest first, on a day.

    `findings`: of the week that ends today. What they name is open, and the heaviest comes first;
    then what was practised before and didn't end smooth; then what did, the longest unseen first.
    """
    knots = history_of(sessions, today + timedelta(days=1)).knots
    by_name = {name_of(knot.pitches): knot for knot in knots}
    open_now = [found for found in findings if found.kind is FindingKind.SPOT]
    named = {found.what for found in open_now}
    others = [knot for name, knot in by_name.items() if name not in named]
    others.sort(key=lambda knot: (knot.smooth_days > 0, knot.last, knot.exercise_id))
    return (
        *(_found(found, by_name.get(found.what), sessions, today) for found in open_now),
        *(_old(knot, sessions, today) for knot in others),
    )


def spot_due(shelf: Sequence[ShelvedSpot]) -> ShelvedSpot | None:
    """The one that needs it most: the first open one, else a healed one that is due again."""
    due = [spot for spot in shelf if not spot.healed] or [
        spot for spot in shelf if spot.due_days <= 0
    ]
    return due[0] if due else None


def _found(
    found: WeekFinding, knot: OldKnot | None, sessions: Sequence[SessionLog], today: date
) -> ShelvedSpot:
    """One that still goes wrong, taken out before or not."""
    rounds = list(_rounds(found.what, sessions))
    days = [day for day, _ in rounds] or [today]
    return ShelvedSpot(
        exercise_id=knot.exercise_id if knot is not None else SPOT,
        pitches=tuple(map(Pitch.parse, found.what.split("–"))),
        begin_bpm=_held(found.bpm or SPOT_BPM),
        best_bpm=secure_tempo(round_ for _, round_ in rounds),
        met_days=(today - min(days)).days,
        last_days=(today - max(days)).days,
        due_days=0,
        healed=False,
    )


def _old(knot: OldKnot, sessions: Sequence[SessionLog], today: date) -> ShelvedSpot:
    """One that was practised before."""
    rounds = list(_rounds(name_of(knot.pitches), sessions))
    last = rounds[-1][1].tempo_bpm if rounds else SPOT_BPM
    return ShelvedSpot(
        exercise_id=knot.exercise_id,
        pitches=knot.pitches,
        begin_bpm=_held(last * RETURNING[0]),
        best_bpm=secure_tempo(round_ for _, round_ in rounds),
        met_days=(today - min((day for day, _ in rounds), default=knot.last)).days,
        last_days=(today - knot.last).days,
        due_days=knot.due_days(today),
        healed=knot.smooth_days > 0,
    )


def _rounds(name: str, sessions: Sequence[SessionLog]) -> Iterator[tuple[date, RoundLog]]:
    """The rounds in which a spot was practised on its own."""
    for log in sessions:
        for round_ in log.rounds:
            if round_.kind is RoundKind.KNOT and knot_name(round_) == name:
                yield log.day, round_


def _held(bpm: float) -> float:
    return min(FASTEST_BPM, max(SLOWEST_BPM, float(round(bpm))))
