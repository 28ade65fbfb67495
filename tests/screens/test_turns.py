"""Whose turn it is, on the staff and in words."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.screens.drawing.canvas import Ink
from trainer.screens.drawing.round_layout import score
from trainer.session.view import Stage

ROUTINE = """
title: Answers
exercises:
- passage: line
  key: G
  tempo: 96
  partner: in turns
  click rests: 1 bar in 4
  notes: |
    quarter (G4 A4 B4 C5) | half D5 B4 | quarter A4 B4 C5 D5 | whole G4
"""


def staff() -> list[Any]:
    routine, problems = read_routine(ROUTINE, "a.yaml")
    assert routine is not None, problems
    round_ = plan(routine, date(2026, 3, 2), 0)[0].rounds[0]
    layout = score(round_, 160, 24)
    (system,) = layout.systems
    return [layout.staff(0), system]


def test_the_partners_bars_say_so_and_the_students_do_not() -> None:
    rows, system = staff()
    said = rows[0].text
    assert said.count("partner") == 2
    assert said.index("partner") == system.column(0) + 1
    assert said.rindex("partner") == system.column(8) + 1


def test_the_partners_notes_are_fainter() -> None:
    rows, system = staff()

    def inks(beat: int) -> set[Ink]:
        x = system.column(beat) + 1
        return {row.inks[x] for row in rows if row.text[x] in "█▄▀⢎⡠"}

    assert Ink.NOTE not in inks(0)
    assert Ink.NOTE in inks(4)


async def test_the_screen_says_whose_bars_and_where_the_click_rests(
    stand: Callable[..., Any],
) -> None:
    async with stand((80, 24), ROUTINE) as at:
        shown = await at.press("pagedown")
        assert "Bars 2 and 4 are yours." in shown
        assert "The click rests in bar 4." in shown
        assert "the partner begins" in shown
        await at.press("pagedown")
        assert "in turns   click rests" in await at.until_stage(Stage.PLAYING)
