"""One note held and one note struck again: neither may be taken for the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from tests.ear.made_flute import as_expected, blown, sounded
from tests.ear.steady_tones import in_diffuse_room, steady
from trainer.ear.alignment import repeated_notes
from trainer.ear.alignment.align import Answer
from trainer.ear.alignment.repeated_notes import (
    Recut,
    as_struck,
    hidden_notes,
    repeat_groups,
    repeated_as_asked,
)
from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.frames import Frames
from trainer.ear.analysis.order_statistics import slope
from trainer.ear.hear import hear
from trainer.ear.heard import Room, State
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import LIKELY, UNASKED, again_chances
from trainer.ear.segments.reattacks import Reattack
from trainer.ear.segments.stroke_place import stroke_place
from trainer.music.note import Start
from trainer.music.tuning import Tuning

RATE = 44100


def test_one_doubtful_dip_is_no_start() -> None:
    assert again_chances(np.array([1.0]), UNASKED)[0] < LIKELY
    assert again_chances(np.array([4.0]), UNASKED)[0] > LIKELY


def test_a_doubtful_dip_among_strokes_is_one_and_among_sways_is_none() -> None:
    among_strokes = again_chances(np.array([4.0] * 8 + [0.0]), UNASKED)
    among_sways = again_chances(np.array([-5.0] * 8 + [2.0]), UNASKED)
    assert among_strokes[-1] > LIKELY
    assert among_sways[-1] < LIKELY


def test_doubtful_dips_do_not_bear_each_other_out() -> None:
    assert (again_chances(np.full(12, -0.5), UNASKED) < LIKELY).all()


def test_without_a_dip_there_is_no_chance() -> None:
    assert again_chances(np.zeros(0), UNASKED).size == 0


def test_repeats_are_told_by_pitch() -> None:
    groups = repeat_groups(np.array([72.0, 74.0, 74.1, 74.0, 72.0]))
    assert groups.tolist() == [0, 1, 1, 1, 2]


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_one_held_note_is_not_taken_for_two_that_were_asked(seed: int) -> None:
    sound = in_diffuse_room(np.pad(0.5 * steady(79, 1.2), (round(0.4 * RATE), RATE)), 0.4, -3, seed)
    dice = np.random.default_rng(seed)
    noisy = (sound + 10 ** (-66 / 20) * dice.standard_normal(sound.size)).astype(np.float32)
    take = hear(noisy, RATE, as_expected([79, 79]), 100, Tuning(), None)
    assert [note.state for note in take.expected_notes].count(State.PLAYED) == 1


def test_soft_strokes_are_told_from_a_held_note_in_a_live_room() -> None:
    """Six a second, in a room of 0.8 s that leaves hardly a dip; and one note with vibrato."""
    dice = np.random.default_rng(0)
    soft = blown([86] * 12, 90, Start.LEGATO_TONGUE, dice)
    one = replace(soft[0], end_s=soft[-1].end_s, vibrato_hz=5.5, vibrato_cents=15.0)
    for notes, least, most in ((soft, 12, 12), ([one], 0, 1)):
        dry = sounded(notes, RATE, dice, noise_db=-40)
        sound = in_diffuse_room(dry, 0.8, 0, 0).astype(np.float32)
        take = hear(sound, RATE, as_expected([86] * 12), 90, Tuning(), None)
        heard = [note.state for note in take.expected_notes].count(State.PLAYED)
        assert least <= heard <= most


def test_the_slope_is_that_of_a_straight_line_through_all() -> None:
    """numpy's polyfit as the second opinion."""
    track = np.random.default_rng(3).standard_normal(40)
    assert slope(track, 0.01) == pytest.approx(np.polyfit(0.01 * np.arange(40), track, 1)[0])


def test_a_note_struck_again_begins_at_its_stroke_and_not_inside_the_one_before() -> None:
    """At eight a second, the wave of one going on in the next as if it had never stopped: then the
    tone before is all but the rise that is looked for."""
    step_s, count = 0.125, 12
    sound = np.pad(steady(79, count * step_s), round(0.4 * RATE))
    strokes_s = 0.4 + step_s * np.arange(count)
    time_s = np.arange(sound.size) / RATE
    for at_s in strokes_s[1:]:
        sound *= np.clip(np.abs(time_s - at_s + 0.01) / 0.01, 0, 1) ** 2
    noisy = (sound + 1e-4 * np.random.default_rng(4).standard_normal(sound.size)).astype(np.float32)
    take = hear(noisy, RATE, as_expected([79] * count), 120, Tuning(), None)
    late_s = np.array([note.onset_s for note in take.expected_notes], float) - strokes_s
    assert np.abs(late_s[1:]).max() < 0.015


@pytest.mark.parametrize(
    ("rise_s", "burst_db", "stroke_s"),
    [(0.99, 2.0, 0.99), (0.93, 2.0, 1.0), (1.07, 2.0, 1.0), (0.97, 18.0, 0.97)],
)
def test_a_stroke_inside_a_sound_lies_where_it_was_heard_unless_a_rise_near_it_or_a_burst_says_more(
    rise_s: float, burst_db: float, stroke_s: float
) -> None:
    silent = np.zeros(2000)
    features: Any = SimpleNamespace(envelope=Envelope(0.001, silent, silent))
    edge: Any = SimpleNamespace(
        begin_s=rise_s, transient_s=rise_s, transient_db=burst_db, dip_db=0.0
    )
    before = NoteSegment(74.0, 0.5, 0.99, -20.0)
    again = NoteSegment(74.0, 0.99, 1.5, -20.0, again_s=1.0)
    place = stroke_place(features, edge, Start.TONGUED, again, before, is_said=True)
    assert place.stroke_s == stroke_s


STEP_S = 0.25
STRUCK, NOT_STRUCK, HIDDEN = 7.0, -7.0, -2.0
"""Log odds of dips as the network gives them: strokes and held notes dry, and in live rooms."""


DULL = Room(0.4, ring_db=-12.0, ends=3)


def _silence(steps: int, room: Room | None = DULL) -> Any:
    """Features of so many milliseconds in which nothing sounds."""
    silent = np.zeros(steps)
    frames = Frames(0.001, 0.0, np.full(steps, np.nan), silent, silent)
    levels = Envelope(0.001, silent, silent)
    return SimpleNamespace(envelope=levels, frames=frames, room=room)


def _as_asked(
    monkeypatch: pytest.MonkeyPatch,
    odds: Sequence[float],
    *more: tuple[float, float],
    room: Room | None = DULL,
) -> tuple[list[float], int]:
    """Where one long sound is cut, in steps, and how many strokes may be hidden, when its note is
    asked once a step and a dip of so much odds stands at each; more: other dips, in steps."""
    starts = [Reattack(STEP_S * step, log) for step, log in [*enumerate(odds, start=1), *more]]
    monkeypatch.setattr(repeated_notes, "new_starts", lambda *_: starts)
    count = len(odds) + 1
    features = _silence(round(1000 * STEP_S * count), room)
    sound = NoteSegment(74.0, 0.0, STEP_S * count, -20.0)
    beats_s = STEP_S * np.arange(count)
    groups = np.zeros(count, np.int64)
    lasts_s = np.full(count, STEP_S)
    recut = repeated_as_asked(features, [sound], [Answer(0, 0)], groups, beats_s, lasts_s)
    struck_s = [part.again_s for part in recut.segments if part.again_s is not None]
    return [at_s / STEP_S for at_s in struck_s], recut.hidden[0]


def test_strokes_bear_a_doubtful_one_out_where_it_was_due(monkeypatch: pytest.MonkeyPatch) -> None:
    cuts, _ = _as_asked(monkeypatch, [STRUCK] * 7 + [HIDDEN])
    assert cuts == [1, 2, 3, 4, 5, 6, 7, 8]


def test_a_note_held_on_among_strokes_is_missed(monkeypatch: pytest.MonkeyPatch) -> None:
    cuts, hidden = _as_asked(monkeypatch, [STRUCK, NOT_STRUCK, STRUCK, STRUCK, STRUCK])
    assert (cuts, hidden) == ([1, 3, 4, 5], 0)


def test_a_held_note_is_not_cut_because_it_should_have_been(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert _as_asked(monkeypatch, [NOT_STRUCK] * 9) == ([], 0)


def test_one_stroke_is_not_two_notes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two are due near the only start that is heard: one answers, of the other nothing is said."""
    again = Reattack(0.46, STRUCK)
    monkeypatch.setattr(repeated_notes, "new_starts", lambda *_: [again])
    sound, due_s = NoteSegment(74.0, 0.0, 0.9, -20.0), np.array([0.0, 0.37, 0.55])
    groups, lasts_s = np.zeros(3, np.int64), np.array([0.37, 0.18, 0.35])
    recut = repeated_as_asked(_silence(900), [sound], [Answer(0, 0)], groups, due_s, lasts_s)
    assert len(recut.segments) == 2
    assert recut.hidden[0] == 1


@pytest.mark.parametrize(
    ("room", "hidden"),
    [
        (Room(0.8, -6.0, ends=5), 0),
        (Room(2.0, -6.0, ends=5), 9),
        (Room(2.0, -6.0, ends=1), 9),
        (None, 9),
    ],
)
def test_no_stroke_is_missed_where_a_hall_may_hide_it(
    monkeypatch: pytest.MonkeyPatch, room: Room | None, hidden: int
) -> None:
    """One note's end is enough for a doubt, and so is a place of which nothing is known."""
    assert _as_asked(monkeypatch, [NOT_STRUCK] * 9, room=room) == ([], hidden)


def test_strokes_as_likely_as_not_are_not_judged(monkeypatch: pytest.MonkeyPatch) -> None:
    cuts, hidden = _as_asked(monkeypatch, [STRUCK, STRUCK, -3.2, -3.2, -3.2, -3.2, -3.2])
    assert cuts == [1, 2]
    assert hidden > 0


def test_a_dip_beside_a_stroke_that_was_asked_is_no_extra_note(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    beside, between = (2.3, STRUCK), (3.5, STRUCK)
    cuts, _ = _as_asked(monkeypatch, [STRUCK] * 6, beside, between)
    assert cuts == [1, 2, 3, 3.5, 4, 5, 6]


def test_notes_whose_strokes_may_be_hidden_are_not_judged() -> None:
    groups = np.array([0, 0, 0, 1])
    answers = [Answer(0, 0), Answer(1, 3)]
    assert hidden_notes(answers, groups, {0: 2}) == {1, 2}
    assert hidden_notes(answers, groups, {0: 0}) == frozenset()


@pytest.mark.parametrize(
    ("odds", "at_s", "lasts_s", "count"),
    [
        (4.0, 0.5, np.nan, 1),
        (STRUCK, 0.5, np.nan, 2),
        (STRUCK, 0.09, np.nan, 1),
        (3.5, 0.5, 0.5, 2),
        (3.5, 0.75, 0.5, 1),
        (4.0, 0.5, 0.9, 1),
    ],
    ids=[
        "doubtful",
        "sure",
        "hardly begun",
        "it lasts for two",
        "off the time of the second",
        "it lasts for one",
    ],
)
def test_a_note_asked_once_is_two_only_where_it_surely_started_again_and_has_long_begun(
    monkeypatch: pytest.MonkeyPatch, odds: float, at_s: float, lasts_s: float, count: int
) -> None:
    assert again_chances(np.array([odds]), UNASKED)[0] > LIKELY
    monkeypatch.setattr(repeated_notes, "new_starts", lambda *_: [Reattack(at_s, odds)])
    features = _silence(1000)
    found = [NoteSegment(74.0, 0.0, at_s, -20.0), NoteSegment(74.0, at_s, 1.0, -20.0)]
    answers = [Answer(0, 0), Answer(1, None)]
    one = np.zeros(1, np.int64)
    recut = repeated_as_asked(features, found, answers, one, np.zeros(1), np.array([lasts_s]))
    assert len(recut.segments) == count


@pytest.mark.parametrize(
    ("steps", "given", "notes", "struck"),
    [
        ((0, 1, 3, 5), (2, 3, 4, 5), 7, (0, 1, 3, 5)),
        ((0, 1, 2), (1, 2, 3), 7, (1, 2, 3)),
        ((0, 1, 2), (1, 2, 3), 6, (0, 1, 2)),
    ],
    ids=["two hidden among six", "the first of six left out", "with nothing after to tell"],
)
def test_a_stroke_answers_the_note_at_which_it_lies(
    steps: Sequence[int], given: Sequence[int], notes: int, struck: Sequence[int]
) -> None:
    """Six times one note; a seventh is another."""
    parts = tuple(NoteSegment(74.0, STEP_S * step, STEP_S * (step + 1), -20.0) for step in steps)
    recut = Recut(parts, {0: 2}, {0: dict(zip(parts, steps, strict=True))})
    answers = [Answer(place, index) for place, index in enumerate(given)]
    found = as_struck(answers, recut, np.repeat([0, 1], [6, notes - 6]))
    assert tuple(answer.index for answer in found) == struck
