"""The free tuner and somebody else's A beside aubio, librosa and Praat.

    python -m tests.bench.free_tuning [tuner|a|root]

Writes 'Free tuning', 'The A of others' and 'A by the root of a chord' into RESULTS.md; some minutes
each. The tuner hears
recorded flute notes (the shared recordings), dry and in a room of pyroomacoustics; Praat's
autocorrelation says where they stand.

The A is given by the piano, oboe, organ, violin and flute of two SoundFonts through fluidsynth, on
A3, A4 and A5, bent to A4 415 to 446, in noise and in that room; and by two or three strings with
stretched partials, made here at known frequencies some cents apart. Samples of SoundFonts stand off
their names by up to 1.3 Hz: so where each unbent key's line in the octave of A4 stands (an A5's
first) is measured in the time domain, by the turning of that line's phase (pulse pairs: Miller &
Rochwarger 1972, IEEE Trans. Inf. Theory 18:573), and the bend is known. That line is what a flute's
A4 beats with; Praat, aubio and librosa weigh a piano's stretched partials in.

The chords are held by ensembles, organ and piano of the same SoundFonts on all twelve roots, major
and minor, spread over two octaves and with the root doubled; the root's line is measured where it
sounds alone.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator, Sequence
from functools import cache

import aubio
import fluidsynth
import librosa
import numpy as np
import parselmouth
import pyroomacoustics
from numpy.typing import NDArray
from scipy import signal

from tests.bench.results import RESULTS, write_section
from tests.ear.recorded import RATE, single_notes, sound_of
from trainer.ear.live.free_note import FreeNotes
from trainer.ear.live.reference_tone import a4_of
from trainer.session.tuner import CERTAIN_HZ, LISTENS_ON_S, LISTENS_S

Sound = NDArray[np.float64]
SOUNDFONTS = ("/usr/share/sounds/sf2/TimGM6mb.sf2", "/usr/share/sounds/sf2/FluidR3_GM.sf2")
GIVERS = {"piano": 0, "organ": 19, "violin": 40, "oboe": 68, "flute": 73}
ENSEMBLES = {"strings": 48, "brass": 61, "choir": 52, "organ": 19, "piano": 0}
VOICINGS = {"major": (0, 7, 16), "minor": (0, 7, 15), "root doubled": (0, 7, 12, 16)}
A_KEYS = (57, 69, 81)
A4S_HZ = (415.0, 428.3, 440.0, 441.7, 443.9, 446.0)
BEND_CENTS, BEND_STEPS = 200.0, 8192
HOP = 1470
STANDS_S, LOOKED_S = 1.0, 0.8
NOISE_DB = 10.0
HEARD_S = tuple(
    seconds - 1 for seconds in (LISTENS_S, LISTENS_S + LISTENS_ON_S, LISTENS_S + 2 * LISTENS_ON_S)
)
"""So much of the note the tuner hears, and more where it wavers."""
CENTRED = 4
NOTES_EACH = 40


def main() -> None:
    """The tables asked for."""
    tables = {
        "tuner": ("Free tuning", tuner_table),
        "a": ("The A of others", a_table),
        "root": ("A by the root of a chord", root_table),
    }
    for word, (title, table) in tables.items():
        if word in sys.argv[1:] or len(sys.argv) == 1:
            body = "\n".join(table())
            write_section(title, body)
            print(body, f"\nwritten to {RESULTS}", sep="\n")


@cache
def room_answer() -> Sound:
    """Of a room of 0.5 s, two metres away (image sources, Allen & Berkley 1979)."""
    size = (6.0, 5.0, 3.0)
    absorption, order = pyroomacoustics.inverse_sabine(0.5, size)
    room = pyroomacoustics.ShoeBox(
        size, fs=RATE, materials=pyroomacoustics.Material(absorption), max_order=order
    )
    room.add_source([2.0, 2.5, 1.4])
    room.add_microphone([4.0, 2.2, 1.2])
    room.compute_rir()
    return np.asarray(room.rir[0][0])


def in_room(sound: Sound) -> Sound:
    """Heard in that room, as loud as before."""
    heard = signal.fftconvolve(sound, room_answer())[: sound.size]
    return heard / np.abs(heard).max() * np.abs(sound).max()


def noisy(sound: Sound, seed: int) -> Sound:
    """White noise 10 dB below."""
    level = math.sqrt(float(np.mean(sound**2))) * 10 ** (-NOISE_DB / 20)
    return sound + level * np.random.default_rng(seed).normal(size=sound.size)


def cents(hz: float, from_hz: float) -> float:
    return 1200 * math.log2(hz / from_hz)


def praat_hz(sound: Sound, near_hz: float) -> float:
    """Median of Praat's pitch."""
    hz = praat_course(sound, near_hz)
    return float(np.median(hz)) if hz.size else math.nan


def praat_course(sound: Sound, near_hz: float) -> Sound:
    """Every pitch that Praat's autocorrelation reads (Boersma 1993), 5 ms apart."""
    read = parselmouth.Sound(sound, RATE).to_pitch_ac(
        time_step=0.005,
        pitch_floor=near_hz / 1.3,
        pitch_ceiling=near_hz * 1.3,
        very_accurate=True,
    )
    hz = np.asarray(read.selected_array["frequency"], float)
    return hz[hz > 0]


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


@cache
def synthesizer(font: str) -> fluidsynth.Synth:
    synth = fluidsynth.Synth(samplerate=float(RATE), gain=0.5)
    synth.setting("synth.reverb.active", 0)
    synth.setting("synth.chorus.active", 0)
    synth.sfload(font)
    return synth


def given(font: str, program: int, keys: Sequence[int], bend: int) -> Sound:
    """The keys, as long as the tuner listens at most, bent by so many steps of the wheel."""
    synth = synthesizer(font)
    synth.system_reset()
    synth.get_samples(RATE)  # what still sounded
    synth.program_change(0, program)
    synth.pitch_bend(0, bend)
    for key in keys:
        synth.noteon(0, key, 100)
    samples = synth.get_samples(round(HEARD_S[-1] * RATE)).reshape(-1, 2).mean(axis=1)
    return np.asarray(samples / 32768, float)


def line_hz(sound: Sound, near_hz: float) -> float:
    """Where a line within half a half step of itself stands, by pulse pairs; looked for from a
    frequency near it."""
    for _ in range(CENTRED):
        edges = (near_hz * 2 ** (-50 / 1200), near_hz * 2 ** (50 / 1200))
        band = signal.butter(3, edges, "bandpass", fs=RATE, output="sos")
        turning = signal.hilbert(signal.sosfiltfilt(band, sound))[RATE // 4 :]
        pairs = np.sum(turning[1:] * turning[:-1].conj())
        near_hz = float(np.angle(pairs)) * RATE / (2 * np.pi)
    return near_hz


def strings(rng: np.random.Generator, a4_hz: float, octave: int) -> tuple[Sound, float]:
    """Two or three strings up to four cents apart with stretched partials (Fletcher 1964, JASA
    36:203), and the middle of their lines in the octave of A4 (an A5's first), at A4."""
    time_s = np.arange(round(HEARD_S[-1] * RATE)) / RATE
    stretch, part = rng.uniform(2e-4, 9e-4), 2 if octave < 0 else 1
    sound, lines, powers = np.zeros(time_s.size), [], []
    for cents_off in rng.uniform(-2, 2, int(rng.integers(2, 4))):
        loud = rng.uniform(0.6, 1)
        for k in range(1, 8):
            hz = a4_hz * 2 ** (octave + cents_off / 1200) * k * math.sqrt(1 + stretch * k * k)
            fall = loud * np.exp(-time_s * (0.6 + 0.3 * k)) / k
            sound += fall * np.sin(2 * np.pi * hz * time_s + rng.uniform(0, 2 * np.pi))
            if k == part:
                lines.append(hz / (part * 2**octave))
                powers.append(loud**2)
    return 0.1 * sound, float(np.average(lines, weights=powers))


def givers() -> Iterator[tuple[str, int, Sound, float]]:
    """Who gives it, the octave from A4, the sound, and where its A4 stands."""
    rng = np.random.default_rng(7)
    for key in A_KEYS:
        octave = (key - 69) // 12
        near_hz = 440.0 * 2 ** max(0, octave)
        for a4_hz in A4S_HZ:
            sound, true_hz = strings(rng, a4_hz, octave)
            if 415 <= true_hz <= 446:
                yield "strings", octave, sound, true_hz
        for font in SOUNDFONTS:
            for giver, program in GIVERS.items():
                unbent_hz = line_hz(given(font, program, [key], 0), near_hz) / 2 ** max(0, octave)
                for a4_hz in A4S_HZ:
                    bend, share = bent_to(a4_hz)
                    true_hz = unbent_hz * share
                    if 415 <= true_hz <= 446:  # the sample itself is off, past the edge
                        yield giver, octave, given(font, program, [key], bend), true_hz


def bent_to(a4_hz: float) -> tuple[int, float]:
    """Steps of the wheel from 440, and what they make of a frequency, as a share."""
    bend = round(cents(a4_hz, 440.0) / BEND_CENTS * BEND_STEPS)
    return bend, 2 ** (bend / BEND_STEPS * BEND_CENTS / 1200)


def a_table() -> Iterator[str]:
    """How far from where it stands, in Hz at A4."""
    errors: dict[tuple[str, str, str], list[float]] = {}
    swings: dict[str, list[float]] = {}
    for number, (giver, octave, dry, true_hz) in enumerate(givers()):
        swings.setdefault(giver, []).append(swing_hz(dry, true_hz * 2**octave) / 2**octave)
        for where, sound in heard_in(dry, number).items():
            part, near_hz = sound[RATE // 4 : round(HEARD_S[0] * RATE)], true_hz * 2**octave
            heard = {
                "ours": by_a(sound),
                "aubio yinfft": by_aubio("yinfft")(part, near_hz) / 2**octave,
                "librosa yin": by_librosa(part, near_hz) / 2**octave,
                "Praat": praat_hz(part, near_hz) / 2**octave,
            }
            for name, hz in heard.items():
                errors.setdefault((giver, where, name), []).append(hz - true_hz)
    yield "| the A of | heard | by | median, Hz | worst, Hz | within 0.3 Hz | not said | wrong |"
    yield "|---|---|---|---|---|---|---|---|"
    for (giver, where, name), found in errors.items():
        yield f"| {giver} | {where} | {name} | {error_cells(found)} |"
    yield from swings_told(swings)


def by_a(sound: Sound, above_a: int = 0) -> float:
    """What the tuner offers of a note so many half steps above A; heard longer where it wavers."""
    for seconds in HEARD_S:
        heard = a4_of(sound[: round(seconds * RATE)].astype(np.float32), RATE, above_a)
        if heard is None:
            return math.nan
        if heard.within_hz <= CERTAIN_HZ:
            return heard.a4_hz
    return math.nan


def swing_hz(sound: Sound, near_hz: float) -> float:
    """How far Praat's reading of one tone swings, from its 5th to its 95th percentile."""
    course = praat_course(sound[RATE // 4 :], near_hz)
    return float(np.ptp(np.percentile(course, (5, 95)))) if course.size else math.nan


def swings_told(swings: dict[str, list[float]]) -> Iterator[str]:
    told = ", ".join(f"{giver} {np.nanmedian(each):.1f}" for giver, each in swings.items())
    yield ""
    yield (
        "Praat reads a single dry tone as swinging so far (5th to 95th percentile, Hz at A4, "
        f"median of the tones): {told}."
    )


def heard_in(dry: Sound, seed: int) -> dict[str, Sound]:
    """Dry, in noise and in the room."""
    return {"dry": dry, "noise 10 dB below": noisy(dry, seed), "room 0.5 s": in_room(dry)}


def error_cells(found: Sequence[float]) -> str:
    """Median and worst of those that are an A, within 0.3 Hz, not said, and said wrongly."""
    said = np.array([each for each in found if not math.isnan(each)])
    near = said[np.abs(said) < 5]
    within = int((np.abs(near) <= 0.3).sum())
    middle = f"{np.median(near):+.2f} | {np.abs(near).max():.2f}" if near.size else "- | -"
    return f"{middle} | {within} of {len(found)} | {len(found) - said.size} | {said.size - within}"


def root_table() -> Iterator[str]:
    """The A by the root of a chord, whichever it is."""
    errors: dict[tuple[str, str, str], list[float]] = {}
    swings: dict[str, list[float]] = {}
    rng = np.random.default_rng(11)
    for ensemble, program in ENSEMBLES.items():
        for font in SOUNDFONTS:
            for above_a in range(12):
                alone, low = given(font, program, [A_KEYS[0] + above_a], 0), 2 ** (above_a / 12 - 1)
                swings.setdefault(ensemble, []).append(swing_hz(alone, 440 * low) / low)
                for voicing in VOICINGS.values():
                    keys = [A_KEYS[0] + above_a + up for up in voicing]
                    roots = [key for key in keys if (key - A_KEYS[0] - above_a) % 12 == 0]
                    share = 2 ** (above_a / 12)
                    unbent_hz = line_hz(given(font, program, roots, 0), 440 * share) / share
                    bend, by = bent_to(float(rng.choice(A4S_HZ)))
                    if not 415 <= unbent_hz * by <= 446:
                        continue
                    dry = given(font, program, keys, bend)
                    for where, sound in heard_in(dry, above_a).items():
                        heard = {
                            "ours": by_a(sound, above_a),
                            "aubio yinfft": by_aubio("yinfft")(sound, 440 * low) / low,
                            "librosa yin": by_librosa(sound, 440 * low) / low,
                        }
                        for name, hz in heard.items():
                            off_hz = hz - unbent_hz * by
                            errors.setdefault((ensemble, where, name), []).append(off_hz)
    yield "| chords of | heard | by | median, Hz | worst, Hz | within 0.3 Hz | not said | wrong |"
    yield "|---|---|---|---|---|---|---|---|"
    for (ensemble, where, name), found in errors.items():
        yield f"| {ensemble} | {where} | {name} | {error_cells(found)} |"
    yield from swings_told(swings)


if __name__ == "__main__":
    main()
