"""Beneath what rings of one note the next may have sounded: then it isn't called missed."""

from __future__ import annotations

import numpy as np
import pytest

from tests.ear.steady_tones import in_diffuse_room, measured, steady
from trainer.ear.alignment.align import Answer
from trainer.ear.alignment.expected_times import Due
from trainer.ear.alignment.traced_notes import traced_notes
from trainer.ear.segments.note_segment import NoteSegment

E4, A4, B4 = 64.0, 69.0, 71.0
DUE = [Due(E4, 0.0, 0.25), Due(B4, 0.25, 0.5), Due(A4, 0.5, 0.75)]
"""A rings from the first note's end to the third, which has its place; B was due between them."""


@pytest.mark.parametrize(
    ("beneath", "softer_db", "traced"),
    [(B4, 8.0, {1}), (B4, 40.0, set()), (66.0, 0.0, set())],
    ids=["the note itself", "only what the air lets through", "another note"],
)
def test_a_note_is_missed_where_nothing_of_its_own_sounds(
    beneath: float, softer_db: float, traced: set[int]
) -> None:
    """Two neighbours in even playing stand within some decibels (common practice, no source)."""
    rings = np.concatenate([steady(E4, 0.25), steady(A4, 0.5)])
    under = np.concatenate([np.zeros(11025), steady(beneath, 0.25), np.zeros(11025)])
    size = min(rings.size, under.size)
    features = measured(rings[:size] + under[:size] * 10 ** (-softer_db / 20))
    found = [NoteSegment(E4, 0.0, 0.25, -20.0), NoteSegment(A4, 0.25, 0.75, -20.0)]
    assert traced_notes(features, found, [Answer(0, 0), Answer(1, 2)], DUE) == traced


@pytest.mark.parametrize(("blown", "traced"), [(True, {1}), (False, set())])
def test_the_octave_of_the_note_before_is_not_missed_where_it_begins(
    blown: bool, traced: set[int]
) -> None:
    """It has no harmonic for itself while the lower note rings."""
    octave = np.concatenate([np.zeros(11025), steady(E4 + 12, 0.25), np.zeros(11025)])
    rings = np.concatenate([steady(E4, 0.5), steady(A4, 0.25)])
    size = min(rings.size, octave.size)
    features = measured(rings[:size] + blown * octave[:size])
    found = [NoteSegment(E4, 0.0, 0.5, -20.0), NoteSegment(A4, 0.5, 0.75, -20.0)]
    due = [DUE[0], Due(E4 + 12, 0.25, 0.5), DUE[2]]
    assert traced_notes(features, found, [Answer(0, 0), Answer(1, 2)], due) == traced


@pytest.mark.parametrize(("second", "traced"), [(E4 + 12, {1, 2}), (E4, set())])
def test_octaves_under_which_a_low_note_rings_are_not_missed(
    second: float, traced: set[int]
) -> None:
    """The low note seems to go on over both; where it does they were left out."""
    line = np.concatenate([steady(E4, 1.0), steady(second, 1.0), steady(second, 1.0)])
    features = measured(in_diffuse_room(line, 1.4, 0.0)[: line.size])
    found = [NoteSegment(E4, 0.0, 3.0, -20.0)]
    due = [Due(E4, 0.0, 1.0), Due(E4 + 12, 1.0, 2.0), Due(E4 + 12, 2.0, 3.0)]
    assert traced_notes(features, found, [Answer(0, 0)], due) == traced


@pytest.mark.parametrize(("blown", "traced"), [(True, {1}), (False, set())])
def test_a_neighbour_heard_as_high_as_the_note_draws_it_hides_none_of_it(
    blown: bool, traced: set[int]
) -> None:
    """What a room mixes of two notes is heard between them; it has the harmonics of the lower. The
    note is played darker than where it comes again."""
    e4, f4, g4 = (np.array(steady(midi, 0.25)) for midi in (E4, E4 + 1, E4 + 3))
    dark = np.array(steady(E4 + 1, 0.25, (1, 0.01, 0.003)))
    played = np.concatenate([e4, dark if blown else e4, g4, f4])
    found = [
        NoteSegment(E4 + 0.3, 0.0, 0.5, -20.0),
        NoteSegment(E4 + 3, 0.5, 0.75, -20.0),
        NoteSegment(E4 + 1, 0.75, 1.0, -20.0),
    ]
    due = [DUE[0], Due(E4 + 1, 0.27, 0.42), Due(E4 + 3, 0.5, 0.75), Due(E4 + 1, 0.75, 1.0)]
    answers = [Answer(0, 0), Answer(1, 2), Answer(2, 3)]
    assert traced_notes(measured(played), found, answers, due) == traced


@pytest.mark.parametrize(("played", "traced"), [(B4, {1}), (66.0, set())])
def test_a_note_is_not_missed_where_it_sounds_at_another_place_it_may_have(
    played: float, traced: set[int]
) -> None:
    """Its place between the notes that were found says nothing where one of them is another."""
    features = measured(np.concatenate([steady(E4, 0.25), steady(A4, 0.25), steady(played, 0.25)]))
    found = [NoteSegment(E4, 0.0, 0.25, -20.0), NoteSegment(A4, 0.25, 0.5, -20.0)]
    due = [DUE[0], Due(B4, 0.12, 0.25), Due(A4, 0.25, 0.5)]
    answers = [Answer(0, 0), Answer(1, 2)]
    assert traced_notes(features, found, answers, due) == set()
    also_due = [due[0], Due(B4, 0.5, 0.75), due[2]]
    assert traced_notes(features, found, answers, due, [also_due]) == traced


@pytest.mark.parametrize("earlier_s", [0.0, 0.5, 3.0])
def test_what_was_due_before_the_take_began_leaves_no_trace(earlier_s: float) -> None:
    """Who comes in too soon has played it before anything was listened to; who joins in at a later
    note seems to have begun long before: such a round was given up with an error."""
    features = measured(np.concatenate([steady(A4, 0.25), steady(B4, 0.25)]))
    found = [NoteSegment(A4, 0.0, 0.25, -20.0), NoteSegment(B4, 0.25, 0.5, -20.0)]
    before = [
        Due(midi, from_s - earlier_s, from_s + 0.25 - earlier_s)
        for midi, from_s in ((E4, -0.5), (E4 + 12, -0.25))
    ]
    due = [*before, Due(A4, 0.0, 0.25), Due(B4, 0.25, 0.5)]
    assert traced_notes(features, found, [Answer(0, 2), Answer(1, 3)], due) == set()


@pytest.mark.parametrize(("blown", "traced"), [(True, {1}), (False, set())])
def test_a_half_step_is_held_to_what_it_has_for_itself_elsewhere(
    blown: bool, traced: set[int]
) -> None:
    """Low down its strong harmonics all lie near its neighbour's: what is left is soft anyway."""
    dark = (1, 0.3, 0.04, 0.01)
    f4, g4 = (np.array(steady(midi, 0.25, dark)) for midi in (E4 + 1, E4 + 3))
    beneath = np.concatenate([np.zeros(f4.size), blown * f4, np.zeros(2 * f4.size)])
    features = measured(np.concatenate([steady(E4, 0.5, dark), g4, f4]) + beneath)
    found = [
        NoteSegment(E4, 0.0, 0.5, -20.0),
        NoteSegment(E4 + 3, 0.5, 0.75, -20.0),
        NoteSegment(E4 + 1, 0.75, 1.0, -20.0),
    ]
    due = [DUE[0], Due(E4 + 1, 0.25, 0.5), Due(E4 + 3, 0.5, 0.75), Due(E4 + 1, 0.75, 1.0)]
    answers = [Answer(0, 0), Answer(1, 2), Answer(2, 3)]
    assert traced_notes(features, found, answers, due) == traced
