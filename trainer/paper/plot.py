"""Drawing with matplotlib as SVG for a page: black, grey and white; words stay words.

The only module that needs matplotlib; it is loaded when the first plot is drawn.
"""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

from trainer.disk.missing_library import install_words
from trainer.errors import JournalError
from trainer.paper.page_words import escape

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, GREY, PALE = "#111111", "#666666", "#cccccc"
SMALL_PT = 8
HEAD_IN = 0.22
"""Room for a line above axes that are placed by hand."""
SMALLEST_PT = 7
"""Smaller letters are hard to read on paper (common practice, no source)."""


def empty_figure(width_in: float, height_in: float) -> Figure:
    """A figure of this size in inches, which is its size on paper too.

    Raises JournalError where matplotlib is missing.
    """
    try:
        from matplotlib.figure import Figure
    except ImportError as missing:
        raise JournalError(
            "The lesson page draws its plots with matplotlib, which isn't installed. Install it "
            f"with: {install_words('matplotlib')}"
        ) from missing
    return Figure(figsize=(width_in, height_in), layout="constrained")


def axes_between(figure: Figure, left_in: float, right_in: float, foot_in: float) -> Axes:
    """Plain axes over a part of the figure's width, in inches, with a line of room above them.

    Several axes side by side are placed so: where the layout is left to be worked out, it comes
    out a hair differently from one time to the next.
    """
    width_in, height_in = figure.get_size_inches()
    rectangle = (
        left_in / width_in,
        foot_in / height_in,
        (right_in - left_in) / width_in,
        1 - (foot_in + HEAD_IN) / height_in,
    )
    axes = figure.add_axes(rectangle)
    make_plain(axes)
    return axes


def plain_axes(figure: Figure) -> Axes:
    """The figure's only axes, made plain."""
    axes = figure.add_subplot()
    make_plain(axes)
    return axes


def make_plain(axes: Axes) -> None:
    """Without the frame's upper and right side, in small letters."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelsize=SMALL_PT)
    axes.yaxis.label.set_fontsize(SMALL_PT)
    axes.xaxis.label.set_fontsize(SMALL_PT)


def svg(figure: Figure, name: str, words: str) -> str:
    """The figure as an SVG element with a description, its ids apart from other figures' ids."""
    from matplotlib import rc_context

    text = io.StringIO()
    nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    with rc_context(
        {"svg.fonttype": "none", "svg.hashsalt": "lesson page", "hatch.linewidth": 0.6}
    ):
        figure.savefig(text, format="svg", metadata=nothing)
    drawing = text.getvalue()
    drawing = drawing[drawing.index("<svg") :]
    prefix = re.sub(r"[^a-z0-9]+", "-", name.lower())
    drawing = re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{prefix}-", drawing)
    return drawing.replace("<svg", f'<svg role="img" aria-label="{escape(words)}"', 1).strip()


def note_name(written: str) -> str:
    """'F♯5' for 'F#5'."""
    return written[:1] + written[1:].replace("##", "𝄪").replace("#", "♯").replace("b", "♭")
