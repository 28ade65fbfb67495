"""Personal bests by tempo, and keys not visited for long, over the whole journal.

A best is a tempo held twice: it, or a faster one, was secure in two rounds. Once may be luck.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from trainer.journal.index import Index
from trainer.journal.outline import PiecePlayed
from trainer.journal.technique import HELD_TIMES
from trainer.music.articulations import AnyArticulation, articulation_order
from trainer.music.key import Key, Mode, cycle, major_keys, minor_keys, tonic_pitch

LONG = timedelta(days=30)
"""A key a day, all twelve majors come round in twelve days; after two rounds and a half a key
counts as not visited for long (our own estimate)."""


@dataclass(frozen=True)
class Best:
    """The fastest tempo held twice."""

    piece: PiecePlayed
    articulation: AnyArticulation
    tempo_bpm: float
    held_on: date
    """The day it was held the second time."""


@dataclass(frozen=True)
class KeyRest:
    """A key that wasn't played for long."""

    key: str
    last_day: date | None
    """None of a key that never was."""


def bests(index: Index, last: date) -> tuple[Best, ...]:
    """The fastest tempo held twice of every piece and articulation, up to a day."""
    found = (
        _best(index, piece, articulation, last)
        for piece in index.pieces(last)
        for articulation in index.articulations(piece)
    )
    listed = [best for best in found if best is not None]
    return tuple(sorted(listed, key=_by_piece))


def _by_piece(best: Best) -> tuple[bool, str, tuple[int, str]]:
    return not best.piece.scale, best.piece.name, articulation_order(best.articulation)


def _best(
    index: Index, piece: PiecePlayed, articulation: AnyArticulation, last: date
) -> Best | None:
    days: list[date] = []
    held_bpm = None
    for tempo_bpm, day in index.secure_rounds(piece, articulation, last):
        if held_bpm is not None and tempo_bpm < held_bpm:
            break
        days.append(day)
        if len(days) == HELD_TIMES:
            held_bpm = tempo_bpm
    if held_bpm is None:
        return None
    return Best(piece, articulation, held_bpm, sorted(days)[HELD_TIMES - 1])


def resting_keys(visits: Mapping[PiecePlayed, date], last: date) -> tuple[KeyRest, ...]:
    """The major and minor keys not played in the last thirty days, longest first; none of nothing.

    `visits`: the last day of each piece. Keys that sound alike (F sharp and G flat major) are one.
    """
    if not visits:
        return ()
    known = {key.name: key for key in (*major_keys(), *minor_keys())}
    by_sound: dict[tuple[int, Mode], date] = {}
    for piece, day in visits.items():
        if piece.scale and piece.name in known:
            sound = _sound(known[piece.name])
            by_sound[sound] = max(day, by_sound.get(sound, day))
    rests = [
        KeyRest(key.name, by_sound.get(_sound(key)))
        for mode in Mode
        for key in cycle("circle of fifths", mode)
    ]
    long = [rest for rest in rests if rest.last_day is None or last - rest.last_day > LONG]
    return tuple(sorted(long, key=lambda rest: (rest.last_day is None, rest.last_day or last)))


def _sound(key: Key) -> tuple[int, Mode]:
    return tonic_pitch(key.tonic).midi % 12, key.mode
