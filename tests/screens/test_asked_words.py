"""What a round asks for in words, and the line that grows while a note stands."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from tests.screens.rounds import round_of
from trainer.coach.advice import Ask, Standing
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.round import Depth, Manner, Round, Swell, Vibrato
from trainer.screens.drawing.asked_words import asked_words
from trainer.screens.drawing.round_layout import score
from trainer.screens.drawing.standing import standing_row

ROUTINE = "title: A\nexercises: [{passage: p, tempo: 72, notes: half G4 B4 | whole D5}]"


@pytest.fixture
def round_() -> Round:
    routine, problems = read_routine(ROUTINE, "a.yaml")
    assert routine is not None, problems
    return plan(routine, date(2026, 3, 2), 0)[0].rounds[0]


@pytest.mark.parametrize(
    ("manner", "words"),
    [
        (Manner(), ["as written", "at 72"]),
        (Manner(vibrato=Vibrato(0)), ["as written", "at 72", "straight tone"]),
        (Manner(vibrato=Vibrato(1)), ["as written", "at 72", "1 pulse a beat"]),
        (
            Manner(vibrato=Vibrato(4, Depth.DEEPER)),
            ["as written", "at 72", "4 pulses a beat, deeper"],
        ),
        (Manner(swell=Swell.THERE_AND_BACK), ["as written", "at 72", "swell there and back"]),
        (Manner(colour="dark"), ["as written", "at 72", "dark"]),
        (Manner(stands_s=1.0), ["untimed"]),
    ],
)
def test_what_is_asked_is_said_in_a_few_words(
    round_: Round, manner: Manner, words: list[str]
) -> None:
    assert asked_words(replace(round_, manner=manner)) == words


def test_the_line_grows_as_the_note_stands(round_: Round) -> None:
    system = score(round_, 80, 24).systems[0]
    lengths = []
    for share in (0.0, 0.5, 1.0):
        (row,) = standing_row(system, Standing(0, Ask.HOLD, 0.0, share), 80)
        lengths.append(row.text.count("━"))
        assert "hold it" in row.text
    assert lengths[0] == 1 < lengths[1] < lengths[2], "the sign for in tune, then the line"


@pytest.mark.parametrize("ask", Ask)
def test_each_need_has_a_shape_and_words_of_its_own(round_: Round, ask: Ask) -> None:
    system = score(round_, 80, 24).systems[0]
    (row,) = standing_row(system, Standing(1, ask, None, 0.0), 80)
    assert str(ask) in row.text


@pytest.mark.parametrize(
    ("beats", "beat_quarters", "said"),
    [(2, Fraction(3, 2), ["6/8"]), (3, Fraction(1), ["3/4"]), (4, Fraction(1), [])],
)
def test_a_metre_other_than_common_time_is_named(
    beats: int, beat_quarters: Fraction, said: list[str]
) -> None:
    note = Note(0, Pitch.parse("D5"), Fraction(0), Fraction(1), Start.TONGUED)
    round_ = round_of([note], beats_per_bar=beats, beat_quarters=beat_quarters)
    assert asked_words(round_) == ["single", "at 72", *said]
