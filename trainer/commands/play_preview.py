"""The music of a day as the partner plays it: for a teacher to hear before handing it out."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from trainer.music.instrument import Instrument
from trainer.routine.round import PartnerPart, Round
from trainer.score.sections import Section
from trainer.session.accompaniment import accompaniment, as_sounding, clicks
from trainer.sound.port import Samples, SoundPort

BETWEEN_S = 1.5
"""Silence between two exercises."""
_LOOK_S = 0.05
"""So often is looked whether the music is over."""


def played_by_partner(round_: Round, instrument: Instrument, rate: int) -> Samples:
    """Count-in, clicks and the round's notes at sounding pitch, shape (samples,).

    Where the partner has a drone or a part of its own in practice, it is heard beside the notes.
    """
    sounding = as_sounding(round_.printed, round_, instrument)
    first = round(round_.count_in_beats * round_.beat_s * rate)
    alone = replace(round_, partner=PartnerPart.SAME_NOTES, second_part=())
    tracks = clicks(round_, first, round_.count_in_beats, rate)
    tracks += accompaniment(alone, sounding, instrument, first, rate)
    if round_.partner is PartnerPart.DRONE or round_.second_part:
        tracks += accompaniment(round_, sounding, instrument, first, rate)
    out = np.zeros(max(frame + sound.size for frame, sound in tracks), np.float32)
    for frame, sound in tracks:
        out[frame : frame + sound.size] += sound
    return out


def music_of_day(music: Sequence[Section], instrument: Instrument, rate: int) -> Samples:
    """All of it, one exercise after the other."""
    silence = np.zeros(round(BETWEEN_S * rate), np.float32)
    parts = [
        part
        for section in music
        for part in (played_by_partner(section.round, instrument, rate), silence)
    ]
    joined: Samples = np.concatenate([*parts, silence])
    return joined


def play(
    port: SoundPort,
    music: Sequence[Section],
    instrument: Instrument,
    say: Callable[[str], None],
    sleep: Callable[[float], None] = time.sleep,
) -> None:
    """Play each section through the port and say its title as it begins; ends with the last."""
    for section in music:
        rate = port.sample_rate_hz
        sound = played_by_partner(section.round, instrument, rate)
        begin = port.now_frame() + rate // 4
        say(section.title)
        port.play(sound, begin)
        while port.alive and port.now_frame() < begin + sound.size + rate // 2:
            sleep(_LOOK_S)
