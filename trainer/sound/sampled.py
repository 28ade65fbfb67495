"""A sampled flute as the partner's voice, played from a SoundFont that the machine has.

A flute's samples are a few cents off, speak late, and waver as the flutist did. So a note's sound
is taken after it has spoken, and time is bent until its fundamental turns evenly: what is left of
the sample is its colour, its breath and its swell, at a pitch and a place as exact as the
trainer's own tone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from scipy.ndimage import map_coordinates, spline_filter1d
from scipy.signal import upfirdn

from trainer.disk.missing_library import install_words
from trainer.errors import SoundError
from trainer.music.tuning import Tuning
from trainer.sound.partner import BLEND_S, Signal, Voice, steady_rms

FLUTE_PROGRAM = 73
"""General MIDI level 1 (MMA 1991): program 74 counted from one, 'Flute'."""
USUAL_PLACES = (
    Path("/usr/share/sounds/sf2/default-GM.sf2"),
    Path("/usr/share/sounds/sf3/default-GM.sf3"),
    Path("/usr/share/soundfonts/default.sf2"),
    Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"),
    Path("/usr/share/sounds/sf2/TimGM6mb.sf2"),
)
"""Where Linux systems keep the SoundFont they play music files with."""
HOW_TO_MEND = (
    "Install the library (Debian: 'sudo apt install libfluidsynth3', macOS: 'brew install "
    f"fluid-synth'), and the trainer's way to it: {install_words('pyfluidsynth')}."
)
VELOCITY = 100
"""Loud enough for the SoundFont's fuller samples."""
GAIN = 0.6
LEAST_LEVEL = 1e-3
"""Softer than that, full scale 1, a SoundFont has no flute at this pitch."""
SPOKEN_DB = -1.0
"""A sample has spoken where its level is this near to the level it keeps."""
LEVEL_S = 0.01
KEYBOARD = Tuning()
"""What a SoundFont's keys are tuned to."""
KEYS = range(36, 109)
"""From the octave below a bass flute's lowest note to a piccolo's highest."""
LEAST_S = 1.0
"""Less of a sample says little about the level it keeps."""
MORE = 1.5
"""What is played for a long note is made longer by this, for the next ones."""
SPARE_S = 0.2
"""At both ends of what is kept the phase is unsure."""
PERIODS = 4
LEAST_WINDOW_S = 0.02
"""The fundamental's phase is taken over so many periods, and so long at the least: short beside a
vibrato's turn, long enough to keep the other harmonics out."""
HOP = 64
"""Frames from one look at the phase to the next; in between it moves evenly enough."""
BLOCK = 64
"""The library begins notes at whole blocks only."""
FULL_SCALE = 32768.0
"""Of 16 bits."""

Play = Callable[[int, int], Signal]
"""A key and a number of frames to the sound from the key going down, shape (frames,)."""


@dataclass(frozen=True)
class _Spoken:
    """One key's sound from where it has spoken, read by the phase of its fundamental."""

    spline: Signal
    """The sound as the coefficients of a cubic spline, one a frame."""
    phase: Signal
    """Of the fundamental, each HOP frames, rising; in radians, as of a sine."""
    rms: float

    def at(self, phase: Signal) -> Signal:
        """The sound where its fundamental is that far, in radians, at full scale 1 RMS; both of
        shape (samples,)."""
        begin = self.phase[0]
        turns = np.ceil((begin - phase[0]) / (2 * np.pi))
        hops = np.arange(self.phase.size) * float(HOP)
        frames = np.interp(phase + 2 * np.pi * turns, self.phase, hops)
        sound = map_coordinates(self.spline, frames[None], order=3, mode="mirror", prefilter=False)
        return np.asarray(sound) / self.rms

    def lasts(self, phase: Signal) -> bool:
        """Whether there is enough of it for a phase of shape (samples,), in radians."""
        return bool(self.phase[-1] - self.phase[0] > phase[-1] - phase[0] + 2 * np.pi)


class SampledFlute:
    """The flute of a SoundFont."""

    def __init__(self, opened: Callable[[int], Play], rate: int) -> None:
        """Has every key ready at this rate, which takes about half a second.

        opened: plays the flute at a rate. Raises SoundError where it has no sound at some pitch.
        """
        self._opened = opened
        self._plays: dict[int, Play] = {}
        self._spoken: dict[tuple[int, int], _Spoken] = {}
        for key in KEYS:
            self._ready(key, LEAST_S, rate)

    def line(self, tones: Sequence[tuple[float, int]], rate: int) -> Signal:
        """As `Voice` asks; a tone goes on a little under the next, in step with it."""
        ends = np.cumsum([frames for _, frames in tones])
        line = np.zeros(int(ends[-1]))
        blend, phase = round(BLEND_S * rate), 0.0
        for (hz, frames), end in zip(tones, ends, strict=True):
            turning = 2 * np.pi * hz / rate
            begin, last = int(end) - frames, min(int(end) + blend, line.size)
            angle = phase + turning * np.arange(last - begin, dtype=np.float64)
            tone = self._tone(hz, angle, rate)
            rise = np.linspace(0.0, 1.0, min(blend, frames), endpoint=False) if begin else 1.0
            tone[: np.size(rise)] *= rise
            tone[frames:] *= np.linspace(1.0, 0.0, last - int(end), endpoint=False)
            line[begin:last] += tone
            phase = (phase + turning * frames) % (2 * np.pi)
        return line

    def _tone(self, hz: float, phase: Signal, rate: int) -> Signal:
        key = int(np.clip(np.round(KEYBOARD.midi(hz)), KEYS[0], KEYS[-1]))
        spoken = self._spoken.get((key, rate))
        if spoken is None or not spoken.lasts(phase):
            turns = (phase[-1] - phase[0]) / (2 * np.pi)
            spoken = self._ready(key, max(LEAST_S, MORE * turns / KEYBOARD.midi_hz(key)), rate)
        return steady_rms(hz) * spoken.at(phase)

    def _ready(self, key: int, seconds: float, rate: int) -> _Spoken:
        self._spoken[key, rate] = _spoken(self._play(rate), key, seconds, rate)
        return self._spoken[key, rate]

    def _play(self, rate: int) -> Play:
        if rate not in self._plays:
            self._plays[rate] = self._opened(rate)
        return self._plays[rate]


def sampled_flute(file: Path | None, rate: int) -> Voice:
    """The flute of this SoundFont, or of the one the system keeps.

    Raises SoundError that says what is missing and how to get it.
    """
    if file is None:
        file = next((place for place in USUAL_PLACES if place.exists()), None)
    if file is None:
        raise SoundError(
            "No SoundFont was found on this computer. Install one (Debian: 'sudo apt install "
            "fluid-soundfont-gm'), or write the place of an .sf2 file as 'partner sound' in the "
            "settings' file."
        )
    return SampledFlute(partial(_opened, file), rate)


def _opened(file: Path, rate: int) -> Play:
    """The library with this file's flute in hand."""
    try:
        import fluidsynth
    except ImportError as error:
        raise SoundError(f"The library that plays SoundFonts is missing. {HOW_TO_MEND}") from error
    if not file.is_file():
        raise SoundError(f"There is no SoundFont {file}: check 'partner sound' in the settings.")
    synth = fluidsynth.Synth(gain=GAIN, samplerate=float(rate))
    synth.setting("synth.reverb.active", 0)
    synth.setting("synth.chorus.active", 0)
    synth.setting("synth.dynamic-sample-loading", 1)
    font = synth.sfload(str(file))
    if font < 0:
        raise SoundError(f"{file} is no SoundFont that can be read: take another .sf2 file.")
    if synth.program_select(0, font, 0, FLUTE_PROGRAM) != 0:
        raise SoundError(
            f"{file} has no flute at its General MIDI place (bank 0, program {FLUTE_PROGRAM}): "
            "take another SoundFont."
        )

    def play(key: int, frames: int) -> Signal:
        synth.noteon(0, key, VELOCITY)
        both = synth.get_samples(-(-frames // BLOCK) * BLOCK).reshape(-1, 2)
        synth.all_sounds_off(0)
        synth.get_samples(BLOCK)
        # one side alone: the two of a stereo sample would beat against each other
        return np.asarray(both[:frames, 0] / FULL_SCALE, np.float64)

    return play


def _spoken(play: Play, key: int, seconds: float, rate: int) -> _Spoken:
    """So much of a key's sound, and where its fundamental stands at each frame of it."""
    spare = round(SPARE_S * rate)
    sound = play(key, round(seconds * rate) + 3 * spare)
    step = round(LEVEL_S * rate)
    levels = np.sqrt(np.mean(sound[: sound.size // step * step].reshape(-1, step) ** 2, axis=1))
    kept = float(np.median(levels))
    if kept < LEAST_LEVEL:
        raise SoundError("The SoundFont's flute has no sound at this pitch: take another.")
    spoken = step * int(np.argmax(levels > kept * 10 ** (SPOKEN_DB / 20)))
    first, last = spoken // HOP, (sound.size - spare) // HOP
    phase = _phase_of_fundamental(sound, KEYBOARD.midi_hz(key), rate)[first:last]
    body = sound[first * HOP : last * HOP]
    return _Spoken(
        spline_filter1d(body, order=3),
        np.maximum.accumulate(phase),
        float(np.sqrt(np.mean(body**2))),
    )


def _phase_of_fundamental(sound: Signal, hz: float, rate: int) -> Signal:
    """As of a sine, in radians, each HOP frames from the first on."""
    half = round(max(LEAST_WINDOW_S, PERIODS / hz) * rate / 2 / HOP) * HOP
    turning = 2 * np.pi * hz / rate
    only = np.hanning(2 * half + 1) * np.exp(1j * turning * np.arange(-half, half + 1))
    tones = upfirdn(only, sound, down=HOP)[half // HOP :]
    expected = turning * HOP * np.arange(tones.size)
    slow = np.unwrap(np.angle(tones * np.exp(-1j * expected)))
    return np.asarray(slow + expected + np.pi / 2)
