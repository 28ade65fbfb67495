"""Why a session that has not begun is opened once more."""

from __future__ import annotations

from enum import StrEnum


class Anew(StrEnum):
    """What is asked for instead."""

    AS_SET = "as set"
    """A new setting asks for it."""
    FEW_MINUTES = "a few minutes"
    """The student has little time today."""
