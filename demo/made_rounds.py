"""Logs of rounds made from a few facts: what invented students have played."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from statistics import median

from trainer.coach.advice import Topic
from trainer.ear.heard import State
from trainer.figures.note_figures import is_right
from trainer.figures.round_figures import median_cents
from trainer.figures.round_measures import RoundMeasures
from trainer.journal.log import NoteLog, RoundLog
from trainer.music.note import Articulation
from trainer.routine.round import Aims, RoundKind
from trainer.session.round_log import secure


def plain_round(
    notes: Sequence[NoteLog],
    *,
    started: datetime,
    seconds: float,
    exercise_id: str,
    title: str,
    kind: RoundKind = RoundKind.TECHNIQUE,
    articulation: Articulation = Articulation.SLURRED,
    tempo_bpm: float = 60.0,
    key: str = "",
    number: int = 1,
    knot: tuple[str, ...] = (),
    evenness_ms: float | None = None,
    aims: Aims = Aims(),  # noqa: B008  (frozen)
    topic: Topic | None = None,
    advice: str = "",
) -> RoundLog:
    """A round's log from its notes and a few facts; the measures are worked out from the notes."""
    return RoundLog(
        exercise_id=exercise_id,
        title=title,
        kind=kind,
        number=number,
        articulation=articulation,
        tempo_bpm=tempo_bpm,
        started=started,
        seconds=seconds,
        key=key,
        knot=knot,
        aims=aims,
        secure=secure(topic),
        advice=advice,
        topic=topic.value if topic else "",
        measures=_plain_measures(notes, evenness_ms) if notes else None,
        notes=tuple(notes),
    )


def _plain_measures(notes: Sequence[NoteLog], evenness_ms: float | None) -> RoundMeasures:
    cents = [
        note.cents for note in notes if note.cents is not None and is_right(note.state, note.cents)
    ]
    off_ms = [note.off_ms for note in notes if note.off_ms is not None]
    states = Counter(note.state for note in notes)
    return RoundMeasures(
        played=states[State.PLAYED],
        missed=states[State.MISSED],
        extra=states[State.EXTRA],
        lead_ms=median(off_ms) if off_ms else None,
        evenness_ms=evenness_ms,
        cents_median=median_cents(cents),
    )
