"""Taking a knot out: the short rounds that loosen it, and the way back into the whole.

The order is common practice: slowly, in pairs, in dotted rhythms both ways, stopping on the hard
note, one more note at each end, up in tempo, and back into the pattern it came from. That slow and
full tempo in some order beat full tempo alone: Henley 2001, JRME 49:169 (read second-hand).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from trainer.coach.knots import Knot
from trainer.music.note import Note, Start, articulated
from trainer.music.pitch import Pitch
from trainer.music.rhythm import RHYTHMS, in_rhythm, laid_out
from trainer.routine.round import Round, RoundKind

SLOW = 0.6
"""Share of the round's tempo at which the knot is first played; our own estimate."""
RISING = (0.75, 0.9, 1.0)
"""... and on the way back up."""
STOP_BEATS = Fraction(2)
"""How long the hard note is held when stopping on it."""


@dataclass(frozen=True)
class _Stage:
    """One short round of the breakdown."""

    title: str
    notes: tuple[Note, ...]
    tempo_share: float


def breakdown(knot: Knot, round_: Round) -> tuple[Round, ...]:
    """Rounds for one knot of a round, slow to fast, ending with the whole round.

    Raises ValueError for a knot that isn't in the round.
    """
    first = _place_of(knot, round_)
    stages = list(_stages(knot, round_, first))
    short = tuple(
        replace(
            round_,
            title=f"{knot.name}, {stage.title}",
            kind=RoundKind.KNOT,
            number=number,
            tempo_bpm=float(round(stage.tempo_share * round_.tempo_bpm)),
            notes=articulated(stage.notes, round_.articulation),
        )
        for number, stage in enumerate(stages, start=1)
    )
    return (*short, replace(round_, number=len(short) + 1))


def _stages(knot: Knot, round_: Round, first: int) -> Iterator[_Stage]:
    pitches = [note.pitch for note in round_.notes]
    last = first + len(knot.pitches) - 1
    per_beat = round(1 / min(note.length for note in round_.notes))

    def wider(notes: int) -> Sequence[Pitch]:
        return pitches[max(0, first - notes) : last + notes + 1]

    around = laid_out(_there_and_back(wider(1)), per_beat)
    hard = last - max(0, first - 1)
    yield _Stage("slowly", laid_out(_there_and_back(knot.pitches), per_beat), SLOW)
    yield _Stage("in pairs", laid_out(_in_pairs(wider(1)), per_beat), SLOW)
    yield _Stage("dotted", in_rhythm(around, RHYTHMS["dotted"]), SLOW)
    yield _Stage("reversed dotted", in_rhythm(around, RHYTHMS["reversed dotted"]), SLOW)
    yield _Stage("stopping on the hard note", _stopping(wider(1), hard, per_beat), SLOW)
    yield _Stage("a note more at each end", laid_out(wider(2), per_beat), SLOW)
    for share in RISING:
        yield _Stage("up in tempo", laid_out(wider(3), per_beat), share)


def _place_of(knot: Knot, round_: Round) -> int:
    """Where the knot's notes are met first in the round."""
    wanted = [pitch.midi for pitch in knot.pitches]
    played = [note.pitch.midi for note in round_.notes]
    for first in range(len(played) - len(wanted) + 1):
        if played[first : first + len(wanted)] == wanted:
            return first
    raise ValueError(f"{knot.name} is not in {round_.title}: choose a knot of this exercise")


def _there_and_back(pitches: Sequence[Pitch]) -> list[Pitch]:
    """Up and down twice, turning notes not repeated: C D gives C D C D C."""
    once = [*pitches, *pitches[-2:0:-1]]
    return [*once, *once, pitches[0]]


def _in_pairs(pitches: Sequence[Pitch]) -> list[Pitch]:
    """Each neighbouring pair twice: C D E gives C D C D, D E D E."""
    return [pitch for pair in pairwise(pitches) for pitch in (*pair, *pair)]


def _stopping(pitches: Sequence[Pitch], hard: int, per_beat: int) -> tuple[Note, ...]:
    """The pitches once in even notes, the hard one and the last held."""
    unit = Fraction(1, per_beat)
    notes: list[Note] = []
    beat = Fraction(0)
    for index, pitch in enumerate(pitches):
        held = index in (hard, len(pitches) - 1)
        length = STOP_BEATS if held else unit
        notes.append(Note(index, pitch, beat, length, Start.SLURRED))
        beat += length
    return tuple(notes)
