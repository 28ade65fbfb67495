"""A round beside the last time the same was played."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

import pytest

from trainer.coach.advice import FigureThenAndNow, Topic
from trainer.coach.history import Figures, History, PastDay, PastRound
from trainer.coach.judge import judge
from trainer.coach.last_time import figures_of, last_note_cents, last_time, past_round
from trainer.music.note import Articulation
from trainer.routine.round import AS_IT_COMES, Manner, Round, RoundKind, Vibrato

TODAY = date(2026, 3, 20)
RHYTHM = (Fraction(0), Fraction(1, 4))
OF_TODAY = PastRound(
    "hill",
    RoundKind.TECHNIQUE,
    72.0,
    Topic.SECURE,
    articulation=Articulation.SLURRED,
    notes="D4 E4",
    rhythm=RHYTHM,
    manner=AS_IT_COMES,
    figures=Figures(0.98, 18.2, 10.6),
)
FROM_JOURNAL = replace(OF_TODAY, rhythm=None, manner=None, figures=Figures(0.94, 22.4, 9.1))


def days(*rounds_by_days_ago: tuple[int, PastRound]) -> History:
    past = (
        PastDay(TODAY - timedelta(days=ago), 600.0, (one,))
        for ago, one in sorted(rounds_by_days_ago, key=lambda each: -each[0])
    )
    return History(TODAY, tuple(past))


def test_figures_stand_beside_those_of_the_last_day() -> None:
    last = last_time(OF_TODAY, (), days((3, FROM_JOURNAL), (9, OF_TODAY)))
    assert last is not None
    assert last.when == "Tuesday"
    assert last.tempo_bpm is None
    assert last.figures == (
        FigureThenAndNow("clean", "%", 94, 98),
        FigureThenAndNow("evenness", "ms", 22, 18),
        FigureThenAndNow("", "cents", 9, 11),
    )


@pytest.mark.parametrize(
    ("ago", "when"), [(1, "yesterday"), (6, "Saturday"), (7, "13 March"), (30, "18 February")]
)
def test_the_day_is_said_as_one_would(ago: int, when: str) -> None:
    last = last_time(OF_TODAY, (), days((ago, FROM_JOURNAL)))
    assert last is not None
    assert last.when == when


def test_earlier_in_the_session_goes_before_earlier_days() -> None:
    before = replace(OF_TODAY, tempo_bpm=66.0, figures=Figures(0.5))
    last = last_time(OF_TODAY, (before,), days((1, FROM_JOURNAL)))
    assert last is not None
    assert (last.when, last.tempo_bpm) == ("last time", 66.0)
    assert last.figures == (FigureThenAndNow("clean", "%", 50, 98),)


def test_of_one_day_the_round_at_the_same_tempo_is_taken() -> None:
    rounds = tuple(
        replace(FROM_JOURNAL, tempo_bpm=tempo, number=number, figures=Figures(number / 10))
        for number, tempo in enumerate((66.0, 72.4, 80.0), start=1)
    )
    history = History(TODAY, (PastDay(TODAY - timedelta(days=1), 600.0, rounds),))
    last = last_time(OF_TODAY, (), history)
    assert last is not None
    assert last.tempo_bpm is None
    assert last.figures == (FigureThenAndNow("clean", "%", 20, 98),)


OTHERS: list[dict[str, Any]] = [
    {"exercise_id": "another"},
    {"kind": RoundKind.CLIMB},
    {"articulation": Articulation.SINGLE},
    {"notes": "Eb4 F4"},
    {"rhythm": (Fraction(0), Fraction(1, 3))},
    {"manner": Manner(vibrato=Vibrato(4))},
]


@pytest.mark.parametrize("other", [*OTHERS, {"figures": Figures()}])
def test_what_is_not_the_same_is_not_set_beside(other: dict[str, Any]) -> None:
    assert last_time(OF_TODAY, (replace(OF_TODAY, **other),), None) is None


def test_what_was_asked_of_the_sound_on_another_day_is_not_known() -> None:
    pulsing = replace(OF_TODAY, manner=Manner(vibrato=Vibrato(4)))
    assert last_time(pulsing, (), days((1, FROM_JOURNAL))) is None
    assert last_time(pulsing, (pulsing,), None) is not None


@pytest.mark.parametrize("other", [*OTHERS, {"tempo_bpm": 66.0}])
def test_where_notes_stood_is_told_of_the_same_at_this_tempo(other: dict[str, Any]) -> None:
    stood = replace(FROM_JOURNAL, note_cents=(-7.0, None), tempo_bpm=72.4)
    another = replace(OF_TODAY, note_cents=(30.0, 30.0), **other)
    older = days((1, another), (2, stood), (3, replace(stood, note_cents=(9.0, 9.0))))
    assert last_note_cents(OF_TODAY, (another,), older) == (-7.0, None)
    assert last_note_cents(OF_TODAY, (), days((1, another))) == ()
    assert last_note_cents(OF_TODAY, (stood, another), None) == (-7.0, None)
    assert last_note_cents(OF_TODAY, (), None) == ()


@pytest.mark.parametrize(
    "change", [{"kind": RoundKind.LONG_TONES}, {"articulation": Articulation.AIR_ONLY}]
)
def test_evenness_is_left_out_where_it_means_nothing(change: dict[str, Any]) -> None:
    one = replace(OF_TODAY, **change)
    last = last_time(one, (one,), None)
    assert last is not None
    assert "evenness" not in {figure.name for figure in last.figures}


def test_a_round_nobody_heard_stands_beside_nothing() -> None:
    unheard = replace(OF_TODAY, notes="", figures=Figures())
    assert last_time(OF_TODAY, (unheard,), None) is None


def test_too_little_heard_gives_no_figure() -> None:
    assert figures_of([True] * 5, [1.0] * 5, [], 10) == Figures()
    assert figures_of([True, False, True, True], [], [-10.0, 10.0], 4) == Figures(0.75, None, 10.0)


def test_a_round_of_today_has_the_figures_its_aims_are_judged_by(
    rounds: Callable[..., Round], takes: Callable[..., Any], faults: dict[str, Any]
) -> None:
    round_ = rounds("D", 72, Articulation.SLURRED)
    marks = judge(round_, takes(round_, 1, faults["sharp top"]))
    now = past_round(round_, marks, Topic.TUNING_HIGH)
    assert now.figures.clean_share == marks.clean_share
    assert now.figures.evenness_ms == marks.measures.evenness_ms
    assert now.notes.split()[0] == str(round_.notes[0].pitch)
    assert now.rhythm is not None
    assert len(now.rhythm) == len(round_.notes)
