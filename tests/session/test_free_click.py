"""The click beside the routine: each click on its frame, in any grouping, and nothing left over."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from tests.session.conftest import Practice
from trainer.session.free_click import ClickAsked
from trainer.session.view import ClickChange, ClickView
from trainer.sound.click import Tap, click
from trainer.sound.port import Samples

RATE = 48000
Build = Callable[..., Practice]


def clicking(practice: Practice) -> ClickView:
    shown = practice.view().click
    assert shown is not None
    return shown


def change(practice: Practice, *changes: ClickChange) -> None:
    for each in changes:
        practice.do(lambda each=each: practice.session.change_click(each))


def starts(played: Samples) -> list[int]:
    """Frames at which something begins after 50 ms of silence."""
    (loud,) = np.nonzero(np.abs(played) > 1e-4)
    gaps = np.diff(loud, prepend=-RATE)
    return [int(frame) for frame in loud[gaps > RATE // 20]]


@pytest.mark.slow
def test_every_click_of_ten_minutes_stands_on_its_frame(practice_of: Build) -> None:
    practice = practice_of(plays=False)
    practice.do(lambda: practice.session.use_click(True))
    practice.do(lambda: practice.session.tap(0.0))
    practice.do(lambda: practice.session.tap(60.0 / 73))
    assert clicking(practice).tempo_bpm == 73
    begin = practice.port.now_frame()
    change(practice, ClickChange.START_OR_STOP)
    first, clicks = None, 0
    for _ in range(20):
        practice.pass_time(30.0)
        end = practice.port.now_frame()
        for start in starts(practice.port.played(begin, end - RATE // 10)):
            frame = begin + start
            first = frame if first is None else first
            beat = round((frame - first) * 73 / 60 / RATE)
            assert abs(frame - (first + round(beat * 60 * RATE / 73))) <= 2
            clicks += 1
        begin = end - RATE // 10
    assert clicks == pytest.approx(600 * 73 / 60, abs=2)


def test_fives_and_sevens_fall_into_groups_and_bars_are_silent() -> None:
    five = ClickAsked(grouping=5)
    assert five.groups == (3, 2)
    assert [five.tap_at(beat) for beat in range(6)] == [
        Tap.ACCENT,
        Tap.SUBDIVISION,
        Tap.SUBDIVISION,
        Tap.BEAT,
        Tap.SUBDIVISION,
        Tap.ACCENT,
    ]
    quiet = ClickAsked(grouping=1, silent_bars=1)
    assert [quiet.tap_at(beat) is None for beat in range(6)] == [False] * 2 + [True] * 2 + [
        False
    ] * 2


def test_a_growing_tempo_comes_to_its_goal(practice_of: Build) -> None:
    practice = practice_of(plays=False)
    practice.do(lambda: practice.session.use_click(True))
    change(practice, ClickChange.GROWTH, ClickChange.START_OR_STOP)
    assert clicking(practice).goal_bpm == 75
    practice.pass_time(30.0)
    assert 60 < clicking(practice).tempo_bpm < 75
    practice.pass_time(40.0)
    assert clicking(practice).tempo_bpm == 75


def test_it_falls_silent_and_the_routine_stands_where_it_stood(practice_of: Build) -> None:
    practice = practice_of(plays=False)
    practice.do(practice.session.advance)
    stage = practice.view().stage
    practice.do(lambda: practice.session.use_click(True))
    change(practice, ClickChange.START_OR_STOP)
    practice.pass_time(3.0)
    assert clicking(practice).beat is not None
    practice.do(lambda: practice.session.use_click(False))
    practice.pass_time(2.0)
    end = practice.port.now_frame()
    assert np.abs(practice.port.played(end - RATE, end)).max() == 0
    assert practice.view().stage is stage
    assert practice.view().click is None


def test_a_device_that_comes_back_is_clicked_to_again(practice_of: Build) -> None:
    practice = practice_of(plays=False)
    practice.do(lambda: practice.session.use_click(True))
    change(practice, ClickChange.START_OR_STOP)
    practice.pass_time(2.0)
    practice.port.lose("The loudspeaker was unplugged.")
    practice.pass_time(1.0)
    practice.port.come_back("It is back.")
    practice.pass_time(3.0)
    end = practice.port.now_frame()
    assert len(starts(practice.port.played(end - 2 * RATE, end))) == 2


def test_the_accent_is_the_loudest() -> None:
    peaks = [np.abs(click(tap, RATE)).max() for tap in (Tap.ACCENT, Tap.BEAT, Tap.SUBDIVISION)]
    assert peaks == sorted(peaks, reverse=True)
