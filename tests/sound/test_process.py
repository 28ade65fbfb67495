"""A quiet terminal and an unhurried interpreter."""

from __future__ import annotations

import gc
import os
import sys
import weakref
from pathlib import Path

import pytest

from trainer.sound.process import (
    SWITCH_INTERVAL_S,
    collect_only_later_garbage,
    quiet_stderr,
    undisturbed,
)


def test_what_c_libraries_write_goes_to_the_log(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "sound.log"
    log.write_text("earlier\n")
    with quiet_stderr(log):
        os.write(2, b"ALSA lib: cannot find card\n")
    os.write(2, b"after\n")
    assert log.read_text() == "earlier\nALSA lib: cannot find card\n"
    assert capfd.readouterr().err == "after\n"


def test_a_screen_still_draws_on_the_terminal(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "not yet there" / "sound.log"
    with quiet_stderr(log):
        print("drawn", file=sys.__stderr__, flush=True)
    assert log.read_text() == ""
    assert capfd.readouterr().err == "drawn\n"


def test_the_terminal_comes_back_after_a_fault(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(RuntimeError), quiet_stderr(tmp_path / "sound.log"):
        raise RuntimeError
    os.write(2, b"seen\n")
    assert capfd.readouterr().err == "seen\n"


def test_while_sound_runs_nothing_is_collected_by_itself() -> None:
    interval_s = sys.getswitchinterval()
    with undisturbed():
        assert not gc.isenabled()
        assert gc.get_freeze_count() > 0
        assert sys.getswitchinterval() == pytest.approx(SWITCH_INTERVAL_S)
    assert gc.isenabled()
    assert gc.get_freeze_count() == 0
    assert sys.getswitchinterval() == pytest.approx(interval_s)


def test_what_is_loaded_is_gone_through_once_and_later_garbage_still_goes() -> None:
    class Ring:
        ring: object = None

    def thrown_away() -> weakref.ref[Ring]:
        ring = Ring()
        ring.ring = ring
        return weakref.ref(ring)

    before = thrown_away()
    try:
        collect_only_later_garbage()
        assert before() is None
        assert len(gc.get_objects()) < gc.get_freeze_count() / 10
        after = thrown_away()
        gc.collect()
        assert after() is None
    finally:
        gc.unfreeze()
