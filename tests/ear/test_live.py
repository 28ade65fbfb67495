"""The quick answer while the round sounds."""

from __future__ import annotations

import numpy as np
import pytest

from tests.ear.conftest import FIRST_S, RATE, scored
from trainer.ear.heard import LiveReading
from trainer.ear.live import LiveEar, ToneGate
from trainer.music.note import Start
from trainer.music.tuning import Tuning


def readings(start: Start, bpm: float, block: int) -> list[LiveReading]:
    """A scale fed block by block."""
    got = scored(start, bpm)
    ear = LiveEar(got.expected, bpm, Tuning(), RATE, FIRST_S)
    blocks = range(0, got.samples.size, block)
    return [one for first in blocks for one in ear.feed(got.samples[first : first + block])]


@pytest.mark.parametrize("start", [Start.SLURRED, Start.TONGUED])
@pytest.mark.parametrize("bpm", [80, 160])
def test_the_right_note_within_60_ms(start: Start, bpm: float) -> None:
    answers = readings(start, bpm, 480)
    truth = scored(start, bpm).truth
    right = 0
    for index, note in enumerate(truth):
        near = [r for r in answers if abs(r.time_s - (note.onset_s + 0.06)) < 0.004]
        right += any(r.note_index == index for r in near)
    assert right >= 0.95 * len(truth)


def test_readings_do_not_depend_on_the_block() -> None:
    small, large = readings(Start.SLURRED, 100, 100), readings(Start.SLURRED, 100, 4096)
    shared = min(len(small), len(large))
    assert abs(len(small) - len(large)) <= 1
    assert [r.note_index for r in small[:shared]] == [r.note_index for r in large[:shared]]


def test_live_cents_agree_with_the_truth() -> None:
    got = scored(Start.SLURRED, 60)
    off = [
        reading.cents - got.truth[reading.note_index].cents
        for reading in readings(Start.SLURRED, 60, 480)
        if reading.cents is not None
        and reading.note_index is not None
        and got.truth[reading.note_index].onset_s + 0.08 < reading.time_s
        and reading.time_s < got.truth[reading.note_index].end_s - 0.03
    ]
    assert np.median(np.abs(off)) <= 1.0


def test_the_gate_opens_for_a_tone_and_not_for_noise() -> None:
    got = scored(Start.SLURRED, 60)
    beginning = ToneGate(RATE).feed(got.samples)
    assert beginning is not None
    assert beginning.onset_s == pytest.approx(FIRST_S, abs=0.04)
    noise = (np.random.default_rng(2).standard_normal(2 * RATE) * 0.05).astype(np.float32)
    assert ToneGate(RATE).feed(noise) is None
