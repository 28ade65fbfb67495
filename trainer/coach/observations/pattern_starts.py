"""Slurs and strokes of an articulation pattern, heard against what was asked at each place."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import ORDINALS, Observation
from trainer.music.articulations import ArticulationPattern, GroupKind
from trainer.music.note import Start

_NUMBERS = ("", "one", "two", "three", "four", "five", "six", "seven", "eight")


def in_pattern(marks: Marks, pattern: ArticulationPattern) -> Iterator[Observation]:
    """Places tongued where a slur was asked, or slurred where a stroke was.

    Only where it is clear: nearly half of a place's notes, and six at least, or each of four; a
    soft stroke in place of a slur counts only where it is heard at most of them, as in every other
    round.
    """
    at_place: dict[int, list[NoteMark]] = defaultdict(list)
    for note in marks.heard:
        if note.heard_start is not None and note.pattern_place is not None:
            at_place[note.pattern_place].append(note)
    for slur_asked in (True, False):
        bad = [
            place
            for place, notes in sorted(at_place.items())
            if _is_slur(pattern, place) == slur_asked and _is_bad(notes, slur_asked)
        ]
        told = [note for place in bad for note in at_place[place] if note.index > 0]
        wrong = [note for note in told if _is_wrong(note, slur_asked)]
        each_time = len(wrong) == len(told) and not _mostly_soft(wrong)
        least = thresholds.EACH_START if each_time else thresholds.START_TIMES
        if len(wrong) >= least:
            yield _observed(pattern, bad, wrong, told, slur_asked, len(wrong) / least)


def _is_slur(pattern: ArticulationPattern, place: int) -> bool:
    return pattern.places[place][0] is Start.SLURRED


def _is_wrong(note: NoteMark, slur_asked: bool) -> bool:
    """Where the line was broken the first note of a slur is asked tongued, whatever its place."""
    if (note.asked_start is Start.SLURRED) != slur_asked:
        return False
    return (note.heard_start is Start.SLURRED) != slur_asked


def _is_bad(notes: Sequence[NoteMark], slur_asked: bool) -> bool:
    wrong = [note for note in notes if _is_wrong(note, slur_asked)]
    return bool(wrong) and len(wrong) >= least_share(wrong) * len(notes)


def least_share(wrong: Sequence[NoteMark]) -> float:
    """The share from which starts that weren't as asked count: a larger one where most are soft."""
    return thresholds.SOFT_START_SHARE if _mostly_soft(wrong) else thresholds.START_SHARE


def _mostly_soft(wrong: Sequence[NoteMark]) -> bool:
    return 2 * sum(note.heard_start is Start.LEGATO_TONGUE for note in wrong) > len(wrong)


def _observed(
    pattern: ArticulationPattern,
    bad: Sequence[int],
    wrong: Sequence[NoteMark],
    told: Sequence[NoteMark],
    slur_asked: bool,
    strength: float,
) -> Observation:
    heard, asked = ("tongued", "a slur") if slur_asked else ("slurred", "a stroke")
    where = _where(pattern, bad, slur_asked)
    return Observation(
        Topic.START,
        strength,
        (f"{where}: {heard} where {asked} was asked, {len(wrong)} of {len(told)} times",),
        tuple(note.index for note in wrong),
        times=len(wrong),
        chances=len(told),
        detail=f"{heard} where {asked} was asked",
        where=where,
    )


def _where(pattern: ArticulationPattern, bad: Sequence[int], slur_asked: bool) -> str:
    """'the second of each slur', 'the third of each four'."""
    alike = [place for place in range(pattern.notes) if _is_slur(pattern, place) == slur_asked]
    slurs = [group.count for group in pattern.groups if group.kind is GroupKind.SLUR]
    if list(bad) == alike and slur_asked and set(slurs) == {2}:
        return "the second of each slur"
    if len(bad) == 1 and bad[0] < len(ORDINALS) and pattern.notes < len(_NUMBERS):
        return f"the {ORDINALS[bad[0]]} of each {_NUMBERS[pattern.notes]}"
    return "the notes under each slur" if slur_asked else "the notes with a stroke of their own"
