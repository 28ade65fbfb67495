"""When so few starts were heard clearly that it is said, and that it is never said of a few."""

from __future__ import annotations

from trainer.coach.blurred_starts import FEWEST_NOTES, TOO_MANY, too_blurred
from trainer.figures.round_measures import RoundMeasures


def heard(played: int, unsure: int) -> RoundMeasures:
    return RoundMeasures(played, 0, 0, starts_unsure=unsure)


def test_it_goes_by_all_rounds_together() -> None:
    assert too_blurred([heard(25, 2), heard(25, 14), heard(25, 10)])
    assert not too_blurred([heard(25, 2), heard(25, 14), heard(25, 4)])


def test_a_single_short_round_says_nothing() -> None:
    few = FEWEST_NOTES - 1
    assert not too_blurred([heard(few, few)])
    assert not too_blurred([])


def test_at_the_limit_nothing_is_said() -> None:
    assert not too_blurred([heard(100, round(100 * TOO_MANY))])
