"""Tables of what a network says of takes, set by set and room by room."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from tests.bench.ear.fit.fitting import Judged
from tests.bench.ear.fit.takes import Gathered

SURE = 0.9
BINS = (0.0, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0001)
GROUP = np.array([0, 1, 1, 2])
"""Slurred, struck, breath."""


def contents(made: Gathered) -> str:
    """How much of what was fitted on."""
    sources = np.repeat(made.sources, made.counts)
    counts = [
        f"{name}: {np.bincount(made.truths[sources == name] + 1, minlength=5).tolist()}"
        for name in sorted(set(made.sources))
    ]
    head = f"{len(made.sources)} takes; unknown, slurred, legato, tongued, breath"
    return "\n".join([head, *counts])


def report(made: Gathered, said: Judged) -> str:
    """Right of all, right of those said with 0.9 or more, and how many those are."""
    counts = made.counts
    sources = np.repeat(made.sources, counts)
    rooms = np.repeat([place.split(" · ")[0] for place in made.places], counts)
    generators = np.repeat([p.split(" · ")[-1].split()[0] for p in made.places], counts)
    seams = made.truths >= 0
    lines = ["set, room: seams, right, right of sure, sure | wrongly slurred of sure | alone right"]
    alone = _grouped(said.alone).argmax(axis=1)
    grouped = _grouped(said.chances)
    kinds, certainty = grouped.argmax(axis=1), grouped.max(axis=1)
    truth = GROUP[np.clip(made.truths, 0, 3)]
    right = kinds == truth
    slurred_wrong = (kinds == 0) != (truth == 0)
    for source in dict.fromkeys(made.sources):
        for room in dict.fromkeys(rooms):
            here = seams & (sources == source) & (rooms == room)
            if here.sum() >= 5:
                sure = here & (certainty >= SURE)
                lines.append(
                    f"{source:16} {room:14} {here.sum():5d} {right[here].mean():.3f} "
                    f"{_mean(right[sure]):.3f} {sure.sum() / here.sum():.2f} | "
                    f"{_mean(slurred_wrong[sure]):.3f} | {(alone == truth)[here].mean():.3f}"
                )
    lines.append("certainty: room by generator: share right of what is said with so much")
    for room in dict.fromkeys(rooms):
        for generator in dict.fromkeys(generators[rooms == room]):
            here = seams & (rooms == room) & (generators == generator)
            cells = []
            for low, high in pairwise(BINS):
                inside = here & (certainty >= low) & (certainty < high)
                cells.append(f"{low:.2f}: {_mean(right[inside]):.2f} ({inside.sum()})")
            lines.append(f"{room:14} {generator:9} " + "  ".join(cells))
    return "\n".join(lines)


def _grouped(chances: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.stack([chances[:, 0], chances[:, 1] + chances[:, 2], chances[:, 3]], 1)


def _mean(values: NDArray[np.bool_]) -> float:
    return float(values.mean()) if values.size else float("nan")
