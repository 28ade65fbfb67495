"""A long recording, heard in stretches: as much as whole, in the memory of one stretch."""

from __future__ import annotations

import tracemalloc
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.ear.made_flute import as_expected
from tests.ear.recorded import RATE, single_notes, stitched
from trainer.ear.analysis import stretches as cut
from trainer.ear.analysis.stretches import stretches
from trainer.ear.hear import hear
from trainer.ear.heard import HeardNote, Take
from trainer.ear.long_take import hear_long, transcribe_long
from trainer.ear.transcribe import transcribe
from trainer.music.tuning import Tuning

Sound = NDArray[np.float32]
LONGEST_S = 16.0
TEMPO_BPM = 170.0
FEW = 2
"""Of some 65 notes: each stretch has its own loudness and pitch to go by."""


def blocks(sound: Sound) -> Iterator[Sound]:
    return iter(np.array_split(sound, max(1, sound.size // 50_000)))


def nothing(_: float) -> None:
    pass


@pytest.fixture
def _short_stretches(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cut, "LONGEST_S", LONGEST_S)


short_stretches = pytest.mark.usefixtures("_short_stretches")


def tones(*spans_s: tuple[float, float], length_s: float, rate: int = 16000) -> Sound:
    """A tone of A4 that sounds in these spans, over a little noise."""
    time_s = np.arange(round(length_s * rate)) / rate
    on = np.any([(time_s >= a) & (time_s < b) for a, b in spans_s], axis=0)
    noise = 1e-4 * np.random.default_rng(0).standard_normal(time_s.size)
    return (0.3 * on * np.sin(2 * np.pi * 440 * time_s) + noise).astype(np.float32)


@short_stretches
def test_stretches_are_cut_in_rests_and_lose_nothing() -> None:
    rests_s = [(6.0, 11.0), (14.0, 14.8), (20.0, 20.8), (32.0, 37.0)]
    edges_s = [0.0, *(at_s for rest in rests_s for at_s in rest), 42.0]
    sound = tones(*zip(edges_s[::2], edges_s[1::2], strict=True), length_s=42.0)
    found = list(stretches(blocks(sound), 16000))
    assert np.array_equal(np.concatenate([part for _, part in found]), sound)
    assert all(part.size <= LONGEST_S * 16000 for _, part in found)
    assert [first for first, _ in found] == [
        *np.cumsum([0, *(part.size for _, part in found[:-1])])
    ]
    for first, _ in found[1:]:
        assert any(a + 0.2 < first / 16000 < b - 0.2 for a, b in rests_s), first / 16000


@short_stretches
def test_playing_without_a_rest_is_cut_all_the_same() -> None:
    found = list(stretches(blocks(tones((0.0, 40.0), length_s=40.0)), 16000))
    assert len(found) >= 3
    assert all(part.size <= LONGEST_S * 16000 for _, part in found)


@pytest.fixture(scope="module")
def played() -> tuple[Sound, list[int]]:
    """Half a minute of recorded notes, five at a time with a rest between."""
    dice = np.random.default_rng(3)
    pool = [n for n in single_notes() if n.length == "025" and n.dynamic == "mezzo-forte"]
    if not pool:
        pytest.skip("the real recordings are not beside the project")
    parts, midis = [], list[int]()
    for _ in range(12):
        notes = [pool[place] for place in dice.integers(0, len(pool), 5)]
        sound, _ = stitched(notes, 60 / TEMPO_BPM)
        parts += [sound, np.zeros(round(dice.uniform(0.1, 1.0) * RATE))]
        midis += [note.midi for note in notes]
    sound = np.concatenate(parts)
    sound = 0.3 * sound / np.abs(sound).max() + 1e-4 * dice.standard_normal(sound.size)
    return sound.astype(np.float32), midis


def unlike(one: Take, other: Take) -> int:
    """How many notes of one are not in the other, at the same time, pitch and place."""

    def is_it(note: HeardNote, seen: HeardNote) -> bool:
        if (note.index, note.state) != (seen.index, seen.state):
            return False
        if note.onset_s is None or seen.onset_s is None or note.midi is None or seen.midi is None:
            return note.onset_s is seen.onset_s
        return abs(note.onset_s - seen.onset_s) < 0.03 and abs(note.midi - seen.midi) < 0.5

    return sum(not any(is_it(note, seen) for seen in other.notes) for note in one.notes)


def unnumbered(take: Take) -> Take:
    return replace(take, notes=tuple(replace(note, index=None) for note in take.notes))


@short_stretches
@pytest.mark.slow
def test_in_stretches_as_much_is_heard_as_whole(played: tuple[Sound, list[int]]) -> None:
    sound, _ = played
    seen: list[float] = []
    parts = transcribe_long(blocks(sound), RATE, Tuning(), seen.append)
    assert len(seen) >= 3
    assert seen[-1] == pytest.approx(sound.size / RATE)
    assert [note.index for note in parts.notes] == list(range(len(parts.notes)))
    parts, whole = unnumbered(parts), unnumbered(transcribe(sound, RATE, Tuning()))
    assert max(unlike(parts, whole), unlike(whole, parts)) <= FEW


@short_stretches
def test_expected_notes_are_answered_as_in_the_whole(played: tuple[Sound, list[int]]) -> None:
    """Two notes left out by the player and one put in."""
    sound, midis = played
    expected = as_expected([*midis[:9], 60, *midis[9:30], *midis[31:50], 62, *midis[50:]])
    parts = hear_long(
        lambda: blocks(sound), RATE, expected, TEMPO_BPM, Tuning(), nothing, timed=False
    )
    whole = hear(sound, RATE, expected, TEMPO_BPM, Tuning(), None, timed=False)
    assert [n.index for n in parts.expected_notes] == [note.index for note in expected]
    assert max(unlike(parts, whole), unlike(whole, parts)) <= FEW
    # a few notes that only one of them has move the middle
    assert parts.first_beat_s == pytest.approx(whole.first_beat_s, abs=30 / TEMPO_BPM)
    onsets_s = [{n.index: n.onset_s for n in take.expected_notes} for take in (parts, whole)]
    apart_s = [
        abs(one - other)
        for index, one in onsets_s[0].items()
        if one is not None and (other := onsets_s[1].get(index)) is not None
    ]
    assert np.median(apart_s) < 0.005
    assert len(parts.breaths_s) == pytest.approx(len(whole.breaths_s), abs=2)


def test_what_is_short_is_heard_whole(played: tuple[Sound, list[int]]) -> None:
    sound, midis = played[0][: 4 * RATE], played[1][:10]
    assert transcribe_long(blocks(sound), RATE, Tuning(), nothing) == transcribe(
        sound, RATE, Tuning()
    )
    expected = as_expected(midis)
    assert hear_long(lambda: blocks(sound), RATE, expected, TEMPO_BPM, Tuning(), nothing) == hear(
        sound, RATE, expected, TEMPO_BPM, Tuning(), None
    )


def test_memory_does_not_grow_with_the_length(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cut, "LONGEST_S", 2.0)
    bar = tones((0.1, 0.4), (0.6, 0.9), length_s=1.0)

    def most_bytes(seconds: int) -> int:
        tracemalloc.start()
        transcribe_long((bar for _ in range(seconds)), 16000, Tuning(), nothing)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    most_bytes(2)  # what is loaded once
    assert most_bytes(12) < 1.2 * most_bytes(4)
