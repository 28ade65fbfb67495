"""Sound files in and out; the only module that knows the file library."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Self

import numpy as np
import soundfile
from scipy.signal import resample_poly

from trainer.errors import SoundError
from trainer.sound.port import Samples

LONGEST_S = 30 * 60
"""Half an hour, of what is wanted in memory as a whole; a take is a few minutes."""
BLOCK_FRAMES = 1 << 16
LOUDEST = 1000.0
"""Times full scale: floating-point sound may go over it, but not by 60 dB."""
LOW_RATE_HZ = 16000
"""Below this rate the upper harmonics that tell how a note was started are gone."""
RATES_HZ = range(4000, 384_001)
WHOLE_SHARE = 0.95
"""An MP3 header may only estimate the length: this much of it counts as the whole."""
ESTIMATED_S = 0.3
"""... and in short MP3s without a length of their own the estimate is too long by up to this."""
OPEN_LENGTH = 0x7FFFF000
"""Programs that write WAV into a pipe put this or more as the length."""
CANCEL_SHARE = 0.1
"""Of the channels' own power their average has half where they are strangers to each other, and
next to none where one of them is wired the wrong way round."""


@dataclass(frozen=True)
class Recording:
    """A sound file in memory."""

    samples: Samples
    """Mono."""
    sample_rate_hz: int
    notices: tuple[str, ...] = ()
    """What a person should know about the file, in plain sentences."""

    @property
    def seconds(self) -> float:
        """Length of the recording."""
        return self.samples.size / self.sample_rate_hz


class SoundReader:
    """A sound file read block by block as mono, checked as it comes; close it, or use `with`.

    Every format libsndfile knows: WAV, FLAC, Ogg, MP3, AIFF and more. Channels are averaged; where
    they cancel each other, the loudest is read alone.
    """

    def __init__(self, path: Path) -> None:
        """Raises SoundError when the file is missing or is no sound."""
        if path.is_dir():
            raise SoundError(f"{path} is a folder: name a sound file inside it.")
        if not path.exists():
            raise SoundError(f"There is no file {path}: check the name.")
        if not path.is_file():
            raise SoundError(f"{path} is a device or a pipe: name a sound file.")
        self._path = path
        with _told(path):
            if path.stat().st_size == 0:
                raise SoundError(f"{path} is empty (0 bytes): record it again.")
            self._file = soundfile.SoundFile(path)
        self.sample_rate_hz = int(self._file.samplerate)
        self._frames, self._sounds = 0, False
        if self.sample_rate_hz not in RATES_HZ:
            self.close()
            raise SoundError(
                f"{path} says it has {self.sample_rate_hz} samples a second: save it at 48000."
            )
        self._alone = self._loudest_of_cancelling()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let the file go."""
        self._file.close()

    @property
    def promised_s(self) -> float | None:
        """How long its header says it is; None where that is open."""
        frames = int(self._file.frames)
        return frames / self.sample_rate_hz if frames < OPEN_LENGTH else None

    def blocks(self) -> Iterator[Samples]:
        """The whole file from its beginning, each block of shape (samples,).

        Raises SoundError when the file can't be read on, is empty, cut short, or holds samples
        that are not numbers.
        """
        self._frames, self._sounds = 0, False
        with _told(self._path):
            if self._file.seekable():
                self._file.seek(0)
        while (block := self._next()).size:
            self._check(block)
            self._frames += block.size
            self._sounds = self._sounds or bool(block.any())
            yield block
        if not self._frames:
            raise SoundError(f"{self._path} holds no sound (0 samples): record it again.")
        if _cut_short(self._file, self._frames):
            raise SoundError(f"{self._path} breaks off before its end: copy or record it again.")

    @property
    def notices(self) -> tuple[str, ...]:
        """What a person should know about the file, in plain sentences, once it has been read."""
        name, channels, rate = self._path.name, int(self._file.channels), self.sample_rate_hz
        notices = []
        if self._alone is not None:
            notices.append(
                f"The {channels} channels of {name} cancel each other, as where one is wired the "
                f"wrong way round: channel {self._alone + 1} alone was heard."
            )
        elif channels > 1:
            notices.append(f"{name} has {channels} channels: they were averaged.")
        if rate < LOW_RATE_HZ:
            notices.append(
                f"{name} has only {rate} samples a second: pitch is heard, tone and tonguing "
                "less surely. Record at 44100 or 48000."
            )
        if not self._sounds:
            notices.append(f"{name} is silent from beginning to end.")
        return tuple(notices)

    def _next(self) -> Samples:
        with _told(self._path):
            block = self._file.read(BLOCK_FRAMES, dtype="float32", always_2d=True)
        if self._alone is not None:
            return np.ascontiguousarray(block[:, self._alone])
        with np.errstate(invalid="ignore", over="ignore"):
            return np.asarray(block.mean(axis=1, dtype=np.float32))

    def _loudest_of_cancelling(self) -> int | None:
        """The channel to be read alone; None where their average loses nothing."""
        channels = int(self._file.channels)
        if channels < 2 or not self._file.seekable():
            return None
        each, average = np.zeros(channels), 0.0
        with _told(self._path), np.errstate(invalid="ignore", over="ignore"):
            for block in self._file.blocks(BLOCK_FRAMES, dtype="float32", always_2d=True):
                each += np.sum(block**2, axis=0, dtype=np.float64)
                average += float(np.sum(block.mean(axis=1) ** 2, dtype=np.float64))
            self._file.seek(0)
        cancel = average < CANCEL_SHARE * each.mean()
        return int(each.argmax()) if cancel else None

    def _check(self, block: Samples) -> None:
        if not np.isfinite(block).all():
            first_s = (self._frames + int(np.argmin(np.isfinite(block)))) / self.sample_rate_hz
            raise SoundError(
                f"{self._path} holds samples that are not numbers, first at {first_s:.2f} s: "
                "save it again as 16-bit or 24-bit."
            )
        if np.abs(block).max() > LOUDEST:
            raise SoundError(
                f"{self._path} holds samples far beyond full scale: save it again as 16-bit or "
                "24-bit."
            )


def read_sound(path: Path, sample_rate_hz: int | None = None) -> Recording:
    """The file in memory as mono, at its own rate or resampled to the rate asked for.

    Raises SoundError as `SoundReader` does, and when the file is too long.
    """
    blocks: list[Samples] = []
    with SoundReader(path) as file:
        rate, frames = file.sample_rate_hz, 0
        for block in file.blocks():
            frames += block.size
            if frames > LONGEST_S * rate:
                raise SoundError(
                    f"{path} is longer than {LONGEST_S // 60} minutes: cut it in parts."
                )
            blocks.append(block)
        samples, notices = np.concatenate(blocks), file.notices
    if sample_rate_hz is None or sample_rate_hz == rate:
        return Recording(samples, rate, notices)
    return Recording(resampled(samples, rate, sample_rate_hz), sample_rate_hz, notices)


def write_sound(path: Path, samples: Samples, sample_rate_hz: int) -> None:
    """Write mono samples as 16-bit sound in the format of the suffix; .flac and .wav are exact.

    Raises SoundError when the file can't be written.
    """
    try:
        soundfile.write(path, np.clip(samples, -1.0, 1.0), sample_rate_hz, subtype="PCM_16")
    except (soundfile.SoundFileError, OSError, TypeError, ValueError) as error:
        raise SoundError(
            f"{path} can't be written ({_reason(error)}): check the folder and its free space."
        ) from error


def resampled(samples: Samples, from_hz: int, to_hz: int) -> Samples:
    """The samples at another rate, by a polyphase filter (scipy.signal.resample_poly)."""
    if from_hz == to_hz or not samples.size:
        return samples
    common = math.gcd(from_hz, to_hz)
    return np.asarray(resample_poly(samples, to_hz // common, from_hz // common), np.float32)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """What the file library can't do is a SoundError meanwhile."""
    try:
        yield
    except UnicodeEncodeError as error:
        raise SoundError(f"{path}: its name is not UTF-8; give it another name.") from error
    except (soundfile.SoundFileError, OSError) as error:
        raise SoundError(
            f"{path} can't be read as sound ({_reason(error)}): use WAV, FLAC, Ogg or MP3."
        ) from error


def _cut_short(file: soundfile.SoundFile, frames: int) -> bool:
    """True when the header promises more than there is; a pipe's open length is no promise."""
    promised_frames = int(file.frames)
    missing_frames = promised_frames - frames
    estimated = ESTIMATED_S * file.samplerate if file.format == "MP3" else 0
    short = frames < WHOLE_SHARE * promised_frames and missing_frames > estimated
    if short and promised_frames < OPEN_LENGTH:
        return True
    if "File ended unexpectedly" in file.extra_info:
        return True
    chunk = re.search(r"(?:data|SSND)\s*:\s*(\d+) \(should be (\d+)\)", file.extra_info)
    return chunk is not None and int(chunk[2]) < int(chunk[1]) < OPEN_LENGTH


def _reason(error: Exception) -> str:
    text = getattr(error, "error_string", None) or getattr(error, "strerror", None) or str(error)
    return text.strip().rstrip(".")
