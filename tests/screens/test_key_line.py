"""The lowest line: which keys stand on it, and what a click does."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager

import pytest
from textual.app import App, ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from tests.screens.conftest import Stand
from trainer.screens.widgets.key_line import KeyLine, ShownKey, placed, shown_keys

Opened = Callable[..., AbstractAsyncContextManager[Stand]]


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


async def test_what_the_line_above_the_keys_says_they_do_not_say_again(stand: Opened) -> None:
    async with stand() as at:

        def said_twice() -> set[str]:
            above = str(at.app.screen.query_one("#prompt", Static).content).split()
            return {key.name for key in shown_keys(at.app.screen)} & set(above)

        assert "PageDown to begin" in await at.shown()
        assert not said_twice()
        await at.press("pagedown")
        await at.press("n")
        assert "PageDown goes on" in await at.shown()
        assert not said_twice()
        await at.press("pagedown")
        assert "PageDown ends the rest" in await at.shown()
        assert not said_twice()
        await at.press("q")
        assert "1 easy" in await at.shown()
        assert not said_twice()
