"""The lowest line of a screen: its keys, a word each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rich.segment import Segment
from textual import events
from textual.binding import Binding
from textual.screen import Screen
from textual.strip import Strip

from trainer.screens.key_names import KEY_WORDS
from trainer.screens.widgets.still import Still

MARGIN, WIDE, NARROW = 1, 3, 2
"""Columns before the first key, and between two where there is room and where there is less."""
HELP = Binding("question_mark,f1", "app.help", "Help", id="help", tooltip="All keys")
"""On every screen that has keys of its own."""
HELP_UNSEEN = replace(HELP, show=False)
"""Where the line has no room for it; the key is the same."""
STAY = ("help", "leave", "back")
"""Ids of the bindings that stand last, and stay where others have no room (help tells those)."""


@dataclass(frozen=True)
class ShownKey:
    """A key and its word."""

    key: str
    """As Textual calls it."""
    word: str
    stays: bool = False

    @property
    def name(self) -> str:
        """As students read it."""
        return KEY_WORDS.get(self.key, self.key)

    @property
    def columns(self) -> int:
        """With its word."""
        return len(self.name) + 1 + len(self.word)


class KeyLine(Still):
    """One widget for all keys, painted anew only when they are others; a click presses a key."""

    ALLOW_SELECT = False
    COMPONENT_CLASSES = {"keys--key", "keys--word"}
    DEFAULT_CSS = """
    KeyLine {
        dock: bottom;
        height: 1;
    }
    """

    def __init__(self) -> None:
        super().__init__()
        self._keys: list[ShownKey] = []

    def on_mount(self) -> None:
        """Follow the screen's keys."""
        self._keys = shown_keys(self.screen)
        self.screen.bindings_updated_signal.subscribe(self, self._follow)

    def _follow(self, screen: Screen[object]) -> None:
        keys = shown_keys(screen)
        if keys != self._keys:
            self._keys = keys
            self.repaint()

    def render_line(self, y: int) -> Strip:  # noqa: ARG002  (Textual's signature)
        """The keys that have room."""
        width, paper = self.size.width, self.rich_style
        segments, column = [], 0
        for start, each in placed(self._keys, width):
            segments += [
                Segment(" " * (start - column), paper),
                Segment(each.name, self.get_component_rich_style("keys--key")),
                Segment(f" {each.word}", self.get_component_rich_style("keys--word")),
            ]
            column = start + each.columns
        return Strip(segments).adjust_cell_length(width, paper)

    def on_click(self, event: events.Click) -> None:
        """Press the key under the mouse."""
        for start, each in placed(self._keys, self.size.width):
            if start <= event.x < start + each.columns:
                self.app.simulate_key(each.key)


def shown_keys(screen: Screen[object]) -> list[ShownKey]:
    """Each action's first key, with its word."""
    found: dict[str, ShownKey] = {}
    for _, binding, enabled, _ in screen.active_bindings.values():
        if binding.show and enabled:
            key = ShownKey(binding.key, binding.description, stays=binding.id in STAY)
            found.setdefault(binding.action, key)
    return sorted(found.values(), key=lambda each: each.stays)


def placed(keys: Sequence[ShownKey], width: int) -> Iterator[tuple[int, ShownKey]]:
    """The keys that have room, each with the column where it begins."""
    kept, gap = list(keys), WIDE
    while _columns(kept, gap) > width and kept:
        if gap == WIDE:
            gap = NARROW
        else:
            kept.remove(next((each for each in reversed(kept) if not each.stays), kept[-1]))
    column = MARGIN
    for each in kept:
        yield column, each
        column += each.columns + gap


def _columns(keys: Sequence[ShownKey], gap: int) -> int:
    return MARGIN + sum(each.columns for each in keys) + gap * (len(keys) - 1)
