"""A false note between two slurred ones, where a room hides it from all but its own harmonics."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from tests.ear.conftest import FIRST_S
from tests.ear.made_flute import Blown, as_expected, blown, in_a_room, microphoned, sounded
from tests.ear.steady_tones import RATE, in_a_row, measured, steady
from trainer.ear.alignment.third_pitches import with_third_pitches
from trainer.ear.hear import hear
from trainer.ear.heard import HeardNote, State, Take
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning

UP = [69, 71, 73, 74, 76]
LINE = [*UP, *UP[-2::-1]]
TWICE = [2, 7]
"""The second notes of the step between B4 and C#5, going up and coming down."""
FALSE = 75
BPM = 50
ROOM_S = 0.4


def _with_false(notes: list[Blown], at: list[int], midi: int) -> list[Blown]:
    """A false note of 38 ms before some of the notes: fingers of one change move tens of
    milliseconds apart (Almeida, Chow, Smith & Wolfe 2009, JASA 126:1521)."""
    found = notes[:1]
    for index, (before, now) in enumerate(pairwise(notes), start=1):
        if index in at:
            from_s = now.onset_s - 0.038
            found[-1] = replace(before, end_s=from_s)
            found.append(replace(now, midi=midi, onset_s=from_s, end_s=now.onset_s, dip_db=0.0))
        found.append(now)
    return found


def _blips(
    at: list[int],
    midis: Sequence[int] = LINE,
    false: int = FALSE,
    asked: tuple[Note, ...] | None = None,
    seed: int = 0,
) -> list[int]:
    """Where false notes are heard that sound before some of the slurred notes of a line."""
    dice = np.random.default_rng(seed)
    notes = _with_false(blown(midis, BPM, Start.SLURRED, dice, FIRST_S), at, false)
    sound = microphoned(in_a_room(sounded(notes, RATE, dice), RATE, ROOM_S, dice), dice)
    asked = asked or as_expected(midis, Start.SLURRED)
    return _said(hear(sound, RATE, asked, BPM, Tuning(), FIRST_S))


def _said(take: Take) -> list[int]:
    return [note.index for note in take.expected_notes if note.blip and note.index is not None]


@pytest.mark.parametrize("seed", range(3))
def test_the_same_false_note_up_and_down_is_heard_in_a_room(seed: int) -> None:
    assert _blips(TWICE, seed=seed) == TWICE


@pytest.mark.parametrize("at", [[], TWICE[:1], TWICE[1:]], ids=["none", "up", "down"])
def test_what_stands_out_one_way_alone_may_be_the_rooms_doing(at: list[int]) -> None:
    assert _blips(at) == []


def test_what_stands_out_whenever_it_goes_up_may_be_the_rooms_doing() -> None:
    ups = [69, 71, 73, 66, 71, 73, 69]
    assert _blips([2, 5], ups) == []


def test_what_stands_out_in_a_leap_is_the_fingers_own_way_there() -> None:
    """As a professional's slurs from B flat 5 down to F 5 have C 6 (recorded phrases)."""
    leap = [78, *UP[1:], *UP[-2:0:-1], 78]
    assert _blips([1, len(leap) - 1], leap, 80) == []


def test_a_grace_note_that_was_asked_for_is_no_false_note() -> None:
    asked = list(as_expected(LINE, Start.SLURRED))
    for index in TWICE:
        asked[index] = replace(asked[index], graces=(Pitch.parse("D#5"),))
    assert _blips(TWICE, asked=tuple(asked)) == []


@pytest.mark.parametrize(
    ("in_change_db", "before_db", "after_db", "slips"),
    [
        (-6.0, -60.0, -60.0, True),
        (-6.0, -20.0, -20.0, True),
        (-18.0, -60.0, -60.0, False),
        (-6.0, -8.0, -60.0, False),
        (-6.0, -60.0, -8.0, False),
    ],
    ids=["alone", "a room keeps some", "soft", "from before", "after it too"],
)
def test_a_false_note_is_loud_and_there_for_a_moment_only(
    in_change_db: float, before_db: float, after_db: float, slips: bool
) -> None:
    """B4 and C#5 half a second each, there and back, and D#5 beside them."""
    midis, length_s = (71, 73, 71), 0.5
    sound = in_a_row(*(steady(midi, length_s) for midi in midis))
    onsets_s = [0.4 + length_s * place for place in range(len(midis))]
    for onset_s in onsets_s[1:]:
        for from_s, to_s, level_db in (
            (-0.2, -0.07, before_db),
            (-0.05, 0.02, in_change_db),
            (0.07, 0.2, after_db),
        ):
            first = round((onset_s + from_s) * RATE)
            third = 10 ** (level_db / 20) * steady(FALSE, to_s - from_s)
            sound[first : first + third.size] += third
    asked = as_expected(midis, Start.SLURRED)
    heard = [
        HeardNote(note.index, note.pitch, State.PLAYED, onset_s=onset_s, level_db=-21.4)
        for note, onset_s in zip(asked, onsets_s, strict=True)
    ]
    found = with_third_pitches(measured(sound), heard, asked)
    assert [note.blip for note in found] == [False, slips, slips]
