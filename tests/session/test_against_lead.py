"""Which notes are shown as off the beat while the round still sounds."""

from __future__ import annotations

import pytest

from trainer.ear.heard import LiveNote
from trainer.session.round_recorder import against_lead

EVEN = (20.0, 22.0, 18.0, 21.0, 19.0, 20.0)
IN_A_ROOM = (0.0, 40.0, 75.0, 30.0, 60.0, 20.0)
"""Strokes that are found early or late as what rings over them has it."""


def shown(*off_beat_ms: float | None) -> tuple[LiveNote, ...]:
    return against_lead(tuple(LiveNote(n, 60.0, 0.0, off) for n, off in enumerate(off_beat_ms)))


def test_a_constant_lag_is_nobodys_error() -> None:
    assert [note.off_beat_ms for note in shown(*EVEN)] == [0.0, 2.0, -2.0, 1.0, -1.0, 0.0]


@pytest.mark.parametrize(("usual", "stands_out"), [(EVEN, True), (IN_A_ROOM, False)])
def test_a_late_note_stands_out_of_an_even_line_only(
    usual: tuple[float, ...], stands_out: bool
) -> None:
    *others, late = shown(*usual, None, 80.0)
    assert late.stands_out is stands_out
    assert not any(note.stands_out for note in others)


def test_of_the_first_notes_nothing_is_said() -> None:
    assert not any(note.stands_out for note in shown(0.0, 90.0))
