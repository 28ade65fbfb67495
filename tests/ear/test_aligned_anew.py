"""Aligning only where sounds have changed gives what aligning all of them gives."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from trainer.ear.alignment.aligned_anew import aligned, aligned_anew
from trainer.ear.alignment.asked_notes import ExpectedNotes, expected_notes
from trainer.ear.segments.note_segment import NoteSegment
from trainer.music.note import Note, Start
from trainer.music.ornaments import realised
from trainer.music.pitch import Pitch, sharp_name
from trainer.music.tuning import Tuning

BPM, BEAT_S = 90.0, 60.0 / 90.0
SCALE = [60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79, 77, 76, 74, 72, 71, 69, 67, 65]


def _line(times: int) -> ExpectedNotes:
    notes = [
        Note(
            index, Pitch.parse(sharp_name(midi)), Fraction(index, 4), Fraction(1, 4), Start.TONGUED
        )
        for index, midi in enumerate(SCALE * times)
    ]
    return expected_notes(realised(notes, BEAT_S), BPM, Tuning(), starts_known=True)


def _played(
    asked: ExpectedNotes, places: list[int], dice: np.random.Generator
) -> list[NoteSegment]:
    """The notes at these places, a little early or late and out of tune."""
    step_s = BEAT_S / 4
    starts_s = step_s * np.arange(len(places)) + dice.normal(0, 0.01, len(places)) + 1.0
    return [
        NoteSegment(float(asked.midi[note] + dice.normal(0, 0.1)), at_s, at_s + 0.9 * step_s, -20.0)
        for note, at_s in zip(places, starts_s.tolist(), strict=True)
    ]


def _changed(sounds: list[NoteSegment], dice: np.random.Generator) -> list[NoteSegment]:
    """The sounds, some of them left out, cut in two, heard as another pitch, or joined with the
    next."""
    now = list[NoteSegment]()
    for sound in sounds:
        what = dice.random()
        middle_s = (sound.from_s + sound.to_s) / 2
        if what < 0.01:
            continue
        if what < 0.02:
            now += [replace(sound, to_s=middle_s), replace(sound, from_s=middle_s)]
        elif what < 0.03:
            now.append(replace(sound, midi=sound.midi + float(dice.choice([-12, -1, 1, 12]))))
        elif what < 0.04 and now:
            now[-1] = replace(now[-1], to_s=sound.to_s)
        else:
            now.append(sound)
    return now


@pytest.mark.parametrize("seed", range(6))
def test_only_the_stretches_that_changed_are_aligned_again(seed: int) -> None:
    """Straight through, with notes skipped, and with a passage played twice."""
    dice = np.random.default_rng(seed)
    asked = _line(8)
    whole = list(range(len(asked.notes)))
    for places in (whole, whole[:50] + whole[55:], whole[:60] + whole[48:]):
        before = tuple(_changed(_played(asked, places, dice), dice))
        now = tuple(_changed(list(before), dice))
        anew = aligned_anew(before, aligned(before, asked), now, asked)
        assert anew == aligned(now, asked)


@pytest.mark.parametrize("count", range(1, 6))
def test_of_a_few_sounds_too(count: int) -> None:
    dice = np.random.default_rng(count)
    asked = _line(1)
    before = _played(asked, list(range(count)), dice)
    now = [replace(before[0], to_s=before[0].to_s - 0.01), *before[1:]]
    assert aligned_anew(before, aligned(before, asked), now, asked) == aligned(now, asked)


@pytest.mark.parametrize("count", range(1, 6))
def test_where_none_is_left_nothing_is_answered(count: int) -> None:
    """A first sound may turn out to be none while the take goes on."""
    asked = _line(1)
    before = _played(asked, list(range(count)), np.random.default_rng(count))
    assert aligned_anew(before, aligned(before, asked), [], asked) == ()
