"""A take worked on while it sounds is heard as if it had come all at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from tests.bench.ear.takes import made
from tests.ear.conftest import FIRST_S, RATE, scored
from tests.ear.made_flute import as_expected, blown, in_a_room, scale, sounded
from tests.sweeps import mostly_slow
from trainer.ear.analysis.frames import Samples
from trainer.ear.heard import State, Take
from trainer.ear.segments import transition as boundary
from trainer.ear.segments.tone_change import Side
from trainer.ear.segments.transition import Transition
from trainer.ear.take_listener import TakeListener
from trainer.music.note import Note, Start
from trainer.music.tuning import Tuning


def _same(one: Take, other: Take) -> bool:
    return one.notes == other.notes and one.breaths_s == other.breaths_s


@pytest.mark.parametrize("piece", mostly_slow([480, 1600, 20011], 2))
@pytest.mark.parametrize("room_s", [0.0, 0.3])
def test_pieces_of_any_size_give_the_same_take(piece: int, room_s: float) -> None:
    got = scored(Start.TONGUED, 100, room_s)
    listening = TakeListener(RATE, got.expected, 100, Tuning())
    for first in range(0, got.samples.size, piece):
        listening.feed(got.samples[first : first + piece])
    assert _same(listening.take(FIRST_S), got.take)


def _examined_after_the_end(
    monkeypatch: pytest.MonkeyPatch, samples: Samples, expected: Sequence[Note], bpm: float
) -> int:
    """How many seams of a take are left to examine when the round is over."""
    listening = TakeListener(RATE, expected, bpm, Tuning())
    for first in range(0, samples.size, 1600):
        listening.feed(samples[first : first + 1600])
    examined: list[Side] = []

    def seam(*given: Any) -> Transition:
        examined.append(given[-1])
        return boundary.transition(*given)

    monkeypatch.setattr("trainer.ear.segments.segment_measures.transition", seam)
    listening.take(FIRST_S)
    return len(examined)


def test_most_is_done_before_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Seams are the dearest part: few are left to examine when the round is over."""
    got = scored(Start.TONGUED, 60)
    left = _examined_after_the_end(monkeypatch, got.samples, got.expected, 60)
    assert left < len(got.expected) / 3


def test_repeated_notes_are_not_examined_again_once_their_room_is_known(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The first note that ends in silence is the last one: until then nothing tells whether the
    room fills the gaps between strokes, and both networks are asked where they lie. A place a step
    of theirs beside it brought 45 seams of 84."""
    dice = np.random.default_rng(2)
    midis = [int(midi) for midi in np.repeat(scale(67, 84), 4)]
    dry = sounded(blown(midis, 90, Start.TONGUED, dice, FIRST_S), RATE, dice)
    sound = np.asarray(in_a_room(dry, RATE, 0.4, dice), np.float32)
    left = _examined_after_the_end(monkeypatch, sound, as_expected(midis), 90)
    assert left < len(midis) / 5


def test_what_only_the_notes_asked_for_tell_is_known_before_the_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Fast slurs: where the fingers change a sound too short for a note may be one that sways, or
    the notes that was missed. Decided only when the round was over, it left 62 seams of 344."""
    dice = np.random.default_rng(3)
    midis = [int(midi) for midi in [*scale(60, 96), *scale(60, 96)[::-1]] * 4]
    sound = sounded(blown(midis, 160, Start.SLURRED, dice, FIRST_S), RATE, dice)
    sound = np.asarray(in_a_room(sound, RATE, 0.4, dice), np.float32)
    left = _examined_after_the_end(monkeypatch, sound, as_expected(midis, Start.SLURRED), 160)
    assert left < len(midis) / 8


def test_a_leaking_click_is_taken_out_as_it_comes() -> None:
    """The leak 20 dB below the flute."""
    take = made(Start.TONGUED, 100, 0.0, 31, leak=True)
    bare = made(Start.TONGUED, 100, 0.0, 31)
    listening = TakeListener(RATE, take.expected, 100, Tuning(), take.clicks)
    for first in range(0, take.samples.size, 1600):
        listening.feed(take.samples[first : first + 1600])
    heard = listening.take(FIRST_S)
    assert heard.count(State.MISSED) == heard.count(State.EXTRA) == 0
    late_s = np.array([n.onset_s for n in heard.expected_notes]) - bare.onsets_s
    assert np.mean(np.abs(late_s) < 0.025) >= 0.995
