"""The week as plain text for a terminal, and as plain data."""

from __future__ import annotations

from trainer.journal.week import Week


def week_text(week: Week, width: int = 80) -> str:
    """The week to read in a terminal; block characters, no colour."""
    raise NotImplementedError


def week_json(week: Week) -> dict[str, object]:
    """The week as JSON-ready data; numbers unrounded."""
    raise NotImplementedError
