"""The free tuner and somebody else's A beside aubio, librosa and Praat.

    python -m tests.bench.free_tuning

Writes 'Free tuning' into RESULTS.md; some minutes. The tuner hears recorded flute notes (the
shared recordings), dry and in a room of pyroomacoustics; Praat's autocorrelation says where they
stand. The A is given by a SoundFont's piano, oboe, organ and violin through fluidsynth, bent to A4
415 to 446, in noise and in that room; Praat on the dry tone says where it stands.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import aubio
import fluidsynth
import librosa
import numpy as np
import parselmouth
import pyroomacoustics
from numpy.typing import NDArray

from tests.bench.results import RESULTS, write_section
from tests.ear.recorded import RATE, single_notes, sound_of
from trainer.ear.live.free_note import FreeNotes
from trainer.ear.live.reference_tone import a4_of

Sound = NDArray[np.float64]
SOUNDFONT = "/usr/share/sounds/sf2/TimGM6mb.sf2"
GIVERS = {"piano": 0, "organ": 19, "violin": 40, "oboe": 68, "flute": 73}
A_KEYS = (57, 69, 81)
A4S_HZ = (415.0, 428.3, 440.0, 441.7, 443.9, 446.0)
BEND_CENTS, BEND_STEPS = 200.0, 8192
HOP = 1470
STANDS_S, LOOKED_S = 1.0, 0.8
NOISE_DB = 10.0
NOTES_EACH = 40


def main() -> None:
    """Both tables."""
    body = "\n\n".join(["\n".join(tuner_table()), "\n".join(a_table())])
    write_section("Free tuning", body)
    print(body, f"\nwritten to {RESULTS}", sep="\n")


def in_room(sound: Sound) -> Sound:
    """Heard two metres away in a room of 0.5 s (image sources, Allen & Berkley 1979)."""
    size = (6.0, 5.0, 3.0)
    absorption, order = pyroomacoustics.inverse_sabine(0.5, size)
    room = pyroomacoustics.ShoeBox(
        size, fs=RATE, materials=pyroomacoustics.Material(absorption), max_order=order
    )
    room.add_source([2.0, 2.5, 1.4], signal=sound)
    room.add_microphone([4.0, 2.2, 1.2])
    room.simulate()
    heard = np.asarray(room.mic_array.signals[0])[: sound.size]
    return heard / np.abs(heard).max() * np.abs(sound).max()


def noisy(sound: Sound, seed: int) -> Sound:
    """White noise 10 dB below."""
    level = math.sqrt(float(np.mean(sound**2))) * 10 ** (-NOISE_DB / 20)
    return sound + level * np.random.default_rng(seed).normal(size=sound.size)


def cents(hz: float, from_hz: float) -> float:
    return 1200 * math.log2(hz / from_hz)


def praat_hz(sound: Sound, near_hz: float) -> float:
    """Median of Praat's autocorrelation (Boersma 1993)."""
    read = parselmouth.Sound(sound, RATE).to_pitch_ac(
        time_step=0.005,
        pitch_floor=near_hz / 1.3,
        pitch_ceiling=near_hz * 1.3,
        very_accurate=True,
    )
    hz = read.selected_array["frequency"]
    return float(np.median(hz[hz > 0])) if (hz > 0).any() else math.nan


def by_aubio(method: str) -> Callable[[Sound, float], float]:
    def read(sound: Sound, _near_hz: float) -> float:
        pitch = aubio.pitch(method, 2048, 512, RATE)
        plain = sound.astype(np.float32)
        hz = [float(pitch(plain[i : i + 512])[0]) for i in range(0, plain.size - 512, 512)]
        sounding = [each for each in hz[4:] if each > 0]
        return float(np.median(sounding)) if sounding else math.nan

    return read


def by_librosa(sound: Sound, near_hz: float) -> float:
    hz = librosa.yin(sound, fmin=near_hz / 1.3, fmax=near_hz * 1.3, sr=RATE)
    return float(np.median(hz))


def by_tuner(sound: Sound, _near_hz: float) -> float:
    notes, last = FreeNotes(RATE), math.nan
    for start in range(0, sound.size, HOP):
        note = notes.feed(sound[start : start + HOP].astype(np.float32))
        last = last if note is None else note.hz
    return last


def tuner_table() -> Iterator[str]:
    """Errors against Praat on the dry note's last 0.8 s of its first three."""
    readers = {
        "the tuner": by_tuner,
        "aubio yinfft": by_aubio("yinfft"),
        "aubio yinfast": by_aubio("yinfast"),
        "librosa yin": by_librosa,
    }
    notes = [n for n in single_notes() if n.held_out and n.length in ("1", "long", "very-long")]
    errors: dict[tuple[str, str], list[float]] = {}
    steady: list[float] = []
    for place, note in enumerate(notes[:: max(1, len(notes) // NOTES_EACH)]):
        whole = np.asarray(sound_of(note.path)[: 3 * RATE])
        steady.append(steady_after(whole))
        near_hz = 440 * 2 ** ((note.midi - 69) / 12)
        part = slice(max(0, whole.size - round(LOOKED_S * RATE)), None)
        true_hz = praat_hz(whole[part], near_hz)
        for where, sound in (
            ("dry", whole),
            ("room 0.5 s", in_room(whole)),
            ("noise", noisy(whole, place)),
        ):
            for name, reader in readers.items():
                heard = reader(sound if name == "the tuner" else sound[part], near_hz)
                errors.setdefault((where, name), []).append(cents(heard, true_hz))
    yield "| recorded flute notes | read by | median, cents | 90 % within | octave or worse |"
    yield "|---|---|---|---|---|"
    for (where, name), found in errors.items():
        near = np.array([each for each in found if abs(each) < 100])
        ninety = np.percentile(np.abs(near), 90)
        far = len(found) - near.size
        median = np.median(near)
        yield f"| {where} | {name} | {median:+.1f} | {ninety:.1f} | {far} of {len(found)} |"
    clear = [each for each in steady if not math.isnan(each)]
    yield ""
    yield (
        f"Within 5 cents of its figure at 0.8 s after {np.median(clear):.2f} s (median; nine in "
        f"ten after {np.percentile(clear, 90):.2f} s)."
    )


def steady_after(sound: Sound) -> float:
    """From when on the figure stays within 5 cents of what it is at 0.8 s, in seconds."""
    notes, seen = FreeNotes(RATE), []
    for start in range(0, sound.size, HOP):
        note = notes.feed(sound[start : start + HOP].astype(np.float32))
        if note is not None:
            seen.append(note)
    full = next((note for note in seen if note.stands_s >= LOOKED_S), None)
    if full is None:
        return math.nan
    before = seen[: seen.index(full)]
    off = [n.stands_s for n in before if abs(cents(n.hz, full.hz)) > 5]
    return max(off, default=before[0].stands_s if before else 0.0)


def given(program: int, key: int, a4_hz: float) -> Sound:
    """Three seconds of the key, bent."""
    synth = fluidsynth.Synth(samplerate=float(RATE), gain=0.5)
    synth.setting("synth.reverb.active", 0)
    synth.setting("synth.chorus.active", 0)
    font = synth.sfload(SOUNDFONT)
    synth.program_select(0, font, 0, program)
    synth.pitch_bend(0, round(cents(a4_hz, 440.0) / BEND_CENTS * BEND_STEPS))
    synth.noteon(0, key, 100)
    samples = synth.get_samples(3 * RATE).reshape(-1, 2).mean(axis=1)
    synth.delete()
    return np.asarray(samples / 32768, float)


def a_table() -> Iterator[str]:
    """How far from Praat's figure on the dry tone, in Hz at A4."""
    errors: dict[tuple[str, str, str], list[float]] = {}
    for giver, program in GIVERS.items():
        for key in A_KEYS:
            for place, a4_hz in enumerate(A4S_HZ):
                dry, octave = given(program, key, a4_hz), 2 ** ((key - 69) / 12)
                true_hz = praat_hz(dry[RATE // 4 :], a4_hz * octave) / octave
                if not 415 <= true_hz <= 446:  # the sample itself is mistuned past the edge
                    continue
                for where, sound in (
                    ("dry", dry),
                    ("noise 10 dB below", noisy(dry, place)),
                    ("room 0.5 s", in_room(dry)),
                ):
                    part = sound[RATE // 4 :]
                    ours = a4_of(sound.astype(np.float32), RATE)
                    heard = {
                        "ours": math.nan if ours is None else ours,
                        "aubio yinfft": by_aubio("yinfft")(part, a4_hz) / octave,
                        "librosa yin": by_librosa(part, a4_hz * octave) / octave,
                    }
                    for name, hz in heard.items():
                        errors.setdefault((giver, where, name), []).append(hz - true_hz)
    yield "| the A of | heard | by | median, Hz | worst, Hz | within 0.3 Hz | not heard, far |"
    yield "|---|---|---|---|---|---|---|"
    for (giver, where, name), found in errors.items():
        near = np.array([each for each in found if abs(each) < 5])
        far = len(found) - near.size
        within = (np.abs(near) <= 0.3).sum()
        if near.size:
            yield (
                f"| {giver} | {where} | {name} | {np.median(near):+.2f} "
                f"| {np.abs(near).max():.2f} | {within} of {len(found)} | {far} |"
            )
        else:
            yield f"| {giver} | {where} | {name} | - | - | 0 of {len(found)} | {far} |"


if __name__ == "__main__":
    main()
