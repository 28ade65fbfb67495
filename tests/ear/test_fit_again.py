"""The two networks that go over a whole sound: one command fits either, under its own name."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from tests.bench.ear.fit.again_takes import Sounds, kept
from trainer.ear.segments.again_network import AGAIN, BEGINNING, STRIDE, AgainNetwork
from trainer.ear.segments.held_picture import ROWS

pytest.importorskip("torch", reason="fitting needs the optional extra 'fit'")
SOUNDS, STEPS, APART = 20, 600, 20
"""APART: places from stroke to stroke."""


def _sounds() -> Sounds:
    """Sounds that are loud at their strokes and soft elsewhere."""
    dice = np.random.default_rng(5)
    places = STEPS // STRIDE
    strokes = np.arange(APART, places - APART, APART)
    levels = dice.integers(60, 80, (SOUNDS, STEPS, ROWS))
    levels[:, STRIDE * strokes] += 120
    truths = np.zeros((SOUNDS, places), np.int8)
    truths[:, strokes] = 1
    return Sounds(
        sources=["line"] * SOUNDS,
        places=["dry"] * SOUNDS,
        midis=dice.uniform(60, 96, SOUNDS).astype(np.float32),
        steps=np.full(SOUNDS, STEPS),
        pictures=levels.reshape(-1, ROWS).astype(np.uint8),
        truths=truths.ravel(),
        strokes=np.tile(strokes, SOUNDS).astype(np.int32),
        struck=np.full(SOUNDS, strokes.size),
        begins=np.full(SOUNDS, -1),
        leads=np.zeros(SOUNDS, np.int64),
    )


@pytest.mark.parametrize("name", [AGAIN, BEGINNING])
def test_it_writes_the_weights_under_the_name_the_ear_reads(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tests.bench.ear.fit import again

    for part in ("again", "again_apart"):
        kept(_sounds(), tmp_path / f"{part}.npz")
    out = tmp_path / "out"
    asked = [str(tmp_path), str(out), "--network", name, "--fit", "0.1"]
    monkeypatch.setattr(sys, "argv", ["again", *asked])
    again.main()
    assert {file.name for file in out.iterdir()} == {f"{name}_network.npz", f"{name}_report.txt"}
    with np.load(out / f"{name}_network.npz") as weights:
        network = AgainNetwork({part: weights[part].astype(np.float32) for part in weights.files})
    odds = network.log_odds(np.zeros((ROWS, STEPS), np.float32), 72.0)
    assert odds.shape == (STEPS // STRIDE,)
    assert np.isfinite(odds).all()
