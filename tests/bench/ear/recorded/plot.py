"""The reliability plot: how sure the ear was against how often it was right."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import matplotlib as mpl

mpl.use("svg")
from matplotlib import pyplot as plt

from tests.bench.ear.recorded.table import Row


def reliability_plot(rows: Sequence[Row], path: Path) -> None:
    """One line a room; the diagonal is what certainty should mean."""
    figure, axes = plt.subplots(figsize=(5, 5))
    axes.plot([0.4, 1], [0.4, 1], color="0.7", linewidth=1)
    for room in dict.fromkeys(row["room"] for row in rows):
        here = [row for row in rows if row["room"] == room]
        axes.plot([r["certainty"] for r in here], [r["right"] for r in here], "o-", label=room)
    axes.set(
        xlabel="certainty said (mean of the bin)",
        ylabel="share of starts right",
        xlim=(0.4, 1.02),
        ylim=(0, 1.02),
    )
    axes.legend()
    figure.tight_layout()
    figure.savefig(path)
    plt.close(figure)
