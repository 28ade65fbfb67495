"""The look at the microphone before the first round, where there is a reason for it."""

from __future__ import annotations

from trainer.session.microphone_check import CheckAsked, SoundCheck
from trainer.session.view import CheckStep, SoundCheckView
from trainer.sound.port import SoundPort


class FirstLook:
    """A sound check that is asked for, and may be begun, repeated and left."""

    def __init__(self, port: SoundPort, asked: CheckAsked | None) -> None:
        """`asked`: why it is due and who is given what was found; None where it isn't due."""
        self._port = port
        self._check: SoundCheck | None = None
        self.asked = asked

    @property
    def is_due(self) -> bool:
        """It is asked for, and the sound is there."""
        return self.asked is not None and self._port.alive

    @property
    def why(self) -> str:
        """Why it is due, a sentence; empty where it isn't."""
        return "" if self.asked is None else self.asked.why

    def begin(self) -> None:
        """Check from the beginning."""
        self._check = SoundCheck(self._port)

    def follow(self) -> str | None:
        """Move on as far as what was heard allows; words once it is over and all is well."""
        assert self._check is not None
        self._check.tick()
        view = self._check.view()
        return view.words if view.step is CheckStep.DONE and not view.findings else None

    @property
    def players_level_db(self) -> float | None:
        """`SoundCheck.players_level_db`; None without a check."""
        return None if self._check is None else self._check.players_level_db

    def leave(self) -> None:
        """Hand on what was found, nothing where it was cut short; raises SoundError."""
        assert self._check is not None
        assert self.asked is not None
        view, self._check = self._check.view(), None
        self.asked.keep(view.findings if view.step is CheckStep.DONE else None)

    def view(self) -> SoundCheckView | None:
        """Where the check stands, while there is one."""
        return None if self._check is None else self._check.view()
