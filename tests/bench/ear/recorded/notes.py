"""Recorded single notes, trimmed, with the place where each speaks and how it is tuned.

A slow note begins 50 to 120 ms before it speaks: its level swings between -15 and -25 dB of its
later level first. Its stroke is put where its level first passes -20 dB of its loudest, the place
where it speaks where it last passes -10 dB of the loudest of its first half second (loudness: RMS
over 512 samples, from SOUNDS_HZ up). Both to about 3 ms; nobody listened.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from itertools import product

import librosa
import numpy as np
import soundfile
from scipy import signal

from tests.bench.ear.recorded.heard_by import RATE, Sound
from tests.bench.ear.recorded.shared import RECORDINGS

QUICK_S = 0.03
"""From stroke to speaking; beyond, a note is slow to speak."""
SLOW_S = 0.05
SOUNDS_HZ = 150.0
"""What is lower, the flute can't sound (B3, its lowest note, has 247 Hz): in every second of these
files a rumble of air and hands comes 40 to 60 ms before anything of the note, at up to -10 dB."""
LEAD_S = 0.012
"""Kept before the stroke."""
LEAD = round(LEAD_S * RATE)
FURTHEST_CENTS = 60.0
RECORDED = "recorded"
FLUTE = 73
"""General MIDI's program, counted from 0."""
SOUNDFONTS = {
    "fluid": f"/usr/share/sounds/sf2/FluidR3_GM.sf2:{FLUTE}",
    "timgm": f"/usr/share/sounds/sf2/TimGM6mb.sf2:{FLUTE}",
    "musescore": f"/usr/share/sounds/sf3/MuseScore_General_Full.sf3:{FLUTE}",
}
"""Other players, as Debian carries them: other flutes, cut and looped by other people. The network
of starts was fitted on these too; nothing else of the trainer was. Any other is FILE:PROGRAM."""
LENGTHS_S = {"025": 0.25, "1": 0.9}
HELD_S = {**LENGTHS_S, "long": 3.0}
VELOCITIES = (60, 85, 110)
_CLASSES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NAME = re.compile(r"flute_([A-G])(s?)(\d)_([^_]+)_([^_]+)_([^_]+)\.mp3$")
_HOP = 64
_SOUNDS = signal.butter(4, SOUNDS_HZ, "highpass", fs=RATE, output="sos")


class Part(StrEnum):
    """Which pitches are played."""

    HELD_OUT = "held-out"
    """Pitches of which no single note, trill or swell may be fitted on: MIDI number modulo 5 is 1
    or 4. Of the four recorded legato phrases none is left out: `fit/README.md` has the spread."""
    ALL = "all"

    def holds(self, midi: int) -> bool:
        """Whether a pitch belongs to it."""
        return self is Part.ALL or midi % 5 in (1, 4)


@dataclass(frozen=True)
class RecordedNote:
    """One file with one note; times from its first sample kept."""

    name: str
    midi: int
    length: str
    dynamic: str
    samples: Sound
    speaks_s: float
    slow_s: float
    """From the stroke to where it speaks."""
    lasts_s: float
    """From where it speaks to where it has fallen by 12 dB."""
    cents: float
    """Of its beginning, as far as a quick line plays it, against equal temperament at 440 Hz."""
    held_cents: float
    """Of what follows, which is played under slurs."""

    @property
    def stroke_s(self) -> float:
        """Where the stroke is."""
        return self.speaks_s - self.slow_s


def named(name: str) -> tuple[int, str, str, str] | None:
    """MIDI number, length, dynamic and manner from a file's name; None where it is another kind."""
    if (match := _NAME.match(name)) is None:
        return None
    midi = _CLASSES[match[1]] + bool(match[2]) + 12 * (int(match[3]) + 1)
    return midi, match[4], match[5], match[6]


def sound_of(path: str) -> Sound:
    """The samples of a file of the recordings, mono."""
    samples, rate = soundfile.read(RECORDINGS / path, always_2d=True)
    assert rate == RATE
    return np.asarray(samples.mean(axis=1))


@cache
def single_notes(player: str = RECORDED, *, held: bool = False) -> tuple[RecordedNote, ...]:
    """Every single note of a player that is in tune with its name, by name; of a SoundFont's held
    ones too where they are asked for."""
    lengths_s = HELD_S if held else LENGTHS_S
    every = _recorded() if player == RECORDED else _sampled(player, lengths_s)
    return tuple(
        note
        for note in every
        if abs(note.cents) < FURTHEST_CENTS and note.samples.size > 0.2 * RATE
    )


def _recorded() -> Iterator[RecordedNote]:
    for path in sorted((RECORDINGS / "single").glob("*.mp3")):
        if (words := named(path.name)) is not None:
            yield _note(path.name, *words[:3], sound_of(f"single/{path.name}"))


def _sampled(player: str, lengths_s: dict[str, float]) -> Iterator[RecordedNote]:
    """The notes of a SoundFont's flute, soft and loud, short and long, without its reverberation;
    each about as far below its loudest as a note is that ends."""
    import fluidsynth

    synth = fluidsynth.Synth(gain=0.5, samplerate=float(RATE))
    for part in ("reverb", "chorus"):
        synth.setting(f"synth.{part}.active", 0)
    file, program = SOUNDFONTS.get(player, player).rsplit(":", 1)
    synth.program_select(0, synth.sfload(file), 0, int(program))
    for midi, (length, seconds), velocity in product(range(60, 97), lengths_s.items(), VELOCITIES):
        synth.noteon(0, midi, velocity)
        held = synth.get_samples(round(seconds * RATE))
        synth.noteoff(0, midi)
        stereo = np.concatenate([held, synth.get_samples(round(0.4 * RATE))]).reshape(-1, 2)
        synth.get_samples(RATE)
        sound = np.concatenate([np.zeros(LEAD), stereo.mean(axis=1) / 32768])
        yield _note(f"{player} {midi} {velocity}", midi, length, str(velocity), sound)
    synth.delete()


def _note(name: str, midi: int, length: str, dynamic: str, sound: Sound) -> RecordedNote:
    stroke, speaks = stroke_and_speaking(sound)
    first = max(0, min(stroke, _first_passed(_levels(sound))) - LEAD)
    kept = sound[first:]
    spoken = kept[speaks - first :]
    lasts_s = _lasts_s(spoken)
    return RecordedNote(
        name,
        midi,
        length,
        dynamic,
        kept,
        speaks_s=(speaks - first) / RATE,
        slow_s=(speaks - stroke) / RATE,
        lasts_s=lasts_s,
        cents=_cents(spoken, midi, 0.03, min(0.25, lasts_s)),
        held_cents=_cents(spoken, midi, 0.1, min(0.4, lasts_s)),
    )


def _lasts_s(spoken: Sound) -> float:
    """How long the tone stays within 12 dB of its loudest."""
    level = _levels(spoken)
    return float(np.flatnonzero(level > 0.25 * level.max())[-1] * _HOP / RATE)


def _cents(spoken: Sound, midi: int, from_s: float, to_s: float) -> float:
    """Median of YIN over a stretch after the note speaks, of 60 ms at least."""
    first = round(from_s * RATE)
    part = spoken[first : max(round(to_s * RATE), first + round(0.06 * RATE))]
    low, high = (float(librosa.midi_to_hz(midi + side)) for side in (-2, 2))
    hz = librosa.yin(
        part, fmin=low, fmax=high, sr=RATE, frame_length=2048, hop_length=128, center=False
    )
    return float(1200 * np.log2(np.median(hz) / librosa.midi_to_hz(midi)))


def stroke_and_speaking(sound: Sound) -> tuple[int, int]:
    """Samples where a lone note's stroke is and where it speaks."""
    level = _levels(signal.sosfiltfilt(_SOUNDS, sound))
    stroke = _first_passed(level)
    speaks = int(np.argmax(level > 0.7 * level[: RATE // 2 // _HOP].max()))
    while speaks > stroke // _HOP and level[speaks] > 0.32 * level.max():
        speaks -= 1
    return stroke, max(stroke, speaks * _HOP)


def _levels(sound: Sound) -> Sound:
    return np.asarray(librosa.feature.rms(y=sound, frame_length=512, hop_length=_HOP)[0])


def _first_passed(level: Sound) -> int:
    """The sample where a level first passes -20 dB of its loudest."""
    return int(np.argmax(level > 0.1 * level.max())) * _HOP


Bank = dict[int, tuple[RecordedNote, ...]]


def bank(
    part: Part, fits: Callable[[RecordedNote], bool] = lambda _: True, player: str = RECORDED
) -> Bank:
    """The notes that fit by MIDI number, in rising order."""
    return by_pitch(note for note in single_notes(player) if part.holds(note.midi) and fits(note))


def quick_bank(part: Part, player: str = RECORDED) -> Bank:
    """Notes that speak at once; of a pitch with none, the quickest."""
    everything = bank(part, player=player)
    return {
        midi: tuple(n for n in notes if n.slow_s <= QUICK_S)
        or (min(notes, key=lambda note: note.slow_s),)
        for midi, notes in everything.items()
    }


def alternating_bank(part: Part) -> Bank:
    """Notes that speak at once, two or more of each pitch, else the two quickest."""
    return {
        midi: tuple(n for n in notes if n.slow_s <= QUICK_S)
        if sum(n.slow_s <= QUICK_S for n in notes) > 1
        else tuple(sorted(notes, key=lambda note: note.slow_s)[:2])
        for midi, notes in bank(part).items()
    }


def by_pitch(notes: Iterable[RecordedNote]) -> Bank:
    """Notes gathered by MIDI number, in rising order."""
    found: dict[int, tuple[RecordedNote, ...]] = {}
    for note in notes:
        found[note.midi] = (*found.get(note.midi, ()), note)
    return dict(sorted(found.items()))
