"""Where a note is due that was not found, by those around it."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.ear.alignment.align import Answer
from trainer.ear.alignment.expected_times import due_from, due_notes
from trainer.ear.segments.note_segment import NoteSegment

BEATS_S = np.arange(8) * 0.5
"""Eight notes, asked for at two a second."""


@pytest.mark.parametrize("pace", [0.8, 1.0, 1.25])
def test_a_player_with_another_tempo_is_met_there(pace: float) -> None:
    """The first two and the last notes were missed; the player's seconds are `pace` as long."""
    found = [3, 4, 6]
    sounds = [
        NoteSegment(74.0, 1.0 + pace * BEATS_S[n], 1.4 + pace * BEATS_S[n], -20.0) for n in found
    ]
    answers = [Answer(place, index) for place, index in enumerate(found)]
    due = due_notes(sounds, answers, np.full(8, 74.0), BEATS_S, np.full(8, 0.5))
    assert [one.from_s for one in due] == pytest.approx(list(1.0 + pace * BEATS_S))
    assert [one.to_s - one.from_s for one in due] == pytest.approx([0.5 * pace] * 8)


def test_one_note_alone_tells_no_tempo() -> None:
    sound = NoteSegment(74.0, 1.0, 1.4, -20.0)
    assert due_notes([sound], [Answer(0, 2)], np.full(8, 74.0), BEATS_S, np.full(8, 0.5)) == []


def test_a_sound_that_answers_for_another_note_squeezes_none_together() -> None:
    """The third note was heard, but it answers for the sixth: the notes between lie where they were
    played, counted from the second. All others were played in time."""
    played_s = 1.0 + BEATS_S
    answered = {0: 0, 1: 1, 5: 2, 6: 6, 7: 7}
    sounds = [NoteSegment(74.0, played_s[n], played_s[n] + 0.4, -20.0) for n in answered.values()]
    answers = [Answer(place, index) for place, index in enumerate(answered)]
    after, before = due_from(sounds, answers, np.full(8, 74.0), BEATS_S, np.full(8, 0.5))
    assert [after[n].from_s for n in (2, 3, 4)] == pytest.approx(list(played_s[2:5]))
    assert [before[n].from_s for n in (2, 3, 4)] == pytest.approx(list(played_s[2:5] - 1.5))
    due = due_notes(sounds, answers, np.full(8, 74.0), BEATS_S, np.full(8, 0.5))
    assert due[4].from_s < played_s[2]
