"""What the student is told beside the music: sentences about sound, journal, rest and care."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from trainer.errors import TrainerError


class Notices:
    """The sentences told so far."""

    def __init__(self, told: Sequence[str]) -> None:
        self._told = list(told)

    @property
    def told(self) -> tuple[str, ...]:
        """All of them, newest last."""
        return tuple(self._told)

    def tell(self, sentence: str) -> None:
        """Tell it; the same one is not told twice in a row."""
        if sentence not in self._told[-1:]:
            self._told.append(sentence)

    def tell_once(self, sentence: str) -> None:
        """Tell it unless it was told before in this session."""
        if sentence not in self._told:
            self._told.append(sentence)

    @contextmanager
    def telling(self, fault: type[TrainerError]) -> Iterator[None]:
        """Faults of this type are told instead of raised: practice goes on without what failed."""
        try:
            yield
        except fault as error:
            self.tell(str(error))
