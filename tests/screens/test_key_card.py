"""The key card holds what Help shows, on one page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from textual.binding import Binding

from trainer.cli import main
from trainer.screens.app import SCREEN_OF
from trainer.screens.key_card import card_page, card_text, key_card
from trainer.screens.key_names import KEY_WORDS, keys_of
from trainer.screens.lines import HELP
from trainer.screens.settings_screen import SettingsScreen

Opened = Callable[..., Any]


def on_the_card() -> set[tuple[str, str]]:
    return {each for section in key_card() for each in section.keys}


@pytest.mark.parametrize("screen", [*dict.fromkeys(SCREEN_OF.values()), SettingsScreen])
def test_every_key_of_every_screen_is_on_the_card(screen: Any) -> None:
    told = {(key, meaning) for keys, meaning in on_the_card() for key in keys.split(", ")}
    for binding in Binding.make_bindings(screen.BINDINGS):
        assert (KEY_WORDS.get(binding.key, binding.key), binding.tooltip) in told


async def test_help_shows_the_same_table(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        at.session.tick()
        ready = set(keys_of(at.app.screen))
        assert {keys for keys, _ in ready - on_the_card()} <= {"Ctrl-Q", "Ctrl-P", "Ctrl-Z"}
        assert len(ready & on_the_card()) > 6


def test_the_lines_keys_and_the_pedal_are_on_it() -> None:
    text = card_text()
    assert set(HELP) <= on_the_card()
    assert "page-turn pedal" in text
    assert max(map(len, text.splitlines())) <= 80


def test_the_command_prints_it(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["keys"]) == 0
    assert capsys.readouterr().out.rstrip("\n") == card_text()
    file = tmp_path / "keys.html"
    assert main(["keys", "--page", str(file)]) == 0
    assert file.read_text() == card_page()


@pytest.mark.slow
def test_printed_it_is_one_page() -> None:
    weasyprint = pytest.importorskip("weasyprint", reason="pages are printed with WeasyPrint")
    assert len(weasyprint.HTML(string=card_page()).render().pages) == 1


async def test_help_tells_what_every_app_has_in_our_words(stand: Opened) -> None:
    async with stand((120, 40)) as at:
        shown = await at.press("question_mark")
    assert "Every action by its name" in shown
    assert "palette" not in shown
