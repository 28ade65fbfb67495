"""The colours of the theme in force, for pictures: those of the inks in `trainer.tcss`."""

from __future__ import annotations

from textual.app import App
from textual.color import Color

from trainer.screens.pixels.palette import Palette


def palette(app: App[object]) -> Palette:
    """Ink on paper as the theme has it."""
    variables = app.theme_variables
    ink, paper = Color.parse(variables["foreground"]), Color.parse(variables["background"])
    return Palette(paper=paper.rgb, ink=ink.rgb)
