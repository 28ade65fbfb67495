"""The lowest line: which keys stand on it, and what a click does."""

from __future__ import annotations

import pytest
from textual.app import App, ComposeResult
from textual.binding import Binding

from trainer.screens.widgets.key_line import KeyLine, ShownKey, placed


class OneLine(App[None]):
    BINDINGS = [  # noqa: RUF012  (Textual's form)
        Binding("q", "pressed('q')", "End", id="leave"),
        Binding("pagedown,space", "pressed('on')", "Go on", id="advance"),
        Binding("h", "pressed('h')", "Hidden", show=False),
    ]

    def compose(self) -> ComposeResult:
        yield KeyLine()

    def action_pressed(self, what: str) -> None:
        self.title = what


async def test_each_action_stands_once_and_the_way_out_last() -> None:
    app = OneLine()
    async with app.run_test(size=(60, 5)) as pilot:
        shown = app.screen._compositor.render_strips()[4].text
        assert shown.rstrip().split("   ")[:2] == [" PageDown Go on", "q End"]
        await pilot.click(KeyLine, offset=(20, 0))
        assert app.title == "q"


@pytest.mark.parametrize(
    ("width", "words"), [(40, "one two three help"), (20, "one help"), (3, "")]
)
def test_what_has_no_room_is_left_out_whole(width: int, words: str) -> None:
    """Never cut, never over the edge, and help stays longest."""
    keys = [ShownKey("1", "one"), ShownKey("2", "two"), ShownKey("3", "three")]
    shown = list(placed([*keys, ShownKey("question_mark", "help", stays=True)], width))
    assert [each.word for _, each in shown] == words.split()
    assert all(column + each.columns <= width for column, each in shown)
