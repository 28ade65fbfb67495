"""The leaked click tells the round trip, in rooms and at levels that are simulated."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.music.bars import Bars, Meter
from trainer.music.pulse import ClickPart, Pace, Timbre
from trainer.player.room import in_room
from trainer.sound.click import click_track
from trainer.sound.latency_watch import Lateness, heard_until, lateness, moved_from
from trainer.sound.simulated import SimulatedPort

RATE = 48000
FIRST_FRAME = 7 * RATE


def counted_in(
    late_frames: int,
    *,
    bleed: float = 0.1,
    noise_db: float = -60.0,
    tempo_bpm: float = 100.0,
    timbre: Timbre = Timbre.TICK,
    beats: int = 0,
) -> tuple[SimulatedPort, list[tuple[int, np.ndarray]]]:
    """A port whose round trip is another than it believes, after a count-in of four."""
    port = SimulatedPort(round_trip_frames=4000, bleed=bleed)
    port.delay_frames = 4000 + late_frames
    hiss = np.random.default_rng(1).standard_normal(20 * RATE) * 10 ** (noise_db / 20)
    port.sing(hiss.astype(np.float32), -port.delay_frames)
    pace = Pace(tempo_bpm, tempo_bpm, 16)
    track = click_track(FIRST_FRAME, beats, Bars(Meter(4)), pace, 4, RATE, ClickPart(timbre=timbre))
    for frame, sound in track:
        port.play(sound, frame)
    port.advance(heard_until(port, track) + 4000)
    return port, track


@pytest.mark.parametrize("late_frames", [-1500, 0, 37, 2048, 6000])
@pytest.mark.parametrize("timbre", [Timbre.TICK, Timbre.GLASS, Timbre.BRUSH])
def test_a_wrong_round_trip_shows_in_the_count_in(late_frames: int, timbre: Timbre) -> None:
    port, track = counted_in(late_frames, timbre=timbre)
    found = lateness(port, track)
    assert found is not None
    assert abs(found.frames - late_frames) <= 3
    assert found.spread_frames < 0.001 * RATE
    assert found.clicks == 4


@pytest.mark.parametrize("tempo_bpm", [40.0, 208.0])
def test_slow_and_quick_counts_serve(tempo_bpm: float) -> None:
    found = lateness(*counted_in(2048, tempo_bpm=tempo_bpm))
    assert found is not None
    assert abs(found.frames - 2048) <= 3


def test_with_headphones_nothing_is_claimed() -> None:
    assert lateness(*counted_in(2048, bleed=0.0, noise_db=-45.0)) is None


def test_a_click_lost_in_noise_is_not_claimed() -> None:
    assert lateness(*counted_in(2048, bleed=0.002, noise_db=-30.0)) is None


def test_a_flute_over_the_count_in_does_no_harm() -> None:
    port, track = counted_in(2048, bleed=0.1)
    at = np.arange(8 * RATE) / RATE
    flute = sum(0.1 / k**1.5 * np.sin(2 * np.pi * 880 * k * at) for k in range(1, 7))
    again = SimulatedPort(round_trip_frames=4000, bleed=0.1)
    again.delay_frames = 6048
    again.sing(np.asarray(flute, np.float32), 0)
    for frame, sound in track:
        again.play(sound, frame)
    again.advance(port.now_frame())
    found = lateness(again, track)
    assert found is not None
    assert abs(found.frames - 2048) <= 24  # half a millisecond


def test_a_round_trip_that_changes_in_a_round_is_placed() -> None:
    port, track = counted_in(0, beats=16)
    later = SimulatedPort(round_trip_frames=4000, bleed=0.1)
    for frame, sound in track:
        later.play(sound, frame)
    changed_frame = track[10][0] - 1000
    later.advance(changed_frame)
    later.delay_frames = 6048
    later.advance(port.now_frame() - changed_frame)
    found = moved_from(later, track)
    assert found is not None
    from_frame, late = found
    assert track[9][0] < from_frame <= changed_frame
    assert abs(late.frames - 2048) <= 3
    assert moved_from(port, track) is None


def test_a_jump_that_came_back_is_not_where_it_moved_for_good() -> None:
    """Clicks 6 and 7 come late, 8 to 11 in time again, and the last ones late for good."""
    port, track = counted_in(0, beats=16)
    later = SimulatedPort(round_trip_frames=4000, bleed=0.1)
    for frame, sound in track:
        later.play(sound, frame)
    for before, delay_frames in ((6, 6048), (8, 4000), (12, 6048)):
        later.advance(track[before][0] - 1000 - later.now_frame())
        later.delay_frames = delay_frames
    later.advance(port.now_frame() - later.now_frame())
    found = moved_from(later, track)
    assert found is not None
    from_frame, late = found
    assert track[11][0] < from_frame < track[12][0]
    assert late.clicks == len(track) - 12


def test_in_a_room_the_direct_sound_counts() -> None:
    """Early reflections and a tail (`player.room`) come after the direct sound."""
    _, track = counted_in(0)
    port = SimulatedPort(round_trip_frames=4000)
    sound = np.zeros(FIRST_FRAME + RATE, np.float32)
    for frame, tap in track:
        sound[frame + 700 : frame + 700 + tap.size] += 0.1 * tap
    port.sing(in_room(sound, RATE, 0.4, seed=3), 0)
    port.advance(FIRST_FRAME + RATE + 4000)
    found = lateness(port, track)
    assert isinstance(found, Lateness)
    assert abs(found.frames - 700) <= 0.001 * RATE
