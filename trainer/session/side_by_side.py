"""Two sounds heard one after the other beside the routine: then and now, the teacher and I."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from trainer.session.view import SideBySideView
from trainer.sound.kept_takes import to_hear_again
from trainer.sound.port import Samples, SoundPort

BEGINS_S = 0.3
"""From the key to the sound."""
BETWEEN_S = 1.2
"""Silence between the two."""

Load = Callable[[int], Sequence[Samples]]
"""The sounds at a rate; raises SoundError where one can't be read."""


class SideBySide:
    """Plays them when asked; `tick` often."""

    def __init__(self, port: SoundPort, load: Load) -> None:
        """Raises SoundError where a sound can't be read."""
        self._port = port
        self._load = load
        self._take_up()
        self._placed: list[tuple[int, int, int]] = []
        """Of each that plays: its place, first and last frame."""

    def _take_up(self) -> None:
        rate = self._port.sample_rate_hz
        self._sounds = [to_hear_again(sound) for sound in self._load(rate)]
        self._rate = rate

    def play(self, places: Sequence[int]) -> None:
        """Play these from the beginning, one after the other; whatever sounds breaks off.

        Raises SoundError where the rate is another now and a sound can't be read at it.
        """
        if not self._port.alive:
            return
        self.close()
        if self._port.sample_rate_hz != self._rate:
            self._take_up()
        begin = self._port.now_frame() + round(BEGINS_S * self._rate)
        for place in places:
            sound = self._sounds[place]
            self._port.play(sound, begin)
            self._placed.append((place, begin, begin + sound.size))
            begin += sound.size + round(BETWEEN_S * self._rate)

    def tick(self) -> None:
        """With the device gone nothing sounds any more."""
        if not self._port.alive:
            self._placed = []

    def close(self) -> None:
        """Fall silent."""
        self._placed = []
        self._port.hush(0)

    def view(self) -> SideBySideView:
        """Which of them sounds now."""
        now = self._port.audible_frame()
        sounding = next((place for place, begin, end in self._placed if begin <= now < end), None)
        return SideBySideView(
            sounding=sounding,
            seconds=tuple(sound.size / self._rate for sound in self._sounds),
        )
