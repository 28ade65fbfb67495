"""What the trainer itself plays in a round: click and partner, each with its frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trainer.music.instrument import Instrument
from trainer.music.note import Note
from trainer.music.pulse import timed
from trainer.routine.round import PartnerPart, Round
from trainer.sound.click import click_track
from trainer.sound.partner import Voice, drone, moving_drone, partner
from trainer.sound.port import Samples

Scheduled = tuple[int, Samples]
"""The frame of the first sample, and the sound."""


def as_sounding(notes: Sequence[Note], round_: Round, instrument: Instrument) -> tuple[Note, ...]:
    """Written notes of a round as they will sound and when, in beats of its first tempo."""
    sounding = [note.at(instrument.sounding) for note in notes]
    return timed(sounding, round_.pace)


def clicks(round_: Round, first_beat_frame: int, lead_in_beats: int, rate: int) -> list[Scheduled]:
    """The count-in, the beats before the first that the partner may need, and the round's own."""
    if not round_.in_time:
        return []
    bars, pace, click = round_.bars, round_.pace, round_.click
    call_beats = min(lead_in_beats, round_.call_beats)
    if not call_beats:
        return click_track(first_beat_frame, round_.beats, bars, pace, lead_in_beats, rate, click)
    call_frame = first_beat_frame - round(call_beats * round_.beat_s * rate)
    throughout = replace(click, subdivisions=1, silent_bars=0, only_counts_in=False)
    count_in = lead_in_beats - call_beats
    call_ends = round_.last_bar.ends
    return [
        *click_track(call_frame, call_ends, bars, pace, count_in, rate, throughout),
        *click_track(first_beat_frame, round_.beats, bars, pace, 0, rate, click),
    ]


def accompaniment(
    round_: Round,
    sounding: Sequence[Note],
    instrument: Instrument,
    first_beat_frame: int,
    rate: int,
    voice: Voice | None = None,
) -> list[Scheduled]:
    """What the partner plays; sounding are the round's notes as they will sound and when."""
    sound = _partner_sound(round_, sounding, instrument, rate, voice)
    if sound is None:
        return []
    begin = first_beat_frame
    if round_.partner is PartnerPart.LEADS:
        begin -= round(round_.call_beats * round_.beat_s * rate)
    return [(begin, sound)]


def _partner_sound(
    round_: Round,
    sounding: Sequence[Note],
    instrument: Instrument,
    rate: int,
    voice: Voice | None,
) -> Samples | None:
    gain = 10.0 ** (round_.partner_level_db / 20.0)
    bpm, tuning = round_.tempo_bpm, round_.tuning
    match round_.partner:
        case PartnerPart.SAME_NOTES | PartnerPart.LEADS:
            return partner(sounding, bpm, tuning, rate, gain=gain, voice=voice)
        case PartnerPart.CALLS | PartnerPart.TURNS:
            alone = as_sounding(round_.partner_notes, round_, instrument)
            return partner(alone, bpm, tuning, rate, gain=gain, voice=voice)
        case _ if round_.second_part:
            beside = as_sounding(round_.second_part, round_, instrument)
            pure_to = {note.index: note.pitch for note in sounding} if round_.second_pure else {}
            return partner(beside, bpm, tuning, rate, gain=gain, voice=voice, pure_to=pure_to)
        case PartnerPart.OCTAVE_BELOW:
            return partner(sounding, bpm, tuning, rate, -12, gain, voice)
        case PartnerPart.DRONE if round_.drone_moves:
            pace = round_.pace
            moves = [(pace.arrives_at(float(beat)), instrument.sounding(pitch))
                     for beat, pitch in round_.drone_moves]  # fmt: skip
            return moving_drone(moves, round_.seconds, tuning, rate, gain)
        case PartnerPart.DRONE if round_.drone is not None:
            pitch = instrument.sounding(round_.drone)
            return drone(pitch, round_.seconds, tuning, rate, gain=gain)
        case _:
            return None
