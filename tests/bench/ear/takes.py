"""Takes with exact truth that no constant was chosen by: their seeds are used nowhere else."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.ear.made_flute import Blown, as_expected, blown, in_a_room, microphoned, scale, sounded
from trainer.ear.echo.canceller import KnownSound
from trainer.music.note import Note, Start
from trainer.sound.click import Tap, click

RATE = 48000
FIRST_S = 0.5
TEMPOS = (60, 100, 160)
ROOM_S = 0.3
ROOMS_S = (0.0, ROOM_S)
SEEDS = (90210, 90211)
STARTS = (Start.SLURRED, Start.LEGATO_TONGUE, Start.TONGUED, Start.BACK_TONGUED, Start.BREATH)
LEAK_DB = -20.0
"""Peak of the leaking click against the peak of the flute."""
_LEAK_DELAY_S = 0.004


@dataclass(frozen=True)
class TrueTake:
    """A made sound with what was really played, and what the trainer itself played."""

    start: Start
    bpm: float
    room_s: float
    samples: NDArray[np.float32]
    truth: tuple[Blown, ...]
    expected: tuple[Note, ...]
    clicks: tuple[KnownSound, ...] = ()

    @property
    def seconds(self) -> float:
        """Length of the sound."""
        return self.samples.size / RATE

    @property
    def onsets_s(self) -> NDArray[np.float64]:
        """True onsets."""
        return np.array([note.onset_s for note in self.truth])

    @property
    def intervals_s(self) -> NDArray[np.float64]:
        """True onsets and ends, shape (notes, 2); a tongued note ends where its air stops."""
        ends = [note.end_s for note in self.truth[-1:]]
        stops = [after.onset_s - after.gap_s for after in self.truth[1:]]
        return np.stack([self.onsets_s, np.array([*stops, *ends])], axis=1)

    @property
    def hz(self) -> NDArray[np.float64]:
        """True frequencies."""
        midi = np.array([note.midi + note.cents / 100 for note in self.truth])
        return np.asarray(440 * 2 ** ((midi - 69) / 12))


def made(start: Start, bpm: float, room_s: float, seed: int, *, leak: bool = False) -> TrueTake:
    """A full-range scale, up and down, in one articulation."""
    dice = np.random.default_rng(seed + round(bpm))
    midis = scale(60 + seed % 3)
    truth = blown(midis, bpm, start, dice, FIRST_S)
    sound = sounded(truth, RATE, dice)
    clicks: tuple[KnownSound, ...] = ()
    if leak:
        sound, clicks = _with_clicks(sound, truth, bpm, dice)
    if room_s:
        sound = in_a_room(sound, RATE, room_s, dice)
    samples = microphoned(sound, dice)
    return TrueTake(start, bpm, room_s, samples, tuple(truth), as_expected(midis, start), clicks)


def _with_clicks(
    sound: NDArray[np.float64], truth: Sequence[Blown], bpm: float, dice: np.random.Generator
) -> tuple[NDArray[np.float64], tuple[KnownSound, ...]]:
    """The trainer's own click on every beat, through a loudspeaker of its own colour."""
    tap = click(Tap.BEAT, RATE)
    path = np.zeros(round(_LEAK_DELAY_S * RATE) + 60)
    path[-60:] = dice.standard_normal(60) * np.exp(-np.arange(60) / 12)
    leaked = np.convolve(tap, path)
    leaked *= np.abs(sound).max() * 10 ** (LEAK_DB / 20) / np.abs(leaked).max()
    out, clicks = sound.copy(), []
    for beat_s in np.arange(FIRST_S, truth[-1].end_s, 60 / bpm):
        first = round(beat_s * RATE)
        part = leaked[: max(0, out.size - first)]
        out[first : first + part.size] += part
        clicks.append(KnownSound(tap, first / RATE))
    return out, tuple(clicks)


def takes(starts: Sequence[Start], room_s: float, *, leak: bool = False) -> Iterator[TrueTake]:
    """Every tempo and seed of some articulations in one room."""
    for start in starts:
        for bpm in TEMPOS:
            for seed in SEEDS:
                yield made(start, bpm, room_s, seed, leak=leak)
