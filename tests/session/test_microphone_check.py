"""The sound check walks through its four passages on what it hears."""

from __future__ import annotations

import numpy as np
import pytest

from tests.sound.microphones import RATE, honest, passages, spoken, with_noise_gate
from tests.sweeps import mostly_slow
from trainer.player.room import in_room
from trainer.session.microphone_check import ALL_WELL, UNHEARD, SoundCheck
from trainer.session.view import CheckStep, SoundCheckView
from trainer.sound.level_check import Finding
from trainer.sound.port import Samples
from trainer.sound.simulated import SimulatedPort


def checked(sound: Samples, most_s: float = 90.0) -> tuple[SoundCheckView, list[CheckStep]]:
    """The check while this is heard; its last view, and the steps on the way."""
    check, steps = through(sound, most_s)
    return check.view(), steps


def through(sound: Samples, most_s: float = 90.0) -> tuple[SoundCheck, list[CheckStep]]:
    """The check when this was heard, and its steps."""
    port = SimulatedPort(memory_s=120.0)
    port.sing(sound, 0)
    check = SoundCheck(port)
    steps = [check.view().step]
    while check.view().step is not CheckStep.DONE and port.now_frame() < most_s * RATE:
        port.advance(RATE // 50)
        check.tick()
        if check.view().step is not steps[-1]:
            steps.append(check.view().step)
    return check, steps


def played_through(
    soft_after_s: float = 1.5, loud_after_s: float = 1.0, short_notes: int = 2
) -> Samples:
    """Silence, a soft note, a loud one, each when the player is ready, short ones after a silence,
    and silence to the end."""
    parts = passages()
    gaps = [np.zeros(round(s * RATE), np.float32) for s in (soft_after_s, loud_after_s)]
    sound = [parts["quiet"], gaps[0], parts["soft"], gaps[1], parts["loud"], parts["after"]]
    return np.concatenate(
        [*sound, parts["after"], *short_notes * [short()], np.zeros(80 * RATE, np.float32)]
    )


def short() -> Samples:
    """A fifth of a second of the loud note, and a second of silence."""
    loud = passages()["loud"][RATE // 2 : RATE // 2 + RATE // 5]
    edge = np.minimum(1.0, np.arange(loud.size) / (0.01 * RATE))
    return np.concatenate([loud * edge * edge[::-1], np.zeros(RATE)]).astype(np.float32)


@pytest.mark.parametrize(("soft_after_s", "loud_after_s"), [(1.5, 0.2), (4.0, 3.0)])
def test_an_honest_microphone_is_praised(soft_after_s: float, loud_after_s: float) -> None:
    view, steps = checked(honest(played_through(soft_after_s, loud_after_s)))
    assert steps == [
        CheckStep.QUIET,
        CheckStep.SOFT,
        CheckStep.LOUD,
        CheckStep.AFTER,
        CheckStep.SHORT,
        CheckStep.DONE,
    ]
    assert view.findings == ()
    assert view.words == ALL_WELL


@pytest.mark.parametrize("seed", mostly_slow(range(3), 1))
def test_a_room_that_rings_on_is_told_and_what_helps(seed: int) -> None:
    """In the trainer's own room; `heard.BLURRED_DB` names what was measured in others."""
    view, _ = checked(honest(in_room(played_through(), RATE, 2.0, seed, wet_db=3.0)))
    assert view.findings == (Finding.LIVE_ROOM,)
    assert "curtain" in view.words


@pytest.mark.parametrize("seed", mostly_slow(range(3), 1))
def test_a_living_room_is_not_too_live(seed: int) -> None:
    view, _ = checked(honest(in_room(played_through(), RATE, 0.4, seed, wet_db=-3.0)))
    assert view.findings == ()


def test_who_plays_no_short_notes_is_told_nothing_of_the_room() -> None:
    live = in_room(played_through(short_notes=0), RATE, 2.0, 0, wet_db=3.0)
    assert checked(honest(live))[0].words == ALL_WELL


def test_what_is_wrong_is_said_with_what_to_do() -> None:
    view, _ = checked(with_noise_gate(honest(played_through())))
    assert Finding.SOFT_IS_EATEN in view.findings
    assert "noise suppression" in view.words


def test_the_players_level_lies_between_soft_and_loud() -> None:
    """Where a gate eats the soft note, something is turned before the first round."""
    heard = honest(played_through())
    parts = passages()
    soft_db, loud_db = (
        10 * np.log10(np.mean(honest(parts[name])[RATE : 2 * RATE] ** 2))
        for name in ("soft", "loud")
    )
    level_db = through(heard)[0].players_level_db
    assert level_db == pytest.approx((soft_db + loud_db) / 2, abs=1.5)
    assert through(with_noise_gate(heard))[0].players_level_db is None


def test_nobody_is_waited_for_for_ever() -> None:
    view, _ = checked(honest(np.zeros(100 * RATE, np.float32)))
    assert view.findings == (Finding.NOTHING_HEARD,)


def test_a_dead_microphone_is_told() -> None:
    view, _ = checked(np.zeros(1, np.float32))
    assert view.findings == (Finding.DEAD,)


def test_without_a_microphone_there_is_nothing_to_check() -> None:
    view = SoundCheck(SimulatedPort(listens=False)).view()
    assert (view.step, view.words) == (CheckStep.DONE, UNHEARD)


def test_talk_is_not_taken_for_a_soft_note() -> None:
    """Somebody speaks when the soft note is due, and then it is played: the microphone is fine."""
    parts = passages()
    gap = np.zeros(2 * RATE, np.float32)
    heard = [parts["quiet"], gap, spoken(), gap, parts["soft"], gap, parts["loud"], parts["after"]]
    view, _ = checked(honest(np.concatenate([*heard, np.zeros(60 * RATE, np.float32)])))
    assert view.words == ALL_WELL


def test_of_talk_alone_nothing_is_said_but_that_no_note_was_heard() -> None:
    sound = np.concatenate([np.zeros(3 * RATE, np.float32), spoken(80.0)])
    view, _ = checked(honest(sound))
    assert view.findings == (Finding.NOTHING_HEARD,)


def test_talk_instead_of_the_soft_note_accuses_no_noise_suppression() -> None:
    quiet = np.zeros(3 * RATE, np.float32)
    loud = [np.concatenate([np.zeros(RATE, np.float32), passages()["loud"]])] * 5
    view, _ = checked(honest(np.concatenate([quiet, spoken(24.0), *loud, quiet, quiet, quiet])))
    assert Finding.SOFT_IS_EATEN not in view.findings
