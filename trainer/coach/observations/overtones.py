"""Harmonics of one fingering against the true notes of the same pitch."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise
from statistics import median

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import Observation, sure_median

Pair = tuple[NoteMark, NoteMark]
"""A harmonic, and the true note of the same pitch after it."""


def in_harmonics(rounds: Sequence[Marks]) -> Iterator[Observation]:
    """Tuning and colour of the pairs; the last round is the one just played."""
    yield from _tuned_apart(rounds[-1])
    yield from _coloured_apart(rounds)


def _pairs(marks: Marks) -> list[Pair]:
    return [
        (frm, to)
        for frm, to in pairwise(marks.notes)
        if frm.harmonic and frm.written == to.written and frm.clean and to.clean
    ]


def _tuned_apart(marks: Marks) -> Iterator[Observation]:
    """A harmonic and the true note after it: the same pitch, and how far apart they stand."""
    pairs = _pairs(marks)
    apart = [
        to.cents - frm.cents for frm, to in pairs if to.cents is not None and frm.cents is not None
    ]
    if len(apart) < thresholds.OCTAVES:
        return
    amount = sure_median(apart, thresholds.HARMONIC_CENTS, thresholds.STEADIEST_CENTS)
    if amount is not None:
        yield Observation(
            Topic.VOICE,
            abs(amount) / thresholds.HARMONIC_CENTS,
            (f"true notes against harmonics, {len(apart)} pairs: {amount:+.0f} cents",),
            tuple(to.index for _, to in pairs),
            amount=amount,
            times=len(apart),
            detail="harmonic",
        )


def _coloured_apart(rounds: Sequence[Marks]) -> Iterator[Observation]:
    """True notes thinner than the harmonics before them: all of them, or one against the others.

    Both have the same pitch, so that room and microphone do the same to both; what else a lower
    fingering changes lies in every pair alike.
    """
    now = [(pair, db) for pair in _pairs(rounds[-1]) if (db := _thinner_db(pair)) is not None]
    if len(now) < thresholds.OCTAVES:
        return
    amount = sure_median(
        [db for _, db in now], thresholds.HARMONIC_TONE_DB, thresholds.STEADIEST_DB
    )
    if amount is not None and amount > 0:
        yield _thin_of(amount, [to for (_, to), _ in now], "all")
        return
    for midi, each in _beside_other_pairs(rounds).items():
        here = [to for (_, to), _ in now if to.written.midi == midi]
        if (
            here
            and len(each) >= thresholds.HABIT_TIMES
            and min(each) >= thresholds.HARMONIC_TONE_DB
        ):
            yield _thin_of(min(each), here, "one")


def _beside_other_pairs(rounds: Sequence[Marks]) -> dict[int, list[float]]:
    """By true note: how much thinner each time than the middle of that round's other pairs."""
    beside: dict[int, list[float]] = defaultdict(list)
    for marks in rounds:
        known = [(pair, db) for pair in _pairs(marks) if (db := _thinner_db(pair)) is not None]
        for (_, to), db in known:
            others = [other for (_, one), other in known if one.written.midi != to.written.midi]
            if len(others) >= thresholds.NEIGHBOURS:
                beside[to.written.midi].append(db - median(others))
    return beside


def _thinner_db(pair: Pair) -> float | None:
    """Overtones of the true note against the harmonic's; None where one was not measured well."""
    tones = [note.tone for note in pair if note.tone is not None]
    if len(tones) < 2 or any(tone.noise_share_db > thresholds.TOO_AIRY_DB for tone in tones):
        return None
    harmonic, true = tones
    return true.harmonic_balance_db - harmonic.harmonic_balance_db


def _thin_of(amount: float, notes: Sequence[NoteMark], detail: str) -> Observation:
    return Observation(
        Topic.VOICE,
        amount / thresholds.HARMONIC_TONE_DB,
        (
            f"overtones of the true note against its harmonic: {amount:+.0f} dB"
            + (" more than in the other pairs" if detail == "one" else ""),
        ),
        tuple(note.index for note in notes),
        amount=amount,
        frm=notes[0].written if detail == "one" else None,
        times=len(notes),
        detail=f"thin {detail}",
    )
