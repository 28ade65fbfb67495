"""The free pitch reader against tones of known frequency, and against another reader on real ones.

Tones are made from the definition of a harmonic series; their frequencies are the truth.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import trainer
from tests.ear.recorded import RATE as RECORDED_RATE
from tests.ear.recorded import single_notes, sound_of
from trainer.ear.analysis.frames import Samples
from trainer.ear.analysis.free_pitch import FreePitch, PitchReading

RATE = 48000
FLUTE = (1.0, 0.5, 0.25, 0.1, 0.05)
WEAK_FUNDAMENTAL = (0.2, 1.0, 0.4, 0.2, 0.1)
"""The strongest low notes of a flute stand on their octave (SHARC archive, G. Sandell)."""


def tone(
    hz: float,
    harmonics: tuple[float, ...] = FLUTE,
    rate: int = RATE,
    noise: float = 0.0,
    seconds: float = 0.5,
) -> Samples:
    """Harmonics of an RMS of 0.1 in all, and white noise."""
    at_s = np.arange(round(seconds * rate)) / rate
    parts = enumerate(harmonics, start=1)
    sound = sum(a * np.sin(2 * np.pi * n * hz * at_s + n) for n, a in parts if n * hz < rate / 2)
    sound = 0.1 * sound / np.sqrt(np.mean(np.square(sound)))
    dice = np.random.default_rng(round(hz))
    return np.asarray(sound + noise * dice.standard_normal(at_s.size), np.float32)


def cents(readings: tuple[PitchReading, ...], hz: float) -> list[float]:
    assert readings
    assert all(reading.hz is not None for reading in readings)
    return [1200 * np.log2((reading.hz or 1.0) / hz) for reading in readings]


@pytest.mark.parametrize("rate", [16000, 22050, 44100, 48000, 96000])
def test_a_tone_is_read_to_a_fifth_of_a_cent(rate: int) -> None:
    """Equal temperament at A4 = 440 (ISO 16): C4, A4, C6 and C7, the flute's range."""
    for hz in (261.626, 440.0, 1046.502, 2093.005):
        for harmonics in ((1.0,), FLUTE):
            off = cents(FreePitch(rate).feed(tone(hz, harmonics, rate)), hz)
            assert abs(np.mean(off)) < 0.2, (hz, np.mean(off))


@pytest.mark.parametrize("hz", [261.626, 329.628, 391.995])
def test_a_low_note_that_stands_on_its_octave_is_itself(hz: float) -> None:
    """C4, E4 and G4 in equal temperament at A4 = 440 (ISO 16)."""
    off = cents(FreePitch(RATE).feed(tone(hz, WEAK_FUNDAMENTAL)), hz)
    assert np.max(np.abs(off)) < 0.2


def test_a_pure_440_is_not_read_as_440_and_a_bit() -> None:
    off = cents(FreePitch(RATE).feed(tone(440.0, (1.0,))), 440.0)
    assert np.max(np.abs(off)) < 0.1


def test_noise_makes_it_waver_not_lean() -> None:
    """Noise 20 dB below the tone."""
    off = np.concatenate(
        [cents(FreePitch(RATE).feed(tone(hz, noise=0.01)), hz) for hz in (261.6, 587.3, 1318.5)]
    )
    assert abs(np.mean(off)) < 0.1
    assert np.std(off) < 0.5


def test_a_tone_is_sure_and_noise_is_not() -> None:
    noise = 0.1 * np.random.default_rng(3).standard_normal(2 * RATE)
    assert min(r.confidence for r in FreePitch(RATE).feed(tone(440.0))) > 0.95
    assert max(r.confidence for r in FreePitch(RATE).feed(noise.astype(np.float32))) < 0.4


def test_silence_has_no_pitch() -> None:
    for reading in FreePitch(RATE).feed(np.zeros(RATE, np.float32)):
        assert (reading.hz, reading.confidence) == (None, 0.0)
        assert reading.level_db == pytest.approx(-120.0)


def test_levels_are_rms_below_full_scale() -> None:
    levels = [reading.level_db for reading in FreePitch(RATE).feed(tone(440.0))]
    assert levels == pytest.approx([-20.0] * len(levels), abs=0.3)


def test_a_reading_stands_at_the_middle_of_what_it_heard() -> None:
    sound = np.concatenate([tone(440.0, seconds=0.3), tone(660.0, seconds=0.3)])
    readings = FreePitch(RATE).feed(sound)
    first_higher = next(r for r in readings if r.hz is not None and r.hz > 600)
    assert first_higher.time_s == pytest.approx(0.3, abs=0.012)


def test_readings_do_not_depend_on_the_block() -> None:
    sound = tone(700.0, noise=0.003)
    whole = FreePitch(RATE).feed(sound)
    dice = np.random.default_rng(5)
    cut, reader = np.sort(dice.integers(0, sound.size, 60)), FreePitch(RATE)
    pieces = [reading for part in np.split(sound, cut) for reading in reader.feed(part)]
    assert [r.time_s for r in pieces] == [r.time_s for r in whole]
    assert [r.hz for r in pieces] == pytest.approx([r.hz for r in whole], rel=1e-6)


def test_what_it_holds_does_not_grow() -> None:
    """An hour in blocks of 20 ms holds no more than a minute."""
    reader, block = FreePitch(RATE), tone(440.0, seconds=0.02)
    sizes = set()
    for _ in range(500):
        reader.feed(block)
        sizes.add(sum(v.nbytes for v in vars(reader).values() if isinstance(v, np.ndarray)))
    assert max(sizes) <= 4 * (2 * 1024 + 240)


@pytest.mark.usefixtures("recordings")
def test_real_notes_stand_where_their_spectrum_peaks() -> None:
    """The strongest of the first three harmonics in a spectrum of 93 ms, its peak found by a
    parabola through the logarithms (J. O. Smith, Spectral Audio Signal Processing)."""
    off = []
    for note in [n for n in single_notes() if n.length == "1" and n.dynamic == "mezzo-forte"]:
        sound = sound_of(note.path)[round(0.4 * RECORDED_RATE) :][: 2**12].astype(np.float32)
        readings = FreePitch(RECORDED_RATE).feed(sound)
        read_hz = np.median([r.hz for r in readings if r.hz and r.confidence > 0.9])
        off.append(
            abs(1200 * np.log2(read_hz / spectral_hz(sound, 440 * 2 ** (note.midi / 12 - 5.75))))
        )
    assert len(off) > 20
    assert np.median(off) < 1.0
    assert np.max(off) < 8.0


def spectral_hz(sound: Samples, named_hz: float) -> float:
    """A third of the third harmonic, half of the second or the first, whichever is strongest."""
    taper = np.hanning(sound.size)
    level = np.log(np.abs(np.fft.rfft(sound * taper, 4 * sound.size)) + 1e-12)
    step_hz = RECORDED_RATE / (4 * sound.size)
    peaks = []
    for number in (1, 2, 3):
        low, high = (round(number * named_hz * 2 ** (c / 1200) / step_hz) for c in (-250, 250))
        top = low + int(np.argmax(level[low:high]))
        left, middle, right = level[top - 1 : top + 2]
        shift = 0.5 * (left - right) / (left - 2 * middle + right)
        peaks.append((middle, (top + shift) * step_hz / number))
    return float(max(peaks)[1])


def test_the_library_behind_it_is_imported_nowhere_else() -> None:
    """So that it loads only when something listens."""
    modules = Path(trainer.__file__).parent.rglob("*.py")
    assert [m.name for m in modules if "import aubio" in m.read_text()] == ["free_pitch.py"]
