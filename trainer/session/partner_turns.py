"""The partner's turns taken out of what the microphone heard: the student rests meanwhile.

Through a loudspeaker a partner that plays alone comes back louder than anything else, and sounds
just like a player.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from trainer.music.note import Note
from trainer.sound.port import Samples

EARLY_S = 0.12
"""The student is heard again so long before the first note of a turn: it may come early."""
AFTER_ALL_S = 60.0
"""A last turn of the partner's is silent for so long; the round is over before."""
FADE_S = 0.01
"""A turn is silenced without a click."""


@dataclass(frozen=True)
class PartnersTurns:
    """Where the partner plays alone."""

    stretches: tuple[tuple[int, int], ...]
    """First frame of each turn and of what is heard again, counted from the first beat."""
    fade_frames: int

    def silenced(self, heard: Samples, from_frame: int) -> Samples:
        """What was heard from a frame on, with silence in the partner's turns."""
        if not self.stretches:
            return heard
        fade, corners = self.fade_frames, list[tuple[int, float]]()
        for begin, end in self.stretches:
            corners += [(begin - fade, 1.0), (begin, 0.0), (end - fade, 0.0), (end, 1.0)]
        places, gains = zip(*corners, strict=True)
        frames = np.arange(from_frame, from_frame + heard.size)
        silenced: Samples = (heard * np.interp(frames, places, gains)).astype(np.float32)
        return silenced


def partners_turns(
    own: Sequence[Note], partners: Sequence[Note], beat_s: float, rate_hz: int
) -> PartnersTurns:
    """From the first note of each of the partner's turns to the student's next; beats even."""
    begins: dict[Fraction | None, Fraction] = {}
    for note in partners:
        answer = next((other.beat for other in own if other.beat > note.beat), None)
        begins.setdefault(answer, note.beat)
    stretches = []
    for answer, begin in begins.items():
        begin_s = begin * beat_s
        end_s = begin_s + AFTER_ALL_S if answer is None else answer * beat_s - EARLY_S
        stretches.append((round(begin_s * rate_hz), round(end_s * rate_hz)))
    return PartnersTurns(tuple(stretches), round(FADE_S * rate_hz))
