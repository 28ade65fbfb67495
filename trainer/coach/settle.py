"""Settling: out of time, the next note is due only when this one stands in tune and steady.

Readings come from the live ear. A note stands while the mean pitch of every stretch of about one
vibrato cycle lies within the aim; when it has stood long enough, it is settled.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from statistics import fmean, linear_regression, pstdev

from trainer.coach import thresholds
from trainer.coach.advice import Ask, Standing
from trainer.coach.marks import Marks, NoteMark
from trainer.ear.heard import WRONG_SEMITONES, HeardNote, LiveReading, State, Take
from trainer.figures.round_measures import note_counts
from trainer.music.note import Note
from trainer.routine.round import Round

CYCLE_S = 0.2
"""About one vibrato cycle: most flutists' lie between 5 and 7 Hz (L. Garrison, Visualizing
Vibrato, British Flute Society 2012); a mean over it leaves the vibrato out."""
FIRST_S = (0.08, 0.3)
"""What of a new note counts as where it began: after its attack, before anyone can mend it.
Our own estimate."""
FIRST_READINGS, FIRST_SWAYS_CENTS = 22, 3.0
"""... where half of it was heard (a reading in 5 ms) and lies along a straight line within this
(standard deviation): the note before, still ringing in a room, sways it and draws it aside. Of 116
beginnings of recorded notes in a hall of 1.4 s 20 were read more than 8 cents off, of the 68 that
sway no more none (our own measurement)."""
LOST_S = 0.12
"""A shorter gap in the tone doesn't end a note. Our own estimate."""


@dataclass(frozen=True)
class Settled:
    """A note that is behind us."""

    index: int
    began_s: float | None
    """First heard, in the take's seconds; None where it was passed without sounding."""
    ended_s: float
    """When it was settled, or passed."""
    first_cents: float | None
    """Where it began; None where what rings into it hides that."""
    cents: float | None
    """Where it stood; where it was passed, its last cycle."""
    spread_cents: float
    level_db: float | None
    stood: bool
    """False where the student went on before it stood."""

    def waited_s(self, stands_s: float) -> float | None:
        """How long it took until it began to stand; None where it never stood."""
        if not self.stood or self.began_s is None:
            return None
        return max(0.0, self.ended_s - self.began_s - stands_s)


@dataclass(frozen=True)
class Settling:
    """An out-of-time round as far as it has come."""

    expected_midi: tuple[float, ...]
    """Fractional, in the tuning in force."""
    aim_cents: float
    stands_s: float
    settled: tuple[Settled, ...] = ()
    heard: tuple[LiveReading, ...] = ()
    """Readings near the due note's pitch, gaps shorter than LOST_S left out."""
    other: bool = False
    """Another note sounds now."""
    now_s: float = 0.0
    lifted: bool = True
    """False while the note before, of the same pitch, still sounds on."""

    @property
    def due(self) -> int | None:
        """The note to be played; None when all are behind us."""
        return len(self.settled) if len(self.settled) < len(self.expected_midi) else None


def begin(expected_midi: Sequence[float], aim_cents: float | None, stands_s: float) -> Settling:
    """The round before its first note."""
    aim = thresholds.SETTLE_CENTS if aim_cents is None else aim_cents
    return Settling(tuple(expected_midi), aim, stands_s)


def after(state: Settling, readings: Iterable[LiveReading]) -> Settling:
    """The round some readings later; readings in order of time."""
    for reading in readings:
        state = _after_one(state, reading)
    return state


def passed(state: Settling) -> Settling:
    """The student goes on to the next note, standing or not."""
    return state if state.due is None else _behind(state, stood=False)


def standing(state: Settling) -> Standing | None:
    """What the due note needs now; None when all are behind us."""
    if state.due is None:
        return None
    if not state.heard:
        return Standing(state.due, Ask.OTHER if state.other else Ask.BEGIN, None, 0.0)
    cents = _mean(state, _cycle(state.heard, state.now_s))
    share = min(1.0, _stands_since_s(state) / state.stands_s)
    if cents is None or abs(cents) <= state.aim_cents:
        return Standing(state.due, Ask.HOLD, cents, share)
    return Standing(state.due, Ask.LOWER if cents > 0 else Ask.HIGHER, cents, 0.0)


def _after_one(state: Settling, reading: LiveReading) -> Settling:
    if state.due is None:
        return state
    state = replace(state, now_s=reading.time_s)
    near = _is_near(state, reading)
    if not state.lifted:
        return replace(state, lifted=not near)
    lost = not near and bool(state.heard) and reading.time_s - state.heard[-1].time_s > LOST_S
    if near:
        state = replace(state, heard=(*_kept(state), reading), other=False)
    elif lost or not state.heard:
        state = replace(state, heard=(), other=reading.midi is not None)
    return _behind(state, stood=True) if _stands_since_s(state) >= state.stands_s else state


def _is_near(state: Settling, reading: LiveReading) -> bool:
    due = state.due
    return (
        due is not None
        and reading.midi is not None
        and abs(reading.midi - state.expected_midi[due]) < WRONG_SEMITONES
    )


def _kept(state: Settling) -> tuple[LiveReading, ...]:
    """The note's beginning and what can still matter of it, so that a long wait costs nothing."""
    beginning = [one for one in state.heard if one.time_s - state.heard[0].time_s <= FIRST_S[1]]
    oldest_s = state.now_s - state.stands_s - 2 * CYCLE_S
    rest = [one for one in state.heard[len(beginning) :] if one.time_s >= oldest_s]
    return (*beginning, *rest)


def _stands_since_s(state: Settling) -> float:
    """For how long every cycle up to now has lain within the aim."""
    if not state.heard:
        return 0.0
    first_s = state.heard[0].time_s + FIRST_S[0]
    ends = [state.now_s - step * CYCLE_S for step in range(round(state.stands_s / CYCLE_S) + 1)]
    cycles = (_mean(state, _cycle(state.heard, end)) for end in ends if end - CYCLE_S >= first_s)
    standing_cycles = list(
        takewhile(lambda cents: cents is not None and abs(cents) <= state.aim_cents, cycles)
    )
    return len(standing_cycles) * CYCLE_S


def _cycle(heard: Sequence[LiveReading], end_s: float) -> list[LiveReading]:
    return [one for one in heard if end_s - CYCLE_S < one.time_s <= end_s + 1e-6]


def _mean(state: Settling, readings: Sequence[LiveReading]) -> float | None:
    cents = _cents(state, readings)
    return fmean(cents) if cents else None


def _cents(state: Settling, readings: Sequence[LiveReading]) -> list[float]:
    if state.due is None:
        return []
    expected = state.expected_midi[state.due]
    return [100 * (one.midi - expected) for one in readings if one.midi is not None]


def _behind(state: Settling, *, stood: bool) -> Settling:
    """The due note is over; the next one is due."""
    assert state.due is not None
    steady_s = state.now_s - state.stands_s + CYCLE_S  # the first cycle may still be coming in
    last = [one for one in state.heard if one.time_s > steady_s]
    last = last if stood else _cycle(state.heard, state.now_s)
    began_s = state.heard[0].time_s if state.heard else None
    first = [
        one
        for one in state.heard
        if began_s is not None and FIRST_S[0] <= one.time_s - began_s <= FIRST_S[1]
    ]
    cents = _cents(state, last)
    settled = Settled(
        index=state.due,
        began_s=began_s,
        ended_s=state.now_s,
        first_cents=_beginning(state, first),
        cents=fmean(cents) if cents else None,
        spread_cents=pstdev(cents) if len(cents) > 1 else 0.0,
        level_db=fmean(one.level_db for one in last) if last else None,
        stood=stood,
    )
    return replace(
        state,
        settled=(*state.settled, settled),
        heard=(),
        other=False,
        lifted=not _same_again(state.expected_midi, state.due),
    )


def _beginning(state: Settling, first: Sequence[LiveReading]) -> float | None:
    """Where a note began; None where something else may ring in it."""
    cents = _cents(state, first)
    if len(cents) < FIRST_READINGS:
        return None
    times_s = [one.time_s for one in first]
    slope, at_zero = linear_regression(times_s, cents)
    sways = pstdev(c - at_zero - slope * t for c, t in zip(cents, times_s, strict=True))
    return fmean(cents) if sways <= FIRST_SWAYS_CENTS else None


def _same_again(expected_midi: Sequence[float], index: int) -> bool:
    """The note after this one has the same pitch, and must be begun anew."""
    following = expected_midi[index + 1 : index + 2]
    return any(abs(midi - expected_midi[index]) < WRONG_SEMITONES for midi in following)


# What came of it ---------------------------------------------------------------------------------


def settled_take(
    state: Settling, sounding: Sequence[Note], sample_rate_hz: int, a4_hz: float
) -> Take:
    """What was heard, note by note, as a take."""
    notes = tuple(
        HeardNote(
            index=one.index,
            expected=sounding[one.index].pitch,
            state=State.PLAYED if one.cents is not None else State.NOT_JUDGED,
            midi=None if one.cents is None else state.expected_midi[one.index] + one.cents / 100,
            onset_s=one.began_s,
            end_s=one.ended_s,
            cents=one.cents,
            cents_spread=one.spread_cents,
            level_db=one.level_db,
        )
        for one in state.settled
    )
    first_s = next((n.onset_s for n in notes if n.onset_s is not None), 0.0)
    return Take(sample_rate_hz, a4_hz, first_s, notes)


def settled_marks(round_: Round, state: Settling, take: Take) -> Marks:
    """The round judged: how long each note took to stand, and from which side it came."""
    behind = {one.index: one for one in state.settled}
    return Marks(
        exercise_id=round_.exercise_id,
        kind=round_.kind,
        round_number=round_.number,
        articulation=round_.articulation,
        tempo_bpm=round_.tempo_bpm,
        notes=tuple(_mark(note, behind.get(note.index), state) for note in round_.notes),
        aims=(),
        measures=note_counts(take),
    )


def _mark(note: Note, settled: Settled | None, state: Settling) -> NoteMark:
    if settled is None or settled.cents is None:
        return NoteMark(note.index, note.pitch, note.start, 0, judged=False)
    return NoteMark(
        note.index,
        note.pitch,
        note.start,
        0,
        judged=True,
        cents=settled.cents,
        out_of_tune=abs(settled.cents) > state.aim_cents,
        level_db=settled.level_db,
        waited_s=settled.waited_s(state.stands_s),
        first_cents=settled.first_cents,
    )
