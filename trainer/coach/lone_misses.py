"""Notes that stayed silent where nothing else says so: the ear's doubt before the player's fault.

A player who loses a note holds the one before it, stumbles, or loses it again at the same place. An
ear that loses one leaves a hole in a line that goes on in time, now here and now there, and as
often slow as fast. Such holes, of a note or two, are not judged, as long as there are few.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from statistics import median

from trainer.coach import thresholds
from trainer.coach.judge import clean_aim
from trainer.coach.marks import AimName, Marks, NoteMark
from trainer.coach.observations.observation import chance_of
from trainer.ear.heard import State, Take


def with_doubt(take: Take, rounds: Sequence[Marks]) -> tuple[Take, tuple[Marks, ...]]:
    """A take, the last of these rounds of a session (oldest first), and the rounds themselves, lone
    misses not judged: what is shown, said and kept of it."""
    *before, marks = without_lone_misses(rounds)
    return _as_judged(take, marks), (*before, marks)


def without_lone_misses(rounds: Sequence[Marks]) -> tuple[Marks, ...]:
    """The rounds of a session, oldest first, each with its lone misses not judged.

    A place missed again in the next rounds of the exercise counts in the earlier ones too.
    """
    lone = [frozenset(_lone(marks)) for marks in rounds]
    return tuple(
        _not_judged(marks, _doubtful(place, rounds, lone)) if lone[place] else marks
        for place, marks in enumerate(rounds)
    )


def _as_judged(take: Take, marks: Marks) -> Take:
    """The take with the misses that the marks doubt not judged: nobody is shown them as missed."""
    doubted = {note.index for note in marks.notes if note.doubted}
    notes = (
        replace(heard, state=State.NOT_JUDGED) if heard.index in doubted else heard
        for heard in take.notes
    )
    return replace(take, notes=tuple(notes))


def _lone(marks: Marks) -> Iterator[int]:
    """Indices of missed notes in holes between two clean notes in time, of which the first ended
    in time; a line's first and last note have one such neighbour."""
    if not any(note.missed for note in marks.notes):
        return
    sounded_s = [note.seconds for note in marks.heard if note.seconds is not None]
    longest_s = thresholds.HELD_OVER * median(sounded_s) if sounded_s else 0.0
    runs = [(silent, tuple(run)) for silent, run in groupby(marks.notes, key=_silent)]
    for place, (silent, run) in enumerate(runs):
        before = runs[place - 1][1][-1:] if place else ()
        after = runs[place + 1][1][:1] if place + 1 < len(runs) else ()
        held_over = any((note.seconds or 0.0) > longest_s for note in before)
        goes_on = all(map(_calm, (*before, *after))) and not held_over
        if silent and len(run) <= thresholds.LONGEST_HOLE and goes_on and (before or after):
            yield from (note.index for note in run)


def _silent(note: NoteMark) -> bool:
    return note.judged and note.missed


def _calm(note: NoteMark) -> bool:
    return note.clean and not note.late and not note.early


def _doubtful(
    place: int, rounds: Sequence[Marks], lone: Sequence[frozenset[int]]
) -> frozenset[int]:
    """Those of a round's lone misses that may well be the ear's: no more than the slower rounds of
    the exercise let expect, and none that comes again."""
    marks, count = rounds[place], len(rounds[place].notes)
    alike = [
        number
        for number, other in enumerate(rounds)
        if other.exercise_id == marks.exercise_id and len(other.notes) == count
    ]
    holes = [len(lone[n]) for n in _slower(alike, marks.tempo_bpm, rounds)]
    usual = (thresholds.HOLES_SHARE * count + sum(holes)) / (1 + len(holes))
    most = min(usual + thresholds.HOLES_ERRORS * usual**0.5, thresholds.MOST_HOLES * count)
    here = alike.index(place)
    first, last = here - thresholds.SAME_PLACE_ROUNDS, here + thresholds.SAME_PLACE_ROUNDS
    near = [rounds[n] for n in alike[max(0, first) : last + 1] if n != place]
    again = _missed_again(near, usual / count)
    return frozenset(sorted(lone[place] - again)[: int(most)])


def _slower(numbers: Sequence[int], tempo_bpm: float, rounds: Sequence[Marks]) -> Sequence[int]:
    """Those of the rounds that were slower; well below it where there are enough, since near a
    player's limit the player's own holes begin."""
    below = [n for n in numbers if rounds[n].tempo_bpm < tempo_bpm]
    well_below = [n for n in below if rounds[n].tempo_bpm < thresholds.WELL_BELOW * tempo_bpm]
    return well_below if len(well_below) >= thresholds.WELL_BELOW_ROUNDS else below


def _missed_again(near: Sequence[Marks], chance: float) -> frozenset[int]:
    """Places missed in rounds near by more often than an ear that errs with this chance would."""
    times = Counter(note.index for other in near for note in other.notes if note.missed)
    by_chance = thresholds.SAME_PLACE_CHANCE
    return frozenset(
        index for index, each in times.items() if chance_of(each, len(near), chance) < by_chance
    )


def _not_judged(marks: Marks, indices: frozenset[int]) -> Marks:
    """The marks with these notes not judged; missed and clean notes are counted anew."""
    notes = tuple(
        replace(note, judged=False) if note.index in indices else note for note in marks.notes
    )
    aims = tuple(
        clean_aim(aim.asked, notes) if aim.name is AimName.CLEAN else aim for aim in marks.aims
    )
    measures = replace(marks.measures, missed=marks.measures.missed - len(indices))
    return replace(marks, notes=notes, aims=aims, measures=measures)
