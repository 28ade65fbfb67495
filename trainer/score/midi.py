"""Standard MIDI files (MIDI 1.0, RP-001) → the parts of a score.

A MIDI file holds sounds: spelling comes from its key signature, lengths from its beats. It has no
slurs and no articulations. Only files written by a notation program stand on the beats; a file
played in by hand is refused.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import TypeVar

import mido

from trainer.errors import ScoreError
from trainer.music.key import Key, Mode
from trainer.score.midi_spelling import spelled
from trainer.score.part import MOST_BARS, Bar, BarNote, Part, Score

GRIDS = (8, 12)
"""Notes begin on eighths of a beat (thirty-seconds) or on twelfths (triplets of them)."""
GRID_SLACK = Fraction(1, 64)
"""How far from it a written note may stand, in beats: programs with few ticks round."""
SHORTEST_GATE = Fraction(3, 5)
EARLY_SHARE = Fraction(2, 25)
"""Where all notes end early, how far the single one may differ from the others."""
_COMMON_LENGTHS = tuple(
    Fraction(parts, 48) for parts in (4, 6, 8, 9, 12, 16, 18, 24, 32, 36, 48, 64, 72, 96)
)
"""From a triplet of thirty-seconds (1/12 of a beat) to a half note."""
MOST_NOTES = 50_000
"""A symphony's busiest part has about a tenth of this."""
MOST_BEATS = 20_000
"""An hour and more at any tempo."""
_PERCUSSION_CHANNEL = 9
_WRITTEN = frozenset((1, 2, 3, 4, 6, 8, 12))
"""Denominators of places that can be written."""
_T = TypeVar("_T")


@dataclass(frozen=True)
class _Sound:
    """One note, in beats from the start of the file."""

    onset: Fraction
    end: Fraction
    midi: int


@dataclass(frozen=True)
class _Bars:
    """What the file says of its bars: (beat, value), by beat."""

    meters: tuple[tuple[Fraction, tuple[int, int]], ...]
    keys: tuple[tuple[Fraction, Key | None], ...]
    tempos: tuple[tuple[Fraction, float], ...]


def read_midi(path: Path, data: bytes) -> Score:
    """The score in a MIDI file. Raises ScoreError with what to do."""
    file = _opened(path, data)
    sounds = _sounds(path, file)
    bars = _bars(file)
    parts = []
    for name, found in sounds.items():
        line, chords = _one_line(found)
        parts.append(_part(path, name, line, chords, bars))
    if not parts:
        raise ScoreError(f"{path}: no notes are in this MIDI file.")
    title = next((m.name for m in file.tracks[0] if m.type == "track_name"), "")
    return Score("" if title in sounds else " ".join(title.split())[:60], tuple(parts))


def _opened(path: Path, data: bytes) -> mido.MidiFile:
    try:
        file = mido.MidiFile(file=BytesIO(data), clip=True)
    except (OSError, EOFError, ValueError, LookupError, TypeError, AttributeError,
            mido.KeySignatureError) as error:  # fmt: skip
        raise ScoreError(
            f"{path}: it is broken or cut off. Export it again as MIDI, or better as MusicXML."
        ) from error
    if file.ticks_per_beat <= 0:
        raise ScoreError(
            f"{path}: it counts in film frames, not in beats. Export it from a notation program."
        )
    return file


def _sounds(path: Path, file: mido.MidiFile) -> dict[str, list[_Sound]]:
    """Part name → its notes by onset; a track with several channels is several parts."""
    found: dict[tuple[int, int], list[_Sound]] = defaultdict(list)
    count = 0
    for index, track in enumerate(file.tracks):
        ticks, open_notes = 0, dict[tuple[int, int], int]()
        for message in track:
            ticks += message.time
            if message.type not in ("note_on", "note_off"):
                continue
            sounding = (message.channel, message.note)
            began = open_notes.pop(sounding, None)
            if began is not None and ticks > began:
                found[index, message.channel].append(_sound(file, began, ticks, message.note))
            if message.type == "note_on" and message.velocity > 0:
                open_notes[sounding] = ticks
                count += 1
        if count > MOST_NOTES or ticks > MOST_BEATS * file.ticks_per_beat:
            raise ScoreError(f"{path}: it is too long. Export fewer bars.")
    return {
        _name(file, index, channel, found): sorted(sounds, key=lambda one: (one.onset, one.midi))
        for (index, channel), sounds in sorted(found.items())
        if channel != _PERCUSSION_CHANNEL
    }


def _sound(file: mido.MidiFile, began: int, ended: int, midi: int) -> _Sound:
    beat = file.ticks_per_beat
    return _Sound(Fraction(began, beat), Fraction(ended, beat), midi)


def _name(file: mido.MidiFile, index: int, channel: int, found: Iterable[tuple[int, int]]) -> str:
    names = [message.name for message in file.tracks[index] if message.type == "track_name"]
    name = " ".join(names[0].split())[:60] if names and names[0].strip() else f"Track {index + 1}"
    alone = sum(track == index for track, _ in found) == 1
    return name if alone else f"{name}, channel {channel + 1}"


def _one_line(sounds: Sequence[_Sound]) -> tuple[list[_Sound], list[Fraction]]:
    """The highest of notes that begin together, each ending before the next begins; and where
    other notes sounded with it.
    """
    line: list[_Sound] = []
    together: list[Fraction] = []
    for sound in sounds:
        sound = replace(sound, onset=_on_grid(sound.onset))
        if line and line[-1].onset == sound.onset:
            together.append(sound.onset)
            line.pop()
        elif line and line[-1].end - sound.onset > Fraction(1, 8):
            together.append(sound.onset)
        line.append(sound)
    gate = _gate(line)
    ends = [after.onset for after in line[1:]]
    return [
        replace(sound, end=_end(sound, next_onset, gate))
        for sound, next_onset in zip(line, [*ends, None], strict=True)
    ], together


def _gate(line: Sequence[_Sound]) -> Fraction:
    """The share of its length a note of this file sounds: some programs let all end early."""
    shares = sorted(
        (sound.end - sound.onset) / (after.onset - sound.onset) for sound, after in pairwise(line)
    )
    middle = shares[len(shares) // 2] if shares else Fraction(1)
    return middle if SHORTEST_GATE <= middle < 1 else Fraction(1)


def _on_grid(beat: Fraction) -> Fraction:
    """The nearest place a written note can begin, or the beat itself where none is near."""
    near = min((Fraction(round(beat * grid), grid) for grid in GRIDS), key=lambda g: abs(g - beat))
    return near if abs(near - beat) <= GRID_SLACK else beat


def _end(sound: _Sound, next_onset: Fraction | None, gate: Fraction) -> Fraction:
    """Where the note ends as it would be written: at the next note where it nearly reaches it."""
    sounded = (sound.end - sound.onset) / gate
    length = _written_length(sounded)
    if next_onset is None:
        return sound.onset + length
    room = next_onset - sound.onset
    slack = max(GRID_SLACK, EARLY_SHARE * room if gate < 1 else Fraction(0))
    reaches = sounded >= room - slack or length > room
    return next_onset if reaches else sound.onset + length


def _written_length(sounded: Fraction) -> Fraction:
    """The shortest length in common use that a note sounding so long may be written with."""
    common = next((length for length in _COMMON_LENGTHS if length >= sounded - GRID_SLACK), None)
    return common or Fraction(-(-2 * (sounded - GRID_SLACK) // 1), 2)


# Bars


def _bars(file: mido.MidiFile) -> _Bars:
    meters = {Fraction(0): (4, 4)}
    keys: dict[Fraction, Key | None] = {Fraction(0): None}
    tempos: dict[Fraction, float] = {}
    for track in file.tracks:
        ticks = 0
        for message in track:
            ticks += message.time
            beat = Fraction(ticks, file.ticks_per_beat)
            match message.type:
                case "time_signature" if 1 <= message.numerator <= 64:
                    meters[beat] = (message.numerator, message.denominator)
                case "key_signature":
                    keys[beat] = _key(message.key)
                case "set_tempo" if message.tempo > 0:
                    tempos[beat] = round(mido.tempo2bpm(message.tempo), 2)
    return _Bars(
        tuple(sorted(meters.items())),
        tuple(sorted(keys.items(), key=lambda one: one[0])),
        tuple(sorted(tempos.items())),
    )


def _key(name: str) -> Key | None:
    mode = Mode.MINOR if name.endswith("m") else Mode.MAJOR
    try:
        return Key(name.removesuffix("m"), mode)
    except ValueError:
        return None


def _part(
    path: Path, name: str, line: Sequence[_Sound], together: Sequence[Fraction], known: _Bars
) -> Part:
    bars: list[Bar] = []
    began, place = Fraction(0), 0
    end = max((sound.end for sound in line), default=Fraction(0))
    off: list[str] = []
    while began < end:
        if len(bars) >= MOST_BARS:
            raise ScoreError(f"{path}: {name} has more than {MOST_BARS} bars. Export fewer.")
        meter = _at(known.meters, began) or (4, 4)
        length = Fraction(4 * meter[0], meter[1])
        changes = [beat for beat, _ in known.meters if began < beat < began + length]
        length = changes[0] - began if changes else length
        key = _at(known.keys, began)
        number = str(len(bars) + 1)
        notes = []
        while place < len(line) and line[place].onset < began + length:
            sound = line[place]
            notes.append(
                BarNote(spelled(sound.midi, key), sound.onset - began, sound.end - sound.onset)
            )
            if _on_grid(sound.onset).denominator not in _WRITTEN:
                off.append(number)
            place += 1
        chords = any(began <= beat < began + length for beat in together)
        bars.append(
            Bar(
                number=number,
                length=length,
                meter=meter,
                key=key,
                tempo_bpm=_at(known.tempos, began),
                notes=tuple(notes),
                left_out=("the lower notes of chords",) if chords else (),
            )
        )
        began += length
    if len(off) > max(2, len(line) // 10):
        raise ScoreError(
            f"{path}: the notes of {name} don't stand on the beats: the file was played in, not "
            "written. Write it out in a notation program and export it as MusicXML."
        )
    return Part(name, tuple(bars))


def _at(changes: Sequence[tuple[Fraction, _T]], beat: Fraction) -> _T | None:
    """What holds at a beat: the last change before it or on it."""
    return next((value for place, value in reversed(changes) if place <= beat), None)
