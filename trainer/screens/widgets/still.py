"""A widget that is painted where it is placed, and when it says so."""

from __future__ import annotations

from typing import Self

from textual.geometry import Region
from textual.widget import Widget


class Still(Widget):
    """Textual paints a widget twice that it places; of music that is most of a frame."""

    def refresh(self, *_regions: Region, layout: bool = False, **_wishes: bool) -> Self:
        """Textual's wish: where it is laid out anew, it is painted with the layout."""
        return super().refresh(repaint=False, layout=layout)

    def repaint(self, *regions: Region) -> None:
        """Paint these regions anew, or the whole."""
        super().refresh(*regions)

    def notify_style_update(self) -> None:
        """Other colours."""
        self.repaint()
        super().notify_style_update()
