"""What an app of ours looks like: its colours and characters, as set."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.app import App
from textual.binding import Binding
from textual.color import Color
from textual.driver import Driver
from textual.filter import LineFilter
from textual.scrollbar import ScrollBar, ScrollBarRender
from textual.theme import BUILTIN_THEMES, Theme

from trainer.app.settings import (
    AS_THE_TERMINAL_CAN,
    DARK,
    HIGH_CONTRAST,
    IN_CELLS,
    LIGHT,
    PLAIN,
    Settings,
)
from trainer.disk.outside_text import is_harmless, without_unseen
from trainer.screens.drawing.ascii_only import PlainFilter
from trainer.screens.drawing.canvas import Ink
from trainer.screens.drawing.large_thing import LargeThing
from trainer.screens.key_names import EVERY_APPS
from trainer.screens.pixels.terminal_pixels import PixelWay
from trainer.screens.sent_once import sent_once

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
    variables={"text-muted": "#ffffff", "foreground-muted": "#ffffff", "text-disabled": "#ffffff"},
)
LIGHT_THEME = replace(
    BUILTIN_THEMES["textual-light"],
    name="light",
    warning="#c07c20",
    variables={"foreground-muted": "#585858"},
)
"""Textual's own, with a darker amber and grey: words in them are read from the stand."""
SHELL = "ctrl+z"
NO_SHELL = "No shell started this, so there is none to go back to. q ends."
THEMES = {DARK: "textual-dark", LIGHT: LIGHT_THEME.name, HIGH_CONTRAST: HIGH_CONTRAST_THEME.name}


class Appearance(App[object]):
    """Dresses an app as the student has set it."""

    COMPONENT_CLASSES = {f"ink--{ink.value}" for ink in Ink}
    BINDINGS = [
        Binding(
            SHELL,
            "suspend_process",
            "Shell",
            id="shell",
            show=False,
            priority=True,  # in a question too
            tooltip=EVERY_APPS[SHELL],
        )
    ]
    settings: Settings = Settings()
    """As set now."""
    pixels: PixelWay | None = None
    """How the terminal shows pictures; None: it doesn't, or it wasn't asked."""
    announcement: str = ""
    """Who plays, on every screen; empty where it is the student."""
    large: LargeThing | None = None
    """What stands alone on the screen while a round is ready or sounds; None: the music."""
    leaving: bool = False
    """It is to end at the next look."""
    _plain: bool = False
    _ink_styles: dict[Ink, Style] | None = None

    @property
    def pixels_wanted(self) -> PixelWay | None:
        """How music is drawn in pixels; None: in cells."""
        in_cells = self._plain or self.settings.drawing == IN_CELLS
        return None if in_cells else self.pixels

    def get_driver_class(self) -> type[Driver]:
        """Textual's own for this platform, which sends no frame twice."""
        return sent_once(super().get_driver_class())

    def notify(self, message: str, **options: Any) -> None:
        """Say it in a corner for a while: words, whatever brackets stand in them."""
        super().notify(message, **(options | {"markup": False}))

    def ink_style(self, ink: Ink) -> Style:
        """The theme's colours of an ink: the app's, worked out once and not by every drawing."""
        if self._ink_styles is None:
            self._ink_styles = {
                each: self.get_component_styles(f"ink--{each.value}").rich_style for each in Ink
            }
        return self._ink_styles[ink]

    def notify_style_update(self) -> None:
        """Another theme has other inks."""
        self._ink_styles = None
        super().notify_style_update()

    def leave_soon(self) -> None:
        """End at the next look: a signal breaks in anywhere, even where nothing can be posted."""
        self.leaving = True

    def action_suspend_process(self) -> None:
        """Stop the program and all it started, as a terminal does at Ctrl-Z, where a shell can have
        it go on."""
        if self._driver is None or not self._driver.can_suspend or sys.platform == "win32":
            return
        if os.getpgrp() == os.getsid(0):
            self.notify(NO_SHELL)
        else:
            os.kill(0, signal.SIGTSTP)

    def dress(self, settings: Settings) -> None:
        """Take on names, colours and characters."""
        self.settings = settings
        for theme in (LIGHT_THEME, HIGH_CONTRAST_THEME):
            if theme.name not in self.available_themes:
                self.register_theme(theme)
        self.theme = THEMES[settings.colours]
        wanted = settings.characters
        self._plain = wanted == PLAIN or (wanted == AS_THE_TERMINAL_CAN and not speaks_unicode())
        if self.is_running:
            self.refresh_css(animate=False)

    def take_settings(self, settings: Settings) -> None:
        """Take on what was set; an app that keeps settings writes them down too."""
        self.dress(settings)

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Textual's own, plain characters where they are wanted; never a terminal's command."""
        filters = [*super().get_line_filters(), HARMLESS]
        return [*filters, IN_PLAIN] if self._plain else filters


class WholeCells(ScrollBarRender):
    """A scrollbar that ends with a cell: parts of one are stray marks in plain characters."""

    VERTICAL_BARS: ClassVar[list[str]] = [" "] * len(ScrollBarRender.VERTICAL_BARS)


ScrollBar.renderer = WholeCells


class HarmlessFilter(LineFilter):
    """Takes out of every line of the screen what a terminal would obey; such characters have no
    width, so that nothing moves."""

    def apply(
        self,
        segments: list[Segment],
        background: Color,  # noqa: ARG002  (Textual's signature)
    ) -> list[Segment]:
        """The segments without them."""
        if all(control or is_harmless(text) for text, _, control in segments):
            return segments
        return [
            Segment(text if control else without_unseen(text), style, control)
            for text, style, control in segments
        ]


HARMLESS, IN_PLAIN = HarmlessFilter(), PlainFilter()
"""One of each: what went through it is kept, and not filtered at each paint."""


def speaks_unicode() -> bool:
    """Whether the terminal's encoding holds more than ASCII, going by what Python was told."""
    stream = sys.__stderr__ or sys.stdout
    return "utf" in (getattr(stream, "encoding", "") or "utf").lower()
