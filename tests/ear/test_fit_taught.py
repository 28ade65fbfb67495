"""How the network of starts is fitted, and how one is taught what several say."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.bench.ear.fit.seams import WIDER
from tests.bench.ear.fit.takes import Gathered, kept
from trainer.ear.segments.seam_patch import ROWS, STEPS
from trainer.ear.segments.start_network import FACTS, KINDS

torch = pytest.importorskip("torch", reason="fitting needs the optional extra 'fit'")
TAKES, SEAMS = 12, 10


def _made() -> Gathered:
    dice = np.random.default_rng(3)
    count = TAKES * SEAMS
    return Gathered(
        sources=["line"] * TAKES,
        places=["dry"] * (TAKES // 2) + ["echoed far hall"] * (TAKES // 2),
        ends=np.arange(SEAMS, count + 1, SEAMS),
        patches=dice.integers(0, 255, (count, ROWS, STEPS + WIDER)).astype(np.uint8),
        facts=dice.standard_normal((count, FACTS)).astype(np.float32),
        truths=dice.integers(-1, len(KINDS), count).astype(np.int8),
        joined=np.ones(count, bool),
        same=np.zeros(count, bool),
    )


def test_weights_read_are_those_written(tmp_path: Path) -> None:
    from tests.bench.ear.fit.network import Network, read, written

    kept = written(Network(), 1.5)
    np.savez(tmp_path / "one.npz", **kept)
    again = written(read(tmp_path / "one.npz"), 1.5)
    assert all((kept[name] == again[name]).all() for name in kept)


def test_who_says_what_all_teachers_say_misses_least(monkeypatch: pytest.MonkeyPatch) -> None:
    from tests.bench.ear.fit import fitting
    from tests.bench.ear.fit.network import Network
    from tests.bench.ear.fit.taught import loss

    monkeypatch.setattr(fitting, "TAKES", 8)
    made = _made()
    table = fitting.table_of(made, np.ones(TAKES, bool))
    warm = torch.ones(TAKES * SEAMS)
    torch.manual_seed(4)
    middle, *others = (Network().eval() for _ in range(3))
    for other, more in zip(others, (3.0, -3.0), strict=True):
        other.load_state_dict(middle.state_dict())
        with torch.no_grad():
            other.alone.bias[0] += more
    missed = []
    for student in (middle, *others):
        torch.manual_seed(5)
        teachers = [(one, 1.0) for one in others]
        missed.append(float(loss(student, table, teachers, warm).detach()))
    assert missed[0] < min(missed[1:])


def test_every_kind_counts_in_a_hall_as_it_does_in_no_room() -> None:
    from tests.bench.ear.fit.fitting import evened

    dry, hall = [0] * 40 + [2] * 40, [0] * 20 + [2] * 60
    truths = np.array([*dry, *hall], np.int8)
    seams = replace(
        _made(),
        sources=["line", "line"],
        places=["dry", "echoed far hall"],
        ends=np.array([len(dry), truths.size]),
        truths=truths,
        joined=np.ones(truths.size, bool),
        same=np.zeros(truths.size, bool),
    )
    weight = evened(seams)
    inside = np.arange(truths.size) >= len(dry)
    slurs, strokes = (weight[inside & (truths == kind)].sum() for kind in (0, 2))
    assert slurs == pytest.approx(strokes, rel=0.1)
    assert weight[~inside] == pytest.approx(1.0)


def test_halls_are_taught_less_surely_than_rooms() -> None:
    from tests.bench.ear.fit.taught import warmth

    first, *_, last = warmth(_made())
    assert first < 1 < last


def test_it_writes_the_weights_under_the_name_the_ear_reads(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tests.bench.ear.fit import fitting, taught
    from tests.bench.ear.fit.network import Network, written

    monkeypatch.setattr(fitting, "TAKES", 8)
    for part in ("made", "apart"):
        kept(_made(), tmp_path / f"{part}.npz")
    np.savez(tmp_path / "teacher.npz", **written(Network(), 1.0))
    teachers = [f"{tmp_path / 'teacher.npz'}:{share}" for share in (3, 1)]
    out = tmp_path / "out"
    monkeypatch.setattr(sys, "argv", ["taught", str(tmp_path), str(out), *teachers, "--fit", "0.1"])
    taught.main()
    assert {file.name for file in out.iterdir()} == {"start_network.npz", "report.txt"}
    with np.load(out / "start_network.npz") as weights:
        assert float(weights["temperature"]) == pytest.approx(taught.TEMPERATURE, abs=1e-3)
