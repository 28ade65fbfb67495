"""In rooms no onset lies where the same note from before rings on and comes back."""

from __future__ import annotations

import numpy as np
import pytest

pytest.importorskip("librosa", reason="the bench on recorded notes reads pitch with librosa")

from tests.bench.ear.recorded.heard_by import heard_told
from tests.bench.ear.recorded.lines import played
from tests.bench.ear.recorded.notes import Part, quick_bank
from tests.bench.ear.recorded.rooms import ROOMS, place
from tests.bench.ear.recorded.scores import line_of


@pytest.mark.usefixtures("recordings")
@pytest.mark.parametrize(
    ("seed", "number", "room"),
    [
        pytest.param(2807, 15, 4, id="D6 after F6 and D6 in 0.8 s, put 92 ms early before"),
        pytest.param(2707, 13, 3, id="A#6 likewise in 0.7 s, put surely 123 ms early before"),
    ],
)
def test_no_high_note_lies_where_the_same_one_comes_back(seed: int, number: int, room: int) -> None:
    notes = quick_bank(Part.HELD_OUT)
    score = line_of(Part.HELD_OUT, seed + number, notes)
    dice = np.random.default_rng([seed, number, 1])
    line = played(score.strokes(dice), notes, dice)
    heard = heard_told(place(ROOMS[room], seed + number).heard(line.samples), score.asked)
    onsets_s = np.array([note.onset_s for note in heard if note.index is not None], float)
    assert np.abs(onsets_s - [note.stroke_s for note in line.notes]).max() < 0.05
