"""The fingers of a knot, drawn in text; the fingerings themselves are checked in tests/music."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

from tests.screens.test_every_kind import SOUND, to_kind
from tests.session.conftest import NOON
from trainer.coach.advice import NextStep, Proposal
from trainer.coach.history import History, OldKnot
from trainer.coach.knots import Knot
from trainer.music.instrument import instrument_named
from trainer.music.names import Language, NoteNames
from trainer.music.pitch import Pitch
from trainer.routine.round import RoundKind
from trainer.screens.drawing.faces.finger_chart import chart_rows
from trainer.screens.drawing.fingerings import CELL, fingering_lines
from trainer.session.view import Stage

Opened = Callable[..., Any]
FLUTE = instrument_named("C flute with B foot")
C5_D5 = (Pitch.parse("C5"), Pitch.parse("D5"))


def cells(line: str, label: int) -> list[str]:
    return [line[at : at + CELL].strip() for at in range(label, len(line), CELL)]


def test_pressed_open_and_moving_fingers() -> None:
    lines = fingering_lines(C5_D5, FLUTE, NoteNames())
    assert [cells(line, 4) for line in lines] == [
        ["T", "L1", "L2", "L3", "L4", "R1", "R2", "R3", "R4"],
        ["○", "●", "○", "○", "○", "○", "○", "○", "●"],
        ["●", "○", "●", "●", "○", "●", "●", "●", "○"],
        ["△", "△", "△", "△", "", "△", "△", "△", "△"],
    ]
    assert len({len(line) for line in lines}) == 1


def test_a_finger_on_another_key_says_which() -> None:
    lines = fingering_lines((Pitch.parse("C4"), Pitch.parse("C#4")), FLUTE, NoteNames())
    assert [cells(line, 5)[-1] for line in lines] == ["R4", "C", "C#", "△"]


def test_notes_are_called_as_the_student_calls_them() -> None:
    lines = fingering_lines((Pitch.parse("B4"),), FLUTE, NoteNames(Language.GERMAN))
    assert lines[1].startswith("H4")


def test_a_note_the_flute_lacks_is_not_drawn() -> None:
    piccolo = instrument_named("piccolo")
    assert fingering_lines((Pitch.parse("C4"), Pitch.parse("D4")), piccolo, NoteNames()) == []
    assert fingering_lines((), FLUTE, NoteNames()) == []


def large(width: int = 80) -> list[str]:
    return [row.text for row in chart_rows(C5_D5, FLUTE, NoteNames(), width)]


def test_the_large_chart_says_the_same_and_what_each_finger_does() -> None:
    heads, c5, _, moves, d5, _ = large()
    columns = [
        heads.index(cell) for cell in cells(fingering_lines(C5_D5, FLUTE, NoteNames())[0], 4)
    ]
    small = [cells(line, 4) for line in fingering_lines(C5_D5, FLUTE, NoteNames())]
    pressed = {"●": "█", "○": "─"}
    for place, x in enumerate(columns):
        before, after = small[1][place], small[2][place]
        assert (c5[x], d5[x]) == (pressed[before], pressed[after])
        assert moves[x] == {"●○": "↑", "○●": "↓"}.get(before + after, " ")


def test_the_large_chart_is_left_out_where_it_has_no_room() -> None:
    assert large(50) == []
    assert chart_rows((Pitch.parse("C4"),), instrument_named("piccolo"), NoteNames(), 80) == ()


async def test_a_knot_that_comes_back_shows_its_fingers_before_it_is_played_and_meanwhile(
    stand: Opened,
) -> None:
    async with stand((80, 24), SOUND) as at:
        today = NOON.date()
        climb = "slow and quick in turns"
        knot = OldKnot(climb, C5_D5, today - timedelta(days=3), 0)
        at.session._walk._place._history = History(today, knots=(knot,))
        await to_kind(at, RoundKind.KNOT)
        shown = await at.shown()
        assert at.session.view().knot == C5_D5
        assert all(line.rstrip() in shown for line in large())
        await at.press("pagedown")
        sounding = await at.until(lambda: (at.session.view().beat or 0) > 1)
        assert all(line.rstrip() in sounding for line in large())


async def test_a_knot_to_be_taken_out_shows_its_fingers_after_the_round(stand: Opened) -> None:
    async with stand((120, 40)) as at:
        await at.press("pagedown")
        await at.press("pagedown")
        await at.until_stage(Stage.AFTER)
        knot = Knot("hill", C5_D5, (6, 7), 3, 4, (), None)
        next_alone = Proposal(NextStep.TAKE_OUT, "Next C5–D5 alone.")
        place = at.session._walk._place
        place.outcome = replace(place.outcome, knot=knot, proposal=next_alone)
        at.session.tick()
        shown = await at.shown()
        assert all(line.strip() in shown for line in large())
        await at.pilot.resize_terminal(80, 24)
        assert "L1  L2" not in await at.shown()
        assert "L1  L2" in await at.press("e")
