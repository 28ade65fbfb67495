"""Cautions come at the right moment, defer to clinicians, and call nothing safe."""

from __future__ import annotations

import pytest

from trainer.coach import care

EVERY = (
    *care.cautions_today(True),
    *(care.care_due(m, a) or "" for m in (0, 30) for a in range(7)),
)


def test_pain_comes_first_and_belongs_to_a_clinician() -> None:
    assert "physician" in care.cautions_today(False)[0]


def test_air_only_days_speak_of_dizziness() -> None:
    assert any("Dizzy" in line for line in care.cautions_today(True))
    assert not any("Dizzy" in line for line in care.cautions_today(False))


@pytest.mark.parametrize(("minutes", "due"), [(10, False), (24, False), (25, True), (60, True)])
def test_rest_after_about_25_minutes(minutes: float, due: bool) -> None:
    """G. Klickstein, The Musician's Way, p. 75: five minutes after 25."""
    assert (care.care_due(minutes, 0) is not None) is due


def test_air_only_rounds_are_broken_up() -> None:
    assert [air for air in range(7) if care.care_due(5, air)] == [3, 6]
    assert "doctor" in (care.care_due(5, 3) or "")


@pytest.mark.parametrize("line", EVERY)
def test_no_amount_is_called_safe_and_no_level_is_named(line: str) -> None:
    assert "safe" not in line.lower()
    assert "dB" not in line
