"""The student is told of headphones where the ear can't listen past the partner, and only there."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from tests.sweeps import mostly_slow
from trainer.app.open_session import planned_for
from trainer.music.instrument import instrument_named
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.player.performance import Performance
from trainer.player.room import in_room
from trainer.routine.load import load_routine
from trainer.routine.round import PartnerPart, Round
from trainer.session.accompaniment import accompaniment, clicks
from trainer.session.round_recorder import RoundRecorder
from trainer.sound.partner import RMS
from trainer.sound.simulated import SimulatedPort

RATE = 48000
FLUTE = instrument_named("flute")
LOOK_FRAMES = 1600
ROUTINE = """
title: Told
exercises:
  - scale: one
    key: D
    range: one octave
    tempo: 80
    articulations: [single]
"""


@lru_cache(maxsize=1)
def played() -> tuple[Round, Performance]:
    with TemporaryDirectory() as name:
        file = Path(name) / "routine.yaml"
        file.write_text(ROUTINE)
        routine, problems = load_routine(file)
    assert routine is not None, problems
    round_ = planned_for(routine, date(2026, 3, 2), ())[0].rounds[0]
    return round_, Flutist(Habits(), seed=9).play(round_.notes, 80, round_.tuning, RATE)


def told(part: PartnerPart, leak_db: float, bend: float = 0.0, wet_db: float = -8.0) -> bool:
    """Whether headphones are advised after a round with the partner so loud against the flute, its
    waves bent by the loudspeaker and spread by the room."""
    round_, performance = played()
    round_ = replace(round_, partner=part)
    first_frame = round((0.3 + round_.lead_in_beats * round_.beat_s) * RATE)
    from_frame = first_frame - round(performance.first_beat_s * RATE)
    heard = np.zeros(from_frame + performance.samples.size + RATE, np.float32)
    heard[from_frame:][: performance.samples.size] = performance.samples
    loud = np.zeros(heard.size + 10 * RATE, np.float32)
    for frame, sound in clicks(round_, first_frame, round_.lead_in_beats, RATE) + accompaniment(
        round_, round_.notes, FLUTE, first_frame, RATE
    ):
        loud[frame : frame + sound.size] += sound
    loud *= 1 + bend * (loud / RMS) ** 2
    gain = np.std(performance.samples[np.abs(performance.samples) > 0.01]) / RMS
    room = in_room(loud, RATE, 0.3 if wet_db < 0 else 0.7, seed=21, wet_db=wet_db)
    heard += gain * 10 ** (leak_db / 20) * room[: heard.size]
    heard += 2e-4 * np.random.default_rng(1).standard_normal(heard.size).astype(np.float32)
    port = SimulatedPort(RATE)
    port.sing(heard, 0)
    under_way = RoundRecorder(port, FLUTE, round_, first_frame, round_.lead_in_beats)
    while port.now_frame() + LOOK_FRAMES <= heard.size:
        port.advance(LOOK_FRAMES)
        under_way.follow()
    take = under_way.take()
    assert take is not None
    return under_way.partner_too_loud(take)


@pytest.mark.parametrize("part", mostly_slow([PartnerPart.OCTAVE_BELOW, PartnerPart.SAME_NOTES], 1))
def test_a_partner_ten_decibels_below_is_no_trouble(part: PartnerPart) -> None:
    assert not told(part, -10.0)


def test_in_unison_as_loud_as_the_player_is_told() -> None:
    assert told(PartnerPart.SAME_NOTES, 0.0)


@pytest.mark.slow
def test_a_room_that_rings_on_is_told() -> None:
    assert told(PartnerPart.OCTAVE_BELOW, -6.0, wet_db=4.0)


def test_a_loudspeaker_that_bends_the_sound_is_told() -> None:
    assert told(PartnerPart.OCTAVE_BELOW, -3.0, bend=0.5)
