"""The reliability plot: how sure the ear was against how often it was right."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import matplotlib as mpl

mpl.use("svg")
from matplotlib import pyplot as plt

from tests.bench.ear.recorded.table import Row

ROOM = 0.01
"""Around what is drawn."""


def reliability_plot(rows: Sequence[Row], path: Path) -> None:
    """One line a room, each from the least that was said; the diagonal is what certainty should
    mean."""
    low = min(row["certainty"] for row in rows) - ROOM
    figure, axes = plt.subplots(figsize=(5, 5))
    axes.plot([low, 1], [low, 1], color="0.7", linewidth=1)
    for room in dict.fromkeys(row["room"] for row in rows):
        here = [row for row in rows if row["room"] == room]
        axes.plot([r["certainty"] for r in here], [r["right"] for r in here], "o-", label=room)
    axes.set(
        xlabel="certainty said (mean of the bin)",
        ylabel="share of starts right",
        xlim=(low, 1 + ROOM),
        ylim=(min(low, *(row["right"] for row in rows)) - ROOM, 1 + ROOM),
    )
    axes.legend()
    figure.tight_layout()
    figure.savefig(path)
    plt.close(figure)
