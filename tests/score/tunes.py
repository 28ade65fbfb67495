"""Invented tunes as plain tables, and the same tunes written out by libraries that are not ours."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from random import Random

import mido
import music21
import partitura
import partitura.score
import pretty_midi

from trainer.music.key import Key, major_keys, minor_keys
from trainer.music.pitch import Pitch

METERS = ((4, 4), (3, 4), (2, 4), (6, 8), (2, 2), (5, 4))
GROUPS = (
    "1",
    "1/2 1/2",
    "3/4 1/4",
    "1/4 1/4 1/2",
    "1/3 1/3 1/3",
    "1/8 1/8 1/4 1/2",
    "2/3 1/3",
    "2",
)
TICKS = 480


@dataclass(frozen=True)
class TuneNote:
    pitch: Pitch | None
    """None for a rest."""
    onset: Fraction
    length: Fraction
    slurred_from_last: bool = False


@dataclass(frozen=True)
class Tune:
    key: Key
    meter: tuple[int, int]
    tempo_bpm: int
    notes: tuple[TuneNote, ...]
    """Onsets and lengths in quarters; the bars are all full."""

    @property
    def sounding(self) -> list[TuneNote]:
        return [note for note in self.notes if note.pitch is not None]


def tune(seed: int) -> Tune:
    """A tune drawn by lot: key, meter, rhythm, leaps, rests, slurs."""
    random = Random(seed)
    key = random.choice([*major_keys(), *minor_keys()][3:-3])
    meter = random.choice(METERS)
    bar = Fraction(4 * meter[0], meter[1])
    notes: list[TuneNote] = []
    onset = Fraction(0)
    while onset < 6 * bar or onset % bar:
        room = bar - onset % bar
        group = random.choice(GROUPS).split()
        if sum(map(Fraction, group)) > room:
            group = ["1/2"] if room >= Fraction(1, 2) else [str(room)]
        for length in map(Fraction, group):
            rest = random.random() < 0.1 and len(group) < 3
            pitch = None if rest else _pitch(random, key)
            before = notes[-1].pitch if notes else None
            slurred = pitch is not None and before is not None and random.random() < 0.5
            if slurred and before is not None and pitch is not None and before.midi == pitch.midi:
                slurred = False
            notes.append(TuneNote(pitch, onset, length, slurred))
            onset += length
    if notes[0].pitch is None or notes[-1].pitch is None:
        return tune(seed + 1000)
    return Tune(key, meter, random.choice((60, 72, 96, 120)), tuple(notes))


def _pitch(random: Random, key: Key) -> Pitch:
    letter = random.choice("CDEFGAB")
    order = "FCGDAEB"
    flats, sharps = (
        order[key.signature :] if key.signature < 0 else "",
        order[: max(0, key.signature)],
    )
    alter = -1 if letter in flats else 1 if letter in sharps else 0
    if random.random() < 0.15:
        alter = max(-2, min(2, alter + random.choice((-1, 1))))
    return Pitch(letter, alter, random.choice((4, 5, 5, 6)))


def music21_score(tune_: Tune, instrument: music21.instrument.Instrument | None = None):
    """The tune as music21 would hold it, written pitches as in the tune."""
    part = music21.stream.Part()
    part.partName = "Flute"
    if instrument is not None:
        part.insert(0, instrument)
    part.append(_music21_key(tune_.key))
    part.append(music21.meter.TimeSignature(f"{tune_.meter[0]}/{tune_.meter[1]}"))
    part.append(music21.tempo.MetronomeMark(number=tune_.tempo_bpm))
    made = []
    for note in tune_.notes:
        if note.pitch is None:
            element = music21.note.Rest(quarterLength=note.length)
        else:
            name = str(note.pitch).replace("b", "-")
            element = music21.note.Note(name, quarterLength=note.length)
        part.append(element)
        made.append(element)
    for run in slurs(tune_):
        part.insert(0, music21.spanner.Slur([made[index] for index in run]))
    score = music21.stream.Score()
    score.metadata = music21.metadata.Metadata(title="A Tune")
    score.append(part)
    if instrument is not None and instrument.transposition is not None:
        part.atSoundingPitch = False
    return score


def _music21_key(key: Key):
    tonic = key.tonic.replace("b", "-")
    return music21.key.Key(tonic if key.mode == "major" else tonic.lower(), str(key.mode))


def slurs(tune_: Tune) -> list[list[int]]:
    """Runs of note indices under one slur."""
    runs: list[list[int]] = []
    for index, note in enumerate(tune_.notes):
        if note.slurred_from_last:
            if runs and runs[-1][-1] == index - 1:
                runs[-1].append(index)
            else:
                runs.append([index - 1, index])
    return runs


def write_music21(tune_: Tune, path: Path) -> Path:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return Path(
            music21_score(tune_).write("mxl" if path.suffix == ".mxl" else "musicxml", path)
        )


def write_partitura(tune_: Tune, path: Path) -> Path:
    """The tune written by partitura, which lays out its own bars and ties."""
    part = partitura.score.Part("P1", "Flute", quarter_duration=TICKS)
    part.add(partitura.score.TimeSignature(*tune_.meter), 0)
    part.add(partitura.score.KeySignature(tune_.key.signature, str(tune_.key.mode)), 0)
    part.add(partitura.score.Tempo(tune_.tempo_bpm), 0)
    made = []
    for index, note in enumerate(tune_.notes):
        begin, end = int(note.onset * TICKS), int((note.onset + note.length) * TICKS)
        if note.pitch is None:
            element = partitura.score.Rest(id=f"r{index}", voice=1, staff=1)
        else:
            element = partitura.score.Note(
                step=note.pitch.letter,
                octave=note.pitch.octave,
                alter=note.pitch.alter or None,
                id=f"n{index}",
                voice=1,
                staff=1,
            )
        part.add(element, begin, end)
        made.append(element)
    for run in slurs(tune_):
        slur = partitura.score.Slur(made[run[0]], made[run[-1]])
        part.add(slur, made[run[0]].start.t, made[run[-1]].end.t)
    partitura.score.add_measures(part)
    partitura.score.tie_notes(part)
    partitura.score.find_tuplets(part)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        partitura.save_musicxml(part, path)
    return path


def write_mido(tune_: Tune, path: Path, gate: float = 1.0) -> Path:
    """The tune as a MIDI file; `gate` is the share of its length a note sounds."""
    file = mido.MidiFile(ticks_per_beat=TICKS)
    track = mido.MidiTrack()
    file.tracks.append(track)
    minor = "m" if tune_.key.mode == "minor" else ""
    track.append(mido.MetaMessage("track_name", name="Flute"))
    track.append(mido.MetaMessage("key_signature", key=tune_.key.tonic + minor))
    track.append(
        mido.MetaMessage("time_signature", numerator=tune_.meter[0], denominator=tune_.meter[1])
    )
    track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tune_.tempo_bpm)))
    now = 0
    for note in tune_.sounding:
        begin = int(note.onset * TICKS)
        end = begin + max(1, int(note.length * TICKS * gate))
        track.append(mido.Message("note_on", note=note.pitch.midi, velocity=70, time=begin - now))
        track.append(mido.Message("note_off", note=note.pitch.midi, time=end - begin))
        now = end
    file.save(path)
    return path


def write_pretty_midi(tune_: Tune, path: Path) -> Path:
    """The tune as pretty_midi writes it from seconds."""
    file = pretty_midi.PrettyMIDI(resolution=TICKS, initial_tempo=tune_.tempo_bpm)
    flute = pretty_midi.Instrument(73, name="Flute")
    beat_s = 60 / tune_.tempo_bpm
    for note in tune_.sounding:
        flute.notes.append(
            pretty_midi.Note(
                70,
                note.pitch.midi,
                float(note.onset) * beat_s,
                float(note.onset + note.length) * beat_s,
            )
        )
    file.instruments.append(flute)
    file.time_signature_changes.append(pretty_midi.TimeSignature(*tune_.meter, 0))
    out = io.BytesIO()
    file.write(out)
    path.write_bytes(out.getvalue())
    return path
