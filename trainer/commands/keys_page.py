"""The key card: every key on one page."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.page_file import write_page

if TYPE_CHECKING:
    from trainer.commands.family import Commands


def add_to(commands: Commands) -> None:
    """Add this command to the command line."""
    keys = commands.add_parser("keys", help="every key on one page, for the stand")
    keys.add_argument(
        "--page", type=Path, metavar="FILE", help="as a page to print: a name in .html or .pdf"
    )
    keys.set_defaults(command=_keys)


def _keys(options: argparse.Namespace) -> int:
    from trainer.screens.key_card import card_page, card_text

    if options.page is not None:
        return write_page(options.page, card_page())
    print(card_text())
    return 0
