"""The vibrato of held notes: straight, at a rate, regular, deeper or lighter, and no louder.

No readable study gives the extent of a flute's vibrato in cents or decibels, and teachers disagree
whether pitch or level should lead: so only rate and regularity are held against what was asked,
and depth only against the player's own round before.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil
from statistics import median

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import Observation, names
from trainer.routine.round import Depth


def in_vibrato(marks: Marks, earlier: Sequence[Marks]) -> Iterator[Observation]:
    """A straight tone that isn't, pulses at another rate or uneven, and depth as asked."""
    asked = marks.manner.vibrato
    held = [note for note in marks.heard if note.pulse is not None]
    if asked is None or len(held) < thresholds.HELD_NOTES:
        return
    if asked.per_beat == 0:
        yield from _not_straight(held)
        return
    if asked.depth is not Depth.LIGHTER and _is_straight(held):
        if _most_cents(held) < thresholds.STRAIGHT_CENTS:
            yield _about_pulses(held, "none", 2.0, 0.0, ())
        return
    yield from _rate(held, asked.per_beat * marks.tempo_bpm / 60)
    yield from _depth(held, asked.depth, _round_before(marks, earlier))
    yield from _louder(marks, held, earlier)


def _is_straight(held: Sequence[NoteMark]) -> bool:
    return (
        _depth_cents(held) < thresholds.STRAIGHT_CENTS and _depth_db(held) < thresholds.STRAIGHT_DB
    )


def _not_straight(held: Sequence[NoteMark]) -> Iterator[Observation]:
    moving = [
        note
        for note in held
        if note.pulse is not None
        and note.pulse.cents >= thresholds.STRAIGHT_CENTS
        and note.pulse.regular >= thresholds.REGULAR
    ]
    if len(moving) >= max(thresholds.HABIT_TIMES, len(held) / 2):
        cents = _depth_cents(moving)
        lines = (f"{names(n.written for n in moving)}: {_deep(moving)} to either side",)
        yield _about_pulses(moving, "straight", cents / thresholds.STRAIGHT_CENTS, cents, lines)


def _rate(held: Sequence[NoteMark], asked_hz: float) -> Iterator[Observation]:
    """Another rate than asked, in nearly every note to the same side: a room may hide one's."""
    rates = [note.pulse.hz for note in held if note.pulse is not None]
    regular = median(note.pulse.regular for note in held if note.pulse is not None)
    shares = sorted((rate / asked_hz - 1 for rate in rates), key=abs)
    same_way = sum(share * shares[-1] > 0 for share in shares)
    nearest = len(shares) - ceil(thresholds.MOSTLY * len(shares))
    share = shares[nearest] if same_way >= thresholds.MOSTLY * len(shares) else 0.0
    lines = (
        f"{median(rates):.1f} pulses a second, asked {asked_hz:.1f}",
        f"{100 * regular:.0f} % of the movement is at that rate",
    )
    if abs(share) >= thresholds.PULSE_RATE_SHARE:
        yield _about_pulses(held, "rate", abs(share) / thresholds.PULSE_RATE_SHARE, share, lines)
    elif regular < thresholds.REGULAR:
        yield _about_pulses(held, "uneven", thresholds.REGULAR / max(regular, 0.05), regular, lines)


def _depth(
    held: Sequence[NoteMark], asked: Depth | None, before: Marks | None
) -> Iterator[Observation]:
    """Deeper or lighter than the player's own round before: a room takes as much of both."""
    if asked is None or before is None:
        return
    earlier = [note for note in before.heard if note.pulse is not None]
    if len(earlier) < thresholds.HELD_NOTES or _depth_cents(earlier) <= 0:
        return
    ratio = _depth_cents(held) / _depth_cents(earlier)
    wanted = ratio if asked is Depth.DEEPER else 1 / max(ratio, 1e-3)
    if wanted < thresholds.DEPTH_RATIO:
        lines = (f"{_deep(held)} to either side; the round before {_deep(earlier)}",)
        yield _about_pulses(held, str(asked), thresholds.DEPTH_RATIO / wanted, ratio, lines)


def _louder(
    marks: Marks, held: Sequence[NoteMark], earlier: Sequence[Marks]
) -> Iterator[Observation]:
    """Faster pulses without more sound, against the player's own slower ones."""
    asked = marks.manner.vibrato
    if asked is None or asked.depth is not None:
        return
    slower = [
        (vibrato.per_beat, other)
        for other in earlier
        if (vibrato := other.manner.vibrato) is not None
        and _same_task(marks, other)
        and 0 < vibrato.per_beat < asked.per_beat
    ]
    if not slower:
        return
    per_beat, before = slower[-1]
    then = {note.written: note.level_db for note in before.heard if note.level_db is not None}
    grown = [
        note.level_db - then[note.written]
        for note in held
        if note.level_db is not None and note.written in then
    ]
    if len(grown) >= thresholds.HELD_NOTES and min(grown) > 0:
        amount = median(grown)
        if amount >= thresholds.LOUDER_DB:
            lines = (f"{amount:+.1f} dB against {per_beat} a beat",)
            yield _about_pulses(held, "louder", amount / thresholds.LOUDER_DB, amount, lines)


def _about_pulses(
    notes: Sequence[NoteMark],
    detail: str,
    strength: float,
    amount: float,
    lines: tuple[str, ...],
) -> Observation:
    return Observation(
        Topic.VIBRATO,
        strength,
        lines or (f"{names(note.written for note in notes)}: no pulse",),
        tuple(note.index for note in notes),
        amount=amount,
        times=len(notes),
        detail=detail,
    )


def _deep(held: Sequence[NoteMark]) -> str:
    """'12 cents', or 'at least 6 cents' where the room takes of it."""
    known = all(note.pulse.depth_known for note in held if note.pulse is not None)
    return f"{'' if known else 'at least '}{_depth_cents(held):.0f} cents"


def _depth_cents(held: Sequence[NoteMark]) -> float:
    return median(note.pulse.cents for note in held if note.pulse is not None)


def _most_cents(held: Sequence[NoteMark]) -> float:
    return median(note.pulse.most_cents for note in held if note.pulse is not None)


def _depth_db(held: Sequence[NoteMark]) -> float:
    return median(note.pulse.db for note in held if note.pulse is not None)


def _round_before(marks: Marks, earlier: Sequence[Marks]) -> Marks | None:
    """The last plain round of the same exercise at the same rate."""
    asked = marks.manner.vibrato
    for other in reversed(earlier):
        then = other.manner.vibrato
        if not _same_task(marks, other) or then is None or asked is None:
            continue
        if then.per_beat == asked.per_beat and then.depth is not asked.depth:
            return other
    return None


def _same_task(marks: Marks, other: Marks) -> bool:
    return (marks.exercise_id, marks.kind) == (other.exercise_id, other.kind)
