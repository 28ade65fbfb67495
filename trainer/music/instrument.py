"""The flute family: written ranges, transposition, registers and fingerings.

Everything an instrument knows is in the data files under `instruments/`, one for each family, with
their sources.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from itertools import pairwise
from typing import Any

from trainer.disk.strict_yaml import yaml_content
from trainer.music.pitch import Interval, Pitch, sharp_name

_LITTLE_FINGERS = frozenset({"L4", "R4"})
_THUMB = "LT"


@dataclass(frozen=True)
class Register:
    """A stretch of the written range that is blown alike."""

    name: str
    lowest: Pitch
    highest: Pitch


@dataclass(frozen=True)
class FingerChange:
    """What the fingers do between two notes: LT, L1 to L4 and R1 to R4, in that order."""

    down: tuple[str, ...]
    up: tuple[str, ...]
    slide: tuple[str, ...]
    """Fingers that move from one key to another."""
    crosses_break: bool
    """The notes lie in different registers."""

    @property
    def fingers(self) -> tuple[str, ...]:
        """All fingers that move."""
        return tuple(sorted((*self.down, *self.up, *self.slide)))

    @property
    def contrary(self) -> bool:
        """Some keys are pressed while others are let go; a sliding finger does both."""
        return bool(self.slide or (self.down and self.up))

    @property
    def both_hands(self) -> bool:
        """Fingers of both hands move."""
        return len({finger[0] for finger in self.fingers}) == len("LR")

    @property
    def difficulty(self) -> int:
        """Our estimate, from no published table: 0 where nothing moves, 13 at most.

        One for each finger that moves, and one more each for contrary motion, for a sliding little
        finger, for the thumb and for a change of register.
        """
        return len(self.fingers) + sum(
            (
                self.contrary,
                not _LITTLE_FINGERS.isdisjoint(self.slide),
                _THUMB in self.fingers,
                self.crosses_break,
            )
        )


@dataclass(frozen=True)
class Instrument:
    """One member of the flute family; every pitch is written unless said otherwise."""

    name: str
    lowest: Pitch
    highest: Pitch
    """The top of full-range exercises."""
    furthest: Pitch
    """The highest top a teacher may ask for."""
    transposition: Interval
    """From written to sounding."""
    registers: tuple[Register, ...]
    """Lowest first."""
    fingerings: Mapping[int, tuple[str, ...]] = field(compare=False)
    """MIDI number of the written note → touchpieces pressed."""
    fingers: Mapping[str, str] = field(compare=False)
    """Touchpiece → the finger that presses it."""

    @property
    def breaks(self) -> tuple[tuple[Pitch, Pitch], ...]:
        """The last note of each register and the first of the next."""
        return tuple((below.highest, above.lowest) for below, above in pairwise(self.registers))

    def reaching(self, highest: Pitch) -> Instrument:
        """The same instrument with another top note; ValueError outside lowest to furthest."""
        self._check(highest)
        return replace(self, highest=highest)

    def sounding(self, written: Pitch) -> Pitch:
        """The pitch heard when this note is read."""
        return written.transposed(self.transposition)

    def written(self, sounding: Pitch) -> Pitch:
        """The note to read for this pitch to be heard."""
        return sounding.transposed(-self.transposition)

    def register(self, pitch: Pitch) -> Register:
        """The register of a written note; ValueError outside the instrument."""
        self._check(pitch)
        return next(register for register in self.registers if pitch.midi <= register.highest.midi)

    def fingering(self, pitch: Pitch) -> tuple[str, ...]:
        """Touchpieces pressed for a written note; ValueError outside the instrument."""
        self._check(pitch)
        return self.fingerings[pitch.midi]

    def finger_change(self, frm: Pitch, to: Pitch) -> FingerChange:
        """What the fingers do from one written note to the next; ValueError outside the range."""
        before, after = self._fingers_on(frm), self._fingers_on(to)
        return FingerChange(
            down=tuple(sorted(after.keys() - before.keys())),
            up=tuple(sorted(before.keys() - after.keys())),
            slide=tuple(
                sorted(
                    finger
                    for finger in before.keys() & after.keys()
                    if before[finger] != after[finger]
                )
            ),
            crosses_break=self.register(frm) != self.register(to),
        )

    def _fingers_on(self, pitch: Pitch) -> dict[str, str]:
        """Finger → the touchpiece it presses for a note."""
        return {self.fingers[key]: key for key in self.fingering(pitch)}

    def _check(self, pitch: Pitch) -> None:
        if not self.lowest.midi <= pitch.midi <= self.furthest.midi:
            raise ValueError(
                f"{pitch} is not on the {self.name}: write a note from {self.lowest} "
                f"to {self.furthest}"
            )


def instrument_named(text: str) -> Instrument:
    """The instrument a teacher names, whatever the case; ValueError listing the names."""
    wanted = " ".join(text.lower().split())
    for spelling, instrument in _by_spelling().items():
        if wanted == spelling.lower():
            return instrument
    raise ValueError(f"'{text}' is no instrument here: write {', '.join(INSTRUMENT_NAMES)}")


def family(text: str) -> dict[str, Instrument]:
    """The instruments of a data file by all their spellings, the shown name of each first."""
    facts: Any = yaml_content(text).plain
    return {
        spelling: instrument
        for name, own in facts["instruments"].items()
        for instrument in [_instrument(name, own, facts)]
        for spelling in (name, *own["also"])
    }


@cache
def _by_spelling() -> dict[str, Instrument]:
    folder = files("trainer.music").joinpath("instruments")
    data = sorted((one for one in folder.iterdir() if one.name.endswith(".yaml")), key=_file_name)
    known: dict[str, Instrument] = {}
    for file in data:
        known |= family(file.read_text(encoding="utf-8"))
    return known


def _file_name(file: Traversable) -> str:
    return file.name


def _instrument(name: str, own: Mapping[str, Any], facts: Mapping[str, Any]) -> Instrument:
    """An instrument from its own facts and those of its family."""
    lowest, furthest = Pitch.parse(own["lowest"]), Pitch.parse(own["furthest"])
    fingerings = {Pitch.parse(note).midi: keys for note, keys in facts["fingerings"].items()}
    return Instrument(
        name=name,
        lowest=lowest,
        highest=Pitch.parse(own["highest"]),
        furthest=furthest,
        transposition=Interval(*own["transposition"]),
        registers=_registers(facts["registers"], lowest, furthest),
        fingerings={
            midi: tuple(key for key in keys if key not in own["without"])
            for midi, keys in fingerings.items()
            if lowest.midi <= midi <= furthest.midi
        },
        fingers=facts["fingers"],
    )


def _registers(
    first_notes: Mapping[str, str], lowest: Pitch, furthest: Pitch
) -> tuple[Register, ...]:
    starts = {name: Pitch.parse(note) for name, note in first_notes.items()}
    tops = [Pitch.parse(sharp_name(start.midi - 1)) for start in list(starts.values())[1:]]
    return tuple(
        Register(name, max(start, lowest, key=lambda pitch: pitch.midi), top)
        for (name, start), top in zip(starts.items(), (*tops, furthest), strict=True)
    )


INSTRUMENT_SPELLINGS: tuple[str, ...] = tuple(_by_spelling())
"""All that `instrument_named` knows."""
INSTRUMENT_NAMES: tuple[str, ...] = tuple(
    dict.fromkeys(instrument.name for instrument in _by_spelling().values())
)
"""The names as shown."""
