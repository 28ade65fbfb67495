"""Fit the network by which the ear tells how a note started, and measure it on what it never saw.

    python -m tests.bench.ear.fit VOICES.npz RESPONSES.npz OUT [--make 270 --fit 130]
        [--workers 16] [--leave VOICE … --fit-left 32] [--seed 1]

`--make` seconds go into making takes and hearing them with the ear's own front end, `--fit` into
fitting; PyTorch uses a GPU where there is one. OUT gets `start_network.npz`, which belongs beside
`trainer/ear/segments/start_network.py`, `report.txt`, and `measured.npz`: what was said of every
place that was measured. `--leave` fits once more without each of
the voices named and measures on what was left out: the spread over voices.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from pathlib import Path
from time import monotonic

import numpy as np
import torch

from tests.bench.ear.fit.fitting import calibrated, fitted, judged
from tests.bench.ear.fit.network import written
from tests.bench.ear.fit.report import contents, report
from tests.bench.ear.fit.takes import Gathered, gathered, part_of, takes


def main() -> None:
    """Make, fit, calibrate, measure, write."""
    options = _options()
    options.out.mkdir(parents=True, exist_ok=True)
    with (options.out / "report.txt").open("w", encoding="utf-8", buffering=1) as said:
        apart, made = _made(options)
        print(contents(made), file=said)
        everything = np.ones(len(made.sources), bool)
        network = fitted(made, everything, options.fit, options.seed)
        temperatures = calibrated(network, apart)
        weights = written(network, *temperatures)
        np.savez_compressed(options.out / "start_network.npz", **weights)
        print(f"temperatures {temperatures}", file=said)
        found = judged(network, apart, *temperatures)
        print(report(apart, found), file=said)
        np.savez_compressed(
            options.out / "measured.npz",
            **{name: getattr(found, name).astype(np.float32) for name in ("chances", "again")},
            **{
                name: getattr(apart, name) for name in ("facts", "truths", "joined", "same", "ends")
            },
            sources=np.array(apart.sources),
            places=np.array(apart.places),
        )
        for voice in options.leave:
            own = np.array([source.startswith(voice) for source in made.sources])
            other = fitted(made, ~own, options.fit_left, options.seed)
            left = part_of(made, own)
            print(f"\nwithout {voice}, measured on it:", file=said)
            print(report(left, judged(other, left, *calibrated(other, apart))), file=said)


def _made(options: argparse.Namespace) -> tuple[Gathered, Gathered]:
    """What is measured on, and what is fitted on."""
    began = monotonic()
    sources = options.voices, options.responses
    apart = takes(*sources, options.make, options.workers, measuring=True, most=options.apart)
    measured = gathered(sorted(apart, key=lambda take: (take.source, take.place)))
    left_s = options.make - (monotonic() - began)
    return measured, gathered(list(takes(*sources, left_s, options.workers, seed=options.seed)))


def _options(arguments: Sequence[str] | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("voices", type=Path)
    parser.add_argument("responses", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--make", type=float, default=270, help="seconds")
    parser.add_argument("--fit", type=float, default=130, help="seconds")
    parser.add_argument("--fit-left", type=float, default=32, help="seconds")
    parser.add_argument("--apart", type=int, default=1350, help="takes to measure on")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--leave", nargs="*", default=[])
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    torch.manual_seed(options.seed)
    return options


if __name__ == "__main__":
    main()
