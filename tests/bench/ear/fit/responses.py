"""The rooms that are measured in and never fitted on, as impulse responses in one file.

    python -m tests.bench.ear.fit.responses OUT.npz

From `../shared/audio/stitch.py` (early reflections and a darkening tail) and from pyroomacoustics
(shoebox rooms: image sources up to order 12, then rays), each in the four sizes of the bench; and
halls of the first.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.fit.voices import RATE, RECORDINGS

Response = NDArray[np.float64]

SIZES = ((0.25, -10.0), (0.4, -3.0), (0.7, -3.0), (0.8, 0.0))
HALLS = ((1.4, -6.0), (1.8, 8.0), (2.0, 2.0))
BODIES = 4
DIRECT_S = 0.0025
_WALLS_M = {0.25: (3.1, 4.2, 2.5), 0.4: (4.3, 5.6, 2.8), 0.7: (6.2, 8.1, 3.2), 0.8: (7, 9, 3.6)}
_TREBLE = (0.8, 0.9, 1.0, 1.0, 1.15, 1.35, 1.6)
"""What walls take from 125 Hz on against the middle: common practice, no source."""


def stitched_room(decay_s: float, wet_db: float, seed: int) -> Response:
    """The response of the room beside the project."""
    path = RECORDINGS.parent / "audio" / "stitch.py"
    spec = importlib.util.spec_from_file_location("stitch", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    click = np.zeros(round(1.2 * decay_s * RATE) + 1)
    click[0] = 1.0
    return np.asarray(module.room(click, RATE, decay_s, wet_db, seed)[: click.size])


def shoebox(decay_s: float, wet_db: float, seed: int) -> Response:
    """The response of a shoebox, direct sound 1 at sample 0, the rest as loud as asked."""
    import pyroomacoustics as pra

    dice = np.random.default_rng([seed, 31])
    np.random.seed(seed)
    walls = np.array(_WALLS_M[decay_s]) * dice.uniform(0.93, 1.07, 3)
    taken, _ = pra.inverse_sabine(decay_s, walls)
    material = pra.Material(
        {
            "description": "walls",
            "coeffs": [min(0.95, share * taken) for share in _TREBLE],
            "center_freqs": [125, 250, 500, 1000, 2000, 4000, 8000],
        }
    )
    room = pra.ShoeBox(
        walls, fs=RATE, materials=material, max_order=12, ray_tracing=True, air_absorption=True
    )
    room.set_ray_tracing(n_rays=4000)
    player = walls * dice.uniform((0.3, 0.25, 0), (0.42, 0.38, 0)) + (0, 0, 1.4)
    room.add_source(player)
    room.add_microphone(player + np.array([0.5, 0.8, -0.1]) * dice.uniform(0.6, 1.6))
    room.compute_rir()
    found = np.asarray(room.rir[0][0])
    peak = int(np.abs(found).argmax())
    found = found[peak : peak + round(1.15 * decay_s * RATE)] / found[peak]
    wet = found[round(DIRECT_S * RATE) :]
    wet *= 10 ** (wet_db / 20) / np.sqrt((wet**2).sum())
    return np.asarray(found)


def main() -> None:
    """Compute and keep."""
    kept = {}
    for decay_s, wet_db in SIZES + HALLS:
        makers = {"stitch": stitched_room}
        if (decay_s, wet_db) in SIZES:
            makers["shoebox"] = shoebox
        for seed in range(BODIES):
            for name, of in makers.items():
                response = of(decay_s, wet_db, seed)
                kept[f"{decay_s} s {wet_db:.0f} dB · {name} {seed}"] = response.astype(np.float16)
    np.savez_compressed(Path(sys.argv[1]), **kept)


if __name__ == "__main__":
    main()
