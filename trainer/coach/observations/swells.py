"""Swells: level that hardly moves, and pitch that moves with it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import median

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import Observation
from trainer.routine.round import RoundKind, Swell


def in_swells(marks: Marks, _: Sequence[Marks]) -> Iterator[Observation]:
    """Level that hardly moves, and pitch that moves with it."""
    asked = marks.manner.swell
    held = [note for note in marks.heard if note.swelling is not None]
    if asked is None or len(held) < thresholds.HELD_NOTES or marks.kind is not RoundKind.SWELLS:
        return
    yield from _pitch_with_level(held)
    sizes = [_swelled_db(note, asked) for note in held]
    if median(sizes) < thresholds.SWELL_DB:
        yield Observation(
            Topic.SWELL,
            thresholds.SWELL_DB / max(median(sizes), 0.5),
            tuple(f"{note.written}: {size:.0f} dB" for note, size in zip(held, sizes, strict=True)),
            tuple(note.index for note in held),
            amount=median(sizes),
            times=len(held),
            detail=str(asked),
        )


def _swelled_db(note: NoteMark, asked: Swell) -> float:
    swelling = note.swelling
    if swelling is None:
        return 0.0
    return {
        Swell.LOUDER: swelling.grew_db,
        Swell.SOFTER: swelling.fell_db,
        Swell.THERE_AND_BACK: min(swelling.grew_db, swelling.fell_db),
    }[asked]


def _pitch_with_level(held: Sequence[NoteMark]) -> Iterator[Observation]:
    bends = [(note, _bend_cents(note)) for note in held]
    known = [(note, bend) for note, bend in bends if bend is not None]
    if len(known) < thresholds.HELD_NOTES:
        return
    amount = median(bend for _, bend in known)
    same_way = sum(bend * amount > 0 for _, bend in known)
    if abs(amount) >= thresholds.SAG_CENTS and same_way >= thresholds.MOSTLY * len(known):
        yield Observation(
            Topic.SWELL,
            abs(amount) / thresholds.SAG_CENTS,
            tuple(f"{note.written}: {bend:+.0f} cents from soft to loud" for note, bend in known),
            tuple(note.index for note, _ in known),
            amount=amount,
            times=len(known),
            detail="pitch",
        )


def _bend_cents(note: NoteMark) -> float | None:
    """How far the pitch went from the softest to the loudest of the note."""
    swelling = note.swelling
    if swelling is None or swelling.cents_per_db is None:
        return None
    return swelling.cents_per_db * max(swelling.grew_db, swelling.fell_db)
