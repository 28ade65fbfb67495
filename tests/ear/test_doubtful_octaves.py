"""A held note whose harmonics a room moves is no octave; a real octave is one.

A room takes 7 to 9 dB from the odd harmonics of a held note for a tenth of a second and more while
its even ones come out, so that the odd stand 14 to 17 dB below: recorded swells, room of 0.8 s, our
own measurement.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.ear.made_flute import as_expected
from tests.ear.test_spurious_tones import RATE, _line
from trainer.ear.hear import hear
from trainer.ear.heard import State, Take
from trainer.music.tuning import Tuning

D5 = 74


def _heard(midi: int, usual_db: tuple[float, float], meanwhile_db: tuple[float, float]) -> Take:
    """What is heard of a note asked once; levels of the odd and the even harmonics of D5, and those
    they have for a seventh of a second."""
    time_s = np.arange(round(1.6 * RATE)) / RATE
    share = np.clip(4 - np.abs(time_s - 0.8) / 0.025, 0, 1)
    hz = 440 * 2 ** ((D5 - 69) / 12)
    sound = np.zeros(time_s.size)
    for order, amount in enumerate((1.0, 0.7, 0.25, 0.25, 0.05, 0.05), start=1):
        from_db, to_db = (level_db[(order + 1) % 2] for level_db in (usual_db, meanwhile_db))
        gain = 10 ** ((from_db + (to_db - from_db) * share) / 20)
        sound += 0.06 * amount * gain * np.sin(2 * np.pi * hz * order * time_s)
    line = _line(sound)
    noisy = line + 1e-4 * np.random.default_rng(5).standard_normal(line.size)
    return hear(noisy.astype(np.float32), RATE, as_expected([midi]), 60, Tuning(), None)


@pytest.mark.parametrize("odd_db", [-10.0, -14.0])
def test_a_note_whose_odd_harmonics_a_room_takes_away_goes_on(odd_db: float) -> None:
    take = _heard(D5, (0, 0), (odd_db, 6))
    assert [note.state for note in take.notes] == [State.PLAYED]


def test_a_note_that_leaps_to_its_octave_and_back_is_heard_to() -> None:
    assert State.EXTRA in [note.state for note in _heard(D5, (0, 0), (-60, 4)).notes]


def test_the_tubes_octave_under_a_note_that_goes_on_is_no_note() -> None:
    take = _heard(D5 + 12, (-60, 0), (-6, 0))
    assert [note.state for note in take.notes] == [State.PLAYED]


def test_a_note_that_drops_to_its_octave_and_back_is_heard_to() -> None:
    assert State.EXTRA in [note.state for note in _heard(D5 + 12, (-60, 0), (4, -6)).notes]
