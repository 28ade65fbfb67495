"""Sounds that are no flute: how many notes are heard in them."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Iterator
from functools import partial
from shutil import which

import numpy as np
from scipy import signal

from tests.bench.ear.recorded.heard_by import (
    RATE,
    Sound,
    click_sound,
    heard_told,
    heard_untold,
    in_order,
)
from tests.bench.ear.recorded.plan import Plan
from tests.bench.ear.recorded.rooms import place
from tests.bench.ear.recorded.shared import cached

SECONDS = 4.0
ASKED = (67, 69, 71, 72)
WORDS = ("once more from the top please", "that was better", "wait, where are we now")
SOUNDFONT = "/usr/share/sounds/sf2/FluidR3_GM.sf2"
PROGRAMS = {"piano next door": 0, "guitar next door": 24, "harp next door": 46}
"""Of General MIDI, counted from 0."""
Made = Callable[[np.random.Generator, int], Sound]


def silence(plan: Plan) -> Iterator[dict]:
    """A record for each sound and room: notes heard, told that four are asked and told nothing."""
    for kind, make in sounds().items():
        for number in range(plan.takes(4, 1)):
            made = make(np.random.default_rng([plan.seed, number, 6]), number)
            level = 10 ** (LEVELS_DB[kind] / 20)
            for room in plan.rooms:
                where = place(room, plan.seed + number)
                sound = where.heard(made) * level
                sound = sound + np.random.default_rng(number).standard_normal(sound.size) * 3e-4
                told = heard_told(sound, in_order(ASKED))
                yield plan.tags(where) | {
                    "sound": kind,
                    "told": sum(note.state in ("played", "extra") for note in told),
                    "untold": len(heard_untold(sound)),
                }


def sounds() -> dict[str, Made]:
    """The sounds that can be made here, by name."""
    return {
        "page turns": _pages,
        "keys clapping": _keys,
        "chair": _chair,
        "click's leak": _click,
        **({"spoken words": _words} if which("espeak-ng") else {}),
        **({kind: partial(_next_door, kind) for kind in PROGRAMS} if which("fluidsynth") else {}),
    }


LEVELS_DB = {
    "page turns": -6.0,
    "keys clapping": -6.0,
    "chair": -3.0,
    "click's leak": -10.0,
    "spoken words": -3.0,
    **dict.fromkeys(PROGRAMS, -24.0),
}
"""Against the loudest sample of a flute take."""


def _silent() -> Sound:
    return np.zeros(round(SECONDS * RATE))


def _put(out: Sound, at_s: float, sound: Sound) -> None:
    first = round(at_s * RATE)
    part = out[first : first + sound.size]
    part += sound[: part.size]


def _noise(dice: np.random.Generator, seconds: float, low_hz: float, high_hz: float) -> Sound:
    band = signal.butter(2, (low_hz, high_hz), "bandpass", fs=RATE, output="sos")
    noise = signal.sosfilt(band, dice.standard_normal(round(seconds * RATE)))
    return np.asarray(noise / noise.std())


def _pages(dice: np.random.Generator, _: int) -> Sound:
    """A rustle that swells, made of many small cracks, and a slap at its end."""
    out = _silent()
    for at_s in (0.5, 2.3):
        seconds = float(dice.uniform(0.5, 0.9))
        rustle = _noise(dice, seconds, 900, 9000) * np.hanning(round(seconds * RATE))
        cracks = np.repeat(dice.exponential(1, -(-rustle.size // 250)), 250)[: rustle.size]
        _put(out, at_s, rustle * cracks)
        slap = _noise(dice, 0.06, 120, 1800) * np.exp(-np.arange(round(0.06 * RATE)) / RATE / 0.012)
        _put(out, at_s + seconds, 2 * slap)
    return out


def _keys(dice: np.random.Generator, _: int) -> Sound:
    """Claps of pads on the tube: a thud, and the tube's air answering, 10 dB down."""
    out = _silent()
    for at_s in np.sort(dice.uniform(0.3, SECONDS - 0.5, 14)):
        thud = _noise(dice, 0.05, 200, 4000) * np.exp(-np.arange(round(0.05 * RATE)) / RATE / 0.004)
        time_s = np.arange(round(0.12 * RATE)) / RATE
        hz = float(dice.uniform(260, 900))
        tube = 0.3 * np.sin(2 * np.pi * hz * time_s) * np.exp(-time_s / 0.012)
        _put(out, at_s, thud * dice.uniform(0.4, 1))
        _put(out, at_s + 0.002, tube * dice.uniform(0.4, 1))
    return out


def _chair(dice: np.random.Generator, _: int) -> Sound:
    """Stick and slip at 20 to 90 jumps a second through the wood's resonances, then a knock."""
    out = _silent()
    seconds = 0.8
    rate_hz = np.interp(
        np.arange(round(seconds * RATE)), (0, seconds * RATE), dice.uniform(20, 90, 2)
    )
    jumps = np.diff(np.floor(np.cumsum(rate_hz) / RATE + 0.2 * dice.random()), prepend=0.0)
    for hz, width in ((180, 8), (430, 12), (1150, 15)):
        b, a = signal.iirpeak(hz * dice.uniform(0.85, 1.15), width, fs=RATE)
        _put(out, 0.6, 20 * signal.lfilter(b, a, jumps))
    _put(out, 2.4, _noise(dice, 0.1, 60, 600) * np.exp(-np.arange(round(0.1 * RATE)) / RATE / 0.02))
    return out


def _click(_: np.random.Generator, number: int) -> Sound:
    """The trainer's own click as a loudspeaker of a laptop gives it."""
    out = _silent()
    for at_s in np.arange(0.3, SECONDS - 0.2, 60 / (60 + 20 * number)):
        _put(out, float(at_s), click_sound())
    return out


def _words(_: np.random.Generator, number: int) -> Sound:
    """Words of a synthetic voice, high and low."""
    voice = ("en-us", "en-gb+f3", "en-us+m4", "en-gb+f2")[number % 4]
    said = _from_program(
        f"words-{number}.wav",
        lambda path: ["espeak-ng", "-v", voice, "-w", path, WORDS[number % len(WORDS)]],
    )
    out = _silent()
    _put(out, 0.4, said)
    return out


def _next_door(kind: str, _: np.random.Generator, number: int) -> Sound:
    """A SoundFont's strings through a wall: nothing above 700 Hz."""
    import mido

    song = cached(f"{kind}-{number}.mid")
    track = mido.MidiTrack([mido.Message("program_change", program=PROGRAMS[kind])])
    for midi in np.random.default_rng([number, 7]).integers(48, 84, 12):
        track.append(mido.Message("note_on", note=int(midi), velocity=80, time=0))
        track.append(mido.Message("note_off", note=int(midi), velocity=0, time=240))
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(track)
    file.save(song)
    sound = _from_program(
        f"{kind}-{number}.wav",
        lambda path: [
            "fluidsynth",
            "-niq",
            "-g",
            "0.8",
            "-r",
            str(RATE),
            "-F",
            path,
            SOUNDFONT,
            str(song),
        ],
    )
    wall = signal.butter(2, 700, fs=RATE, output="sos")
    out = _silent()
    _put(out, 0.3, np.asarray(signal.sosfilt(wall, sound)))
    return out


def _from_program(name: str, command: Callable[[str], list[str]]) -> Sound:
    """A sound written by another program, kept between runs."""
    import soundfile

    file = cached(name)
    if not file.exists():
        subprocess.run(command(str(file)), check=True, capture_output=True)
    samples, rate = soundfile.read(file, always_2d=True)
    mono = samples.mean(axis=1)
    return np.asarray(signal.resample_poly(mono, RATE, rate) if rate != RATE else mono)
