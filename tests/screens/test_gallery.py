"""The pictures kept, and the table of them."""

from __future__ import annotations

import re
from pathlib import Path

PROJECT = Path(__file__).parents[2]
SCREENS = PROJECT / "demo" / "screens"


def test_every_picture_kept_stands_in_the_table_and_is_there() -> None:
    listed = re.findall(r"\(([^)]+\.svg)\)", (SCREENS / "README.md").read_text())
    assert sorted(listed) == sorted(file.name for file in SCREENS.glob("*.svg"))


def test_no_picture_shows_a_folder_of_the_machine_it_was_made_on() -> None:
    assert not [file.name for file in SCREENS.glob("*.svg") if "/tmp" in file.read_text()]
