"""A room's tail is no part of how loud a note was."""

from __future__ import annotations

import numpy as np
import pytest

from tests.ear.steady_tones import RATE, in_a_row, in_diffuse_room, steady
from trainer.ear.transcribe import transcribe
from trainer.music.tuning import Tuning

MIDIS = (72, 76, 79, 76, 72, 76, 72)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("decay_s", [0.4, 0.7])
def test_the_last_note_is_heard_as_loud_as_the_same_one_before(decay_s: float, seed: int) -> None:
    """All tones are equally loud. A room moves the level of a pitch, each time it comes alike."""
    line = in_a_row(*(steady(midi, 0.14) for midi in MIDIS), gap_s=0.02)
    sound = in_diffuse_room(np.pad(line, (0, RATE // 2)), decay_s, -3.0, seed)
    noise = np.random.default_rng(2).standard_normal(sound.size) * 10 ** (-72 / 20)
    heard = transcribe((sound + noise).astype(np.float32), RATE, Tuning()).notes
    assert [round(note.midi or 0) for note in heard] == list(MIDIS)
    *_, before_db, last_db = [n.level_db for n in heard if round(n.midi or 0) == MIDIS[-1]]
    assert last_db == pytest.approx(before_db, abs=2.0)
