"""Every label, key, sign and ink of the screens stands in `LABELS.md` with its origin."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from textual.binding import Binding
from textual.screen import Screen

from trainer.screens.after_screen import AfterScreen
from trainer.screens.app import SCREEN_OF
from trainer.screens.appearance import Appearance
from trainer.screens.choice_screen import ChoiceScreen
from trainer.screens.click_screen import ClickScreen
from trainer.screens.drawing.canvas import Ink
from trainer.screens.first_run_screen import FirstMorningScreen
from trainer.screens.help_screen import HelpScreen
from trainer.screens.key_names import KEY_WORDS
from trainer.screens.lines import HELP
from trainer.screens.preview_screen import PreviewScreen
from trainer.screens.settings_screen import EXPLAINED, SettingsScreen
from trainer.screens.shelf_screen import ShelfScreen
from trainer.screens.stage_screen import StageScreen
from trainer.screens.tuner_screen import TunerScreen
from trainer.screens.week_screen import WeekScreen

PROJECT = Path(__file__).parents[2]
DRAWING = PROJECT / "trainer" / "screens" / "drawing"
SCREENS: tuple[type[Screen[None]], ...] = (
    StageScreen,
    *dict.fromkeys(SCREEN_OF.values()),
    FirstMorningScreen,
    SettingsScreen,
    PreviewScreen,
    WeekScreen,
    HelpScreen,
    TunerScreen,
    ChoiceScreen,
    ShelfScreen,
    ClickScreen,
)
ROW = re.compile(r"^\| (key|sign|ink|setting) \| (.+?) \| (.+?) \| (trade|standard|ours): (.+) \|$")


def rows() -> dict[tuple[str, str], str]:
    """What a row is about, and its meaning."""
    text = (PROJECT / "trainer/screens/LABELS.md").read_text()
    found = [ROW.match(line) for line in text.splitlines()]
    return {(row[1], cell): row[3] for row in found if row for cell in row[2].split()}


def keys_and_labels() -> set[tuple[str, str]]:
    seen = (Appearance, *SCREENS)
    bindings = [b for each in seen for b in each.BINDINGS if isinstance(b, Binding)]
    assert len(bindings) > 30
    return {
        (KEY_WORDS.get(key, key), binding.description)
        for binding in bindings
        for key in binding.key.split(",")
    }


@pytest.mark.parametrize(("key", "label"), sorted(keys_and_labels()))
def test_every_key_and_label_has_its_origin(key: str, label: str) -> None:
    assert label in rows().get(("key", key), "").split("; ")


def test_every_key_of_the_lines_is_one_of_the_screens_or_listed() -> None:
    keys = {key for told, _ in HELP for key in told.split(", ")}
    assert keys <= {name for kind, name in rows() if kind == "key"}


def test_every_sign_has_its_origin() -> None:
    sources = [file.read_text() for file in DRAWING.rglob("*.py") if file.name != "ascii_only.py"]
    signs = {sign for text in sources for sign in text if not sign.isascii()}
    assert len(signs) > 30
    assert signs - {name for kind, name in rows() if kind == "sign"} == set()


def test_every_ink_and_setting_has_its_origin() -> None:
    listed = {name for kind, name in rows() if kind in ("ink", "setting")}
    assert {ink.value for ink in Ink} <= listed
    assert {name.replace("_", "-") for name in EXPLAINED} <= listed


def test_nothing_is_listed_that_is_gone() -> None:
    keys = {key for key, _ in keys_and_labels()} | {k for told, _ in HELP for k in told.split(", ")}
    assert {name for kind, name in rows() if kind == "key"} <= keys
    assert AfterScreen in SCREENS
