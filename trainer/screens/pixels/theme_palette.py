"""The colours of the theme in force, for pictures: those of the inks in `trainer.tcss`."""

from __future__ import annotations

from rich.color import ColorSystem
from textual.app import App
from textual.color import Color

from trainer.screens.pixels.palette import Colour, Palette

COLOUR_SYSTEMS = {"standard": ColorSystem.STANDARD, "256": ColorSystem.EIGHT_BIT}
"""As Rich calls what a terminal with fewer colours says it has."""


def palette(app: App[object]) -> Palette:
    """Ink on paper as the theme has it, and as the terminal shows it around the picture."""
    variables = app.theme_variables
    paper, ink = (
        _shown(app, Color.parse(variables[name])) for name in ("background", "foreground")
    )
    return Palette(paper=paper, ink=ink)


def _shown(app: App[object], colour: Color) -> Colour:
    system = COLOUR_SYSTEMS.get(app.console.color_system or "")
    return colour.rgb if system is None else colour.rich_color.downgrade(system).get_truecolor()
