"""A round's music to look through before it is played: as many systems to a page as fit."""

from __future__ import annotations

from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Row
from trainer.screens.drawing.round_layout import score

Page = tuple[Row, ...]


def preview_pages(round_: Round, width: int, height: int) -> tuple[Page, ...]:
    """Every system in order, laid out for pages of this size; at least one a page."""
    layout = score(round_, width, height)
    pages: list[Page] = []
    for place in range(len(layout.systems)):
        staff = layout.staff(place)
        if pages and len(pages[-1]) + len(staff) <= height:
            pages[-1] += staff
        else:
            pages.append(staff)
    return tuple(page[:height] for page in pages)
