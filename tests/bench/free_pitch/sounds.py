"""What the free pitch reader and the gate of the first note are tried on.

Notes are recorded ones, retuned; nothing of them is written anywhere. Talk is spoken by espeak-ng,
and by people where Debian's `pocketsphinx-testdata` is installed. Claps, keys and leaks are made.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy import ndimage, signal

from tests.ear.recorded import RATE, RecordedNote, onset_and_level, sound_of
from trainer.music.pulse import Timbre
from trainer.sound.click import Tap, click

Sound = NDArray[np.float64]

LEAD_S = 0.4
"""Silence before a note."""
NOTE_S = 0.9
FLOOR_DB = -66.0
SPEECH = Path("/usr/share/pocketsphinx/test/data")
SPEECH_RATE = 16000
TALK_DB = -26.0
SENTENCES = (
    "Let us take that again from the second bar, a little slower, and listen to the low notes.",
    "No, wait, I have to turn the page first. Is the microphone on? Good. One, two, three, four.",
    "That was lovely! Now the same thing an octave higher, and don't forget to breathe early.",
)
VOICES = ("en-gb", "en-us+f2", "en-us+f4", "de+f3", "fr+f5", "en-gb+m3", "it+f1", "en-gb+f3")
VOICE_PITCHES = (35, 60, 90)


@dataclass(frozen=True)
class Onset:
    """A sound with one note in it."""

    samples: Sound
    onset_s: float
    """Where the note begins."""
    midi: int
    name: str


def played(note: RecordedNote, a4_hz: float, dice: np.random.Generator) -> Onset:
    """A recorded note at another A4 (440 as it is), from a silence with a little hiss."""
    retuned = signal.resample_poly(sound_of(note.path), 4400, round(10 * a4_hz))
    begins_s = onset_and_level(note.path, note.midi)[0] / RATE * 440.0 / a4_hz
    length = round((begins_s + NOTE_S) * RATE)
    samples = np.concatenate([np.zeros(round(LEAD_S * RATE)), retuned[:length]])
    hiss = 10 ** (FLOOR_DB / 20) * dice.standard_normal(samples.size)
    return Onset(samples + hiss, LEAD_S + begins_s, note.midi, note.path.stem)


def pink(count: int, dice: np.random.Generator) -> Sound:
    """Noise of RMS 1 whose power falls by 3 dB an octave."""
    spectrum = np.fft.rfft(dice.standard_normal(count))
    spectrum /= np.sqrt(np.maximum(np.arange(spectrum.size), 1))
    noise = np.fft.irfft(spectrum, count)
    return np.asarray(noise / np.sqrt(np.mean(noise**2)))


def in_noise(one: Onset, below_db: float, dice: np.random.Generator) -> Onset:
    """Pink noise so far below the note's own level."""
    note = one.samples[round(one.onset_s * RATE) :]
    level = np.sqrt(np.mean(note**2)) * 10 ** (-below_db / 20)
    noisy = one.samples + level * pink(one.samples.size, dice)
    return Onset(noisy, one.onset_s, one.midi, one.name)


def softer(one: Onset, by_db: float, dice: np.random.Generator) -> Onset:
    """A microphone further away, with the same hiss of its own."""
    hiss = 10 ** (FLOOR_DB / 20) * dice.standard_normal(one.samples.size)
    return Onset(one.samples * 10 ** (-by_db / 20) + hiss, one.onset_s, one.midi, one.name)


def through(samples: Sound, response: Sound) -> Sound:
    """Heard through a room, as long as it was."""
    return np.asarray(signal.fftconvolve(samples, response)[: samples.size])


def in_room(one: Onset, response: Sound) -> Onset:
    """The same heard through a room."""
    return Onset(through(one.samples, response), one.onset_s, one.midi, one.name)


def synthetic_note(seconds: float) -> Sound:
    """A4 with four harmonics and a little noise."""
    at_s = np.arange(round(seconds * RATE)) / RATE
    tone = sum(np.sin(2 * np.pi * 440 * n * at_s) / n**2 for n in (1, 2, 3, 4))
    return np.asarray(0.1 * tone + 0.001 * np.random.default_rng(1).standard_normal(at_s.size))


@lru_cache(maxsize=1)
def shoebox() -> Sound | None:
    """A furnished practice room of 5 by 4 by 2.8 m, 0.5 s, at 1.2 m, by pyroomacoustics, direct
    sound 1; None where that isn't installed."""
    try:
        import pyroomacoustics as pra
    except ImportError:
        return None
    size_m = [5.0, 4.0, 2.8]
    absorption, order = pra.inverse_sabine(0.5, size_m)
    room = pra.ShoeBox(size_m, RATE, materials=pra.Material(absorption), max_order=order)
    room.add_source([2.2, 1.7, 1.5])
    room.add_microphone([3.2, 2.3, 1.2])
    room.compute_rir()
    response = np.asarray(room.rir[0][0], np.float64)
    direct = int(np.argmax(np.abs(response)))
    return response[direct:] / response[direct]


def small_room(decay_s: float, wet_db: float, seed: int) -> Sound:
    """Early reflections and a darkening tail, wet_db against the direct sound of 1."""
    dice = np.random.default_rng(seed)
    length = round(1.2 * decay_s * RATE)
    early = np.zeros(length)
    for _ in range(14):
        place = round(dice.uniform(0.003, 0.035) * RATE)
        early[place] += dice.choice([-1, 1]) * 10 ** (-dice.uniform(4, 12) / 20)
    late = dice.standard_normal(length) * 10 ** (-3 * np.arange(length) / RATE / decay_s)
    late[: round(0.012 * RATE)] = 0
    late = signal.lfilter([0.6], [1, -0.4], late)
    wet = 0.5 * early / np.linalg.norm(early) + late / np.linalg.norm(late)
    wet *= 10 ** (wet_db / 20) / np.linalg.norm(wet)
    wet[0] += 1.0
    return np.asarray(wet)


# Where nobody plays the first note


def _at_level(samples: Sound, level_db: float) -> Sound:
    """Loud stretches at the level; with a little hiss beneath."""
    level = ndimage.uniform_filter1d(samples**2, round(0.05 * RATE)) ** 0.5
    scaled = samples * 10 ** (level_db / 20) / max(float(np.percentile(level, 90)), 1e-9)
    hiss = np.random.default_rng(5).standard_normal(samples.size)
    return np.asarray(scaled + 10 ** (FLOOR_DB / 20) * hiss)


def _resampled(samples: Sound, rate: int) -> Sound:
    return np.asarray(signal.resample_poly(samples, RATE // 100, rate // 100))


def synthetic_talk() -> Sound | None:
    """Sentences by eight voices at three pitches each; None without espeak-ng."""
    if shutil.which("espeak-ng") is None:
        return None
    said = []
    with tempfile.TemporaryDirectory() as folder:
        for voice in VOICES:
            for pitch in VOICE_PITCHES:
                for sentence in SENTENCES:
                    file = f"{folder}/said.wav"
                    words = ["espeak-ng", "-v", voice, "-p", str(pitch), "-w", file, sentence]
                    subprocess.run(words, check=True, capture_output=True)
                    samples, rate = soundfile.read(file)
                    said.append(_resampled(samples, rate))
    return _at_level(np.concatenate(said), TALK_DB)


def peoples_talk() -> Sound | None:
    """People reading aloud; None where they are not installed."""
    if not SPEECH.is_dir():
        return None
    said = [soundfile.read(file)[0] for file in sorted(SPEECH.rglob("*.wav"))]
    said += [np.fromfile(file, "<i2") / 32768 for file in sorted(SPEECH.rglob("*.raw"))]
    levelled = [one / np.sqrt(np.mean(one**2)) for one in said]
    return _at_level(_resampled(np.concatenate(levelled), SPEECH_RATE), TALK_DB)


def noises(dice: np.random.Generator) -> Sound:
    """White and pink noise and hum, as of air conditioning, two minutes, loud."""
    count = 40 * RATE
    at_s = np.arange(count) / RATE
    hum = sum(np.sin(2 * np.pi * 50 * k * at_s) / k for k in range(1, 12))
    loud = 10 ** (-30 / 20)
    hiss = dice.standard_normal(count)
    return loud * np.concatenate([hiss, pink(count, dice), hum + 0.1 * pink(count, dice)])


def breaths(dice: np.random.Generator) -> Sound:
    """Air through the flute's tube without a tone: noise with the tube's resonances, a minute."""
    count = 2 * RATE
    parts = []
    for hz in np.geomspace(262, 1400, 30):
        air = dice.standard_normal(count)
        tube = sum(_resonance(air, k * hz, 8.0) for k in (1, 2, 3)) + 0.3 * air
        swell = np.sin(np.pi * np.arange(count) / count) ** 2
        parts.append(10 ** (-36 / 20) * swell * tube / np.sqrt(np.mean(tube**2)))
    return np.concatenate(parts)


def _resonance(samples: Sound, hz: float, quality: float) -> Sound:
    b, a = signal.iirpeak(hz, quality, fs=RATE)
    return np.asarray(signal.lfilter(b, a, samples))


def claps(dice: np.random.Generator) -> Sound:
    """Bursts of noise, 100 of them, each in a small room."""
    dry = np.zeros(60 * RATE)
    for place in np.linspace(0.2, 59, 100):
        begin = round((place + dice.uniform(0, 0.2)) * RATE)
        count = round(0.03 * RATE)
        burst = dice.standard_normal(count) * np.exp(-np.arange(count) / (0.004 * RATE))
        dry[begin : begin + count] += 10 ** (dice.uniform(-20, 0) / 20) * burst
    return signal.fftconvolve(dry, small_room(0.4, -3.0, 3))[: dry.size] + _hiss(dry.size, dice)


def _hiss(count: int, dice: np.random.Generator) -> Sound:
    return np.asarray(10 ** (FLOOR_DB / 20) * dice.standard_normal(count))


def key_slap(hz: float, dice: np.random.Generator) -> Sound:
    """A key shut hard: the tube answers at the note's own pitch and dies away in some 0.1 s."""
    count = round(0.8 * RATE)
    at_s = np.arange(count) / RATE
    tau_s = dice.uniform(0.012, 0.03)
    rung = np.exp(-at_s / tau_s) * np.sin(2 * np.pi * hz * at_s)
    knock = dice.standard_normal(count) * np.exp(-at_s / 0.003)
    loud = 10 ** (dice.uniform(-40, -20) / 20)
    return np.concatenate([np.zeros(RATE // 5), loud * (rung + knock)]) + _hiss(
        count + RATE // 5, dice
    )


def clicks(dice: np.random.Generator) -> Sound:
    """The trainer's own clicks come back through a room, every timbre and tap, a minute."""
    dry = np.zeros(60 * RATE)
    sounds = [click(kind, RATE, timbre=timbre) for timbre in Timbre for kind in Tap]
    for number, place in enumerate(np.arange(0.2, 59, 0.4)):
        sound = sounds[number % len(sounds)]
        begin = round(place * RATE)
        dry[begin : begin + sound.size] += 10 ** (-10 / 20) * sound
    return signal.fftconvolve(dry, small_room(0.4, -3.0, 4))[: dry.size] + _hiss(dry.size, dice)
