"""The played-in flutist: takes the student's place when there is no microphone, and in tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from trainer.music.note import Note, Start
from trainer.music.ornaments import realised
from trainer.music.tuning import Tuning
from trainer.player.breath_noise import breath
from trainer.player.gesture import CONTROL_HZ, Track, tracks
from trainer.player.habits import Habits
from trainer.player.intent import LEAD_IN_S, dice
from trainer.player.performance import Performance, TrueNote
from trainer.player.performance_plan import PlannedNote, planned
from trainer.player.shaping import PLAIN, Shaping
from trainer.player.tone import pitch_hz, running_phase, tone

_TAIL_S = 0.25
_CHANGE_OVER_S = 0.03
"""Left out of a note's true pitch at either end, or a quarter of a short note."""


@dataclass(frozen=True)
class Flutist:
    """One player; the same seed, notes and round always give the same sound."""

    habits: Habits = field(default_factory=Habits)
    seed: int = 0

    def play(
        self,
        notes: Sequence[Note],
        tempo_bpm: float,
        tuning: Tuning,
        sample_rate_hz: int = 48000,
        round_number: int = 1,
        shaping: Shaping = PLAIN,
    ) -> Performance:
        """Play sounding notes, each started as it says, with the sound asked for.

        Rounds of different number differ as a person's do. Raises ValueError when there is
        nothing to play or no tempo to play it in.
        """
        if not notes or tempo_bpm <= 0:
            raise ValueError("give at least one note and a tempo above 0 bpm")
        chances = dice(self.seed, round_number)
        notes = realised(notes, 60.0 / tempo_bpm).notes
        plan = planned(notes, self.habits, tempo_bpm, tuning, chances, shaping)
        return _performance(plan, self.habits, sample_rate_hz, chances.sound, shaping)


def _performance(
    plan: list[PlannedNote],
    habits: Habits,
    sample_rate_hz: int,
    random: np.random.Generator,
    shaping: Shaping,
) -> Performance:
    """The plan made sound, with the truth read off the very tracks that made it."""
    blown = [planned_note.blown for planned_note in plan]
    length_s = blown[-1].end_s + _TAIL_S
    count = round(length_s * sample_rate_hz)
    rate_hz, depth_cents = _vibrato(habits, shaping)
    at_once = shaping.pulses_hz is not None
    control = tracks(blown, length_s, rate_hz, depth_cents, random, at_once=at_once)
    hz = pitch_hz(blown, control)
    phase = running_phase(hz, sample_rate_hz, count)
    pure = tone(blown, control, phase, sample_rate_hz)
    hiss = breath(blown, control, phase, sample_rate_hz, habits.extra_breath_noise_db, random)
    true_notes = [(entry.blip, _truth(entry, hz, pure, sample_rate_hz)) for entry in plan]
    return Performance(
        samples=(pure + hiss).astype(np.float32),
        sample_rate_hz=sample_rate_hz,
        first_beat_s=LEAD_IN_S,
        truth=tuple(note for is_blip, note in true_notes if not is_blip),
        blips=tuple(note for is_blip, note in true_notes if is_blip),
    )


def _vibrato(habits: Habits, shaping: Shaping) -> tuple[float, float]:
    """Rate and depth: the player's own, or as asked and as the habits bend it."""
    if shaping.pulses_hz is None:
        return habits.vibrato_hz, habits.vibrato_cents * shaping.depth
    if shaping.pulses_hz == 0:
        return habits.vibrato_hz, habits.restless_cents
    rate_hz = shaping.pulses_hz * (1 + habits.pulse_rate_share)
    return rate_hz, habits.vibrato_cents * shaping.depth


def _truth(
    entry: PlannedNote, hz: Track, pure: NDArray[np.float64], sample_rate_hz: int
) -> TrueNote:
    """What really sounded for one planned note."""
    blown = entry.blown
    silent = blown.start is Start.SILENT_AIR
    return TrueNote(
        index=entry.index,
        midi=entry.midi,
        onset_s=blown.onset_s,
        end_s=blown.end_s,
        cents=_mean_cents(entry, hz),
        level_db=-np.inf if silent else _rms_db(pure, blown.onset_s, blown.end_s, sample_rate_hz),
        start=blown.start,
        tone_onset_s=blown.tone_onset_s,
    )


def _mean_cents(entry: PlannedNote, hz: Track) -> float:
    """Mean pitch against the key, change-overs left out."""
    from_s, to_s = entry.blown.tone_onset_s, entry.blown.end_s
    margin_s = min(_CHANGE_OVER_S, (to_s - from_s) / 4)
    inner = hz[round((from_s + margin_s) * CONTROL_HZ) : round((to_s - margin_s) * CONTROL_HZ)]
    return float(1200 * np.mean(np.log2(inner / entry.nominal_hz)))


def _rms_db(pure: NDArray[np.float64], from_s: float, to_s: float, sample_rate_hz: int) -> float:
    sound = pure[round(from_s * sample_rate_hz) : round(to_s * sample_rate_hz)]
    return float(10 * np.log10(np.mean(sound**2)))
