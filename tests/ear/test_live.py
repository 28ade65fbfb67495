"""The quick answer while the round sounds."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest

from tests.ear.conftest import FIRST_S, RATE, scored
from tests.ear.made_flute import as_expected
from tests.ear.steady_tones import RATE as TONE_RATE
from tests.ear.steady_tones import in_a_row, in_diffuse_room, steady
from tests.sweeps import mostly_slow
from trainer.ear.analysis.frames import Samples
from trainer.ear.heard import LiveReading
from trainer.ear.live.live_ear import LiveEar
from trainer.music.note import Start
from trainer.music.tuning import Tuning


def readings(start: Start, bpm: float, block: int) -> list[LiveReading]:
    """A scale fed block by block."""
    got = scored(start, bpm)
    ear = LiveEar(got.expected, bpm, Tuning(), RATE, FIRST_S)
    blocks = range(0, got.samples.size, block)
    return [one for first in blocks for one in ear.feed(got.samples[first : first + block])]


@pytest.mark.parametrize("start", [Start.SLURRED, Start.TONGUED])
@pytest.mark.parametrize("bpm", mostly_slow([80, 160], 1))
def test_the_right_note_within_60_ms(start: Start, bpm: float) -> None:
    answers = readings(start, bpm, 480)
    truth = scored(start, bpm).truth
    right = 0
    for index, note in enumerate(truth):
        near = [r for r in answers if abs(r.time_s - (note.onset_s + 0.06)) < 0.004]
        right += any(r.note_index == index for r in near)
    assert right >= 0.95 * len(truth)


@pytest.mark.parametrize("start", [Start.SLURRED, Start.TONGUED])
def test_the_note_due_next_is_believed_at_its_first_clear_frame(start: Start) -> None:
    """Frames come every 5 ms; a note that isn't due waits for two more."""
    truth = scored(start, 120).truth
    after_s = [
        one.time_s - truth[one.note_index].onset_s
        for one in readings(start, 120, 480)
        if one.off_beat_ms is not None and one.note_index is not None
    ]
    assert len(after_s) == len(truth)
    assert np.median(after_s) < 0.010


def test_readings_do_not_depend_on_the_block() -> None:
    small, large = readings(Start.SLURRED, 100, 100), readings(Start.SLURRED, 100, 4096)
    shared = min(len(small), len(large))
    assert abs(len(small) - len(large)) <= 1
    assert [r.note_index for r in small[:shared]] == [r.note_index for r in large[:shared]]


@pytest.mark.parametrize("late_s", [-0.08, 0.08])
def test_late_is_positive_and_early_negative(late_s: float) -> None:
    """The same scale against a beat that stands earlier or later than it was played to."""
    got = scored(Start.TONGUED, 100)
    answers = LiveEar(got.expected, 100, Tuning(), RATE, FIRST_S - late_s).feed(got.samples)
    placed_ms = [one.off_beat_ms for one in answers if one.off_beat_ms is not None]
    assert len(placed_ms) >= 0.9 * len(got.truth)
    assert np.median(placed_ms) == pytest.approx(1000 * late_s, abs=25)


def test_live_cents_agree_with_the_truth() -> None:
    got = scored(Start.SLURRED, 60)
    off = [
        reading.cents - got.truth[reading.note_index].cents
        for reading in readings(Start.SLURRED, 60, 480)
        if reading.cents is not None
        and reading.note_index is not None
        and got.truth[reading.note_index].onset_s + 0.08 < reading.time_s
        and reading.time_s < got.truth[reading.note_index].end_s - 0.03
    ]
    assert np.median(np.abs(off)) <= 1.0


def test_no_cents_are_shown_of_two_notes_that_ring_together() -> None:
    """A scale of notes in tune where it rings as loud as the flute for 0.8 s: a quarter of what the
    period alone says stands more than 15 cents off."""
    midis = [74, 76, 79, 81, 84, 86, 89, 91]
    sound = in_diffuse_room(in_a_row(*(steady(midi, 0.2) for midi in midis)), 0.8, 0.0)
    sounds = sound[: 2 * TONE_RATE].astype(np.float32)
    answers = LiveEar(as_expected(midis), 75, Tuning(), TONE_RATE, 0.4).feed(sounds)
    cents = np.array([one.cents for one in answers if one.cents is not None])
    assert cents.size > 0.45 * len(answers)
    assert np.mean(np.abs(cents) > 15) < 0.1
    settled = np.array([one.settled_cents for one in answers if one.settled_cents is not None])
    assert settled.size > 0.1 * len(answers)
    assert np.mean(np.abs(settled) > 10) < 0.05


@pytest.mark.parametrize(
    "midis", [[74, 76, 79, 81, 84, 86, 89, 91], [64, 71, 74, 76, 79, 76, 74, 71]]
)
def test_notes_that_others_ring_into_have_cents(midis: list[int]) -> None:
    """Quick notes 10 cents sharp where it rings as loud as the flute for 0.8 s: the period alone
    tells one of the first eight nothing, and of the others' seventh that it is 25 cents sharp."""
    played = in_a_row(*(steady(midi + 0.1, 0.12) for midi in midis))
    sounds = in_diffuse_room(played, 0.8, 0.0)[: round(1.46 * TONE_RATE)].astype(np.float32)
    answers = LiveEar(as_expected(midis), 125, Tuning(), TONE_RATE, 0.4).feed(sounds)
    for index in range(len(midis)):
        cents = [r.cents for r in answers if r.note_index == index and r.cents is not None]
        assert np.median(cents) == pytest.approx(10.0, abs=9.0)


@pytest.mark.parametrize(("before", "midi"), [(86, 79), (71, 64)])
def test_a_note_is_followed_whose_period_with_one_that_rings_is_nobodys(
    before: int, midi: int
) -> None:
    """A fifth apart, they have the period of an octave below the lower one together."""
    first = steady(before, 0.4)
    second = 0.8 * first[first.size // 2 :] + steady(midi + 0.1, 0.2)
    sound = in_a_row(first[: first.size // 2], second)[: round(0.8 * TONE_RATE)].astype(np.float32)
    answers = LiveEar(as_expected([before, midi]), 75, Tuning(), TONE_RATE, 0.4).feed(sound)
    after = [one for one in answers if one.time_s >= 0.64]
    assert {one.note_index for one in after} == {1}
    placed = next(one for one in answers if one.note_index == 1).off_beat_ms
    assert placed == pytest.approx(0.0, abs=30.0)
    assert [one.cents for one in after] == pytest.approx([10.0] * len(after), abs=5.0)
    assert all(one.settled_cents is None for one in after)


def test_a_note_that_stands_off_settles_there() -> None:
    sound = in_a_row(*(steady(midi + 0.25, 0.4) for midi in (74, 76, 79))).astype(np.float32)
    answers = LiveEar(as_expected([74, 76, 79]), 37.5, Tuning(), TONE_RATE, 0.4).feed(sound)
    settled = [one.settled_cents for one in answers if one.settled_cents is not None]
    assert len(settled) > 0.4 * len(answers)
    assert settled == pytest.approx([25.0] * len(settled), abs=2.0)


def test_of_repeated_notes_the_one_due_is_followed() -> None:
    """Its stroke is not heard so quickly: of its place nothing is said."""
    midis = [74, 74, 74, 76]
    sound = in_a_row(*(steady(midi, 0.4) for midi in midis)).astype(np.float32)
    answers = LiveEar(as_expected(midis), 37.5, Tuning(), TONE_RATE, 0.4).feed(sound)
    followed = [one.note_index for one in answers if one.note_index is not None]
    assert set(followed) == {0, 1, 2, 3}
    assert followed == sorted(followed)
    placed = [one.note_index for one in answers if one.off_beat_ms is not None]
    assert placed == [0, 3]


def a_third_below(level: float) -> Samples:
    """A scale's partner, four semitones below, from before each onset until after its end."""
    got = scored(Start.TONGUED, 80)
    sound = np.zeros(got.samples.size)
    for note, after in pairwise(got.truth):
        begin, end = (round(s * RATE) for s in (note.onset_s - 0.06, after.onset_s - 0.06))
        hz = 440.0 * 2 ** ((round(note.midi) - 4 - 69) / 12)
        turn = 2 * np.pi * hz * np.arange(end - begin) / RATE
        sound[begin:end] = level * (np.sin(turn) + 0.5 * np.sin(2 * turn))
    return sound.astype(np.float32)


def misled(answers: Sequence[LiveReading]) -> int:
    """Readings that hold the partner's pitch: two in a row, as nobody played them."""
    played = {round(note.midi) for note in scored(Start.TONGUED, 80).truth}
    held = [
        second.midi
        for first, second in pairwise(answers)
        if first.midi is not None
        and second.midi is not None
        and abs(first.midi - second.midi) < 0.1
    ]
    return sum(round(midi) not in played for midi in held)


def test_what_may_be_the_partner_is_not_taken_for_the_player() -> None:
    got = scored(Start.TONGUED, 80)
    partner = a_third_below(0.02)
    sound = got.samples + partner

    def answers(beside: Samples | None) -> tuple[LiveReading, ...]:
        return LiveEar(got.expected, 80, Tuning(), RATE, FIRST_S).feed(sound, beside)

    untold = misled(answers(None))
    assert untold > 10
    assert misled(answers(0.7 * partner)) < 0.2 * untold  # told a little less of it, as in a room
    plain = LiveEar(got.expected, 80, Tuning(), RATE, FIRST_S).feed(got.samples)
    found = {r.note_index for r in answers(0.7 * partner)}
    assert found == {r.note_index for r in plain}


def test_a_player_in_unison_is_heard_above_the_partner() -> None:
    got = scored(Start.TONGUED, 80)
    sound = got.samples * np.float32(1.2)
    answers = LiveEar(got.expected, 80, Tuning(), RATE, FIRST_S).feed(sound, got.samples * 0.3)
    assert {r.note_index for r in answers} >= set(range(len(got.truth)))
    silent = LiveEar(got.expected, 80, Tuning(), RATE, FIRST_S).feed(got.samples, got.samples)
    assert all(reading.midi is None for reading in silent)


def test_what_sounds_softly_before_the_player_begins_is_somebody_elses() -> None:
    """And once the player was heard, however softly they go on."""
    got = scored(Start.TONGUED, 80)
    usual_db = max(
        r.level_db for r in LiveEar(got.expected, 80, Tuning(), RATE, FIRST_S).feed(got.samples)
    )
    ear = LiveEar(got.expected, 80, Tuning(), RATE, FIRST_S, usual_db - 20.0)
    soft = got.samples * np.float32(0.05)
    assert all(reading.midi is None for reading in ear.feed(soft))
    assert any(reading.midi is not None for reading in ear.feed(got.samples))
    assert any(reading.midi is not None for reading in ear.feed(soft))


def test_what_lies_lower_than_the_instrument_goes_is_not_shown() -> None:
    """A B3 is the lowest note of a flute with a B foot, a woman speaks below it."""
    sound = in_a_row(steady(57, 0.4), steady(59, 0.4)).astype(np.float32)
    answers = LiveEar(as_expected([59, 62]), 75, Tuning(), TONE_RATE, 0.4).feed(sound)
    shown = [one.midi for one in answers if one.midi is not None]
    assert shown == pytest.approx([59.0] * len(shown), abs=0.4)
    assert len(shown) > 50
