"""What the session has told since a moment, as that the device is gone."""

from __future__ import annotations

from collections.abc import Sequence


class ToldSince:
    """Beside a round or beneath a list only what is new is told."""

    def __init__(self, notices: Sequence[str]) -> None:
        """`notices`: what was told before."""
        self._before = len(notices)

    def begin(self, notices: Sequence[str]) -> None:
        """All of these were told before."""
        self._before = len(notices)

    def newest(self, notices: Sequence[str]) -> str:
        """The newest of what was told since; nothing where nothing was."""
        return notices[-1] if len(notices) > self._before else ""
