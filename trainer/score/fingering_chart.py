"""Fingerings of awkward places: which changes are shown, and a drawing of each.

The drawing is our own: the keys as they lie along the flute from the left hand to the foot, pressed
keys black, and a ring round every key whose finger moves.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from trainer.music.instrument import FingerChange, Instrument
from trainer.music.note import Note
from trainer.music.pitch import Pitch

AWKWARD_FROM = 7
"""Difficulty (our estimate, see FingerChange) from which a change is shown."""
QUICK_S = 0.6
"""A note held longer leaves the fingers time; our choice, no source."""
MOST_IN_EXERCISE = 3
"""The hardest changes that are drawn."""


@dataclass(frozen=True)
class AwkwardPlace:
    """A change of fingers worth a look."""

    letter: str
    low: Pitch
    high: Pitch


@dataclass(frozen=True)
class _Key:
    """Where a touchpiece is drawn, in units of the drawing."""

    x: int
    y: int
    width: int
    height: int
    round: bool = False


_KEYS = {
    "T": _Key(0, 62, 40, 20),
    "L1": _Key(0, 0, 40, 40, round=True),
    "L2": _Key(58, 0, 40, 40, round=True),
    "L3": _Key(116, 0, 40, 40, round=True),
    "G#": _Key(160, 44, 32, 18),
    "R1": _Key(212, 0, 40, 40, round=True),
    "trD": _Key(251, 48, 20, 20, round=True),
    "R2": _Key(270, 0, 40, 40, round=True),
    "trD#": _Key(309, 48, 20, 20, round=True),
    "R3": _Key(328, 0, 40, 40, round=True),
    "Eb": _Key(384, 38, 20, 32),
    "C#": _Key(392, 0, 18, 26),
    "C": _Key(422, 0, 18, 26),
    "B": _Key(452, 0, 18, 26),
    "gz": _Key(452, 40, 18, 18),
}
_SCALE = 11.5
"""Units of the drawing to a millimetre on paper."""
_LABEL_WIDTH = 80
"""For the note's name, in the drawing's own units."""
_ROW_HEIGHT = 104
"""Of one fingering, in the drawing's own units."""
_RING = 7
_EDGE = 10
"""Room for rings at the border of the drawing."""
_SIGNS = {"b": "♭", "#": "♯", "bb": "♭♭", "##": "♯♯", "": ""}
_FINGERS = {"T": "thumb", "1": "1", "2": "2", "3": "3", "4": "little finger"}
_HANDS = {"L": "left", "R": "right"}


def can_draw(instrument: Instrument) -> bool:
    """Whether every touchpiece its fingerings need has a place in the drawing."""
    return all(key in _KEYS for keys in instrument.fingerings.values() for key in keys)


def awkward_changes(
    notes: Iterable[Note], instrument: Instrument, beat_s: float
) -> list[tuple[Pitch, Pitch]]:
    """The hardest quick changes between neighbouring notes, (low, high), in order of the music."""
    found: dict[tuple[int, int], tuple[int, Pitch, Pitch]] = {}
    for note, after in pairwise(notes):
        apart = note.breath_after or after.beat != note.beat + note.length
        if apart or float(note.length) * beat_s > QUICK_S:
            continue
        low, high = sorted((note.pitch, after.pitch), key=lambda pitch: pitch.midi)
        if _on(instrument, low) and _on(instrument, high):
            difficulty = instrument.finger_change(low, high).difficulty
            if difficulty >= AWKWARD_FROM:
                found.setdefault((low.midi, high.midi), (difficulty, low, high))
    hardest = sorted(found.values(), key=lambda one: -one[0])[:MOST_IN_EXERCISE]
    return [(low, high) for _, low, high in found.values() if (_, low, high) in hardest]


def first_places(notes: Iterable[Note], places: Iterable[AwkwardPlace]) -> dict[int, str]:
    """Index of the first note of each place's first change → its letter."""
    letters: dict[int, str] = {}
    waiting = {frozenset((place.low.midi, place.high.midi)): place.letter for place in places}
    for note, after in pairwise(notes):
        if note.breath_after:
            continue
        pair = frozenset((note.pitch.midi, after.pitch.midi))
        if pair in waiting and note.index not in letters:
            letters[note.index] = waiting.pop(pair)
    return letters


def change_svg(place: AwkwardPlace, instrument: Instrument) -> str:
    """The two fingerings one above the other."""
    keys = _keys_of(instrument)
    width = _LABEL_WIDTH + max(_KEYS[key].x + _KEYS[key].width for key in keys) + 2 * _EDGE
    before = set(instrument.fingering(place.low))
    after = set(instrument.fingering(place.high))
    rows = [(place.low, before, after), (place.high, after, before)]
    drawn = "".join(
        f'<g transform="translate(0 {_ROW_HEIGHT * row + _EDGE})">'
        f'<text x="0" y="31" font-size="34" fill="black">{pitch_name(pitch)}</text>'
        f'<g transform="translate({_LABEL_WIDTH + _EDGE} 0)">'
        f"{''.join(_row(keys, pressed, other))}</g></g>"
        for row, (pitch, pressed, other) in enumerate(rows)
    )
    height = 2 * _ROW_HEIGHT + _EDGE
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="fingers" viewBox="0 0 {width} {height}" '
        f'width="{width / _SCALE:.1f}mm" height="{height / _SCALE:.1f}mm" '
        f'font-family="Liberation, serif">{drawn}</svg>'
    )


def change_words(place: AwkwardPlace, instrument: Instrument) -> str:
    """What the fingers do going up: 'down: left thumb, 2, 3; up: left 1'."""
    change = instrument.finger_change(place.low, place.high)
    return "; ".join(_said(change))


def pitch_name(pitch: Pitch) -> str:
    """'C♯5'."""
    return f"{pitch.letter}{_SIGNS[pitch.name[1:]]}{pitch.octave}"


def _said(change: FingerChange) -> Iterator[str]:
    for word, fingers in (("down", change.down), ("up", change.up), ("slides", change.slide)):
        if fingers:
            yield f"{word}: {', '.join(_by_hand(fingers))}"


def _by_hand(fingers: Iterable[str]) -> Iterator[str]:
    for hand, name in _HANDS.items():
        own = [_FINGERS[finger[1]] for finger in fingers if finger[0] == hand]
        own.sort(key=lambda finger: finger != "thumb")
        if own:
            yield f"{name} {' '.join(own)}"


def _on(instrument: Instrument, pitch: Pitch) -> bool:
    return instrument.lowest.midi <= pitch.midi <= instrument.furthest.midi


def _keys_of(instrument: Instrument) -> list[str]:
    """The touchpieces this instrument has, as far as its fingerings need them."""
    used = {key for keys in instrument.fingerings.values() for key in keys}
    return [key for key in _KEYS if key in used]


def _row(keys: Iterable[str], pressed: set[str], other: set[str]) -> Iterator[str]:
    for key in keys:
        place = _KEYS[key]
        moves = (key in pressed) != (key in other)
        yield _outline(place, _RING if moves else 0, "black" if key in pressed else "white", moves)


def _outline(place: _Key, ring: int, fill: str, moves: bool) -> str:
    shapes = [(0, fill, 3)]
    if moves:
        shapes.insert(0, (ring, "none", 4))
    return "".join(_shape(place, outset, colour, stroke) for outset, colour, stroke in shapes)


def _shape(place: _Key, outset: int, fill: str, stroke: int) -> str:
    radius = place.width / 2 + outset if place.round else 8 + outset
    return (
        f'<rect x="{place.x - outset}" y="{place.y - outset}" width="{place.width + 2 * outset}" '
        f'height="{place.height + 2 * outset}" rx="{radius:g}" ry="{radius:g}" fill="{fill}" '
        f'stroke="black" stroke-width="{stroke}"/>'
    )
