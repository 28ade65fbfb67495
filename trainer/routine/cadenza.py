"""A passage with a cadenza: rounds in time, and between them one out of time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from trainer.music.bars import COMMON_TIME
from trainer.routine.practice_way import begun_in_its_own, cut_out
from trainer.routine.round import PartnerPart, Round, RoundKind

BEFORE, CADENZA, AFTER = "as far as the cadenza", "cadenza", "after the cadenza"
"""Behind the passage's title."""


def parted_at_cadenzas(
    round_: Round, cadenzas: tuple[tuple[Fraction, Fraction], ...]
) -> tuple[Round, ...]:
    """The round itself, or its stretches in time and its cadenzas, one after the other."""
    if not cadenzas:
        return (round_,)
    places = [Fraction(0), *(place for cadenza in cadenzas for place in cadenza), round_.beats]
    return tuple(_stretches(round_, places, dict(cadenzas)))


def _stretches(
    round_: Round, places: list[Fraction], cadenzas: dict[Fraction, Fraction]
) -> Iterator[Round]:
    for begins, ends in pairwise(places):
        here = cut_out(round_, begins, ends)
        if here is None:
            continue
        if cadenzas.get(begins) == ends:
            yield replace(
                round_,
                title=f"{round_.title}, {CADENZA}",
                kind=RoundKind.CADENZA,
                notes=tuple(replace(note, tempo_share=1.0) for note in here.notes),
                key=round_.bars.at(begins).key,
                beats_per_bar=COMMON_TIME.beats_per_bar,
                changes=(),
                count_in_beats=0,
                partner=round_.partner if round_.partner is PartnerPart.DRONE else None,
                ends_on_beat=Fraction(0),
                upbeat_beats=Fraction(0),
                end_tempo_share=1.0,
                aims=replace(round_.aims, evenness_ms=None),
            )
            continue
        where = BEFORE if begins == 0 else AFTER
        yield begun_in_its_own(replace(here, title=f"{round_.title}, {where}"))
