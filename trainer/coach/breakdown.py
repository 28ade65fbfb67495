"""Taking a knot out: the short rounds that loosen it, and the way back into the whole.

The order is common practice: slowly, in pairs, in dotted rhythms both ways, stopping on the hard
note, one more note at each end, up in tempo, and back into the pattern it came from. That slow and
full tempo in some order beat full tempo alone: Henley 2001, JRME 49:169 (read second-hand).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise, takewhile

from trainer.coach.advice import Felt, Topic
from trainer.coach.history import OldKnot
from trainer.coach.knots import Knot, knot_name
from trainer.coach.marks import Marks
from trainer.coach.observations.knot import behind, own_steps
from trainer.figures.enough import ENOUGH_SHARE
from trainer.music.articulations import articulated
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.music.rhythm import RHYTHMS, in_rhythm, laid_out
from trainer.routine.round import AS_IT_COMES, PartnerPart, Round, RoundKind
from trainer.wording.sentence_list import say

SLOW = 0.6
"""Share of the round's tempo at which the knot is first played; our own estimate."""
RISING = (0.75, 0.9, 1.0)
"""... and on the way back up."""
STOP_BEATS = Fraction(2)
"""How long the hard note is held when stopping on it."""
SMOOTH_ENOUGH = 2
"""So many smooth rounds in a row, and the slow forms have done their work. Our own estimate."""
NOT_HELPING = 3
"""So many rough rounds in a row, and it is left for another day. Our own estimate."""
MOST_RETURNING = 2
"""Old knots that come back in one exercise on one day. Our own estimate."""
RETURNING = (0.75, 1.0)
"""Shares of the tempo at which an old knot is met again."""


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
    first = _place_of(knot.pitches, round_)
    if first is None:
        raise ValueError(f"{knot.name} is not in {round_.title}: choose a knot of this exercise")
    stages = _stages(knot.pitches, round_, first)
    short = [
        _short(knot.pitches, stage, round_, number) for number, stage in enumerate(stages, start=1)
    ]
    return (*short, replace(round_, number=len(short) + 1))


def returning(
    knots: Sequence[OldKnot], round_: Round, most: int = MOST_RETURNING
) -> tuple[Round, ...]:
    """Old knots met again before the whole: each slowly, then each in tempo, in mixed order.

    Mixed order may help what is learned to last (Carter & Grahn 2016, ten clarinettists; others
    found nothing), and it feels harder. Knots that are not in the round are left out.
    """
    here = [knot for knot in knots if _place_of(knot.pitches, round_) is not None]
    per_beat = _per_beat(round_)
    return tuple(
        _short(
            knot.pitches,
            _Stage("once more", laid_out(_there_and_back(knot.pitches), per_beat), share),
            round_,
            1,
        )
        for share in RETURNING
        for knot in here[:most]
    )


def _short(pitches: Sequence[Pitch], stage: _Stage, round_: Round, number: int) -> Round:
    return replace(
        round_,
        title=f"{knot_name(pitches)}, {stage.title}",
        kind=RoundKind.KNOT,
        knot=tuple(pitches),
        number=number,
        tempo_bpm=float(round(stage.tempo_share * round_.tempo_bpm)),
        notes=articulated(stage.notes, round_.articulation),
        manner=AS_IT_COMES,
        partner=_partner_of(round_),
        partner_notes=(),
        second_part=(),
        drone_moves=(),
        ends_on_beat=Fraction(0),
        upbeat_beats=Fraction(0),
        click=replace(round_.click, sounding_bars=0, silent_bars=0),
        end_tempo_share=1.0,
    )


def _partner_of(round_: Round) -> PartnerPart | None:
    """Where partner and student took turns it plays first now; a part of its own is put by."""
    if round_.partner_notes:
        return PartnerPart.LEADS
    return PartnerPart.SAME_NOTES if round_.second_part else round_.partner


def _stages(knot: Sequence[Pitch], round_: Round, first: int) -> Iterator[_Stage]:
    pitches = [note.pitch for note in round_.notes]
    last = first + len(knot) - 1
    per_beat = _per_beat(round_)

    def wider(notes: int) -> Sequence[Pitch]:
        return pitches[max(0, first - notes) : last + notes + 1]

    def around(notes: int) -> tuple[Note, ...]:
        return laid_out(_there_and_back(wider(notes)), per_beat)

    hard = pitches[last]
    yield _Stage("slowly", laid_out(_there_and_back(knot), per_beat), SLOW)
    yield _Stage("in pairs", laid_out(_in_pairs(wider(1)), per_beat), SLOW)
    yield _Stage("dotted", in_rhythm(around(1), RHYTHMS["dotted"]), SLOW)
    yield _Stage("reversed dotted", in_rhythm(around(1), RHYTHMS["reversed dotted"]), SLOW)
    stopping = _stopping(_there_and_back(wider(1)), hard, per_beat)
    yield _Stage("stopping on the hard note", stopping, SLOW)
    yield _Stage("a note more at each end", around(2), SLOW)
    for share in RISING:
        yield _Stage("up in tempo", around(3), share)


def _per_beat(round_: Round) -> int:
    return max(1, round(1 / min(note.length for note in round_.notes)))


def _place_of(pitches: Sequence[Pitch], round_: Round) -> int | None:
    """Where the knot's notes are met first in the round; None where they are not."""
    wanted = [pitch.midi for pitch in pitches]
    played = [note.pitch.midi for note in round_.notes]
    for first in range(len(played) - len(wanted) + 1):
        if played[first : first + len(wanted)] == wanted:
            return first
    return None


def _there_and_back(pitches: Sequence[Pitch]) -> list[Pitch]:
    """Up and down twice, turning notes not repeated: C D gives C D C D C."""
    once = [*pitches, *pitches[-2:0:-1]]
    return [*once, *once, pitches[0]]


def _in_pairs(pitches: Sequence[Pitch]) -> list[Pitch]:
    """Each neighbouring pair three times: C D E gives C D C D C D, D E D E D E."""
    return [pitch for pair in pairwise(pitches) for pitch in (*pair, *pair, *pair)]


def _stopping(pitches: Sequence[Pitch], hard: Pitch, per_beat: int) -> tuple[Note, ...]:
    """The pitches in even notes, the hard one held each time, and the last."""
    unit = Fraction(1, per_beat)
    notes: list[Note] = []
    beat = Fraction(0)
    for index, pitch in enumerate(pitches):
        held = pitch == hard or index == len(pitches) - 1
        length = STOP_BEATS if held else unit
        notes.append(Note(index, pitch, beat, length, Start.SLURRED))
        beat += length
    return tuple(notes)


# How it goes -------------------------------------------------------------------------------------


class KnotVerdict(StrEnum):
    """How one round of a breakdown went."""

    SMOOTH = "smooth"
    ROUGH = "rough"
    UNKNOWN = "unknown"
    """Too little was heard."""


@dataclass(frozen=True)
class Ahead:
    """What follows a round of a breakdown."""

    rounds: tuple[Round, ...]
    """The first is due now."""
    why: str
    """One sentence."""


def knot_verdict(
    marks: Marks | None,
    felt: Felt | None,
    earlier: Sequence[Marks],
    topic: Topic | None = None,
) -> KnotVerdict:
    """Smooth when every step of the knot was clean and none surely late; the player's word that it
    was hard counts, too. `topic`: what was said of it; unknown where the student disagreed."""
    if topic is Topic.LEFT_OPEN:
        return KnotVerdict.UNKNOWN
    if marks is None:
        return {Felt.HARD: KnotVerdict.ROUGH, None: KnotVerdict.UNKNOWN}.get(
            felt, KnotVerdict.SMOOTH
        )
    steps = own_steps(marks, earlier)
    if not steps or len(marks.judged) < ENOUGH_SHARE * len(marks.notes):
        return KnotVerdict.UNKNOWN
    late = behind(steps, marks, steps)
    clean = all(step.to.clean for step in steps) and not (late is not None and late.late)
    return KnotVerdict.SMOOTH if clean and felt is not Felt.HARD else KnotVerdict.ROUGH


def ahead(pending: Sequence[Round], went: Sequence[KnotVerdict]) -> Ahead:
    """What comes after the knot's round due now; `went`: this breakdown's rounds, the last is it.

    Two smooth rounds end the slow forms; three rough ones in a row end it for today.
    """
    now, rest = pending[0], tuple(pending[1:])
    short = tuple(takewhile(lambda round_: round_.kind is RoundKind.KNOT, rest))
    whole = rest[len(short) :]
    if _in_a_row(went, KnotVerdict.ROUGH) >= NOT_HELPING:
        return Ahead(whole, say("leave the spot"))
    if not short:
        return Ahead(whole, say("back into the whole"))
    rising = tuple(round_ for round_ in short if round_.tempo_bpm > now.tempo_bpm)
    if rising and _in_a_row(went, KnotVerdict.SMOOTH) >= SMOOTH_ENOUGH and rising != short:
        return Ahead((*rising, *whole), say("spot faster"))
    return Ahead(rest, say("next", what=short[0].title))


def _in_a_row(went: Sequence[KnotVerdict], how: KnotVerdict) -> int:
    return sum(1 for _ in takewhile(lambda one: one is how, reversed(went)))
