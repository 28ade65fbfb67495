"""Clef, key and time signature: at the beginning of a system, and where they change in one.

Naturals are drawn only where a key without sharps or flats follows one that has some; any other
signature simply takes the place of the one before (newer practice of engravers, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from trainer.music.bars import Bars, BarSpan, Meter
from trainer.music.key import Key
from trainer.music.pitch import Pitch
from trainer.screens.drawing.accidentals import signature_places
from trainer.screens.drawing.scale import StaffScale
from trainer.screens.drawing.staff_items import Figure, Placed, StaffSign, spaces

FOURTH_LINE, G_LINE = 3.0, 1.0
"""In staff spaces: the middle of the upper figure; of the lower one, and the clef's own place."""


@dataclass(frozen=True)
class Signatures:
    """What is drawn of key and time at one place."""

    key_sign: StaffSign = StaffSign.SHARP
    places: tuple[Pitch, ...] = ()
    """Of the sign, from left to right."""
    meter: Meter | None = None

    def columns(self, scale: StaffScale) -> int:
        """Columns it takes, with the blank after it."""
        figures = self._figures() * scale.figure
        return self._meter_column(scale) + figures + scale.blank

    def drawn(self, left: float, scale: StaffScale) -> Iterator[Placed | Figure]:
        """The signs from a column on."""
        column = scale.columns_a_space
        for place, pitch in enumerate(self.places):
            x = (left + place * self._apart(scale)) / column
            yield Placed(self.key_sign, x, spaces(pitch.staff_step))
        if self.meter is None:
            return
        begins = left + self._meter_column(scale)
        for number, y in zip(self.meter.printed, (FOURTH_LINE, G_LINE), strict=True):
            inset = (self._figures() - len(str(number))) * scale.figure / 2
            yield Figure(str(number), (begins + inset) / column, y)

    def _meter_column(self, scale: StaffScale) -> int:
        signs = math.ceil(len(self.places) * self._apart(scale))
        return signs + (scale.before_metre if signs else 0)

    def _apart(self, scale: StaffScale) -> float:
        """From one sign of a key signature to the next."""
        return scale.flat if self.key_sign is StaffSign.FLAT else scale.sharp

    def _figures(self) -> int:
        return max(len(str(number)) for number in self.meter.printed) if self.meter else 0


def opening(bars: Bars, bar: BarSpan, begins: bool) -> Signatures:
    """At the beginning of a system; time only where the music begins, or changes there."""
    changed = bar.meter != bars.before(bar).meter
    return _of_key(bar.key, bar.meter if (begins or changed) and not bar.free else None)


def change(bars: Bars, bar: BarSpan) -> Signatures | None:
    """Where a bar begins in the midst of a system, or one behind its end; None: nothing changes."""
    before = bars.before(bar)
    meter = bar.meter if bar.meter != before.meter else None
    old, new = _signature(before.key), _signature(bar.key)
    if old == new:
        return Signatures(meter=meter) if meter is not None else None
    if new == 0:
        return Signatures(StaffSign.NATURAL, signature_places(old), meter)
    return _of_key(bar.key, meter)


def _of_key(key: Key | None, meter: Meter | None) -> Signatures:
    signature = _signature(key)
    sign = StaffSign.SHARP if signature > 0 else StaffSign.FLAT
    return Signatures(sign, signature_places(signature), meter)


def _signature(key: Key | None) -> int:
    return key.signature if key is not None else 0
