"""Takes on disk, and takes heard again."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.sound.test_partner import cents_off
from trainer.errors import SoundError
from trainer.sound.kept_takes import keep_take, kept_takes, slowed, to_hear_again

RATE = 48000
NOON = datetime(2026, 3, 2, 12, 0)
NOISE = (0.3 * np.random.default_rng(1).standard_normal(RATE)).clip(-1, 1).astype(np.float32)


def test_a_take_is_kept_to_the_bit(tmp_path: Path) -> None:
    path = keep_take(tmp_path / "takes", NOISE, RATE, NOON, "D major: 1/2", 100)
    assert path.name == "2026-03-02 120000 D major 1 2.flac"
    heard, rate = soundfile.read(path, dtype="float32")
    assert rate == RATE
    np.testing.assert_allclose(heard, NOISE, atol=1.1 / 32768)


def test_the_oldest_make_room_and_nothing_else_is_touched(tmp_path: Path) -> None:
    journal = tmp_path / "2026-03-02.yaml"
    song = tmp_path / "my song.flac"
    journal.write_text("rounds: []")
    song.write_bytes(b"0" * 1_000_000)
    (tmp_path / "2026-13-45 999999 no day.flac").touch()
    (tmp_path / "2026-01-01 000000 a folder.flac").mkdir()
    (tmp_path / "2026-01-01 000000 leads nowhere.flac").symlink_to("nowhere")
    kept = [
        keep_take(tmp_path, NOISE, RATE, NOON + timedelta(minutes=n), f"round {n}", 0.3)
        for n in range(6)
    ]
    size = kept[-1].stat().st_size
    assert kept_takes(tmp_path) == tuple(kept[-int(0.3e6 / size) :])
    assert journal.exists()
    assert song.exists()


def test_the_newest_take_stays_however_large(tmp_path: Path) -> None:
    path = keep_take(tmp_path, NOISE, RATE, NOON, "round", 0.001)
    assert kept_takes(tmp_path) == (path,)


def test_a_folder_that_can_t_be_made_says_so(tmp_path: Path) -> None:
    (tmp_path / "takes").write_text("in the way")
    with pytest.raises(SoundError, match="can't be made"):
        keep_take(tmp_path / "takes", NOISE, RATE, NOON, "round", 1)


@pytest.mark.parametrize("speed", [0.5, 0.75, 1.0])
@pytest.mark.parametrize("hz", [261.63, 987.77, 2093.0])
def test_slower_is_longer_at_the_same_pitch(speed: float, hz: float) -> None:
    at = np.arange(2 * RATE) / RATE
    tone = (0.2 * np.sin(2 * np.pi * hz * at) + 0.1 * np.sin(4 * np.pi * hz * at)).astype(
        np.float32
    )
    slow = slowed(tone, RATE, speed)
    assert slow.size == round(tone.size / speed)
    middle = slow[slow.size // 4 : slow.size * 3 // 4]
    assert abs(cents_off(middle, hz, RATE)) < 0.5
    assert np.std(middle) == pytest.approx(np.std(tone), rel=0.05)


def test_notes_come_where_they_should_at_half_speed() -> None:
    sound = np.zeros(2 * RATE, np.float32)
    at = np.arange(RATE // 4) / RATE
    for onset in (0.25, 1.0, 1.5):
        begin = round(onset * RATE)
        sound[begin : begin + at.size] = 0.3 * np.sin(2 * np.pi * 880 * at)
    slow = slowed(sound, RATE, 0.5)
    loud = np.flatnonzero(np.abs(slow) > 0.15)
    onsets = loud[np.flatnonzero(np.diff(loud, prepend=-RATE) > RATE // 10)] / RATE
    np.testing.assert_allclose(onsets, [0.5, 2.0, 3.0], atol=0.03)


def test_what_is_heard_again_is_neither_lost_nor_loud() -> None:
    assert np.abs(to_hear_again(0.1 * NOISE)).max() == pytest.approx(0.4, rel=1e-5)
    assert np.abs(to_hear_again(0.001 * NOISE)).max() < 0.02
    assert not to_hear_again(np.zeros(10, np.float32)).any()
    assert to_hear_again(np.zeros(0, np.float32)).size == 0
