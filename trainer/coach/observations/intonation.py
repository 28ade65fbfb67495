"""Registers, single notes, and the whole round against the tuning."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from statistics import median

import numpy as np

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.finger_changes import register_of
from trainer.coach.marks import AimName, Marks, NoteMark
from trainer.coach.observations.observation import Observation, certainty, recent
from trainer.figures.enough import FIGURE_NOTES
from trainer.figures.note_figures import NOTE_CENTS


def in_tuning(marks: Marks, earlier: Sequence[Marks]) -> Iterator[Observation]:
    """High and low notes, then the middle, then single notes.

    What stands off the player's own middle, or a note's neighbours, is off only as far as it stands
    off the tuning on the same side: where the middle is sharp, low notes in tune are not flat.
    """
    yield from _held(marks)
    notes = _tuned(marks)
    if len(notes) < FIGURE_NOTES:
        return
    middle = _own_middle(notes)
    high = _register(marks, middle, "high", Topic.TUNING_HIGH)
    low = _register(marks, middle, "low", Topic.TUNING_LOW)
    yield from (seen for seen in (high, low) if seen is not None)
    yield from _whole(marks, middle, notes)
    yield from _single(marks, recent(marks, earlier))


def _held(marks: Marks) -> Iterator[Observation]:
    """Long notes that sink or rise while they are held."""
    long = [
        note
        for note in marks.heard
        if note.drift_cents is not None and (note.seconds or 0.0) >= thresholds.LONG_S
    ]
    drifts = [note.drift_cents for note in long if note.drift_cents is not None]
    if len(drifts) < thresholds.REGISTER_NOTES:
        return
    amount = float(np.median(drifts))
    same_way = sum(np.sign(drift) == np.sign(amount) for drift in drifts)
    if abs(amount) >= thresholds.SAG_CENTS and same_way >= thresholds.MOSTLY * len(drifts):
        yield Observation(
            Topic.HELD,
            abs(amount) / thresholds.SAG_CENTS,
            (f"end against beginning of {len(drifts)} long notes: {amount:+.0f} cents",),
            tuple(note.index for note in long),
            amount=amount,
            times=len(drifts),
        )


def _tuned(marks: Marks) -> list[NoteMark]:
    return [note for note in marks.heard if note.cents is not None]


def _cents(notes: Sequence[NoteMark]) -> list[float]:
    return [note.cents for note in notes if note.cents is not None]


def _own_middle(notes: Sequence[NoteMark]) -> list[NoteMark]:
    """The middle register where enough of it was played, else everything."""
    middle = [note for note in notes if register_of(note.written) == "middle"]
    return middle if len(middle) >= FIGURE_NOTES else list(notes)


def _register(
    marks: Marks, middle: Sequence[NoteMark], name: str, topic: Topic
) -> Observation | None:
    """The part of a register, from some note outwards, that stands furthest from the middle."""
    inside = [note for note in _tuned(marks) if register_of(note.written) == name]
    outwards: Callable[[int, int], bool] = (
        (lambda midi, edge: midi >= edge) if name == "high" else (lambda midi, edge: midi <= edge)
    )
    centre = float(np.median(_cents(middle)))
    found = [
        seen
        for edge in sorted({note.written.midi for note in inside})
        if (seen := _part(marks, [n for n in inside if outwards(n.written.midi, edge)], centre))
    ]
    if not found:
        return None
    part = max(found, key=lambda part: abs(certainty(_against(part, centre), 1.0)))
    amount = float(np.mean(_against(part, centre)))
    edge = min(part, key=lambda note: note.written.midi * (1 if name == "high" else -1))
    return Observation(
        topic,
        abs(amount) / thresholds.REGISTER_CENTS,
        (
            f"{len(part)} notes from {edge.written} {'up' if name == 'high' else 'down'}: "
            f"{amount:+.0f} cents off the tuning and your own middle ({centre:+.0f})",
        ),
        tuple(note.index for note in part),
        amount=amount,
        frm=edge.written,
        times=len(part),
    )


def _part(marks: Marks, part: list[NoteMark], centre: float) -> list[NoteMark] | None:
    """The notes, when they surely stand off the centre by more than the threshold."""
    pitches = _of_each_pitch(part, centre)
    if len(part) < thresholds.REGISTER_NOTES or len(pitches) < thresholds.REGISTER_PITCHES:
        return None
    off = [float(np.median(each)) for each in pitches]
    of_each = np.maximum(_floor_cents(part), [np.std(each) for each in pitches])
    spread = float(max(np.sqrt(np.mean(of_each**2)), np.std(off)))
    usual = min(abs(float(np.mean(off))), abs(float(np.median(off))))  # not by one note alone
    surely = usual - spread / math.sqrt(len(off))
    far = surely >= _line_cents(marks, thresholds.REGISTER_CENTS)
    return part if far and abs(certainty(off, spread)) >= thresholds.CERTAIN else None


def _floor_cents(part: Sequence[NoteMark]) -> float:
    """Spread that its pitches have at least: that of a fast note is mostly its beginning's."""
    lasted_s = [note.seconds for note in part if note.seconds is not None]
    fast = bool(lasted_s) and float(np.median(lasted_s)) < thresholds.FAST_S
    return thresholds.FAST_SPREAD_CENTS if fast else thresholds.STEADIEST_CENTS


def _of_each_pitch(part: Sequence[NoteMark], centre: float) -> list[list[float]]:
    """What each written pitch stands off the centre each time. A room draws a pitch the same way
    whenever it comes, so coming again is no new evidence about the register; but by what its times
    differ it isn't known."""
    cents: dict[int, list[float]] = defaultdict(list)
    for note in part:
        if note.cents is not None:
            cents[note.written.midi].append(_off_all(note.cents - centre, note.cents))
    return list(cents.values())


def _line_cents(marks: Marks, least: float) -> float:
    """From where a figure is worth a word: a teacher's wide aim moves it outwards."""
    asked = [aim.asked for aim in marks.aims if aim.name is AimName.CENTS]
    return max(least, thresholds.SHARE_OF_AIM * asked[0]) if asked else least


def _against(notes: Sequence[NoteMark], centre: float) -> list[float]:
    return [_off_all(cents - centre, cents) for cents in _cents(notes)]


def _whole(
    marks: Marks, middle: Sequence[NoteMark], notes: Sequence[NoteMark]
) -> Iterator[Observation]:
    """The middle against the tuning, where all pitches together stand off it surely, and on that
    side; of one pitch alone no more is known than of a single note."""
    off = [float(np.median(each)) for each in _of_each_pitch(notes, 0.0)]
    usual = (float(np.median(_cents(middle))), float(np.median(off)))
    amount = min(usual, key=abs) if usual[0] * usual[1] > 0 else 0.0
    spread = max(thresholds.STEADIEST_CENTS, float(np.std(off)))
    sure = abs(certainty([amount] * len(off), 1.25 * spread)) >= thresholds.CERTAIN
    least = _note_line(middle) if len(off) == 1 else thresholds.TUNING_CENTS
    if abs(amount) >= _line_cents(marks, least) and sure:
        yield Observation(
            Topic.TUNING,
            abs(amount) / thresholds.TUNING_CENTS,
            (f"median of {len(middle)} notes: {amount:+.0f} cents",),
            amount=amount,
            times=len(middle),
        )


def _single(marks: Marks, rounds: Sequence[Marks]) -> Iterator[Observation]:
    """A named note that stands off its neighbours every time."""
    off: dict[int, list[float]] = defaultdict(list)
    for other in rounds:
        for note, cents in _off_neighbours(other):
            off[note.written.midi].append(cents)
    spread = max(thresholds.STEADIEST_CENTS, _spread(marks))
    for midi, each in off.items():
        here = [note for note in marks.heard if note.written.midi == midi]
        amount = sorted(each, key=abs)[(len(each) - 1) // 2]  # one slip never makes it
        if here and abs(amount) >= _note_line(here) and _always(each, amount, spread):
            yield Observation(
                Topic.TUNING,
                abs(amount) / _note_line(here),
                (f"{here[0].written}: {amount:+.0f} cents off its neighbours, {len(each)} times",),
                tuple(note.index for note in here),
                amount=amount,
                frm=here[0].written,
                times=len(each),
            )


def _note_line(notes: Sequence[NoteMark]) -> float:
    """From how many cents on these notes stand off by themselves, by more where one is fast.

    A line's last note may only seem long, as the room goes on after it.
    """
    shortest_s = min(note.seconds or 0.0 for note in notes)
    return thresholds.FAST_NOTE_CENTS if shortest_s < thresholds.FAST_S else NOTE_CENTS


def _always(cents: Sequence[float], usual: float, spread: float) -> bool:
    """More than once, on the same side each time, and surely, whatever its times differ by."""
    own_spread = max(spread, float(np.std(cents)))
    return (
        len(cents) >= thresholds.HABIT_TIMES
        and len({np.sign(one) for one in cents}) == 1
        and abs(certainty([usual] * len(cents), own_spread)) >= thresholds.CERTAIN
    )


def _off_neighbours(marks: Marks) -> Iterator[tuple[NoteMark, float]]:
    """Each note's cents against the median of the notes around it in pitch, itself left out.

    Against the player's own middle, or the tuning, where it is nearer to that: what stands beside a
    note that is off isn't off itself.
    """
    tuned = _tuned(marks)
    cents: dict[int, list[float]] = defaultdict(list)
    for note in tuned:
        cents[note.written.midi] += _cents([note])
    around = {
        midi: [
            one
            for other, each in cents.items()
            if 0 < abs(other - midi) <= thresholds.NEIGHBOURHOOD
            for one in each
        ]
        for midi in cents
    }
    middles = {
        midi: median(each) for midi, each in around.items() if len(each) >= thresholds.NEIGHBOURS
    }
    if not middles:
        return
    centre = median(_cents(_own_middle(tuned)))
    for note in tuned:
        if note.cents is not None and note.written.midi in middles:
            off = (note.cents - middles[note.written.midi], note.cents - centre, note.cents)
            yield note, _off_all(*off)


def _off_all(*off: float) -> float:
    """The smallest of distances on the same side; of some on either side, none."""
    return min(off, key=abs) if min(off) * max(off) > 0 else 0.0


def _spread(marks: Marks) -> float:
    off = [cents for _, cents in _off_neighbours(marks)]
    return 1.4826 * float(np.median(np.abs(off))) if off else 0.0
