"""What a family of commands adds itself to."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    Commands: TypeAlias = argparse._SubParsersAction[argparse.ArgumentParser]


def day(typed: str) -> date:
    """A day of the command line. Raises argparse.ArgumentTypeError, which argparse says."""
    from trainer.journal.field_kinds import FIRST_YEAR, LAST_YEAR

    try:
        found = date.fromisoformat(typed)
    except ValueError:
        found = date.max
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise argparse.ArgumentTypeError(
            f"'{typed}' is no day from {FIRST_YEAR} to {LAST_YEAR}; write it as 2026-11-23"
        )
    return found
