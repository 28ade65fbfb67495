"""The colours of the theme in force, for pictures: those of the inks in `trainer.tcss`."""

from __future__ import annotations

from textual.app import App
from textual.color import Color

from trainer.screens.pixels.palette import Palette

LINE_SHARE, SIGN_SHARE = 0.45, 0.8
"""Of the foreground, as the style sheet has them."""


def palette(app: App[object]) -> Palette:
    """Ink on paper as the theme has it."""
    variables = app.theme_variables
    ink, paper = Color.parse(variables["foreground"]), Color.parse(variables["background"])
    return Palette(
        paper=paper.rgb,
        line=paper.blend(ink, LINE_SHARE).rgb,
        sign=paper.blend(ink, SIGN_SHARE).rgb,
        note=ink.rgb,
        care=Color.parse(variables["warning"]).rgb,
    )
