"""Takes kept as FLAC, and heard again, at half speed too."""

from __future__ import annotations

import contextlib
import re
from datetime import datetime
from pathlib import Path

import numpy as np

from trainer.disk.private import private_folder, private_new
from trainer.errors import SoundError
from trainer.sound.port import Samples
from trainer.sound.soundfile_io import write_sound

SUFFIX = ".flac"
_WHEN = "%Y-%m-%d %H%M%S"
_BEGINS = re.compile(r"\d{4}-\d\d-\d\d \d{6} ")
"""The name of a take."""
WINDOW_S = 0.043
OVERLAP = 4
"""Output windows at any place."""
HEARD_AGAIN_PEAK = 0.4
"""Highest sample of what is played back: no louder than the partner with the click."""
MOST_GAIN = 10.0
"""A soft take is heard again louder, by no more than this."""


def keep_take(
    folder: Path, samples: Samples, sample_rate_hz: int, at: datetime, title: str, limit_mb: float
) -> Path:
    """Write a take into the folder and remove the oldest takes until all fit the limit.

    Nothing but takes is ever removed: FLAC files whose name begins with a day as ours do. Raises
    SoundError when the file can't be written.
    """
    path = folder / f"{at:{_WHEN}} {words_of_title(title)}{SUFFIX}"
    try:
        private_folder(folder)
        with contextlib.suppress(FileExistsError):
            private_new(path).close()
    except OSError as error:
        raise SoundError(f"{folder} can't be made ({error.strerror}): check its place.") from error
    write_sound(path, samples, sample_rate_hz)
    _prune(folder, round(limit_mb * 1e6), path)
    return path


def words_of_title(title: str) -> str:
    """A round's title as it stands in the name of its take."""
    return " ".join(re.findall(r"[\w-]+", title))


def kept_at(take: Path) -> tuple[datetime, str]:
    """When a take was kept, by the clock on the wall, and the words of its title."""
    day, time, words = take.stem.split(" ", 2)
    return datetime.strptime(f"{day} {time}", _WHEN), words


def kept_takes(folder: Path) -> tuple[Path, ...]:
    """The takes in the folder, oldest first; empty when there is none."""
    return tuple(sorted(path for path in folder.glob(f"*{SUFFIX}") if _is_take(path)))


def slowed(samples: Samples, sample_rate_hz: int, speed: float) -> Samples:
    """The sound at another speed and the same pitch, by a phase vocoder.

    Each output window is the input where it stands, every peak of its spectrum turned, with all
    that belongs to it, to the phase it would have reached by now ('identity phase locking', Laroche
    & Dolson 1999, IEEE Trans. Speech and Audio Processing 7:323). Shape (samples / speed,).
    """
    size = 1 << round(np.log2(WINDOW_S * sample_rate_hz))
    hop = size // OVERLAP
    window = np.hanning(size + 1)[:-1]
    padded = np.pad(samples, (size, 2 * size)).astype(np.float64)
    length = round(samples.size / speed)
    out = np.zeros(length + 4 * size)
    phases = np.zeros(size // 2 + 1)
    for number, place in enumerate(np.arange(0, samples.size + size, hop * speed)):
        at = round(place)
        before = np.fft.rfft(window * padded[at : at + size])
        here = np.fft.rfft(window * padded[at + hop : at + hop + size])
        turned = phases + np.angle(here) - np.angle(before) if number else np.angle(here)
        peaks = _peaks(np.abs(here))
        here = here * np.exp(1j * (turned - np.angle(here))[peaks])
        phases = np.angle(here)
        begin = number * hop
        out[begin : begin + size] += window * np.fft.irfft(here)
    whole = out / (OVERLAP * 3 / 8)  # the sum of the squared windows
    lead = round((size - hop) / speed)  # where the input's first sample has come to stand
    return np.asarray(whole[lead : lead + length], np.float32)


def to_hear_again(samples: Samples) -> Samples:
    """The take at a level fit to be played back."""
    peak = float(np.abs(samples).max(initial=0.0))
    gain = min(MOST_GAIN, HEARD_AGAIN_PEAK / peak) if peak else 0.0
    return np.asarray(gain * samples, np.float32)


def _peaks(levels: np.ndarray) -> np.ndarray:
    """For each bin of a spectrum the nearest bin that is higher than the two on either side."""
    around = np.pad(levels, 2)
    beside = np.max([around[:-4], around[1:-3], around[3:-1], around[4:]], axis=0)
    peaks = np.flatnonzero((levels >= beside) & (levels > 0))
    if not peaks.size:
        return np.arange(levels.size)
    borders = (peaks[1:] + peaks[:-1]) // 2
    return np.asarray(peaks[np.searchsorted(borders, np.arange(levels.size))])


def _prune(folder: Path, limit_bytes: int, newest: Path) -> None:
    takes = list(kept_takes(folder))
    sizes = {take: take.stat().st_size for take in takes}
    for take in takes:
        if sum(sizes.values()) <= limit_bytes or take == newest:
            return
        take.unlink(missing_ok=True)
        del sizes[take]


def _is_take(path: Path) -> bool:
    """A file, not a folder or a link to nowhere, whose name begins with a day and an hour."""
    if not _BEGINS.match(path.name):
        return False
    try:
        kept_at(path)
    except ValueError:  # there is no such day
        return False
    return path.is_file()
