"""Rounds → a standard MIDI file, at sounding pitch."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from io import BytesIO

import mido

from trainer.music.instrument import Instrument
from trainer.music.key import Mode
from trainer.music.ornaments import realised
from trainer.routine.round import Round
from trainer.score.sections import Section
from trainer.score.symbols import time_signature

TICKS_PER_QUARTER = 5040
"""Divisible by 16, 9, 5 and 7: every tuplet of the routine language falls on a tick."""
FLUTE_PROGRAM = 73
"""Flute in General MIDI level 1, counted from 0."""
VELOCITY = 80
"""Mezzo-forte on most instruments (common practice, no source)."""


def midi(title: str, sections: Sequence[Section], instrument: Instrument) -> bytes:
    """All sections one after the other, each from a new bar, with a bar of rest between."""
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER)
    signs, notes = mido.MidiTrack(), mido.MidiTrack()
    file.tracks += [signs, notes]
    signs.append(mido.MetaMessage("track_name", name=_latin(title)))
    timed_signs: list[tuple[Fraction, mido.MetaMessage]] = []
    timed_notes: list[tuple[Fraction, int, mido.Message]] = []
    began = Fraction(0)
    for section in sections:
        timed_signs += [(began, sign) for sign in _signs(section)]
        timed_signs += _tempo_changes(section.round, began)
        timed_notes += _notes(section.round, began, instrument)
        bar = section.round.beats_per_bar * section.round.beat_quarters
        length = section.round.beats * section.round.beat_quarters
        began += (-(-length // bar) + 1) * bar
    _append(signs, [(beat, sign) for beat, sign in timed_signs])
    notes.append(mido.MetaMessage("track_name", name=_latin(instrument.name)))
    notes.append(mido.Message("program_change", program=FLUTE_PROGRAM))
    timed_notes.sort(key=lambda one: one[:2])
    _append(notes, [(beat, message) for beat, _, message in timed_notes])
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def _signs(section: Section) -> list[mido.MetaMessage]:
    round_ = section.round
    beats, beat_type = time_signature(round_)
    quarters_bpm = round_.tempo_bpm * float(round_.beat_quarters)
    signs = [
        mido.MetaMessage("marker", text=_latin(section.title)),
        mido.MetaMessage("time_signature", numerator=beats, denominator=beat_type),
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(quarters_bpm)),
    ]
    if round_.key is not None:
        minor = "m" if round_.key.mode is Mode.MINOR else ""
        signs.append(mido.MetaMessage("key_signature", key=round_.key.tonic + minor))
    return signs


def _tempo_changes(round_: Round, began: Fraction) -> list[tuple[Fraction, mido.MetaMessage]]:
    beat = round_.beat_quarters
    return [
        (
            began + Fraction(at) * beat,
            mido.MetaMessage(
                "set_tempo", tempo=mido.bpm2tempo(share * round_.tempo_bpm * float(beat))
            ),
        )
        for at, share in round_.tempo_changes
    ]


def _notes(
    round_: Round, began: Fraction, instrument: Instrument
) -> list[tuple[Fraction, int, mido.Message]]:
    """(quarter, order, message): what ends at a place comes before what begins there."""
    found = []
    for note in realised(round_.notes, round_.beat_s).notes:
        midi_number = note.pitch.midi + instrument.transposition.semitones
        onset = began + note.beat * round_.beat_quarters
        end = onset + note.length * round_.beat_quarters
        found.append((onset, 1, mido.Message("note_on", note=midi_number, velocity=VELOCITY)))
        found.append((end, 0, mido.Message("note_off", note=midi_number, velocity=0)))
    return found


def _append(track: mido.MidiTrack, timed: Sequence[tuple[Fraction, mido.Message]]) -> None:
    now = 0
    for beat, message in timed:
        tick = round(beat * TICKS_PER_QUARTER)
        track.append(message.copy(time=tick - now))
        now = tick


def _latin(text: str) -> str:
    """MIDI texts are Latin-1."""
    return text.encode("latin-1", "replace").decode("latin-1")
