"""Lines of recorded notes through microphones, and ways of keeping sound, that do them harm.

Suppression of noise by RNNoise is played where `pyrnnoise` is installed (PyPI; RNNoise itself is
J.-M. Valin's, arXiv:1709.08243).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from importlib.util import find_spec
from io import BytesIO

import numpy as np
import soundfile
from scipy import signal

from tests.bench.ear.recorded.count import count_told
from tests.bench.ear.recorded.heard_by import IN_PEACE, RATE, WITHHELD, Sound, said_of
from tests.bench.ear.recorded.lines import played
from tests.bench.ear.recorded.notes import bank
from tests.bench.ear.recorded.plan import Plan
from tests.bench.ear.recorded.rooms import LOUD, ROOMS, place
from tests.bench.ear.recorded.scores import PATTERNS, line_of

Harm = Callable[[Sound, np.random.Generator], Sound]
PLAYED = ("all tongued", "all slurred", "slur 2 tongue 2", "all tongued")
MU = 255.0
"""Of telephones (ITU-T G.711)."""


def microphones(plan: Plan) -> Iterator[dict]:
    """A record for each clean line, bad microphone and room."""
    lasting = {midi: tuple(one for one in some if one.length != "025")
               for midi, some in bank(plan.part).items()}  # fmt: skip
    for number in range(plan.takes(8, 4)):
        pattern = PLAYED[number % len(PLAYED)]
        notes = plan.quick_notes if pattern == "all tongued" else lasting
        score = line_of(plan.part, plan.seed + number, notes, bpm=(60, 90))
        score = score.with_pattern(PATTERNS[pattern])
        line = played(score.strokes(np.random.default_rng([plan.seed, number])), notes,
                      np.random.default_rng([plan.seed, number, 1]))  # fmt: skip
        for room in (ROOMS[0], ROOMS[2]):
            where = replace(place(room, plan.seed + number), microphone="plain")
            plain = where.heard(line.samples)
            for name, harm in HARMS.items():
                dice = np.random.default_rng([plan.seed, number, 2])
                said = said_of(harm(plain, dice), score.asked)
                yield plan.tags(where) | {
                    "microphone": name,
                    "count": count_told(line.notes, said.heard),
                    "nothing false": said.topic in IN_PEACE | WITHHELD,
                    "told of it": said.topic in WITHHELD,
                    "topic": said.topic,
                }


def _as_it_is(sound: Sound, _: np.random.Generator) -> Sound:
    return sound


def _overloaded(over_db: float) -> Harm:
    """Louder than full scale by so much."""
    return lambda sound, _: np.clip(sound / LOUD * 10 ** (over_db / 20), -1.0, 1.0)


def _telephone(sound: Sound, _: np.random.Generator) -> Sound:
    """8 kHz, 300 to 3400 Hz, eight bits."""
    band = signal.butter(4, (300, 3400), "bandpass", fs=8000, output="sos")
    low = np.clip(signal.sosfilt(band, signal.resample_poly(sound, 80, 441)), -1.0, 1.0)
    coded = np.round(np.sign(low) * np.log1p(MU * np.abs(low)) / np.log1p(MU) * 127) / 127
    heard = np.sign(coded) * np.expm1(np.abs(coded) * np.log1p(MU)) / MU
    return np.asarray(signal.resample_poly(heard, 441, 80))


def _narrow(sound: Sound, _: np.random.Generator) -> Sound:
    """16 kHz, as a headset by radio."""
    return np.asarray(signal.resample_poly(signal.resample_poly(sound, 160, 441), 441, 160))


def _gated(sound: Sound, _: np.random.Generator) -> Sound:
    """Nothing at all below -44 dBFS, shut 50 ms after the last louder moment."""
    level = signal.lfilter([0.002], [1, -0.998], sound**2)
    held = np.convolve(level > 10**-4.4, np.ones(RATE // 20), "full")[: sound.size] > 0
    return np.asarray(sound * signal.lfilter([0.01], [1, -0.99], held.astype(float)))


def _kept(**form: str | float) -> Harm:
    """Written to a file that loses what is thought not to be heard, and read again."""

    def keep(sound: Sound, _: np.random.Generator) -> Sound:
        file = BytesIO()
        soundfile.write(file, signal.resample_poly(sound, 160, 147), 48000, **form)
        file.seek(0)
        return np.asarray(signal.resample_poly(soundfile.read(file)[0], 147, 160))

    return keep


def _humming(below_db: float) -> Harm:
    """Mains at 50 Hz and its harmonics."""

    def hum(sound: Sound, _: np.random.Generator) -> Sound:
        turns = 2 * np.pi * 50 * np.arange(sound.size) / RATE
        parts = ((1, 1.0), (2, 0.4), (3, 0.6), (5, 0.3), (9, 0.15))
        mains = sum(share * np.sin(times * turns + times) for times, share in parts)
        loud = np.sqrt(np.percentile(sound**2, 95) / 2)
        return np.asarray(sound + mains / np.std(mains) * loud * 10 ** (-below_db / 20))

    return hum


def _losing(seconds: float, *, repeats: bool) -> Harm:
    """About every second a buffer is lost: silence, or the one before once more."""

    def lose(sound: Sound, dice: np.random.Generator) -> Sound:
        heard, size, at = sound.copy(), round(seconds * RATE), 0
        while (at := at + round(dice.uniform(0.6, 1.8) * RATE)) + size < sound.size:
            heard[at : at + size] = heard[at - size : at] if repeats else 0.0
        return heard

    return lose


def _voices_only(sound: Sound, _: np.random.Generator) -> Sound:
    from pyrnnoise.rnnoise import FRAME_SIZE, create, destroy, process_mono_frame

    at_48 = signal.resample_poly(sound, 160, 147)
    state = create()
    whole = np.round(32767 * at_48[: at_48.size // FRAME_SIZE * FRAME_SIZE]).astype(np.int16)
    frames = [process_mono_frame(state, f)[0] for f in whole.reshape(-1, FRAME_SIZE)]
    destroy(state)
    return np.asarray(signal.resample_poly(np.concatenate(frames) / 32768, 147, 160))


HARMS: dict[str, Harm] = {
    "as it is": _as_it_is,
    "overloaded by 6 dB": _overloaded(6),
    "overloaded by 12 dB": _overloaded(12),
    "telephone": _telephone,
    "headset by radio": _narrow,
    "noise gate": _gated,
    "MP3, 32 kb/s": _kept(format="MP3", subtype="MPEG_LAYER_III", compression_level=0.99),
    "Opus, 24 kb/s": _kept(format="OGG", subtype="OPUS", compression_level=0.93),
    "mains hum 19 dB down": _humming(19),
    "12 ms lost": _losing(0.012, repeats=False),
    "40 ms lost": _losing(0.04, repeats=False),
    "40 ms repeated": _losing(0.04, repeats=True),
    **({"RNNoise": _voices_only} if find_spec("pyrnnoise") else {}),
}
