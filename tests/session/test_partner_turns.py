"""What the microphone heard while the partner had its turn."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.session.partner_turns import EARLY_S, PartnersTurns, partners_turns

RATE = 1000
G = Pitch.parse("G4")


def at(beat: int) -> Note:
    return Note(0, G, Fraction(beat), Fraction(1), Start.TONGUED)


def turns() -> PartnersTurns:
    """The partner in beats 0 to 3 and from 8 on, the student in between; a beat a second."""
    return partners_turns([at(4), at(5)], [at(0), at(1), at(8)], 1.0, RATE)


def test_each_turn_ends_a_little_before_the_student_comes_in() -> None:
    first, second = turns().stretches
    assert first == (0, round((4 - EARLY_S) * RATE))
    assert second[0] == 8 * RATE
    assert second[1] > 60 * RATE


def test_the_partners_turn_is_silent_and_the_students_is_as_it_was() -> None:
    heard = np.ones(10 * RATE, np.float32)
    silenced = turns().silenced(heard, 0)
    assert not silenced[: 3 * RATE].any()
    assert (silenced[4 * RATE : 7 * RATE] == 1).all()
    assert not silenced[8 * RATE :].any()


def test_pieces_give_the_same_as_the_whole() -> None:
    heard = np.random.default_rng(1).uniform(-1, 1, 10 * RATE).astype(np.float32)
    whole = turns().silenced(heard, -500)
    pieces = [turns().silenced(heard[at : at + 700], at - 500) for at in range(0, heard.size, 700)]
    np.testing.assert_array_equal(np.concatenate(pieces), whole)


def test_what_comes_before_the_first_beat_is_kept() -> None:
    heard = np.ones(RATE, np.float32)
    assert (turns().silenced(heard, -RATE)[: RATE - 50] == 1).all()


def test_without_turns_nothing_is_changed() -> None:
    heard = np.ones(10, np.float32)
    assert partners_turns([at(0)], [], 1.0, RATE).silenced(heard, 0) is heard
