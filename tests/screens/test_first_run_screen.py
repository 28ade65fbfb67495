"""The first morning: from an empty home to a first round, by keys, counted."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from textual.pilot import Pilot

from tests.session.conftest import NOON, TICK_FRAMES
from tests.session.test_microphone_check import played_through
from tests.sound.microphones import RATE, honest
from trainer.app.first_run import OPENING, Devices, FirstMorning, FirstRunStep, Measure
from trainer.app.newcomers_devices import devices_on
from trainer.app.open_session import open_session, planned_for
from trainer.app.paths import user_paths
from trainer.app.settings import Settings, read_settings, write_settings
from trainer.app.settings_applied import as_set
from trainer.app.todays_routine import FIRST_ROUND, is_first_morning, routine_file_for
from trainer.routine.load import load_routine
from trainer.screens.app import TrainerApp
from trainer.screens.first_run_screen import GONE_ON, MEASURED, FirstMorningApp, prompt
from trainer.session.beginning import Beginning
from trainer.session.view import Stage
from trainer.sound.calibrate import RoundTrip
from trainer.sound.simulated import SimulatedPort

KEYSTROKE_S, THINKING_S = 0.28, 1.35
"""A key by an average typist, and making up one's mind before it (Card, Moran & Newell 1980,
Communications of the ACM 23:396-410; the figures from memory)."""
MOST_TICKS = 3000
UNMEASURED = RoundTrip(480.0, 1.0, 8, RATE)


def never(_given_up: Callable[[], bool]) -> None:
    return None


def begun(port: SimulatedPort, measure: Measure = never) -> FirstMorning:
    devices = devices_on(port, measure)
    return FirstMorning(lambda: devices, Settings())


async def until(app: FirstMorningApp, port: SimulatedPort, reached: Callable[[], bool]) -> None:
    for _ in range(MOST_TICKS):
        if reached():
            return
        port.advance(TICK_FRAMES)
        app._morning.tick()
    raise AssertionError("never got there")


async def press(pilot: Pilot[bool], *keys: str) -> int:
    await pilot.press(*keys)
    await pilot.pause()
    return len(keys)


async def test_from_an_empty_home_to_the_first_sounding_note_in_under_a_minute(
    tmp_path: Path,
) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path / "home")})
    assert is_first_morning(paths)
    assert routine_file_for(paths) == FIRST_ROUND
    port = SimulatedPort(memory_s=120.0)
    port.sing(honest(played_through()), 0)
    morning = begun(port)
    app, pressed = FirstMorningApp(morning), 0
    async with app.run_test(size=(80, 24)) as pilot:
        pressed += await press(pilot, "pagedown")  # the C flute
        pressed += await press(pilot, "down", "down", "down", "pagedown")  # A4 = 442
        assert morning.view().step is FirstRunStep.MICROPHONE
        await until(app, port, lambda: morning.view().waits)
        pressed += await press(pilot, "pagedown")
        assert morning.view().step is FirstRunStep.DELAY
        pressed += await press(pilot, "n")
        assert morning.view().step is FirstRunStep.DONE
        pressed += await press(pilot, "pagedown")
    assert app.return_value is True
    write_settings(paths.config_file, morning.settings)
    settings = read_settings(paths.config_file)
    assert (settings.instrument, settings.a4_hz) == ("C flute", 442.0)
    waited_s = port.now_frame() / RATE

    routine, _ = load_routine(FIRST_ROUND)
    assert routine is not None
    routine, unfit = as_set(routine, settings, NOON.date())
    assert not unfit
    planned = planned_for(routine, NOON.date(), ())
    assert sum(exercise.minutes for exercise in planned) <= 2
    second = SimulatedPort()
    session = open_session(routine, planned, second, paths, Beginning(now=lambda: NOON))
    async with TrainerApp(session, str).run_test() as pilot:
        assert "442" in session.view().today.instrument + str(session.view().today.a4_hz)
        for stage in (Stage.READY, Stage.COUNT_IN):
            pressed += await press(pilot, "pagedown")
            session.tick()
            assert session.view().stage is stage
    seconds = waited_s + pressed * (KEYSTROKE_S + THINKING_S)
    print(f"\n{pressed} keys, {waited_s:.0f} s of sound check, about {seconds:.0f} s in all")
    assert pressed <= 12
    assert seconds < 60


async def test_leaving_writes_nothing_and_asks_again(tmp_path: Path) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path)})
    app = FirstMorningApp(begun(SimulatedPort()))
    async with app.run_test() as pilot:
        await press(pilot, "pagedown", "q")
    assert app.return_value is None
    assert is_first_morning(paths)


@pytest.mark.parametrize("heard", [None, UNMEASURED])
async def test_the_delay_is_measured_when_wanted(heard: RoundTrip | None) -> None:
    morning = begun(SimulatedPort(), lambda _given_up: heard)
    app = FirstMorningApp(morning)
    async with app.run_test() as pilot:
        await press(pilot, "n", "n", "n")
        assert morning.view().step is FirstRunStep.DELAY
        assert prompt(morning.view()) == MEASURED
        morning.advance()
        assert morning._measuring is not None
        morning._measuring.join()
        morning.tick()
        assert morning.round_trip is heard
        assert (morning.view().step is FirstRunStep.DONE) == (heard is not None)
        if heard is None:
            assert "not heard" in morning.view().words
            assert prompt(morning.view()) == GONE_ON
            await press(pilot, "pagedown")
            assert morning.view().step is FirstRunStep.DONE


async def test_without_a_microphone_it_goes_on() -> None:
    port = SimulatedPort(listens=False)
    morning = begun(port)
    for step in (FirstRunStep.INSTRUMENT, FirstRunStep.TUNING, FirstRunStep.MICROPHONE):
        assert morning.view().step is step
        morning.advance()
    assert morning.view().step is FirstRunStep.DONE


def test_an_alto_flute_plays_its_own_range() -> None:
    routine, _ = load_routine(FIRST_ROUND)
    assert routine is not None
    own, unfit = as_set(routine, Settings(instrument="alto flute"), NOON.date())
    assert not unfit
    assert (own.instrument, own.highest) != (routine.instrument, routine.highest)


def test_a_first_morning_is_only_once(tmp_path: Path) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path)})
    write_settings(paths.config_file, Settings())
    assert not is_first_morning(paths)
    assert routine_file_for(paths).name == "morning.yaml"


def test_silence_is_shown_as_silence() -> None:
    port = SimulatedPort()
    port.sing(np.zeros(RATE, np.float32), 0)
    morning = begun(port)
    morning.skip()
    morning.skip()
    port.advance(TICK_FRAMES)
    morning.tick()
    level = morning.view().level_db
    assert level is not None
    assert level < -100


def test_what_needs_the_devices_waits_until_they_are_open() -> None:
    opened: list[Devices] = []
    morning = FirstMorning(lambda: opened[0] if opened else None, Settings())
    morning.advance()
    morning.advance()
    morning.tick()
    view = morning.view()
    assert (view.step, view.words, view.waits) == (FirstRunStep.MICROPHONE, OPENING, False)
    morning.advance()
    assert morning.view().step is FirstRunStep.MICROPHONE
    opened.append(devices_on(SimulatedPort(), never))
    morning.tick()
    view = morning.view()
    assert (view.step, view.waits) == (FirstRunStep.MICROPHONE, False)
    assert "silent for a moment" in view.words


def test_a_newcomer_may_be_through_before_the_devices_are_open() -> None:
    morning = FirstMorning(lambda: None, Settings())
    for step in FirstRunStep:
        assert morning.view().step is step
        morning.skip()
    assert morning.view().waits


async def test_a_look_at_a_screen_that_goes_finds_nothing_and_says_nothing() -> None:
    app = FirstMorningApp(begun(SimulatedPort()))
    async with app.run_test(size=(80, 24)):
        await app.screen.query("#title").remove()  # as on a slow machine, line by line
        app.look()
