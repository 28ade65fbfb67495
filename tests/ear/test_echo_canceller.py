"""Listening past the trainer's own sound: what leaks in is taken out, what is played stays."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from tests.ear.conftest import FIRST_S
from tests.ear.made_flute import as_expected, blown, microphoned, scale, sounded
from trainer.ear.echo.canceller import EchoCanceller, KnownSound
from trainer.ear.echo.path_fit import PathFit, prior
from trainer.ear.heard import State, Take
from trainer.ear.take_listener import TakeListener
from trainer.music.bars import Bars, Meter
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.music.pulse import Pace
from trainer.music.scales import ScaleKind
from trainer.music.tuning import Tuning
from trainer.player.room import in_room
from trainer.routine.round import PartnerPart
from trainer.routine.second_part import beside_scale
from trainer.sound.click import click_track
from trainer.sound.partner import partner

RATE = 48000
BPM = 80.0
COUNT_IN_S = 4 * 60 / BPM
LOOK_FRAMES = 1600
Sound = NDArray[np.float64]


@dataclass(frozen=True)
class Scene:
    """A scale with the partner in the loudspeaker, from the count-in on."""

    flute: Sound
    leak: Sound
    heard: NDArray[np.float32]
    known: tuple[KnownSound, ...]
    expected: tuple[Note, ...]
    begins: int
    """The take's first sample."""

    def listened(self, leak: EchoCanceller) -> tuple[Sound, Sound]:
        """The take as it is handed on, and as it was at once, in small pieces."""
        leak.learn(self.heard[: self.begins], -self.begins)
        done, at_once = [], []
        for first in range(self.begins, self.heard.size, LOOK_FRAMES):
            piece = self.heard[first : first + LOOK_FRAMES]
            done.append(leak.feed(piece))
            at_once.append(leak.at_once(piece)[0])
        done.append(leak.rest())
        return np.concatenate(done), np.concatenate(at_once)

    def less_db(self, left: Sound, from_s: float = 0.0, to_s: float = 60.0) -> float:
        """By how much the partner's leak is less in what is left of the take, below 4 kHz."""
        part = slice(round(from_s * RATE), round(to_s * RATE))
        was = self.leak[self.begins :]
        remains = left - self.heard[self.begins :] + was
        low = signal.butter(4, 3500, fs=RATE, output="sos")
        powers = [np.sum(signal.sosfilt(low, of)[part] ** 2) for of in (was, remains)]
        return float(10 * np.log10(powers[0] / powers[1]))


@lru_cache(maxsize=8)
def scene(
    semitones: int = -12,
    leak_db: float = -10.0,
    gain: float = 1.0,
    drift_ppm: float = 0.0,
    *,
    thirds: bool = False,
) -> Scene:
    """leak_db: the partner against the flute; thirds: it plays them above instead."""
    dice = np.random.default_rng(77)
    expected = as_expected(scale(62), Start.TONGUED)
    count_in = round(COUNT_IN_S * RATE)
    first_frame = round(FIRST_S * RATE)
    flute = np.pad(
        sounded(blown(scale(62), BPM, Start.TONGUED, dice, FIRST_S), RATE, dice), (count_in, 0)
    )
    placed = click_track(first_frame, 16, Bars(Meter(4)), Pace(BPM, BPM, 16), 4, RATE)
    line = expected
    if thirds:
        low, high, part = Pitch.parse("C4"), Pitch.parse("C7"), PartnerPart.THIRDS_ABOVE
        line, semitones = beside_scale(expected, part, "D", ScaleKind.MAJOR, low, high), 0
    placed.append((first_frame, partner(line, BPM, Tuning(), RATE, semitones)))
    loud = np.zeros(flute.size + 10 * RATE, np.float32)
    for frame, sound in placed:
        loud[count_in + frame :][: sound.size] += sound
    if drift_ppm:
        places = np.arange(loud.size)
        loud = np.interp(places * (1 - 1e-6 * drift_ppm), places, loud).astype(np.float32)
    leak = in_room(np.pad(loud, (40, 0)), RATE, 0.3, seed=12)[: flute.size].astype(np.float64)
    sounding = flute[np.abs(flute) > 0.01]
    leak *= gain * 10 ** (leak_db / 20) * np.std(sounding) / np.std(leak[count_in + RATE :])
    return Scene(
        flute=flute,
        leak=leak,
        heard=microphoned(flute + leak, dice),
        known=tuple(KnownSound(sound, frame / RATE) for frame, sound in placed),
        expected=tuple(expected),
        begins=count_in,
    )


@dataclass(frozen=True)
class Alone:
    """A scene listened to by a canceller that knew nothing of the room before."""

    take: Scene
    leak: EchoCanceller
    left: Sound
    at_once: Sound


@lru_cache(maxsize=8)
def alone(semitones: int = -12, gain: float = 1.0, drift_ppm: float = 0.0) -> Alone:
    """Only to be looked at: several tests share it."""
    take = scene(semitones, gain=gain, drift_ppm=drift_ppm)
    leak = EchoCanceller(RATE, take.known)
    return Alone(take, leak, *take.listened(leak))


def test_a_known_filter_is_found() -> None:
    """White noise through a filter, and nothing beside it: the filter itself comes out."""
    dice = np.random.default_rng(4)
    expected = prior(1.0, 8000.0)
    true = (expected.deviations * dice.standard_normal(expected.deviations.size)).astype(np.float32)
    played = dice.standard_normal(40_000).astype(np.float32)
    heard = signal.fftconvolve(played, true, "valid").astype(np.float32)
    path = np.zeros_like(true)
    for _ in range(6):
        fit = PathFit(played, heard, expected, path)
        for _ in range(24):
            fit.step()
        path = fit.path
    assert np.sum((path - true) ** 2) < 1e-2 * np.sum(true**2)


@pytest.mark.parametrize(("semitones", "least_db"), [(-12, 14.0), (0, 3.0)])
def test_the_partner_is_taken_out(semitones: int, least_db: float) -> None:
    """In unison it lies under the student's own harmonics, and less of it can be told apart."""
    found = alone(semitones)
    assert found.left.size == found.take.heard.size - found.take.begins
    assert found.take.less_db(found.left) > least_db


def taken(take: Scene) -> Take:
    """The take as the ear has it."""
    listening = TakeListener(RATE, take.expected, BPM, Tuning(), take.known)
    listening.learn(take.heard[: take.begins], -take.begins)
    for first in range(take.begins, take.heard.size, LOOK_FRAMES):
        listening.feed(take.heard[first : first + LOOK_FRAMES])
    return listening.take(FIRST_S)


@pytest.mark.parametrize("thirds", [False, True])
def test_the_ear_hears_past_an_octave_below_and_past_thirds(thirds: bool) -> None:
    heard = taken(scene(thirds=thirds))
    assert heard.count(State.MISSED) == heard.count(State.NOT_JUDGED) == 0
    assert heard.count(State.EXTRA) <= 1


@pytest.mark.parametrize("thirds", [pytest.param(False, marks=pytest.mark.slow), True])
def test_a_partner_that_plays_alone_is_nobody(thirds: bool) -> None:
    """Its own leak, the room and the microphone's noise, and a student who only listens."""
    take = scene(thirds=thirds)
    leak = take.leak[: take.begins + 6 * RATE]
    noise = 3e-5 * np.random.default_rng(5).standard_normal(leak.size)
    heard = taken(replace(take, heard=(leak + noise).astype(np.float32)))
    assert heard.count(State.PLAYED) == heard.count(State.EXTRA) == 0
    assert len(heard.notes) == len(take.expected)


def test_a_click_is_taken_out_at_once() -> None:
    """By what the count-in taught of its way."""
    take = scene()
    clicks = tuple(known for known in take.known if known.samples.size < RATE // 10)
    alone = take.heard - take.leak.astype(np.float32)
    room = np.zeros(alone.size, np.float32)
    for known in clicks:
        begin = take.begins + round(known.at_s * RATE) + 40
        piece = known.samples[: max(0, room.size - begin)]
        room[begin : begin + piece.size] += 0.3 * piece
    heard = (alone + room).astype(np.float32)
    _, at_once = replace(take, heard=heard).listened(EchoCanceller(RATE, clicks))
    left = at_once - alone[take.begins :]
    assert np.sum(left**2) < 0.1 * np.sum(room[take.begins :] ** 2)


def test_with_headphones_the_students_unison_stays_whole() -> None:
    """A stroke of the tongue on the beat may be taken for a faint click, no more."""
    found = alone(semitones=0, gain=0.0)
    whole = found.take.heard[found.take.begins :]
    assert found.leak.way is None
    for taken in (found.left, found.at_once):
        assert np.sum((taken - whole) ** 2) < 1e-5 * np.sum(whole**2)


def test_clocks_that_drift_apart_are_followed() -> None:
    found = alone(drift_ppm=30.0)
    assert found.take.less_db(found.left) > 8.0
    assert found.leak.way is not None
    assert 20.0 < 1e6 * found.leak.way.drift < 35.0


def test_the_next_take_begins_with_what_was_found() -> None:
    first = alone()
    take = first.take
    _, knowing = take.listened(EchoCanceller(RATE, take.known, first.leak.way))
    assert take.less_db(first.at_once, 0.5, 2.5) < 1.0
    assert take.less_db(knowing, 0.5, 2.5) > 10.0


def test_a_louder_loudspeaker_is_another_way() -> None:
    louder = alone(gain=2.0)
    known = louder.take.known
    knowing, _ = louder.take.listened(EchoCanceller(RATE, known, alone().leak.way))
    assert np.array_equal(louder.left, knowing)


def test_what_remains_is_known_below_and_not_in_unison() -> None:
    at_rest, under_the_flute = (alone(semitones).leak.leaked for semitones in (-12, 0))
    assert at_rest is not None
    assert at_rest.left_share is not None
    assert at_rest.left_share < 0.1
    assert under_the_flute is not None
    assert under_the_flute.left_share is None


def test_how_loud_the_partner_came_back_is_known() -> None:
    take, leaked = alone().take, alone().leak.leaked
    assert leaked is not None
    true_db = 20 * np.log10(np.std(take.leak[take.begins + RATE :]))
    assert abs(leaked.level_db - true_db) < 2.0


def test_other_rates_serve() -> None:
    """44.1 kHz, at which the fit's rate is no round number: the sound is only passed through."""
    sound = np.random.default_rng(2).standard_normal(2 * 44100).astype(np.float32)
    tone = np.sin(np.arange(44100) / 20).astype(np.float32)
    leak = EchoCanceller(44100, [KnownSound(tone, 0.5), KnownSound(tone[:500], 0.1)])
    left = np.concatenate([leak.feed(sound), leak.rest()])
    assert np.array_equal(left, sound)
