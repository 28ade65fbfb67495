"""Plots of the bench, as SVG beside RESULTS.md."""

from __future__ import annotations

from pathlib import Path

import matplotlib as mpl
from matplotlib.figure import Figure

from tests.bench.ear.run import Results
from tests.bench.ear.takes import ROOM_S, ROOMS_S, STARTS
from tests.bench.results import RESULTS

PLOTS = RESULTS.parent / "plots"
MARKS = "osD^vPX*<>"
"""A mark a reader, so that nothing hangs on colour."""


def write_plots(results: Results) -> list[str]:
    """Write the plots; the Markdown lines that show them."""
    PLOTS.mkdir(exist_ok=True)
    mpl.rcParams["svg.hashsalt"] = "ear"
    figures = {"onsets": _onsets(results), "cents": _cents(results)}
    alts = {
        "onsets": "Onset F within 25 ms by articulation, dry and in a room, a mark a reader",
        "cents": "95th percentile of cents against processor time, a mark a reader",
    }
    for name, figure in figures.items():
        path = PLOTS / f"{name}.svg"
        figure.savefig(path, metadata={"Date": None})
    return [f"![{alts[name]}]({Path(PLOTS.name, name)}.svg)" for name in figures]


def _onsets(results: Results) -> Figure:
    figure = Figure((9, 4.5), layout="constrained")
    for place, room_s in enumerate(ROOMS_S):
        axes = figure.add_subplot(1, len(ROOMS_S), place + 1)
        for reader, mark in zip(results.readers, MARKS, strict=False):
            scores = [reader.onsets.get((start, room_s)) for start in STARTS]
            if any(scores):
                heights = [float("nan") if s is None else s.f25 for s in scores]
                axes.plot(range(len(STARTS)), heights, mark + ":", label=reader.name, ms=6)
        axes.set_xticks(range(len(STARTS)), [str(start) for start in STARTS], rotation=20)
        axes.set_ylim(0, 1.03)
        axes.set_title("dry" if room_s == 0 else f"room, {room_s:g} s")
        axes.set_ylabel("onset F, ±25 ms")
    figure.axes[0].legend(fontsize=7, loc="lower left")
    return figure


def _cents(results: Results) -> Figure:
    figure = Figure((6, 4.5), layout="constrained")
    axes = figure.add_subplot()
    for reader, mark in zip(results.readers, MARKS, strict=False):
        scores = [reader.cents.get((start, ROOM_S)) for start in STARTS[:-1]]
        at_95 = [score.at_95 for score in scores if score is not None]
        if at_95 and reader.cpu > 0:
            axes.plot(reader.cpu, max(max(at_95), 0.05), mark, label=reader.name, ms=8)
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.set_xlabel("processor seconds per second of sound")
    axes.set_ylabel("cents, 95th percentile, worst articulation, in a room")
    axes.legend(fontsize=7)
    return figure
