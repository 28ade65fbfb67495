"""The partner's tone in the microphone, taken out while the round sounds.

Clicks show how strong the loudspeaker is and when it comes; a stretch of the last seconds shows its
way through the room (`path_fit`), worked out anew every two seconds, a step at a time. The sound is
handed on when what comes after it has been looked at too, so that a note helps to take out its own
leak. Without a click that is heard nothing is taken out: a filter could mistake the student's own
unison for the partner's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from trainer.ear.analysis.frames import Samples
from trainer.ear.echo.click_echo import ClickEcho
from trainer.ear.echo.echo_path import MARGIN, EchoPath, Tone, Tones
from trainer.ear.echo.path_fit import FLOOR, PathFit, Prior, power_about, prior, spectra

STRETCH_S = 7.5
"""So much is looked at together."""
EVERY_S = 2.0
EARLY_LOOKS = 2
"""For so many times that long one looks twice as often, for the quick ear's sake."""
MOST_STEPS = 24
STEPS_S = 90.0
"""So many steps by seconds of sound: a long stretch begins with what the one before it found."""
SPARE_S = 2.0
"""The end of a stretch is told by the next ones."""
BEGIN_AT = 0.05
"""Of the time between two looks: the end of one and the beginning of the next are dear."""
AHEAD_S = 0.25
"""What will leak next is worked out so much at a time."""
DRIFT_PPM = 20.0
"""Two sound cards' clocks differ by so much or less as a rule, what `sound/clocks.py` leaves of it
by far less; our own estimate."""
SAME_LATE_S = 0.0002
SAME_GAIN = 1.4
"""Clicks that come so much earlier or later, louder or softer, come another way."""
MAY_STAY, MAY_COME = 0.5, 1.6
"""Of the partner's tone as it should come back: what may stay of it, and what may come while its
way is not yet well known. Our own estimate, from loudspeakers and rooms made by lot, other ones
than tests/bench/leak.py has."""
BLOCK_S = 0.01
"""What was taken out is remembered in blocks of this length."""
SILENT_POWER = 1e-12
LEAST_JUDGED = 0.1
"""In unison the partner is hardly anywhere louder than the player."""


@dataclass(frozen=True)
class Leaked:
    """How the partner came back through the microphone."""

    level_db: float
    """RMS re full scale."""
    left_share: float | None
    """The share of its energy that is left, judged where the partner was most of the sound; None
    where it hardly was."""


@dataclass(frozen=True)
class _Left:
    """What remains of the partner in one stretch."""

    share: float
    judged: float
    """The partner's energy where that could be judged."""
    taken: float
    """The partner's energy in all."""
    power: float
    """Its mean square."""


class PartnerEcho:
    """Takes the long known sounds out of a take that grows."""

    def __init__(
        self,
        sample_rate_hz: int,
        tones: Sequence[Tone],
        clicks: ClickEcho,
        earlier: EchoPath | None,
    ) -> None:
        """clicks: the leak of the take's clicks, which is taught elsewhere; earlier: what was found
        at the end of the take before."""
        self._rate = sample_rate_hz
        self._clicks = clicks
        self._tones = Tones(sample_rate_hz, tones)
        self._every, self._stretch, self._spare, self._ahead = (
            round(s * sample_rate_hz / self._tones.factor) * self._tones.factor
            for s in (EVERY_S, STRETCH_S, SPARE_S, AHEAD_S)
        )
        self._block = round(BLOCK_S * sample_rate_hz)
        self._held: Samples = np.zeros(0, np.float32)
        self._held_from = 0
        self._handed_on = 0
        self._end = self._every // 2
        """Where the stretch ends that is looked at."""
        self._look: _Look | None = None
        self._earlier = earlier
        self._ways: list[tuple[int, EchoPath]] = []
        """The ways found so far, each with the end of its stretch."""
        self._quick_way: EchoPath | None = None
        self._quick: Samples = np.zeros(0, np.float32)
        self._left: list[_Left] = []
        self._taken: list[tuple[NDArray[np.intp], Samples]] = []
        """Of each piece handed on: where its blocks begin, and the energy taken out of each."""

    @property
    def leaked(self) -> Leaked | None:
        """How the partner came back so far; None where it wasn't found."""
        power = sum(left.power for left in self._left) / max(1, len(self._left))
        if not power > 0:
            return None
        judged = sum(left.judged for left in self._left)
        share = None
        if judged > LEAST_JUDGED * sum(left.taken for left in self._left):
            share = sum(left.share * left.judged for left in self._left) / judged
        return Leaked(10 * float(np.log10(power)), share)

    def taken_db(self, from_s: float, to_s: float) -> float:
        """How loud the partner was that was taken out there, of what was handed on; RMS re full
        scale."""
        energy = sum(
            float(energies[(begins >= from_s * self._rate) & (begins < to_s * self._rate)].sum())
            for begins, energies in self._taken
        )
        return 10 * float(np.log10(energy / ((to_s - from_s) * self._rate) + SILENT_POWER))

    def feed(self, samples: Samples) -> Samples:
        """Sound that follows on what was fed before; hands on what is done, shape (any,)."""
        self._held = np.concatenate([self._held, samples])
        fed = self._held_from + self._held.size - MARGIN * self._tones.factor
        done = [np.zeros(0, np.float32)]
        while fed >= self._end:
            early = self._end < EARLY_LOOKS * self._every
            pause = self._every // 2 if early else self._every
            since = (fed - self._end) / pause
            if since > BEGIN_AT:
                self._look = self._look or self._begun(self._end)
                self._look.work(since)
            if since < 1.0:
                break
            done.append(self._finish(0 if early else self._end - self._spare))
            self._end += pause
        return np.concatenate(done)

    def rest(self) -> Samples:
        """What wasn't handed on yet; nothing can be fed after it."""
        end = self._held_from + self._held.size
        self._look = self._begun(end - end % self._tones.factor)
        self._look.work(1.0)
        return self._finish(end)

    def at_once(self, samples: Samples) -> tuple[Samples, Samples]:
        """The sound fed last, without what can be taken out of it at once, and about as much of the
        partner as may still be in there; both of the same shape."""
        end = self._held_from + self._held.size
        first = end - samples.size
        way, straight = self.way, self._straight()
        if straight is None:
            return samples, np.zeros_like(samples)
        if way is None:
            return samples, MAY_COME * self._tones.leak(straight, straight, first, end)
        ready = first + self._quick.size
        while ready < end:
            more = self._tones.leak(self._quick_way or way, way, ready, ready + self._ahead)
            self._quick, self._quick_way = np.concatenate([self._quick, more]), way
            ready += self._ahead
        leak, self._quick = np.split(self._quick, [samples.size])
        cleaned = np.asarray(samples - leak, np.float32)
        if self._remembered() is None and self._end <= EARLY_LOOKS * self._every:
            return cleaned, MAY_COME * self._tones.leak(straight, straight, first, end)
        return cleaned, MAY_STAY * leak

    def _straight(self) -> EchoPath | None:
        """Straight from the loudspeaker, as the clicks come; None where none is heard."""
        if self._clicks.direct is None:
            return None
        late_s, gain = self._clicks.direct
        path = np.array([gain], np.float32)
        return EchoPath(self._tones.fit_hz, path, 0, 0.0, late_s, 0.0, late_s, gain)

    @property
    def way(self) -> EchoPath | None:
        """What is known by now."""
        return self._ways[-1][1] if self._ways else self._remembered()

    def _remembered(self) -> EchoPath | None:
        """The way of the take before, where the clicks don't speak against it."""
        earlier, direct = self._earlier, self._clicks.direct
        if earlier is None or direct is None or earlier.fit_hz != self._tones.fit_hz:
            return None
        late_s, gain = direct
        if abs(late_s - earlier.direct_s) > SAME_LATE_S or not (
            1 / SAME_GAIN < gain / earlier.gain < SAME_GAIN
        ):
            return None
        return replace(earlier, at_s=0.0)

    def _begun(self, end: int) -> _Look:
        """A look at the stretch that ends at a sample."""
        direct = self._clicks.direct
        first = max(self._held_from, end - self._stretch)
        if direct is None or end <= first:
            return _Look(None, None)
        (late_s, gain), fit_hz = direct, self._tones.fit_hz
        expected = prior(gain, fit_hz)
        centre_s = (first + end) / 2 / self._rate
        way = self.way or EchoPath(
            fit_hz, expected.path, expected.before, 0.0, late_s, 0.0, late_s, gain
        )
        settled = [way for found_at, way in self._ways if found_at <= first]
        before = settled[-1] if settled else self._remembered()
        if before is not None:
            expected = replace(expected, path=before.path)
        return self._looked(way.at(centre_s), expected, first, end)

    def _looked(self, way: EchoPath, expected: Prior, first: int, end: int) -> _Look:
        factor = self._tones.factor
        begin, size = first // factor, (end - first) // factor
        ahead = expected.deviations.size - 1 - expected.before
        played = self._tones.played(way, begin - ahead, begin + size + expected.before)
        if not played.any():
            return _Look(None, None)
        held = self._held[first - self._held_from :][: end - first + MARGIN * factor]
        heard = signal.resample_poly(np.nan_to_num(held), 1, factor)[:size]
        fit = PathFit(played, np.asarray(heard, np.float32), expected, way.path)
        return _Look(way, fit, (end - first) / self._rate)

    def _finish(self, until: int) -> Samples:
        """End the look, and hand the sound on up to a sample."""
        assert self._look is not None
        before, now = self.way, self._look.found()
        if now is not None:
            self._ways.append((self._end, now))
        if until > 0:
            self._left += self._look.left()
        self._look = None
        first, self._handed_on = self._handed_on, max(until, self._handed_on)
        piece = self._held[first - self._held_from : self._handed_on - self._held_from]
        if self.way is not None and piece.size:
            leak = self._tones.leak(before, self.way, first, self._handed_on)
            piece = np.asarray(piece - leak, np.float32)
            begins = np.arange(0, leak.size, self._block)
            self._taken.append((first + begins, np.add.reduceat(leak**2, begins)))
        keep = max(self._held_from, min(self._handed_on, self._end + self._every - self._stretch))
        self._held, self._held_from = self._held[keep - self._held_from :], keep
        return piece


class _Look:
    """One stretch that is looked at."""

    def __init__(self, way: EchoPath | None, fit: PathFit | None, seconds: float = 0.0) -> None:
        self._way = way
        self._fit = fit
        self._due = min(MOST_STEPS, round(STEPS_S / max(seconds, 1.0)))
        self._done = 0

    def work(self, share: float) -> None:
        """See to it that this share of the work is done."""
        steps = min(self._due, int(self._due * share))
        if self._fit is not None:
            for _ in range(self._done, steps):
                self._fit.step()
            self._done = max(self._done, steps)

    def found(self) -> EchoPath | None:
        """The way there, and how the clocks drift."""
        if self._fit is None or self._way is None:
            return None
        leak = self._fit.leak
        places = np.arange(leak.size, dtype=np.float32) - leak.size / 2
        change = (-1e-6 * places * np.gradient(leak)).astype(np.float32)
        drift_ppm = self._fit.share_of(change, DRIFT_PPM)
        return replace(self._way, path=self._fit.path, drift=self._way.drift + 1e-6 * drift_ppm)

    def left(self) -> list[_Left]:
        """How much of the partner remains; nothing where it didn't sound. The median keeps the
        player out of it: where the two share harmonics, the partner is soon the lesser."""
        if self._fit is None:
            return []
        leak = self._fit.leak
        taken, left = spectra(leak), spectra(self._fit.left)
        of_taken, of_left = power_about(taken), power_about(left)
        total, power = float(of_taken.sum()), float(np.mean(leak**2))
        most = of_taken > np.maximum(power_about(taken + left) / 2, np.float32(FLOOR))
        if not most.any():
            return [_Left(0.0, 0.0, total, power)]
        weights, shares = of_taken[most], of_left[most] / of_taken[most]
        order = np.argsort(shares)
        below = np.cumsum(weights[order], dtype=np.float64)
        middle = float(shares[order][np.searchsorted(below, below[-1] / 2)])
        return [_Left(middle, float(below[-1]), total, power)]
