"""How large the music is drawn: by the screen, by the setting, by a key; and in which inks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from tests.screens.rounds import round_of
from tests.screens.test_round_layout import full_range_round
from trainer.app.settings import LARGE_NOTES, OCTAVE_SIGN, SMALL_NOTES, Settings
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Ink
from trainer.screens.drawing.round_layout import ROOMY_TRAIL, RoundLayout, fitted
from trainer.screens.drawing.scale import COMPACT, STAND
from trainer.screens.drawing.written import Written, written_rows
from trainer.screens.pixels.pixel_painter import HEAD_WIDTH
from trainer.session.view import Stage

Opened = Callable[..., Any]
LONG = "title: L\nexercises: [{long tones: calm, notes: [G4, A4, B4], beats each: 4, tempo: 60}]"
QUARTERS = round_of(
    [
        Note(beat, Pitch.parse("G4"), Fraction(beat), Fraction(1), Start.TONGUED)
        for beat in range(16)
    ]
)


@pytest.mark.parametrize(
    ("width", "height", "scale"),
    [(80, 22, COMPACT), (99, 40, COMPACT), (100, 25, COMPACT), (100, 27, STAND), (200, 57, STAND)],
)
def test_notes_are_large_from_100_by_30_on(width: int, height: int, scale: object) -> None:
    assert fitted(QUARTERS, width, height, Settings()).upper.scale == scale


def test_notes_stay_small_where_a_large_bar_would_not_fit() -> None:
    assert fitted(full_range_round("D"), 120, 38, Settings()).upper.scale == COMPACT


def test_a_wide_screen_holds_a_whole_scale_in_two_systems() -> None:
    assert len(fitted(full_range_round("D"), 200, 57, Settings(note_size=SMALL_NOTES)).systems) <= 2


def test_the_setting_comes_before_the_screen() -> None:
    large = fitted(QUARTERS, 80, 22, Settings(note_size=LARGE_NOTES))
    small = fitted(QUARTERS, 200, 57, Settings(note_size=SMALL_NOTES))
    assert (large.upper.scale, small.upper.scale) == (STAND, COMPACT)


def test_octave_signs_only_where_they_are_wanted() -> None:
    round_ = full_range_round("D")
    assert not fitted(round_, 80, 22, Settings()).sheet.lowered
    wanted = fitted(round_, 80, 22, Settings(high_notes=OCTAVE_SIGN))
    assert wanted.sheet.lowered
    assert wanted.trail_rows >= ROOMY_TRAIL


async def test_a_key_changes_the_size_and_keeps_it(stand: Opened) -> None:
    kept: list[Settings] = []
    async with stand((100, 30), LONG) as at:
        at.app._keep_settings = kept.append
        await at.press("pagedown")
        large = await at.shown()
        await at.press("b")
        small = await at.press("b")
        assert kept[-1] == replace(Settings(), note_size=SMALL_NOTES)
        assert len(small.splitlines()) <= 30
        lines = [
            sum(line.startswith("──") for line in text.splitlines()) for text in (large, small)
        ]
        assert lines[0] >= 5 <= lines[1]
        assert large != small


async def test_nothing_is_green_for_right_or_red_for_wrong(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        await at.until_stage(Stage.READY)
        styles = {ink: at.app.ink_style(ink) for ink in Ink}
        colours = {ink: style.color.triplet for ink, style in styles.items()}
        backgrounds = {ink: style.bgcolor.triplet for ink, style in styles.items()}
        assert colours[Ink.TRUE] == colours[Ink.NOTE]
        red, green, blue = colours[Ink.OFF]
        assert red > green > blue, "amber"
        red, green, blue = backgrounds[Ink.DUE]
        assert blue > green > red, "blue"


def written_of(round_: Round, width: int, height: int) -> int:
    """Rows of the music with its marks after a round."""
    marked = Written(round_, None, (), care=frozenset({2}), unsure=frozenset())
    rows = written_rows(marked, width, height)
    assert any(Ink.CARE in row.inks for row in rows)
    assert len(rows) <= height
    return len(rows)


def test_after_a_round_notes_are_large_where_all_of_it_fits() -> None:
    """On wide screens; a round too long for that stands small, and is all there."""
    assert written_of(QUARTERS, 160, 50) > 1.5 * written_of(QUARTERS, 160, 14) > 0
    assert 0 < written_of(full_range_round("D"), 120, 36) < written_of(QUARTERS, 160, 50)


CROWDED = """
title: Crowded bars
exercises:
- passage: signs
  key: G
  notes: >
    quarter G4 eighth C#5 D5 quarter D#5 eighth E5 F5 | half B4 quarter B5 eighth C#6 C5 | whole C#5
- passage: flags
  time: 6/8
  key: D
  notes: quarter D5 eighth G4 quarter B4 eighth E4 | quarter C6 eighth D4 quarter A5 eighth F4
- {trills: fingers, pairs: [C#5 D#5], rhythms: [eighths, sixteenths], tempo: 60}
- {scale: run, key: E flat, range: two octaves, tempo: 72, articulations: [slurred]}
"""
FLAG_WIDTH = 1.0
"""In staff spaces: Leland's, less its thin tip."""
SIX_EIGHTHS = """
title: Six eighths
exercises:
- passage: two bars
  time: 6/8
  key: D
  notes: eighth D5 E5 F#5 G5 F#5 E5 | quarter D5 eighth F#5 A5 F#5 D5
"""


@pytest.mark.parametrize("size", [(80, 22), (100, 28), (120, 38), (200, 58)])
def test_no_bar_line_strikes_a_sign_in_pixels(size: tuple[int, int]) -> None:
    routine, problems = read_routine(CROWDED, "a.yaml")
    assert routine is not None, problems
    lines = 0
    for one in plan(routine, date(2026, 3, 2), 0):
        layout = fitted(one.rounds[0], *size, Settings(), in_pixels=True)
        for place in range(len(layout.systems)):
            items = layout.items(place)
            taken = [
                (sign.x - 1.2, sign.x) if sign.right_aligned else (sign.x, sign.x + HEAD_WIDTH)
                for sign in items.signs
                if sign.right_aligned or sign.sign.name.startswith("HEAD")
            ]
            taken += [
                (stem.x + HEAD_WIDTH, stem.x + HEAD_WIDTH + FLAG_WIDTH)
                for stem in items.stems
                if stem.flags and stem.up
            ]
            for line in items.bar_lines:
                lines += 1
                assert not [room for room in taken if room[0] < line.x < room[1]]
    assert lines > 5


@pytest.mark.parametrize("in_pixels", [False, True])
def test_two_bars_of_six_eighths_stand_in_one_system(in_pixels: bool) -> None:
    routine, problems = read_routine(SIX_EIGHTHS, "a.yaml")
    assert routine is not None, problems
    round_ = plan(routine, date(2026, 3, 2), 0)[0].rounds[0]
    assert len(fitted(round_, 80, 22, Settings(), in_pixels=in_pixels).systems) == 1


def laid_out(notes: str, size: tuple[int, int] = (80, 22), *, in_pixels: bool) -> RoundLayout:
    routine, problems = read_routine(f"title: A line\nexercises:\n- passage: {notes}\n", "a.yaml")
    assert routine is not None, problems
    round_ = plan(routine, date(2026, 3, 2), 0)[0].rounds[0]
    return fitted(round_, *size, Settings(), in_pixels=in_pixels)


def test_a_flag_stands_clear_of_the_next_accidental() -> None:
    notes = "quarter C5 eighth G4 quarter F#4 eighth A4 quarter G#4 | whole C5"
    layout = laid_out(f"flags\n  key: C\n  notes: {notes}", in_pixels=True)
    items = layout.items(0)
    flags = [stem.x + HEAD_WIDTH + FLAG_WIDTH for stem in items.stems if stem.flags]
    signs = [sign.x - 1.2 for sign in items.signs if sign.right_aligned]
    assert len(flags) == len(signs) == 2
    assert all(flag <= sign for flag, sign in zip(flags, signs, strict=True))


@pytest.mark.parametrize(
    ("last", "beats"),
    [("whole C5", [4, 4, 4, 4]), ("half C5", [4, 4, 2, 4]), ("C5 D5 E5 F5", [4, 4, 4, 4])],
)
def test_a_bar_is_broken_for_no_note_that_fills_one(last: str, beats: list[int]) -> None:
    """A last system with a single shorter note takes half a bar where it has no room for more."""
    bar = "quarter C5 D5 E5 F5 | "
    layout = laid_out(f"line\n  key: C\n  notes: {3 * bar}{last}", (60, 22), in_pixels=True)
    assert [system.beats for system in layout.systems] == beats


def test_a_tuplet_that_no_beam_joins_has_a_bracket() -> None:
    notes = "threes\n  key: C\n  notes: triplet {} {} | whole C5"
    for value, rest in (("quarter", "half F5"), ("eighth", "dotted half F5")):
        layout = laid_out(notes.format(f"{value} C5 D5 E5", rest), in_pixels=False)
        drawn = "\n".join(row.text for row in layout.staff(0))
        assert "3" in drawn
        assert ("──3──" in drawn and "┘" in drawn) is (value == "quarter"), drawn
