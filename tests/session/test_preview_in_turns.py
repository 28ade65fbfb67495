"""Heard before it is practised: everybody's turns sound."""

from __future__ import annotations

from datetime import date

import numpy as np

from tests.session.test_in_turns import LINE
from trainer.commands.play_preview import played_by_partner
from trainer.music.instrument import instrument_named
from trainer.routine.load import read_routine
from trainer.routine.plan import plan

RATE = 16_000


def test_no_bar_of_a_round_in_turns_is_silent() -> None:
    routine, problems = read_routine(LINE.format(asked="in turns"), "t.yaml")
    assert routine is not None, problems
    round_ = plan(routine, date(2026, 3, 2), 0)[0].rounds[0]
    sound = played_by_partner(round_, instrument_named("C flute"), RATE)
    bar = round(4 * round_.beat_s * RATE)
    for number in range(1, 5):  # after the count-in
        inside = sound[number * bar + bar // 8 : (number + 1) * bar - bar // 8]
        assert np.sqrt(np.median(inside**2)) > 0.02
