"""Small pieces of the drawing in frozen states."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from trainer.ear.heard import HeardNote, LiveNote, LiveReading, State, Take
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.screens.drawing.canvas import Canvas, Ink, Row
from trainer.screens.drawing.due_mark import ARROW, with_due
from trainer.screens.drawing.large_figures import count_rows, figure_rows, spoken_rows
from trainer.screens.drawing.systems import System
from trainer.screens.drawing.tempos import tempo_line
from trainer.screens.drawing.time_line import take_answers, timing_row
from trainer.screens.drawing.trail import TrailPen, off_columns, trail_rows

WIDTH = 50
NOTES = tuple(
    Note(index, Pitch.parse(name), Fraction(index), Fraction(1), Start.TONGUED)
    for index, name in enumerate(("D4", "E4", "F4", "G4"))
)
LINE = System(NOTES, start=Fraction(0), beats=Fraction(4), left=8, beat_columns=10)
READING = LiveReading(
    time_s=1.0, midi=64.0, cents=4.0, level_db=-20.0, note_index=1, off_beat_ms=None
)


def texts(rows: tuple[Row, ...]) -> list[str]:
    return [row.text for row in rows]


def trail_of(cents: float, height: int = 5) -> list[str]:
    return texts(trail_rows(LINE, {20: cents}, height, WIDTH, 10.0, ()))


@pytest.mark.parametrize(
    ("cents", "row", "mark"),
    [
        (0.0, 2, "━"),
        (10.0, 2, "━"),
        (-9.0, 2, "━"),
        (15.0, 2, "▀"),
        (-15.0, 2, "▄"),
        (25.0, 1, "▄"),
        (-25.0, 3, "▀"),
        (35.0, 1, "▀"),
        (-35.0, 3, "▄"),
        (49.0, 0, "▄"),
    ],
)
def test_sharp_lies_above_the_middle_and_flat_below(cents: float, row: int, mark: str) -> None:
    drawn = trail_of(cents)
    assert drawn[row][20] == mark
    assert [line[20] for line in drawn].count(" ") == (4 if row == 2 else 3)


def test_a_trail_never_leaves_its_rows() -> None:
    assert trail_of(50.0, height=1)[0][20] != " "
    assert trail_of(-50.0, height=3)[2][20] == "▄"


def test_the_pen_draws_a_note_as_long_as_it_is_held() -> None:
    pen = TrailPen(LINE, beat_s=1.0)
    pen.draw(replace(READING, time_s=3 + step / 10) for step in range(6))
    assert sorted(pen.trail) == list(range(19, 25))


def test_the_pen_leaves_out_other_notes_and_silence() -> None:
    pen = TrailPen(LINE, beat_s=1.0)
    pen.draw([replace(READING, cents=None), replace(READING, cents=80.0)])
    pen.draw([replace(READING, note_index=None), replace(READING, note_index=40)])
    assert pen.trail == {}


@pytest.mark.parametrize(
    ("off_ms", "around"),
    [(0.0, " ▪ "), (-29.0, " ▪ "), (45.0, " ╷▶"), (-45.0, "◀╷ "), (90.0, " ╷▶")],
)
def test_early_lies_left_of_the_beat_and_late_right(off_ms: float, around: str) -> None:
    (row,) = timing_row(LINE, [LiveNote(2, 65.0, 0.0, off_ms)], WIDTH)
    beat = LINE.column(2) + 1
    drawn = row.text[beat - 1 : beat + 2]
    assert drawn == around


@pytest.mark.parametrize("stands_out", [True, False])
def test_only_what_stands_out_is_inked_as_off(stands_out: bool) -> None:
    (row,) = timing_row(LINE, [LiveNote(2, 65.0, 0.0, 45.0, stands_out)], WIDTH)
    assert (Ink.OFF in row.inks) is stands_out
    pen = TrailPen(LINE, beat_s=1.0)
    pen.draw([replace(READING, cents=25.0, settled_cents=24.0 if stands_out else None)])
    drawn = trail_rows(LINE, pen.trail, 1, WIDTH, 10.0, off_columns(pen.settled, 10.0))
    assert (Ink.OFF in drawn[0].inks) is stands_out


def test_two_arrows_are_far_off_and_a_cross_was_not_heard() -> None:
    answers = [LiveNote(0, None, None, None), LiveNote(1, 64.0, 0.0, 90.0)]
    (row,) = timing_row(LINE, answers, WIDTH)
    assert row.text[9] == "×"
    assert row.text[20:22] == "▶▶"


def test_after_the_round_the_line_shows_the_places_that_were_judged() -> None:
    """Not the onsets against the beat: all of these come half a second after it."""
    played = [
        HeardNote(note.index, note.pitch, State.PLAYED, midi=60.0, onset_s=float(note.beat) + 0.5)
        for note in NOTES[:3]
    ]
    take = Take(48000, 440.0, 0.0, (*played, HeardNote(3, NOTES[3].pitch, State.MISSED)))
    answers = take_answers(take, (0.0, 45.0, None, None), LINE, frozenset())
    assert [answer.off_beat_ms for answer in answers] == [0.0, 45.0, None, None]
    assert answers[3].midi is None
    (row,) = timing_row(LINE, answers, WIDTH)
    assert row.text[LINE.column(0) + 1] == "▪"
    assert row.text[LINE.column(1) + 2] == "▶"
    assert row.text[LINE.column(2) + 1] == "╷", "no place, as after a breath"


def test_tempos_of_a_climb_keep_the_last() -> None:
    assert tempo_line((60, 63, 66), 69, 40) == "60  63  66 → 69"
    assert tempo_line(tuple(range(60, 100, 2)), 100, 24) == "…  92  94  96  98 → 100"
    assert tempo_line((60,), None, 1) == "60"


def test_figures_stand_three_rows_high() -> None:
    for text in ("0123456789", "2:00"):
        rows = figure_rows(text)
        assert len(rows) == 3
        assert {len(row) for row in rows} == {6 * len(text) - 1}


def test_counts_to_come_are_dots() -> None:
    rows = texts(count_rows(2, 4, 60, 6))
    assert sum(row.count("·") for row in rows) == 2


def test_words_are_centred_and_never_wider_than_the_screen() -> None:
    (row, *_) = spoken_rows(["word"], 20, 1)
    assert row.text == "        word        "
    assert len(spoken_rows(["w" * 90], 20, 1)[0].text) == 20


def test_the_note_due_is_marked_by_a_shape() -> None:
    canvas = Canvas(20, 3)
    canvas.put(0, 1, "─" * 20, Ink.LINE)
    rows = with_due(canvas.rows(), 8, 0)
    assert rows[0].text[9:11] == ARROW
    assert rows[1].text == "─" * 20
    assert rows[1].inks[8:12] == (Ink.BAND_LINE,) * 4
    assert rows[2].inks[7] is Ink.PAPER
