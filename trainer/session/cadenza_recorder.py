"""A cadenza on a port: no click, no beat; it lasts until the player has come to its end."""

from __future__ import annotations

from trainer.session.round_recorder import RoundRecorder

AT_ITS_END_S = 0.9
"""Silence behind the last note after which it is over: shorter than one that means a dead
microphone, and longer than a breath. Our own choice."""
BEFORE_ITS_END_S = 8.0
"""... and before it: a player may think, and one who has stopped shouldn't wait for ever."""


class CadenzaRecorder(RoundRecorder):
    """One cadenza, from its first note to the last; its beat is where the player is."""

    @property
    def beat(self) -> float:
        """Where the last note heard stands in the music; the first before any was."""
        if not self._port.listens:
            return super().beat
        return float(self.round.notes[self._reached].beat)

    @property
    def seconds(self) -> float:
        """How long it has gone on."""
        to_frame = self._port.heard_frame() if self._port.listens else self._port.now_frame()
        return max(0.0, (to_frame - self.first_beat_frame) / self._rate)

    def is_over(self) -> bool:
        """The last note was heard, and silence after it; or a long silence after any other."""
        if not self._port.listens:
            return super().is_over()
        if not self.live_notes:
            return False
        at_end = self._reached == len(self.round.notes) - 1
        silent_s = (self._port.heard_frame() - self._last_tone_frame) / self._rate
        return silent_s > (AT_ITS_END_S if at_end else BEFORE_ITS_END_S)

    @property
    def _reached(self) -> int:
        return max(self.live_notes, default=0)
