"""The round trip: how many frames lie between playing a sample and hearing it.

Short chirps are played and looked for in the microphone by cross-correlation with the chirp
itself: a rising tone has one sharp correlation peak, where a click of steady partials has many.
What devices report about their own delay is no substitute.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from scipy.signal import chirp, correlate

from trainer.disk.regular_file import regular_bytes
from trainer.disk.whole_file import write_whole
from trainer.errors import SoundError
from trainer.sound.port import Samples, SoundPort

LARGEST_FILE_BYTES = 1_000_000
"""Of what is known of the devices: a pair of them takes some 200 bytes."""
CHIRPS = 8
"""Played one after the other; the median counts."""
CHIRP_S = 0.025
CHIRP_HZ = (1500.0, 9000.0)
"""Where small loudspeakers and microphones are at their best."""
CHIRP_PEAK = 0.25
"""Against full scale: heard well, startling nobody."""
LEAD_S = 0.3
SPACING_S = 0.75
"""Between chirps: longer than any round trip that still lets people play together."""
LONGEST_ROUND_TRIP_S = 0.6
LIKENESS = 0.35
"""A chirp is heard where the normalised correlation (0 to 1) reaches this; noise gives 0.15."""
STILL_SHARE = 1e-6
"""Stretches with less than this share of all the energy are still: nothing is looked for there."""
DIRECT_SHARE = 0.7
"""The first peak this near to the highest is the direct sound; later ones are the room's."""
AGREEMENT_S = 0.002
"""Chirps count when they agree this well with their median."""
ENOUGH_SHARE = 0.6
"""Of the chirps that must agree."""


class EchoingPort(SoundPort, Protocol):
    """A port whose round trip can be measured."""

    round_trip_frames: int


@dataclass(frozen=True)
class RoundTrip:
    """A measured round trip."""

    frames: float
    """From playing a sample to finding it in what the microphone recorded."""
    spread_frames: float
    """Largest distance of a chirp that counted from `frames`."""
    chirps_heard: int
    """Chirps that counted."""
    sample_rate_hz: int


def measure_round_trip(
    port: EchoingPort, wait_until_heard: Callable[[int], None], chirps: int = CHIRPS
) -> RoundTrip | None:
    """Play chirps and find them; None when they can't be heard (headphones, a muted microphone).

    wait_until_heard(frame) returns once `port.heard_frame()` has reached the frame. It takes
    about `chirps` times SPACING_S. The port's present `round_trip_frames` is taken into account,
    not changed.
    """
    rate = port.sample_rate_hz
    sound = calibration_chirp(rate)
    first = port.now_frame() + round(LEAD_S * rate)
    frames = [first + round(number * SPACING_S * rate) for number in range(chirps)]
    port.keep_from(max(0, first - port.round_trip_frames))
    for frame in frames:
        port.play(sound, frame)
    longest = round(LONGEST_ROUND_TRIP_S * rate)
    wait_until_heard(frames[-1] + longest + sound.size)
    shift = port.round_trip_frames
    windows = [port.read(frame - shift, frame - shift + longest + sound.size) for frame in frames]
    port.keep_from(None)
    delays = [delay for window in windows if (delay := find_sound(window, sound)) is not None]
    return _agreed(delays, chirps, rate)


def calibration_chirp(sample_rate_hz: int) -> Samples:
    """The sound played and looked for, shape (samples,)."""
    count = round(CHIRP_S * sample_rate_hz)
    time_s = np.arange(count) / sample_rate_hz
    low_hz, high_hz = CHIRP_HZ
    tone = chirp(time_s, low_hz, CHIRP_S, min(high_hz, 0.45 * sample_rate_hz))
    return np.asarray(CHIRP_PEAK * np.hanning(count) * tone, np.float32)


def find_sound(heard: Samples, sound: Samples, direct_share: float = DIRECT_SHARE) -> float | None:
    """Frames from the start of what was heard to the sound in it, to a fraction of a frame.

    None when nothing there is like it.
    """
    energies = np.cumsum(np.concatenate(([0.0], heard.astype(np.float64) ** 2)))
    if energies[-1] == 0.0:
        return None
    products = np.abs(correlate(heard, sound, mode="valid").astype(np.float64))
    window_energy = energies[sound.size :] - energies[: -sound.size]
    floored = np.maximum(window_energy, STILL_SHARE * energies[-1])
    likeness = products / np.sqrt(floored * np.sum(sound.astype(np.float64) ** 2))
    likely = np.where(likeness >= LIKENESS, products, 0.0)
    if not likely.any():
        return None
    near = int(np.argmax(likely >= direct_share * likely.max()))
    end = near + sound.size // 16
    best = near + int(np.argmax(likely[near:end]))
    return best + _summit(products, best)


def remember_round_trip(path: Path, devices: str, measured: RoundTrip) -> None:
    """Keep a measurement for this pair of devices (`port.name`) in a JSON file.

    It is a good guess for the next time, not a proof: a stream may start a block late.

    Raises SoundError when the file can't be written.
    """
    keep_known(path, _key(devices, measured.sample_rate_hz), asdict(measured))


def remembered_round_trip(path: Path, devices: str, sample_rate_hz: int) -> RoundTrip | None:
    """What was measured for this pair of devices, or None; so, too, where what stands in the file
    can't be read or measured.
    """
    found = known_devices(path).get(_key(devices, sample_rate_hz), {})
    try:
        known = RoundTrip(
            float(found["frames"]),
            float(found["spread_frames"]),
            int(found["chirps_heard"]),
            int(found["sample_rate_hz"]),
        )
    except (TypeError, KeyError, ValueError, OverflowError):
        return None
    return known if 0 <= known.frames <= LONGEST_ROUND_TRIP_S * sample_rate_hz else None


def _agreed(delays: Sequence[float], chirps: int, rate: int) -> RoundTrip | None:
    """The median delay, when enough chirps stand close to it."""
    if not delays:
        return None
    median = float(np.median(delays))
    counted = [delay for delay in delays if abs(delay - median) <= AGREEMENT_S * rate]
    if len(counted) < ENOUGH_SHARE * chirps:
        return None
    frames = float(np.median(counted))
    spread = max(abs(delay - frames) for delay in counted)
    return RoundTrip(frames, spread, len(counted), rate)


def _summit(values: np.ndarray, place: int) -> float:
    """How far the top of the parabola through three values lies from the middle one, ±0.5."""
    if not 0 < place < values.size - 1:
        return 0.0
    before, here, after = (float(value) for value in values[place - 1 : place + 2])
    bend = before - 2 * here + after
    return 0.0 if bend >= 0 else max(-0.5, min(0.5, 0.5 * (before - after) / bend))


def _key(devices: str, sample_rate_hz: int) -> str:
    return f"{devices} at {sample_rate_hz} Hz"


def keep_known(path: Path, key: str, value: dict[str, Any]) -> None:
    """Write down one thing about the devices beside what is known of them.

    Raises SoundError when the file can't be written.
    """
    known = known_devices(path) | {key: value}
    text = json.dumps(known, indent=2, ensure_ascii=False) + "\n"
    try:
        write_whole(path, text.encode())
    except OSError as error:
        raise SoundError(
            f"What was measured can't be kept in {path} ({error.strerror}): check the folder."
        ) from error


def known_devices(path: Path) -> dict[str, Any]:
    """Everything written down about the devices; an unreadable file counts as nothing."""
    try:
        known = json.loads(regular_bytes(path, LARGEST_FILE_BYTES))
    except (OSError, ValueError, RecursionError):
        return {}
    return known if isinstance(known, dict) else {}
