"""How each note of the instrument stood in tune."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from trainer.ear.heard import State
from trainer.journal.figures import Spread, spread
from trainer.journal.log import NoteLog, SessionLog
from trainer.music.pitch import Pitch


@dataclass(frozen=True)
class NoteTuning:
    """One written pitch over all the times it was heard."""

    written: str
    """As it was most often spelled."""
    midi: int
    """Of the written pitch; F#5 and Gb5 are one note here, one fingering."""
    cents: Spread
    """Sharp is positive."""


@dataclass(frozen=True)
class TuningMap:
    """The notes of one instrument, low to high."""

    instrument: str
    notes: tuple[NoteTuning, ...]


def tuning_maps(sessions: Sequence[SessionLog]) -> tuple[TuningMap, ...]:
    """One map for each instrument, by name."""
    by_instrument: dict[str, list[NoteLog]] = defaultdict(list)
    for log in sessions:
        by_instrument[log.instrument] += (
            note for round_ in log.rounds for note in round_.notes if _was_in_tune_or_not(note)
        )
    return tuple(
        TuningMap(instrument, _tunings(notes))
        for instrument, notes in sorted(by_instrument.items())
        if notes
    )


def session_medians(sessions: Sequence[SessionLog]) -> dict[tuple[str, int], list[float]]:
    """Each session's median cents of a note, by instrument and MIDI number of the written pitch.

    Notes of one session share its air, its headjoint and its room, so a trend counts sessions.
    """
    medians: dict[tuple[str, int], list[float]] = defaultdict(list)
    for log in sessions:
        for tuning in tuning_maps([log]):
            for note in tuning.notes:
                medians[tuning.instrument, note.midi].append(note.cents.median)
    return medians


def _was_in_tune_or_not(note: NoteLog) -> bool:
    """An expected note that was played and measured."""
    return note.state is State.PLAYED and note.cents is not None and note.written is not None


def _tunings(notes: Sequence[NoteLog]) -> tuple[NoteTuning, ...]:
    by_midi: dict[int, list[NoteLog]] = defaultdict(list)
    for note in notes:
        by_midi[_midi(note)].append(note)
    return tuple(_tuning(midi, same) for midi, same in sorted(by_midi.items()))


def _tuning(midi: int, notes: Sequence[NoteLog]) -> NoteTuning:
    spellings = Counter(note.written or "" for note in notes)
    written = min(spellings, key=lambda name: (-spellings[name], name))
    cents = spread([note.cents for note in notes if note.cents is not None])
    assert cents is not None, "only measured notes come here"
    return NoteTuning(written, midi, cents)


def _midi(note: NoteLog) -> int:
    return Pitch.parse(note.written or "").midi
