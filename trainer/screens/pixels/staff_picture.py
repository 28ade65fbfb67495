"""A widget that shows a picture of a staff; it is sent when it changes, and never else."""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING

from rich.control import Control
from rich.segment import ControlType, Segment
from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip

from trainer.screens.pixels.palette import Palette
from trainer.screens.pixels.terminal_pixels import PixelWay
from trainer.screens.widgets.still import Still

if TYPE_CHECKING:
    from PIL import Image

WIDEST_SIXELS = 1000
"""Pixels: xterm leaves out wider pictures unless told otherwise (its manual, maxGraphicSize)."""
_NUMBERS = count(1)
_SENT = ((ControlType.CURSOR_FORWARD, 0),)
"""Marks a segment as control: it takes no cells."""


class StaffPicture(Still):
    """As large as its picture; what was shown last stays until another is."""

    DEFAULT_CSS = """
    StaffPicture {
        position: absolute;
        layer: picture;
        display: none;
    }
    """

    def __init__(self, way: PixelWay) -> None:
        super().__init__()
        self._way = way
        self._shown: object = None
        self._code = ""
        self._tiles: list[tuple[int, str]] = []
        self._number = 0
        self._place = Region()

    def clear(self) -> None:
        """Show nothing."""
        if self._shown is not None:
            self._shown, self._place = None, Region()
            self.display = False

    def _lie_on(self, place: Region) -> None:
        """Take these cells."""
        if self._place == place:
            return
        if self._place:  # what lay elsewhere goes
            self.call_after_refresh(self.app.refresh, layout=True)
        self._place = place
        self.styles.offset = (place.x, place.y)
        self.styles.width, self.styles.height = place.width, place.height
        self.display = True

    def show(self, key: object, picture: object, palette: Palette, place: Region) -> None:
        """Show a picture of Pillow's, in shades, on these cells; the same key is not sent twice."""
        if key == self._shown:
            return
        from PIL import Image

        from trainer.screens.pixels.picture_codes import kitty_messages

        assert isinstance(picture, Image.Image)
        self._shown = key
        if self._way is PixelWay.SIXEL:
            self._tiles = sixel_tiles(picture, palette, place.width)
        else:
            self._number = next(_NUMBERS)
            self._code = kitty_messages(picture, palette, self._number, place.width, place.height)
        if self._place == place:
            self.repaint()
        self._lie_on(place)

    def shows(self, key: object) -> bool:
        """Whether this picture is on the screen."""
        return key == self._shown

    def render_lines(self, crop: Region) -> list[Strip]:
        """The rows asked for."""
        if self._shown is None or not self.screen.is_active or self.region != self._place:
            return [Strip.blank(crop.width) for _ in range(crop.height)]
        if self._way is PixelWay.SIXEL:
            return self._sixel_lines(crop)
        return self._kitty_lines(crop)

    def _sixel_lines(self, crop: Region) -> list[Strip]:
        """The whole picture with the last row: cells above it are left as they are."""
        region = self.region
        sent = [
            Segment(_move(region.x + column, region.y) + code, Style(), _SENT)
            for column, code in self._tiles
        ]
        sent.append(Segment(_move(region.right, region.bottom), Style(), _SENT))
        return [*[Strip([])] * (crop.height - 1), Strip(sent, cell_length=crop.width)]

    def _kitty_lines(self, crop: Region) -> list[Strip]:
        from trainer.screens.pixels.picture_codes import kitty_row

        number = self._number
        style = Style(color=f"rgb({number >> 16 & 255},{number >> 8 & 255},{number & 255})")
        strips = []
        for y in range(crop.y, crop.bottom):
            row = [Segment(kitty_row(y, self.size.width), style)]
            if y == crop.y:
                row.insert(0, Segment(self._code, Style(), _SENT))
            strips.append(Strip(row, cell_length=self.size.width))
        return strips


def _move(x: int, y: int) -> str:
    return Control.move_to(x, y).segment.text


def sixel_tiles(picture: Image.Image, palette: Palette, columns: int) -> list[tuple[int, str]]:
    """The picture in sixels, cut between columns of cells; each part's first column."""
    from trainer.screens.pixels.picture_codes import sixels

    cell = picture.width // columns
    step = WIDEST_SIXELS // cell
    return [
        (first, sixels(picture.crop((first * cell, 0, after * cell, picture.height)), palette))
        for first in range(0, columns, step)
        for after in [min(columns, first + step)]
    ]
