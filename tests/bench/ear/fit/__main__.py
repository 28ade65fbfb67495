"""Fit the network by which the ear tells how a note started, and measure it on what it never saw.

    python -m tests.bench.ear.fit FOLDER OUT [--fit 110] [--leave PARTS …] [--fit-left 45]
        [--fewer-halls] [--seed 1]

FOLDER is what `takes` made; `--fit` seconds go into fitting; PyTorch uses a GPU where there is one.
OUT gets `start_network.npz`, which belongs beside `trainer/ear/segments/start_network.py`, and
`report.txt`. `--leave` fits once more without the takes whose source has one of some parts of names
in it (`D5_phrase,G5_phrase`), and measures on what is set apart and on those takes: the spread over
recordings and voices.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.fit.fitting import calibrated, fitted, judged
from tests.bench.ear.fit.network import written
from tests.bench.ear.fit.report import contents, report
from tests.bench.ear.fit.takes import Gathered, fair, part_of, taken


def main() -> None:
    """Fit, calibrate, measure, write."""
    options = _options()
    options.out.mkdir(parents=True, exist_ok=True)
    made, apart = (taken(options.folder / f"{name}.npz") for name in ("made", "apart"))
    with (options.out / "report.txt").open("w", encoding="utf-8", buffering=1) as said:
        print(contents(made), file=said)
    for number, left in enumerate([None, *options.leave], 1):
        chosen = np.array([not _named(source, left) for source in made.sources])
        if options.fewer_halls:
            chosen &= ~every_second_hall(made)
        network = fitted(made, chosen, options.fit_left if left else options.fit, options.seed)
        measured = part_of(apart, np.array([fair(source, left) for source in apart.sources]))
        temperature = calibrated(network, measured)
        name = f"without-{number}.npz" if left else "start_network.npz"
        np.savez_compressed(options.out / name, **written(network, temperature))
        with (options.out / "report.txt").open("a", encoding="utf-8", buffering=1) as said:
            print(f"\n## without {left}: temperature {temperature}", file=said)
            print(report(apart, judged(network, apart, temperature)), file=said)
            if left:
                own = part_of(made, ~chosen)
                print(f"\nwhat was left out:\n{report(own, judged(network, own))}", file=said)


def _named(source: str, left: str | None) -> bool:
    """Whether a source is left out."""
    return left is not None and any(part in source for part in left.split(","))


def every_second_hall(made: Gathered) -> NDArray[np.bool_]:
    """Which takes are in halls, and their number even."""
    return made.in_halls & (np.arange(made.ends.size) % 2 == 0)


def _options(arguments: Sequence[str] | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--fit", type=float, default=110, help="seconds")
    parser.add_argument("--fit-left", type=float, default=45, help="seconds")
    parser.add_argument("--leave", nargs="*", default=[])
    parser.add_argument("--fewer-halls", action="store_true", help="every second one left out")
    parser.add_argument("--seed", type=int, default=1)
    return parser.parse_args(arguments)


if __name__ == "__main__":
    main()
