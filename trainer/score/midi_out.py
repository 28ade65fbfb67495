"""Rounds → a standard MIDI file, at sounding pitch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from io import BytesIO

import mido

from trainer.music.bars import Meter
from trainer.music.instrument import Instrument
from trainer.music.key import NO_SIGNS, Key, Mode
from trainer.music.note import Note
from trainer.music.ornaments import realised
from trainer.routine.round import Round
from trainer.score.sections import PARTNER, Section

TICKS_PER_QUARTER = 5040
"""Divisible by 16, 9, 5 and 7: every tuplet of the routine language falls on a tick."""
FLUTE_PROGRAM = 73
"""Flute in General MIDI level 1, counted from 0."""
VELOCITY = 80
"""Mezzo-forte on most instruments (common practice, no source)."""

_Timed = tuple[Fraction, int, mido.Message]
"""Quarter, order and message: what ends at a place comes before what begins there."""


def midi(title: str, sections: Sequence[Section], instrument: Instrument) -> bytes:
    """All sections one after the other, each from a new bar, with a bar of rest between."""
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER)
    signs = mido.MidiTrack()
    file.tracks.append(signs)
    signs.append(mido.MetaMessage("track_name", name=_latin(title)))
    timed_signs: list[tuple[Fraction, mido.MetaMessage]] = []
    own: list[_Timed] = []
    second: list[_Timed] = []
    began = Fraction(0)
    for section in sections:
        timed_signs += [(began, sign) for sign in _signs(section)]
        changes = [*_changes(section.round, began), *_tempo_changes(section.round, began)]
        timed_signs += sorted(changes, key=lambda one: one[0])
        own += _notes(section.round, section.round.notes, began, instrument)
        second += _notes(section.round, section.round.second_part, began, instrument)
        last = section.round.last_bar
        rest = last.meter.bar_quarters
        began += last.ends * section.round.beat_quarters + rest
    _append(signs, [(beat, sign) for beat, sign in timed_signs])
    file.tracks.append(_track(instrument.name, own, channel=0))
    if second:
        file.tracks.append(_track(PARTNER, second, channel=1))
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def _track(name: str, timed: Sequence[_Timed], channel: int) -> mido.MidiTrack:
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name=_latin(name)))
    track.append(mido.Message("program_change", program=FLUTE_PROGRAM, channel=channel))
    in_order = sorted(timed, key=lambda one: one[:2])
    _append(track, [(beat, message.copy(channel=channel)) for beat, _, message in in_order])
    return track


def _signs(section: Section) -> list[mido.MetaMessage]:
    round_ = section.round
    quarters_bpm = round_.tempo_bpm * float(round_.beat_quarters)
    signs = [
        mido.MetaMessage("marker", text=_latin(section.title)),
        _time(round_.meter),
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(quarters_bpm)),
    ]
    if round_.key is not None:
        signs.append(_key(round_.key))
    return signs


def _time(meter: Meter) -> mido.MetaMessage:
    beats, beat_type = meter.printed
    return mido.MetaMessage("time_signature", numerator=beats, denominator=beat_type)


def _key(key: Key) -> mido.MetaMessage:
    minor = "m" if key.mode is Mode.MINOR else ""
    return mido.MetaMessage("key_signature", key=key.tonic + minor)


def _changes(round_: Round, began: Fraction) -> Iterator[tuple[Fraction, mido.MetaMessage]]:
    """Time and key signatures that begin on the way."""
    meter, key = round_.meter, round_.key
    for change in round_.changes:
        at = began + change.beat * round_.beat_quarters
        if change.meter != meter:
            yield at, _time(change.meter)
        if change.key != key:
            yield at, _key(change.key or NO_SIGNS)
        meter, key = change.meter, change.key


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
    round_: Round, notes: Sequence[Note], began: Fraction, instrument: Instrument
) -> list[_Timed]:
    found = []
    for note in realised(notes, round_.beat_s).notes:
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
