"""A third pitch that stands out between two slurred notes each time: fingers that change one after
the other.

In a room a false note of a few hundredths of a second is seldom told from its neighbours as a sound
of its own (`blips`); its own harmonics rise all the same, and are gone again. Two notes ringing
together bring out a third here and there too, but seldom the same one going up and coming down.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from trainer.ear.analysis.features import Features
from trainer.ear.heard import HeardNote, State
from trainer.ear.segments.own_harmonics import loudest_own_db
from trainer.music.note import Note, Start

WIDEST = 3
"""Half-steps between two notes. A leap brings third pitches of its own as it goes down: of recorded
slurs a player played so 6 of 42 over a third and wider, of 368 over less none (our own
measurement)."""
STEPS = (1, 2)
"""So many half-steps outside the two notes: a finger too few or too many. Between them what the two
have together would be taken for a third."""
CHANGE_S = (-0.06, 0.03)
"""Where it sounds, about the onset of the second note ..."""
BEFORE_S = (-0.1, -0.08)
AFTER_S = (0.1, 0.16)
"""... and where what a room or the notes have of it shows without a change."""
RISES_DB = 8.0
"""It stands so far above itself before ..."""
FALLS_DB = 5.0
"""... and so far above itself after, of which a room keeps some ..."""
UNDER_DB = 8.0
"""... and no further under the louder note. Of false notes of 30 to 42 ms put between two of a made
flute, both ways, dry and in rooms of 0.3 to 0.8 s, 27 of 45 do; of 7,800 steps of 620 lines played
clean the nearest stood 12 dB under, the next 15 (our own measurement)."""


@dataclass(frozen=True)
class _Seam:
    """Where one note was slurred to the next, both played."""

    goes_up: bool
    onset_s: float
    index: int
    """Of the second note."""
    louder_db: float


def with_third_pitches(
    features: Features, heard: Sequence[HeardNote], written: Sequence[Note]
) -> list[HeardNote]:
    """What was heard, with a blip before each note of a step at which a third pitch stands out each
    time, going up and coming down."""
    steps: dict[tuple[int, int], list[_Seam]] = defaultdict(list)
    for between, seam in _seams(heard, written):
        steps[between].append(seam)
    slips = {
        seam.index
        for between, seams in steps.items()
        if len({seam.goes_up for seam in seams}) > 1 and _slips(features, between, seams)
        for seam in seams
    }
    return [replace(note, blip=True) if note.index in slips else note for note in heard]


def _seams(
    heard: Sequence[HeardNote], written: Sequence[Note]
) -> Iterator[tuple[tuple[int, int], _Seam]]:
    """Each with its two MIDI numbers, the lower first. An ornament brings third pitches itself."""
    played = {note.index: note for note in heard if note.state is State.PLAYED}
    for before, after in pairwise(written):
        first, second = played.get(before.index), played.get(after.index)
        plain = not before.ornamented and not after.ornamented
        if after.start is not Start.SLURRED or not plain or first is None or second is None:
            continue
        levels_db = [note.level_db for note in (first, second) if note.level_db is not None]
        low, high = sorted((before.pitch.midi, after.pitch.midi))
        if 0 < high - low <= WIDEST and second.onset_s is not None and levels_db:
            goes_up = before.pitch.midi == low
            yield (low, high), _Seam(goes_up, second.onset_s, after.index, max(levels_db))


def _slips(features: Features, between: tuple[int, int], seams: Sequence[_Seam]) -> bool:
    """Whether the same third pitch stands out each time."""
    low, high = between
    thirds = [low - step for step in STEPS] + [high + step for step in STEPS]
    return any(
        all(_stands_out(features, third, between, seam) for seam in seams) for third in thirds
    )


def _stands_out(features: Features, third: int, between: tuple[int, int], seam: _Seam) -> bool:
    """Whether a third pitch sounds as the fingers change, and neither before nor after."""

    def loudest_db(about_s: tuple[float, float]) -> float | None:
        from_s, to_s = (seam.onset_s + by_s for by_s in about_s)
        return loudest_own_db(features, third, from_s, to_s, between)

    in_change_db = loudest_db(CHANGE_S)
    if in_change_db is None or in_change_db < seam.louder_db - UNDER_DB:
        return False
    before_db, after_db = loudest_db(BEFORE_S), loudest_db(AFTER_S)
    return (
        before_db is not None
        and after_db is not None
        and before_db <= in_change_db - RISES_DB
        and after_db <= in_change_db - FALLS_DB
    )
