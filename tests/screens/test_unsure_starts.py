"""Starts that were not judged are shown as that on the music, and never as a fault."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.screens.rounds import round_of
from trainer.ear.heard import HeardNote, State, Take
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.screens.drawing.canvas import Ink, Row
from trainer.screens.drawing.written import (
    CARE_SIGN,
    UNSURE_LABEL,
    UNSURE_LEGEND,
    UNSURE_SIGN,
    Written,
    written_rows,
)

COUNT = 8
SIZES = [(80, 12), (120, 28)]


def rows_with(care: set[int], unsure: set[int], size: tuple[int, int]) -> tuple[Row, ...]:
    pitches = [Pitch.parse(name) for name in ("G4", "A4", "B4", "C5", "D5", "E5", "F#5", "G5")]
    notes = [
        Note(index, pitch, Fraction(index, 2), Fraction(1, 2), Start.TONGUED)
        for index, pitch in enumerate(pitches)
    ]
    heard = tuple(
        HeardNote(index, pitch, State.PLAYED, midi=float(pitch.midi), cents=0.0)
        for index, pitch in enumerate(pitches)
    )
    take = Take(48_000, 440.0, 1.0, heard)
    written = Written(round_of(notes), take, (0.0,) * COUNT, frozenset(care), frozenset(unsure))
    return written_rows(written, *size)


def sign_rows(rows: tuple[Row, ...]) -> list[Row]:
    return [row for row in rows if row.text.startswith(UNSURE_LABEL)]


@pytest.mark.parametrize("size", SIZES)
def test_a_sign_stands_under_each_such_note_and_the_row_says_what_it_is(
    size: tuple[int, int],
) -> None:
    (row,) = sign_rows(rows_with(set(), {1, 5}, size))
    signs, legend, behind = row.text.partition(UNSURE_LEGEND)
    assert (legend, behind.strip()) == (UNSURE_LEGEND, "")
    assert signs.count(UNSURE_SIGN) == 2
    assert row.inks[row.text.index(UNSURE_SIGN)] is Ink.QUIET


@pytest.mark.parametrize("size", SIZES)
def test_a_note_may_need_care_and_its_start_be_unclear(size: tuple[int, int]) -> None:
    (row,) = sign_rows(rows_with({1}, {1}, size))
    assert CARE_SIGN + UNSURE_SIGN in row.text


@pytest.mark.parametrize("size", SIZES)
def test_where_every_start_was_judged_nothing_is_shown(size: tuple[int, int]) -> None:
    rows = rows_with({2}, set(), size)
    assert not sign_rows(rows)
    assert not any(UNSURE_SIGN in row.text for row in rows)


def test_what_the_sign_means_gives_way_to_the_signs() -> None:
    (row,) = sign_rows(rows_with(set(), {1, 7}, (80, 12)))
    assert row.text.count(UNSURE_SIGN) == 2
    assert UNSURE_LEGEND not in row.text
