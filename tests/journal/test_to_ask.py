"""What to ask at the lesson: own questions, what was heard otherwise, what stays open."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from demo.made_rounds import plain_round
from trainer.journal.log import LaterRemark, SessionLog
from trainer.journal.stuck import OpenKnot, StuckTempo
from trainer.journal.to_ask import to_ask

AT = datetime(2026, 11, 23, 8, tzinfo=UTC)


def session(remark: str = "", *, private: bool = False, disagreed: bool = False) -> SessionLog:
    round_ = plain_round([], started=AT, seconds=30, exercise_id="ferry", title="The ferry")
    round_ = replace(round_, disagreed=disagreed)
    later = (LaterRemark("Which finger\nfor B flat?"),)
    return SessionLog(AT, rounds=(round_,), remark=remark, private=private, remarks=later)


def test_questions_come_first_and_private_ones_stay_private() -> None:
    said = to_ask([session("Better. Is my G too low? Slept badly.", disagreed=True)], (), ())
    assert said == (
        "Is my G too low?",
        "Which finger for B flat?",
        "You heard The ferry differently. Play it at the lesson.",
    )
    assert to_ask([session("Why me?", private=True)], (), ()) == ("Which finger for B flat?",)


def test_what_practice_has_not_put_right_is_asked_about() -> None:
    first, last = date(2026, 11, 9), AT.date()
    long_open = OpenKnot("C5–D5", "ferry", 9, 4, first, last)
    new = OpenKnot("E5–F5", "ferry", 4, 2, date(2026, 11, 20), last)
    left = OpenKnot("G5–A5", "ferry", 4, 2, first, date(2026, 11, 16))
    stuck = StuckTempo("ladder", "slurred", 80.0, 80.0, 7, 4)  # type: ignore[arg-type]
    said = to_ask([SessionLog(AT)], (long_open, new, left), (stuck,))
    assert said == (
        "C5–D5 has been open since 9 November. Ask for another way to practise it.",
        "Ladder, slurred isn't getting faster. Ask what to change.",
    )
