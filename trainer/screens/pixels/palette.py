"""The colours of a picture."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.screens.drawing.canvas import Ink

Colour = tuple[int, int, int]
"""Red, green, blue, from 0 to 255."""


@dataclass(frozen=True)
class Palette:
    """The colours of a theme."""

    paper: Colour
    line: Colour
    sign: Colour
    note: Colour
    care: Colour

    def of(self, ink: Ink) -> Colour:
        """The colour of an ink."""
        return {Ink.NOTE: self.note, Ink.CARE: self.care, Ink.LINE: self.line}.get(ink, self.sign)
