"""Any sound file a student may have, good or bad, is read or refused in words."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import soundfile

from trainer.errors import SoundError
from trainer.sound import soundfile_io
from trainer.sound.soundfile_io import read_sound, resampled, write_sound

RATE = 48000
TONE = (0.5 * np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE)).astype(np.float32)


def written(path: Path, samples: np.ndarray = TONE, rate: int = RATE, **how: str) -> Path:
    soundfile.write(path, samples, rate, **how)
    return path


@pytest.mark.parametrize(
    ("suffix", "tolerance"), [("wav", 1e-4), ("flac", 1e-4), ("aiff", 1e-4), ("ogg", 0.05)]
)
def test_every_common_format_is_read(tmp_path: Path, suffix: str, tolerance: float) -> None:
    recording = read_sound(written(tmp_path / f"take.{suffix}"))
    assert recording.sample_rate_hz == RATE
    assert recording.samples.dtype == np.float32
    assert recording.seconds == 1.0
    assert recording.notices == ()
    np.testing.assert_allclose(recording.samples, TONE, atol=tolerance)


def test_mp3_is_read(tmp_path: Path) -> None:
    recording = read_sound(written(tmp_path / "take.mp3"))
    assert recording.seconds == pytest.approx(1.0, abs=0.1)
    assert np.sqrt(np.mean(recording.samples**2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.1)


def test_stereo_is_averaged_and_said_so(tmp_path: Path) -> None:
    both = np.stack([TONE, np.zeros_like(TONE)], axis=1)
    recording = read_sound(written(tmp_path / "take.wav", both, subtype="FLOAT"))
    np.testing.assert_allclose(recording.samples, TONE / 2, atol=1e-7)
    assert "2 channels" in recording.notices[0]


@pytest.mark.parametrize(("right", "heard"), [(-0.8, 1.0), (-1.2, -1.2)])
def test_of_channels_that_cancel_each_other_the_louder_is_heard(
    tmp_path: Path, right: float, heard: float
) -> None:
    both = np.stack([TONE, right * TONE], axis=1)
    recording = read_sound(written(tmp_path / "take.wav", both, subtype="FLOAT"))
    np.testing.assert_allclose(recording.samples, heard * TONE, atol=1e-6)
    assert "cancel" in recording.notices[0]


def test_silence_and_a_low_rate_are_no_errors(tmp_path: Path) -> None:
    recording = read_sound(written(tmp_path / "take.wav", np.zeros(800, np.float32), 8000))
    assert recording.samples.size == 800
    assert any("8000 samples a second" in notice for notice in recording.notices)
    assert any("silent" in notice for notice in recording.notices)


@pytest.mark.parametrize("rate", [8000, 22050, 44100, 96000])
def test_another_rate_keeps_pitch_level_and_length(tmp_path: Path, rate: int) -> None:
    time_s = np.arange(rate) / rate
    path = written(tmp_path / "take.wav", 0.5 * np.sin(2 * np.pi * 440 * time_s), rate)
    recording = read_sound(path, RATE)
    assert recording.sample_rate_hz == RATE
    assert recording.samples.size == RATE
    np.testing.assert_allclose(recording.samples[4800:-4800], TONE[4800:-4800], atol=2e-3)


def test_the_same_rate_is_left_alone() -> None:
    assert resampled(TONE, RATE, RATE) is TONE


def test_what_is_written_is_read_again(tmp_path: Path) -> None:
    write_sound(tmp_path / "take.flac", 2.5 * TONE, RATE)
    np.testing.assert_allclose(
        read_sound(tmp_path / "take.flac").samples, np.clip(2.5 * TONE, -1, 1), atol=1e-4
    )


def cut(path: Path, share: float = 0.5) -> Path:
    whole = path.read_bytes()
    path.write_bytes(whole[: int(share * len(whole))])
    return path


def not_a_number(folder: Path) -> Path:
    bad = TONE.copy()
    bad[RATE // 4] = np.nan
    return written(folder / "bad.wav", bad, subtype="FLOAT")


def text(folder: Path) -> Path:
    path = folder / "notes.wav"
    path.write_text("G4 A4 B4\n" * 100)
    return path


def zero_bytes(folder: Path) -> Path:
    path = folder / "nothing.wav"
    path.touch()
    return path


BAD = {
    "missing": (lambda folder: folder / "take.wav", "There is no file"),
    "a folder": (lambda folder: folder, "is a folder"),
    "zero bytes": (zero_bytes, "empty"),
    "a header alone": (lambda folder: written(folder / "t.wav", TONE[:0]), "holds no sound"),
    "text": (text, "can't be read as sound"),
    "wav cut short": (lambda folder: cut(written(folder / "t.wav")), "breaks off"),
    "aiff cut short": (lambda folder: cut(written(folder / "t.aiff")), "breaks off"),
    "mp3 cut short": (lambda folder: cut(written(folder / "t.mp3")), "breaks off"),
    "ogg cut short": (lambda folder: cut(written(folder / "t.ogg"), 0.7), "breaks off|no sound"),
    "flac cut short": (lambda folder: cut(written(folder / "t.flac")), "can't be read|breaks off"),
    "header cut short": (lambda folder: cut(written(folder / "t.wav"), 2e-4), "can't be read"),
    "not numbers": (not_a_number, "not numbers, first at 0.25 s"),
    "absurd rate": (lambda folder: written(folder / "t.wav", TONE, 100), "100 samples a second"),
}


@pytest.mark.parametrize("case", BAD)
def test_what_can_t_be_read_is_refused_in_words(tmp_path: Path, case: str) -> None:
    make, words = BAD[case]
    with pytest.raises(SoundError, match=words) as caught:
        read_sound(make(tmp_path))
    assert str(tmp_path) in str(caught.value)
    assert str(caught.value).endswith((".", "name."))


def test_a_file_piped_without_a_length_is_whole(tmp_path: Path) -> None:
    path = written(tmp_path / "piped.wav")
    whole = bytearray(path.read_bytes())
    at = whole.index(b"data") + 4
    whole[at : at + 4] = b"\xff" * 4
    path.write_bytes(whole)
    assert read_sound(path).samples.size == RATE


def test_a_very_long_file_is_refused_before_it_fills_the_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(soundfile_io, "LONGEST_S", 60)
    monkeypatch.setattr(soundfile_io, "BLOCK_FRAMES", 4096)
    with pytest.raises(SoundError, match="longer than 1 minutes"):
        read_sound(written(tmp_path / "long.wav", np.zeros(61 * 8000, np.float32), 8000))


def test_a_folder_that_isn_t_there_can_t_be_written_to(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match="can't be written"):
        write_sound(tmp_path / "no" / "take.wav", TONE, RATE)


def test_samples_far_beyond_full_scale_are_told(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "x.wav", np.full(100, 3e38, np.float32), 48000, subtype="FLOAT")
    with pytest.raises(SoundError, match="far beyond full scale"):
        read_sound(tmp_path / "x.wav")


def test_a_name_that_is_no_text_is_told(tmp_path: Path) -> None:
    file = Path(os.fsdecode(bytes(tmp_path) + b"/\xff\xfe.wav"))
    file.write_bytes(b"RIFF")
    with pytest.raises(SoundError, match="not UTF-8"):
        read_sound(file)
