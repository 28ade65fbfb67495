"""Which key the flutist takes for each note, and when: the head's part of the playing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trainer.music.note import Note, Start
from trainer.music.pitch import LETTER_SEMITONES, Pitch
from trainer.music.tuning import Tuning
from trainer.player.habits import Habits, WrongNote

LEAD_IN_S = 0.3
"""Silence before beat 0."""

_BREAK = 73.5
"""Between C#5 and D5."""
_TIMING_MEMORY = 0.4
"""How much of one note's lateness the next inherits."""
_SHORTEST_S = 0.045
"""No key stays down for less; our own estimate."""


@dataclass(frozen=True)
class Dice:
    """The chances of one round, each thrown apart, so that one habit never moves another's."""

    times: np.random.Generator
    keys: np.random.Generator
    misses: np.random.Generator
    body: np.random.Generator
    sound: np.random.Generator
    breaths: np.random.Generator
    fingers: np.random.Generator
    """The player's own: thrown alike in every round."""


def dice(seed: int, round_number: int) -> Dice:
    """One player's dice for one round."""
    times, keys, misses, body, sound, breaths = np.random.default_rng([seed, round_number]).spawn(6)
    return Dice(times, keys, misses, body, sound, breaths, np.random.default_rng([seed]))


@dataclass(frozen=True)
class Intended:
    """One expected note with the key taken for it and its time, seconds in the samples."""

    note: Note
    midi: int
    nominal_hz: float
    onset_s: float
    off_s: float
    """When it would end if it were held for its whole length."""
    joined: bool = False


def intended(
    notes: Sequence[Note], habits: Habits, tempo_bpm: float, tuning: Tuning, dice: Dice
) -> list[Intended]:
    """Every note with its key and its time, in order."""
    keys = [_key(note.pitch, habits, tuning, dice.keys) for note in notes]
    late_ms = _lateness_ms(notes, [midi for midi, _ in keys], habits, dice)
    beats = float(max(note.beat + note.length for note in notes))
    result: list[Intended] = []
    for note, (midi, nominal_hz), late in zip(notes, keys, late_ms, strict=True):
        start_s = LEAD_IN_S + _warped(float(note.beat), beats, habits) * 60 / tempo_bpm
        off_s = LEAD_IN_S + _warped(float(note.beat + note.length), beats, habits) * 60 / tempo_bpm
        earliest_s = result[-1].onset_s + _SHORTEST_S if result else 0.0
        onset_s = max(start_s + late / 1000, earliest_s)
        off_s = max(off_s, onset_s + _SHORTEST_S)
        result.append(Intended(note, midi, nominal_hz, onset_s, off_s))
    return result


def breaths_moved(
    notes: Sequence[Note], habits: Habits, random: np.random.Generator
) -> tuple[Note, ...]:
    """The notes with breaths where this player takes them.

    Where a breath is played through, a slur goes on; where one is taken, it ends.
    """
    if not habits.forgotten_breaths and not habits.late_breaths:
        return tuple(notes)
    marked = [place for place, note in enumerate(notes[:-1]) if note.breath_after]
    kept = [place for place in marked if random.random() >= habits.forgotten_breaths]
    taken = {min(place + round(habits.late_breaths), len(notes) - 2) for place in kept}
    given_up = {place + 1 for place in marked if place not in taken}
    moved: list[Note] = []
    for place, note in enumerate(notes):
        start = note.start
        if place in given_up and notes[place - 1].start is Start.SLURRED:
            start = Start.SLURRED
        if place - 1 in taken and start is Start.SLURRED:
            start = Start.TONGUED
        moved.append(replace(note, start=start, breath_after=place in taken))
    return tuple(moved)


def _lateness_ms(
    notes: Sequence[Note], midis: list[int], habits: Habits, dice: Dice
) -> list[float]:
    """How late each note comes: the person and the habits together."""
    human_ms = habits.lead_ms + _unsteadiness(len(notes), dice.times) * habits.human_timing_ms
    own_ms = habits.uneven_ms * dice.fingers.standard_normal((128, 128))  # from key, to key
    befores = [midis[0], *midis[:-1]]
    return [
        float(human + own_ms[before, midi] + _habit_late_ms(note, before, midi, habits))
        for note, before, midi, human in zip(notes, befores, midis, human_ms, strict=True)
    ]


def _unsteadiness(count: int, random: np.random.Generator) -> NDArray[np.float64]:
    """Unit-variance lateness in which each note remembers a little of the one before."""
    memory, freshness = _TIMING_MEMORY, math.sqrt(1 - _TIMING_MEMORY**2)
    late = random.standard_normal(count)
    for place in range(1, count):
        late[place] = memory * late[place - 1] + freshness * late[place]
    return late


def _warped(beat: float, beats: float, habits: Habits) -> float:
    """The beat at which a rushing player arrives there, counted at the tempo asked for."""
    gain = habits.rush_percent_per_round / 100
    return beat if gain == 0 else beats / gain * math.log1p(gain * beat / beats)


def _key(
    pitch: Pitch, habits: Habits, tuning: Tuning, random: np.random.Generator
) -> tuple[int, float]:
    """MIDI number and frequency of the key played for a pitch, right or wrong."""
    for wrong in habits.wrong_notes:
        if pitch.name == wrong.name and random.random() < wrong.probability:
            midi = pitch.midi + _misread_by(wrong)
            return midi, tuning.midi_hz(midi)
    return pitch.midi, tuning.hz(pitch)


def _misread_by(wrong: WrongNote) -> int:
    """Semitones from the right name to the wrong one, the near way round."""
    names = [Pitch.parse(f"{name}4") for name in (wrong.name, wrong.played)]
    right, played = (LETTER_SEMITONES[pitch.letter] + pitch.alter for pitch in names)
    return (played - right + 6) % 12 - 6


def _habit_late_ms(note: Note, before_midi: int, midi: int, habits: Habits) -> float:
    late_ms = sum(step.ms for step in habits.late_steps if step.joins(before_midi, midi))
    if min(before_midi, midi) < _BREAK < max(before_midi, midi):
        late_ms += habits.break_late_ms
    if note.start is Start.BACK_TONGUED:
        late_ms += habits.late_back_ms
    return late_ms
