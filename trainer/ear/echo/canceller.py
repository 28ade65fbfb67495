"""Taking the trainer's own click and partner out of what the microphone heard.

The sound that was played is known to the sample; what the microphone makes of it is learned, for
the clicks in `click_echo`, for the partner's tone in `partner_echo`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trainer.ear.analysis.frames import Samples
from trainer.ear.echo.click_echo import LONGEST_S, ClickEcho
from trainer.ear.echo.echo_path import EchoPath
from trainer.ear.echo.partner_echo import Leaked, PartnerEcho

PIECE_S = 0.1
"""Smaller pieces are gathered first: each costs as much as several times its length."""
MOST_TIMES = 2
"""What became ready all at once is handed on little by little, so that nobody waits for it."""


@dataclass(frozen=True)
class KnownSound:
    """A sound the trainer played itself: a click, or, where it is longer, the partner's tone."""

    samples: Samples
    at_s: float
    """When it was played, from the start of the take's samples; may be negative."""


class EchoCanceller:
    """Takes the known sounds out of a take that grows."""

    def __init__(
        self, sample_rate_hz: int, known: Sequence[KnownSound], earlier: EchoPath | None = None
    ) -> None:
        """earlier: the `way` that was found in the take before, through the same port."""
        longest = round(LONGEST_S * sample_rate_hz)
        placed = [(round(sound.at_s * sample_rate_hz), sound.samples) for sound in known]
        tones = [(at, sound) for at, sound in placed if sound.size > longest]
        clicks = {at: sound for at, sound in placed if sound.size <= longest}
        self._clicks = ClickEcho(sample_rate_hz, clicks)
        self._earlier = earlier
        self._tones = (
            PartnerEcho(sample_rate_hz, tones, self._clicks, earlier) if tones and clicks else None
        )
        self._least = round(PIECE_S * sample_rate_hz)
        self._spare = self._clicks.after if clicks else 0
        self._held: Samples = np.zeros(0, np.float32)
        self._held_from = 0
        self._handed_on = 0
        self._fed = 0

    @property
    def way(self) -> EchoPath | None:
        """How the partner's tone reaches the microphone, as far as that is known."""
        found = None if self._tones is None else self._tones.way
        return found or self._earlier

    @property
    def leaked(self) -> Leaked | None:
        """How the partner's tone came back so far; None where it wasn't found."""
        return None if self._tones is None else self._tones.leaked

    def partner_db(self, from_s: float, to_s: float) -> float | None:
        """How loud the partner came back between two moments, RMS re full scale, as far as the
        sound was handed on; None where none was played."""
        return None if self._tones is None else self._tones.taken_db(from_s, to_s)

    def learn(self, samples: Samples, first: int) -> None:
        """Learn how the clicks leak, from sound that begins `first` samples after the take does;
        negative before it, as in a count-in."""
        self._clicks.learn(samples, first)

    def feed(self, samples: Samples) -> Samples:
        """Sound that follows on what was fed before; hands on what is done, shape (any,)."""
        self._fed += samples.size
        at_most = max(MOST_TIMES * samples.size, self._least)
        if self._tones is not None:
            samples = self._tones.feed(samples)
        self._held = np.concatenate([self._held, samples])
        ready = self._held_from + self._held.size - self._spare - self._handed_on
        if ready < self._least:
            return np.zeros(0, np.float32)
        return self._without_clicks(self._handed_on + min(ready, at_most))

    def at_once(self, samples: Samples) -> tuple[Samples, Samples]:
        """The sound fed last, without what can be taken out of it at once, and about as much of the
        partner as may still be in there; both of the same shape."""
        left, beside = samples, np.zeros_like(samples)
        if self._tones is not None:
            left, beside = self._tones.at_once(samples)
        return self._clicks.taken_out(left, self._fed - samples.size), beside

    def rest(self) -> Samples:
        """What wasn't handed on yet; nothing can be fed after it."""
        if self._tones is not None:
            self._held = np.concatenate([self._held, self._tones.rest()])
        return self._without_clicks(self._held_from + self._held.size)

    def _without_clicks(self, end: int) -> Samples:
        """Hands the take on up to a sample."""
        self._clicks.learn(self._held, self._held_from)
        first = self._handed_on - self._held_from
        piece = self._clicks.taken_out(self._held[first : end - self._held_from], self._handed_on)
        keep = max(self._held_from, end - self._clicks.before - self._clicks.after)
        self._held, self._held_from = self._held[keep - self._held_from :], keep
        self._handed_on = end
        return piece
