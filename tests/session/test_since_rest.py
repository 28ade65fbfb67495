"""A rest is called for after the minutes that were played, not the seconds."""

from __future__ import annotations

import pytest

from tests.coach.conftest import make_round
from trainer.coach.care import REST
from trainer.session.since_rest import SinceRest


@pytest.mark.parametrize(("minutes", "words"), [(24, None), (25, REST)])
def test_after_25_minutes_and_not_before(minutes: int, words: str | None) -> None:
    """G. Klickstein, The Musician's Way, p. 75: five minutes' rest after 25 of practising alone."""
    since = SinceRest()
    for _ in range(minutes):
        since = since.and_played(make_round(), 60.0)
    assert since.words_of_care == words
