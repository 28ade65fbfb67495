"""Which entries of a day stand on which page: few pages, turned at rests, filled alike.

What two exercises share on one page, notes or fingerings, stands there once.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from trainer.routine.plan import PlannedExercise

PAGE_MM = 268.0
"""Of the 270 mm between the margins; the rest is for what changes with the letters."""
TURN_IN_PLAYING = 0.4
"""What a turn costs where nobody rests, in squared shares of a blank page. Our own choice."""
TURN_BEFORE_MUSIC = 4.0
"""... and one between words to read and the music that they are about."""
LARGEST_GAP_MM = 9.0
"""More white between two exercises than this looks like something left out."""

NAMED_MM = 6.0
"""A line that says where the notes stand."""
CHANGES_IN_A_ROW = 3
"""As wide as they are drawn."""

BEGINNING, END = "beginning", "end"


def entry_id(place: int) -> str:
    """Where the entry at this place of the day begins."""
    return f"entry-{place}"


def music_id(place: int) -> str:
    """... and its music, after the heading."""
    return f"music-{place}"


def fingers_id(place: int) -> str:
    """... and its fingerings."""
    return f"fingers-{place}"


def after_id(place: int) -> str:
    """... and what follows them."""
    return f"after-{place}"


@dataclass(frozen=True)
class PageAsked:
    """What stands on one page."""

    entries: tuple[int, ...]
    """Places in the day."""
    gap_mm: float = 0.0
    """More white than usual between its exercises."""


@dataclass(frozen=True)
class EntryHeights:
    """How much paper an entry takes."""

    whole_mm: float
    music_mm: float = 0.0
    music: Hashable = None
    """What its notes are on paper; None for words and rests."""
    fingers_mm: float = 0.0
    changes: frozenset[Hashable] = frozenset()
    """The changes of fingering that are drawn under it."""

    def fingers_beside_mm(self, drawn: Collection[Hashable]) -> float:
        """Height of its fingerings on a page where these are drawn already."""
        rows = math.ceil(len(self.changes) / CHANGES_IN_A_ROW)
        left = math.ceil(len(self.changes.difference(drawn)) / CHANGES_IN_A_ROW)
        return self.fingers_mm * left / rows if rows else 0.0


def heights_of(
    planned: Sequence[PlannedExercise],
    shared: Sequence[tuple[Hashable, frozenset[Hashable]]],
    places_mm: Mapping[str, float],
) -> tuple[float, tuple[EntryHeights, ...]]:
    """The heading's height, and each entry's, as they were laid out on endless paper.

    `shared`: of each entry its notes on paper and its changes of fingering.
    """
    begins = [places_mm[entry_id(n)] for n in range(len(planned))] + [places_mm[END]]
    heights = []
    for n, entry in enumerate(planned):
        whole_mm = begins[n + 1] - begins[n]
        if not entry.rounds:
            heights.append(EntryHeights(whole_mm))
            continue
        fingers_at = places_mm[fingers_id(n)]
        heights.append(
            EntryHeights(
                whole_mm,
                fingers_at - places_mm[music_id(n)],
                shared[n][0],
                places_mm[after_id(n)] - fingers_at,
                shared[n][1],
            )
        )
    return begins[0] - places_mm[BEGINNING], tuple(heights)


def pages_for(
    planned: Sequence[PlannedExercise], heading_mm: float, heights: Sequence[EntryHeights]
) -> tuple[PageAsked, ...]:
    """The fewest pages; of these the ones turned at rests and filled alike."""

    def used_mm(first: int, end: int) -> float:
        return (heading_mm if first == 0 else 0.0) + _height_mm(heights[first:end])

    @cache
    def best(first: int) -> tuple[int, float, tuple[int, ...]]:
        """(pages, cost, ends) of what begins at this entry."""
        if first == len(heights):
            return 0, 0.0, ()
        found = []
        for end in range(first + 1, len(heights) + 1):
            height = used_mm(first, end)
            if height > PAGE_MM and end > first + 1:
                break
            count, cost, ends = best(end)
            blank = max(0.0, 1 - height / PAGE_MM)
            turn = _turn_cost(planned, end) if end < len(heights) else 0.0
            found.append((1 + count, cost + blank**2 + turn, (end, *ends)))
        return min(found)

    ends = best(0)[2]
    pages = []
    for first, end in zip((0, *ends), ends, strict=False):
        gaps = sum(bool(planned[n].rounds) for n in range(first, end))
        spare_mm = PAGE_MM - used_mm(first, end)
        gap_mm = min(LARGEST_GAP_MM, max(0.0, spare_mm / gaps)) if gaps else 0.0
        pages.append(PageAsked(tuple(range(first, end)), gap_mm))
    return tuple(pages)


def _height_mm(entries: Sequence[EntryHeights]) -> float:
    """Together on one page: equal notes and fingerings stand once."""
    music: set[Hashable] = set()
    changes: set[Hashable] = set()
    height_mm = 0.0
    for entry in entries:
        height_mm += entry.whole_mm - entry.fingers_mm + entry.fingers_beside_mm(changes)
        if entry.music is not None and entry.music in music:
            height_mm -= max(0.0, entry.music_mm - NAMED_MM)
        music.add(entry.music)
        changes |= entry.changes
    return height_mm


def _turn_cost(planned: Sequence[PlannedExercise], end: int) -> float:
    before, after = planned[end - 1], planned[end]
    if before.rest_s or (not after.rounds and after.rest_s):
        return 0.0
    return TURN_IN_PLAYING if before.rounds else TURN_BEFORE_MUSIC
