"""How each note of the instrument stood in tune, also by the side it was reached from."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

from trainer.ear.heard import State
from trainer.journal.log import NoteLog, SessionLog
from trainer.journal.statistics import CHANCE, Spread, clearly_changed, spread
from trainer.music.pitch import Pitch

OUT_OF_TUNE_CENTS = 10.0
"""From how far off a note is worth a week's care (common practice, no source)."""
ENOUGH_EACH_WAY = 8
"""Times a note must be heard going up, and coming down, before the two are compared (common
practice, no source)."""
APART_CENTS = 5.0
"""From how many cents it is told that they differ (common practice, no source)."""


@dataclass(frozen=True)
class NoteTuning:
    """One written pitch over all the times it was heard."""

    written: str
    """As it was most often spelled."""
    midi: int
    """Of the written pitch; F#5 and Gb5 are one note here, one fingering."""
    cents: Spread
    """Sharp is positive."""
    rising: Spread | None
    """The same where the note asked for before it was lower: the scale goes up."""
    falling: Spread | None
    """Where it was higher: the scale comes down."""

    before: float | None
    """Where it was the week before; None where it wasn't heard then."""
    apart_cents: float | None
    """How much higher it stands going up than coming down, where that is more than chance does."""


@dataclass(frozen=True)
class TuningMap:
    """The notes of one instrument, low to high."""

    instrument: str
    notes: tuple[NoteTuning, ...]


def tuning_maps(
    sessions: Sequence[SessionLog], before: Sequence[SessionLog] = ()
) -> tuple[TuningMap, ...]:
    """One map for each instrument, by name, each note beside the week before."""
    was = {
        (map_.instrument, note.midi): note.cents.median
        for map_ in (tuning_maps(before) if before else ())
        for note in map_.notes
    }
    by_instrument: dict[str, list[_Placed]] = defaultdict(list)
    for log in sessions:
        by_instrument[log.instrument] += (
            placed
            for round_ in log.rounds
            for placed in _placed(round_.notes)
            if _was_in_tune_or_not(placed.note)
        )
    return tuple(
        TuningMap(instrument, _tunings(notes, instrument, was))
        for instrument, notes in sorted(by_instrument.items())
        if notes
    )


@dataclass(frozen=True)
class _Placed:
    """A note asked for, and the semitones to it from the one asked for before."""

    note: NoteLog
    step: int


def _placed(notes: Sequence[NoteLog]) -> Iterator[_Placed]:
    """A round's expected notes; the first is reached from nowhere."""
    expected = [note for note in notes if note.state is not State.EXTRA]
    if expected:
        yield _Placed(expected[0], 0)
    for before, note in pairwise(expected):
        known = before.written is not None and note.written is not None
        yield _Placed(note, _midi(note) - _midi(before) if known else 0)


def session_medians(sessions: Sequence[SessionLog]) -> dict[tuple[str, int], list[float]]:
    """Each session's median cents of a note, by instrument and MIDI number of the written pitch.

    Notes of one session share its air, its headjoint and its room, so a trend counts sessions.
    """
    medians: dict[tuple[str, int], list[float]] = defaultdict(list)
    for log in sessions:
        cents: dict[int, list[float]] = defaultdict(list)
        for round_ in log.rounds:
            for note in round_.notes:
                if _was_in_tune_or_not(note) and note.cents is not None:
                    cents[_midi(note)].append(note.cents)
        for midi, values in sorted(cents.items()):
            medians[log.instrument, midi].append(median(values))
    return medians


def _was_in_tune_or_not(note: NoteLog) -> bool:
    """An expected note that was played and measured."""
    return note.state is State.PLAYED and note.cents is not None and note.written is not None


def _tunings(
    notes: Sequence[_Placed], instrument: str, was: Mapping[tuple[str, int], float]
) -> tuple[NoteTuning, ...]:
    by_midi: dict[int, list[_Placed]] = defaultdict(list)
    for placed in notes:
        by_midi[_midi(placed.note)].append(placed)
    ways = {midi: _both_ways(same) for midi, same in by_midi.items()}
    compared = sum(_enough(*both) for both in ways.values())
    return tuple(
        replace(_tuning(midi, same, *ways[midi], compared), before=was.get((instrument, midi)))
        for midi, same in sorted(by_midi.items())
    )


def _both_ways(notes: Sequence[_Placed]) -> tuple[list[float], list[float]]:
    """Cents going up, and coming down."""
    return (
        _cents([placed for placed in notes if placed.step > 0]),
        _cents([placed for placed in notes if placed.step < 0]),
    )


def _enough(up: Sequence[float], down: Sequence[float]) -> bool:
    return min(len(up), len(down)) >= ENOUGH_EACH_WAY


def _tuning(
    midi: int, notes: Sequence[_Placed], up: list[float], down: list[float], compared: int
) -> NoteTuning:
    spellings = Counter(placed.note.written or "" for placed in notes)
    cents = spread(_cents(notes))
    assert cents is not None, "only measured notes come here"
    return NoteTuning(
        written=min(spellings, key=lambda name: (-spellings[name], name)),
        midi=midi,
        cents=cents,
        rising=spread(up),
        falling=spread(down),
        before=None,
        apart_cents=_apart_cents(up, down, compared),
    )


def _apart_cents(up: Sequence[float], down: Sequence[float], compared: int) -> float | None:
    """As many notes are compared as the instrument has, so chance gets a share for each
    (Bonferroni's correction)."""
    if not _enough(up, down):
        return None
    apart = median(up) - median(down)
    if abs(apart) < APART_CENTS or not clearly_changed(down, up, CHANCE / compared):
        return None
    return apart


def _cents(notes: Sequence[_Placed]) -> list[float]:
    return [placed.note.cents for placed in notes if placed.note.cents is not None]


def _midi(note: NoteLog) -> int:
    return Pitch.parse(note.written or "").midi
