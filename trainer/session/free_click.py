"""The click beside the routine: any tempo and grouping, silent bars, a growing tempo, tapped in."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

from trainer.music.pulse import Pace
from trainer.session.view import ClickChange, ClickView
from trainer.sound.click import Tap, click
from trainer.sound.port import SoundPort

SLOWEST_BPM, FASTEST_BPM = 20.0, 300.0
"""Beyond these nobody counts beats (common practice, no source)."""
AHEAD_S = 1.0
"""Clicks are handed over so long before they are due."""
BEGINS_S = 0.15
"""From the key to the first click."""
GROUPINGS: tuple[tuple[int, ...], ...] = (
    *((1,), (2,), (3,), (4,), (6,)),
    *((3, 2), (2, 3), (2, 2, 3), (3, 2, 2)),
)
"""Beats of a bar, and how a five or seven falls into groups."""
GROWS_BARS = 16
"""A growing tempo takes so many bars."""
GROWS_TO = 1.25
"""... and comes to so much of the first."""
TAPS_HEARD = 5
"""The tempo is the middle of so many taps' distances at most."""
TAPS_APART_S = 2.5
"""After a longer wait tapping begins anew."""


@dataclass(frozen=True)
class ClickAsked:
    """What the student wants to hear."""

    tempo_bpm: float = 60.0
    grouping: int = 3
    """Place in GROUPINGS."""
    silent_bars: int = 0
    """After as many bars that sound, so many are silent; 0: none."""
    grows: bool = False

    @property
    def groups(self) -> tuple[int, ...]:
        """Beats of each group of a bar."""
        return GROUPINGS[self.grouping]

    @property
    def beats_per_bar(self) -> int:
        """Of all groups."""
        return sum(self.groups)

    @property
    def pace(self) -> Pace:
        """How the tempo runs."""
        to_bpm = min(FASTEST_BPM, self.tempo_bpm * GROWS_TO) if self.grows else self.tempo_bpm
        return Pace(self.tempo_bpm, to_bpm, GROWS_BARS * self.beats_per_bar)

    def tap_at(self, beat: int) -> Tap | None:
        """How a beat sounds, counted from 0; None in a silent bar."""
        bar, place = divmod(beat, self.beats_per_bar)
        if self.silent_bars and bar % (2 * self.silent_bars) >= self.silent_bars:
            return None
        if place == 0 and self.beats_per_bar > 1:
            return Tap.ACCENT
        if len(self.groups) == 1 or place in _group_starts(self.groups):
            return Tap.BEAT
        return Tap.SUBDIVISION


def _group_starts(groups: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(sum(groups[:place]) for place in range(len(groups)))


class FreeClick:
    """Clicks on a port from when it is begun; `tick` often."""

    def __init__(self, port: SoundPort) -> None:
        self._port = port
        self._asked = ClickAsked()
        self._first_frame: int | None = None
        self._next_beat = 0
        self._rate = port.sample_rate_hz
        self._sounds = {tap: click(tap, self._rate) for tap in Tap}
        self._taps_s: deque[float] = deque(maxlen=TAPS_HEARD + 1)

    def change(self, change: ClickChange) -> None:
        """Do what the student asks for."""
        asked = self._asked
        match change:
            case ClickChange.START_OR_STOP:
                self._start_or_stop()
            case ClickChange.SLOWER:
                self._ask(replace(asked, tempo_bpm=asked.tempo_bpm - 1))
            case ClickChange.FASTER:
                self._ask(replace(asked, tempo_bpm=asked.tempo_bpm + 1))
            case ClickChange.BEATS:
                self._ask(replace(asked, grouping=(asked.grouping + 1) % len(GROUPINGS)))
            case ClickChange.SILENCE:
                self._ask(replace(asked, silent_bars=(asked.silent_bars + 1) % 3))
            case ClickChange.GROWTH:
                self._ask(replace(asked, grows=not asked.grows))

    def _ask(self, asked: ClickAsked) -> None:
        """Sound so from now on, where it sounds; the tempo is held within its limits."""
        tempo = min(FASTEST_BPM, max(SLOWEST_BPM, asked.tempo_bpm))
        self._asked = replace(asked, tempo_bpm=tempo)
        if self._first_frame is not None:
            self._begin()

    def _start_or_stop(self) -> None:
        """Begin with the first beat of a bar, or fall silent."""
        if self._first_frame is None:
            self._begin()
        else:
            self.close()

    def tap(self, at_s: float) -> None:
        """The student taps the beat; times by one clock, in seconds."""
        if self._taps_s and at_s - self._taps_s[-1] > TAPS_APART_S:
            self._taps_s.clear()
        self._taps_s.append(at_s)
        taps = list(self._taps_s)
        apart = [after - before for before, after in pairwise(taps)]
        if apart and median(apart) > 0:
            self._ask(replace(self._asked, tempo_bpm=float(round(60.0 / median(apart)))))

    def _begin(self) -> None:
        now = self._port.now_frame()
        self._port.hush(now)
        self._first_frame = now + round(BEGINS_S * self._rate)
        self._next_beat = 0

    def tick(self) -> None:
        """Hand over the clicks that are due soon; after the device was gone, begin anew."""
        if self._first_frame is None or not self._port.alive:
            return
        if self._port.sample_rate_hz != self._rate:
            self._rate = self._port.sample_rate_hz
            self._sounds = {tap: click(tap, self._rate) for tap in Tap}
            self._begin()
        until = self._port.now_frame() + round(AHEAD_S * self._rate)
        for frame in self._frames_until(until):
            tap = self._asked.tap_at(self._next_beat)
            if tap is not None:
                self._port.play(self._sounds[tap], frame)
            self._next_beat += 1

    def _frames_until(self, until: int) -> Iterator[int]:
        """Of the beats not yet handed over; each counted from the first, so nothing adds up."""
        assert self._first_frame is not None
        while (frame := self._frame_of(self._next_beat)) < until:
            yield frame

    def _frame_of(self, beat: int) -> int:
        assert self._first_frame is not None
        return self._first_frame + round(self._asked.pace.seconds_at(beat) * self._rate)

    def close(self) -> None:
        """Fall silent."""
        self._first_frame = None
        self._port.hush(0)

    def view(self) -> ClickView:
        """What is asked, and the beat of the moment."""
        asked, beat = self._asked, None
        tempo = asked.tempo_bpm
        if self._first_frame is not None:
            since_s = (self._port.audible_frame() - self._first_frame) / self._rate
            if since_s >= 0:
                now = asked.pace.beat_at(since_s + 1e-6)
                beat, tempo = int(now) % asked.beats_per_bar, asked.pace.bpm_at(now)
        return ClickView(
            tempo_bpm=tempo,
            groups=asked.groups,
            beat=beat,
            sounds=self._first_frame is not None,
            silent_bars=asked.silent_bars,
            goal_bpm=asked.pace.to_bpm if asked.grows else None,
        )
