"""Help: what one may want to do on the screen it was asked on, and the key for it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from textwrap import wrap

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from trainer.screens.key_names import Keys
from trainer.screens.week_screen import TURN, turned
from trainer.screens.widgets.heading import Heading
from trainer.screens.widgets.key_line import KeyLine
from trainer.screens.widgets.marked_list import QUIET

TITLE = "Help"
SCROLLBAR_COLUMNS = 2
"""The bar, and a column before it."""

ON_THE_MUSIC = "On the music"
SIGNS = (
    ("◥◤", "the note now due"),
    ("━", "in tune, on the middle line; sharp lies above it, flat below"),
    ("△", "this note needs care"),
    ("▪", "on the beat"),
    ("◀ ▶", "early, late"),
    ("×", "not heard"),
    ("’", "a place to breathe"),
    ("○", "a harmonic, on a lower note's fingering"),
    ("–", "soft tongue"),
    ("h", "breath only"),
    ("T K", "tongued with T, with K"),
    ("● ○", "fingers of a trouble spot: key pressed, key open; △ under those that move"),
)


def table(rows: Sequence[tuple[str, str]]) -> list[str]:
    """Two columns, a line each."""
    widest = max((len(left) for left, _ in rows), default=0)
    return [f"{left:{widest}}  {right}" for left, right in rows]


KEY_COLUMNS = 8
"""Longer names of keys stand on a line of their own."""
COLUMN_GAP = 3
TWO_COLUMNS = 70
"""From so many columns two lists stand beside each other."""


class HelpScreen(ModalScreen[None]):
    """What one may want to do, with its keys, in two columns over the screen."""

    BINDINGS = [
        Binding("escape,question_mark,q", "dismiss", "Back", id="back", tooltip="Back"),
        TURN,
    ]

    def __init__(self, wishes: Sequence[tuple[str, Keys]]) -> None:
        super().__init__()
        self._blocks = [*wishes, (ON_THE_MUSIC, list(SIGNS))]

    def compose(self) -> ComposeResult:
        """What one may want, in groups."""
        yield Heading(TITLE, id="title")
        with VerticalScroll(id="page"):
            yield Static(id="keys", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        """Fill the page before it is painted for the first time."""
        self._fill()

    def on_resize(self) -> None:
        """In as many columns as there is room for."""
        self._fill()

    def _fill(self) -> None:
        page = self.query_one("#page", VerticalScroll)
        width = self.app.size.width - page.gutter.width - SCROLLBAR_COLUMNS
        self.query_one("#keys", Static).update(help_text(self._blocks, width))

    def action_turn(self) -> None:
        """A page further; from the end back to practice."""
        if not turned(self.query_one("#page", VerticalScroll)):
            self.dismiss()


def help_text(blocks: Sequence[tuple[str, Keys]], width: int) -> Content:
    """Each group under its name; in two columns of about the same height where there is room."""
    if width < TWO_COLUMNS:
        return Content("\n").join(line for block in blocks for line in _lines(block, width))
    column = (width - COLUMN_GAP) // 2
    drawn = [_lines(block, column) for block in blocks]
    above = [sum(map(len, drawn[:place])) for place in range(len(drawn) + 1)]
    cut = min(range(len(above)), key=lambda place: max(above[place], above[-1] - above[place]))
    left = [line for block in drawn[:cut] for line in block]
    right = [line for block in drawn[cut:] for line in block]
    return Content("\n").join(
        Content.assemble(one, " " * (column + COLUMN_GAP - one.cell_length), other)
        for one, other in zip_longest(left, right, fillvalue=Content(""))
    )


def _lines(block: tuple[str, Keys], width: int) -> list[Content]:
    """A group's name, its keys with what they do, and an empty line."""
    name, rows = block
    lines = [Content.styled(name, "bold")]
    for keys, meaning in rows:
        first, *others = wrap(meaning, width - KEY_COLUMNS - 2) or [""]
        if len(keys) > KEY_COLUMNS:
            lines.append(Content(keys))
            others = [first, *others]
        else:
            lines.append(Content.assemble(f"{keys:{KEY_COLUMNS}}  ", (first, QUIET)))
        lines += [Content.styled(" " * (KEY_COLUMNS + 2) + each, QUIET) for each in others]
    return [*lines, Content("")]
