"""The picture of one staff of a round, as the screen shows it."""

from __future__ import annotations

from PIL import Image

from trainer.screens.drawing.round_layout import RoundLayout
from trainer.screens.pixels.pixel_painter import painted_in_pixels


def staff_image(
    layout: RoundLayout,
    place: int,
    turned: int | None,
    cell: tuple[int, int],
) -> Image.Image:
    """A system below its marker's row; up to the column `turned` it is already the next one."""
    image = _painted(layout, place, cell)
    if turned is not None:
        width = turned * cell[0]
        image.paste(_painted(layout, place + 1, cell).crop((0, 0, width, image.height)))
    return image.crop((0, layout.upper.scale.marker_rows * cell[1], image.width, image.height))


def _painted(layout: RoundLayout, place: int, cell: tuple[int, int]) -> Image.Image:
    return painted_in_pixels(layout.items(place), layout.frame(place), layout.width, cell)
