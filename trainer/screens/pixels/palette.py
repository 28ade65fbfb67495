"""The colours of a picture: it is painted in shades of one ink, and coloured when it is sent."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.screens.drawing.canvas import Ink

Colour = tuple[int, int, int]
"""Red, green, blue, from 0 to 255."""
FULL = 255
"""The shade of pure ink; paper is 0."""
LINE_SHARE, SIGN_SHARE = 0.45, 0.8
"""Of the ink, as the style sheet has them."""


@dataclass(frozen=True)
class Palette:
    """The colours of a theme."""

    paper: Colour
    ink: Colour

    def shade(self, share: float) -> Colour:
        """So much of the ink, from 0 to 1, on the paper."""
        red, green, blue = (
            round(paper + share * (ink - paper))
            for paper, ink in zip(self.paper, self.ink, strict=True)
        )
        return red, green, blue


def shade_of(ink: Ink) -> int:
    """How dark an ink is."""
    return {Ink.NOTE: FULL, Ink.LINE: round(LINE_SHARE * FULL)}.get(ink, round(SIGN_SHARE * FULL))
