"""What a family of commands adds itself to, and the days that may be typed."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING, TypeAlias

from trainer.commands.typed_day import Lies, typed_day
from trainer.errors import TrainerError

if TYPE_CHECKING:
    Commands: TypeAlias = argparse._SubParsersAction[argparse.ArgumentParser]

DAY = "DAY"
"""How a day is called in a command's help."""


def day(typed: str) -> date:
    """A day that was: 'monday' is today or the last one.

    Raises argparse.ArgumentTypeError, which argparse says.
    """
    return _day(typed, Lies.BEHIND)


def day_ahead(typed: str) -> date:
    """A day to come: 'monday' is today or the next one. Raises as `day` does."""
    return _day(typed, Lies.AHEAD)


def _day(typed: str, lies: Lies) -> date:
    from trainer.journal.field_kinds import FIRST_YEAR, LAST_YEAR

    try:
        found = typed_day(typed, date.today(), lies)
    except TrainerError as error:
        raise argparse.ArgumentTypeError(str(error)) from None
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise argparse.ArgumentTypeError(
            f"'{typed}' is no day from {FIRST_YEAR} to {LAST_YEAR}; write it as 2026-11-23."
        )
    return found
