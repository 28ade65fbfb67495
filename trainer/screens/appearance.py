"""What an app of ours looks like: its colours and characters, as set."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from textual.app import App
from textual.filter import LineFilter
from textual.theme import Theme

from trainer.app.settings import (
    AS_THE_TERMINAL_CAN,
    DARK,
    HIGH_CONTRAST,
    IN_CELLS,
    LIGHT,
    PLAIN,
    Settings,
)
from trainer.screens.drawing.ascii_only import PlainFilter
from trainer.screens.pixels.terminal_pixels import PixelWay

HIGH_CONTRAST_THEME = Theme(
    name="high-contrast",
    primary="#0060ff",
    secondary="#ffffff",
    accent="#ffff00",
    warning="#ffd000",
    error="#ff6060",
    success="#00ff80",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#202020",
    dark=True,
    variables={"text-muted": "#ffffff", "text-disabled": "#ffffff"},
)
THEMES = {DARK: "textual-dark", LIGHT: "textual-light", HIGH_CONTRAST: HIGH_CONTRAST_THEME.name}


class Appearance(App[bool]):
    """Dresses an app as the student has set it."""

    settings: Settings = Settings()
    """As set now."""
    pixels: PixelWay | None = None
    """How the terminal shows pictures; None: it doesn't, or it wasn't asked."""
    _plain: bool = False

    @property
    def pixels_wanted(self) -> PixelWay | None:
        """How music is drawn in pixels; None: in cells."""
        in_cells = self._plain or self.settings.drawing == IN_CELLS
        return None if in_cells else self.pixels

    def dress(self, settings: Settings) -> None:
        """Take on names, colours and characters."""
        self.settings = settings
        if HIGH_CONTRAST_THEME.name not in self.available_themes:
            self.register_theme(HIGH_CONTRAST_THEME)
        self.theme = THEMES[settings.colours]
        wanted = settings.characters
        self._plain = wanted == PLAIN or (wanted == AS_THE_TERMINAL_CAN and not speaks_unicode())
        if self.is_running:
            self.refresh_css(animate=False)

    def take_settings(self, settings: Settings) -> None:
        """Take on what was set; an app that keeps settings writes them down too."""
        self.dress(settings)

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Textual's own, and plain characters where they are wanted."""
        filters = super().get_line_filters()
        return [*filters, PlainFilter()] if self._plain else filters


def speaks_unicode() -> bool:
    """Whether the terminal's encoding holds more than ASCII, going by what Python was told."""
    stream = sys.__stderr__ or sys.stdout
    return "utf" in (getattr(stream, "encoding", "") or "utf").lower()
