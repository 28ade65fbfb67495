"""A line that stands still for a moment, and notes that a room drowns."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from trainer.coach.advice import Topic
from trainer.coach.judge import judge
from trainer.coach.observations.sounding import in_sound
from trainer.coach.words import advise
from trainer.ear.heard import State, Take
from trainer.figures.onset_places import DROWNED_DB
from trainer.routine.round import Round

Rounds = Callable[..., Round]


def stood_still(take: Take, *after: int, seconds: float = 0.3, silence: bool = False) -> Take:
    """The take with everything after these notes later; the silence heard only where asked."""
    notes, late_s = [], 0.0
    for note in take.notes:
        if note.index is not None and note.index - 1 in after:
            late_s += seconds
        moved = {} if note.onset_s is None else {"onset_s": note.onset_s + late_s}
        if note.end_s is not None:
            rings = note.index in after and not silence
            moved["end_s"] = note.end_s + late_s + (seconds if rings else 0.0)
        notes.append(replace(note, **moved))  # type: ignore[arg-type]
    return replace(take, notes=tuple(notes))


@pytest.fixture
def clean(rounds: Rounds, takes: Any) -> tuple[Round, Take]:
    round_ = rounds()
    return round_, takes(round_, 3, slips=False)


def test_where_the_line_stood_still_is_known(clean: tuple[Round, Take]) -> None:
    round_, take = clean
    marks = judge(round_, stood_still(take, 9, 30))
    assert marks.stops == (9, 30)
    assert marks.unplanned_breaths == ()


def test_a_fluent_line_never_stands_still(clean: tuple[Round, Take]) -> None:
    assert judge(*clean).stops == ()


@pytest.mark.parametrize(
    "late_s", [(0.21,), (0.32, 0.17, 0.02), (-0.2, 0.18), (0.34, 0.3, 0.24, 0.25, 0.14)]
)
def test_notes_that_are_only_late_are_no_stop(
    clean: tuple[Round, Take], late_s: tuple[float, ...]
) -> None:
    """A room that hides the strokes of a few brings the line back by itself, and may let one of two
    be heard early and the other late."""
    round_, take = clean
    by_s = dict(enumerate(late_s, start=10))
    late = tuple(
        replace(note, onset_s=(note.onset_s or 0.0) + by_s.get(note.index or 0, 0.0))
        for note in take.notes
    )
    assert judge(round_, replace(take, notes=late)).stops == ()


def test_a_line_that_goes_on_unsurely_has_not_surely_stopped(clean: tuple[Round, Take]) -> None:
    round_, take = clean
    stopped = stood_still(take, 9, 30)
    notes = tuple(replace(note, onset_sure=note.index != 10) for note in stopped.notes)
    assert judge(round_, replace(stopped, notes=notes)).stops == (30,)


def test_a_stop_costs_the_notes_after_it_nothing(clean: tuple[Round, Take]) -> None:
    round_, take = clean
    before, after = judge(round_, take), judge(round_, stood_still(take, 9, 30))
    assert (after.spread_ms or 99) <= (before.spread_ms or 0) + 1.5
    assert after.tempo_change == pytest.approx(before.tempo_change, abs=0.02)
    assert [note.index for note in after.notes if note.late and not before.notes[note.index].late] \
        == [10, 31]  # fmt: skip


def test_two_stops_are_said_without_claiming_a_breath(clean: tuple[Round, Take]) -> None:
    round_, take = clean
    stopped = stood_still(take, 9, 30)
    advice = advise(round_, stopped, judge(round_, stopped))
    assert advice.topic is Topic.BREATH
    assert advice.sentence.startswith(f"You stopped after {round_.notes[9].pitch}")
    assert advice.note_indices == (9, 30)


def test_one_stop_is_no_habit_but_praise_does_not_hide_it(clean: tuple[Round, Take]) -> None:
    """Common practice, no source: of a line that stood still for a beat 'All clean and even' was
    said."""
    round_, take = clean
    stopped = stood_still(take, 9)
    advice = advise(round_, stopped, judge(round_, stopped))
    assert advice.topic is Topic.SECURE
    assert f"You stopped after {round_.notes[9].pitch}." in advice.sentence
    assert "even" not in advice.sentence


def breathed(take: Take, after: int, seconds: float) -> Take:
    """The take with a silence after the note, and everything that follows so much later."""
    still = stood_still(take, after, seconds=seconds, silence=True)
    end_s = next(note.end_s for note in still.notes if note.index == after) or 0.0
    return replace(still, breaths_s=((end_s, end_s + seconds),))


@pytest.mark.parametrize(("seconds", "stops"), [(0.3, ()), (0.8, (9,))])
def test_a_breath_nobody_marked_is_a_stop_where_it_costs_more_than_a_quick_one(
    clean: tuple[Round, Take], seconds: float, stops: tuple[int, ...]
) -> None:
    round_, take = clean
    marks = judge(round_, breathed(take, 9, seconds))
    assert marks.unplanned_breaths == (9,)
    assert marks.stops == stops


def test_a_breath_that_costs_nothing_and_a_stop_make_no_habit_of_either(
    clean: tuple[Round, Take],
) -> None:
    """A silence that a hall let through and a stop elsewhere were called breaths."""
    round_, take = clean
    marks = judge(round_, stood_still(breathed(take, 9, 0.1), 30))
    assert (marks.unplanned_breaths, marks.stops) == ((9,), (30,))
    assert Topic.BREATH not in {seen.topic for seen in in_sound(marks, ())}


def test_a_quick_breath_beside_a_stop_is_a_stop_as_well(clean: tuple[Round, Take]) -> None:
    """Two breaths, the silence of one filled by a room: the line stood still twice."""
    round_, take = clean
    stopped = stood_still(breathed(take, 9, 0.3), 30)
    advice = advise(round_, stopped, judge(round_, stopped))
    assert (advice.topic, advice.note_indices) == (Topic.BREATH, (9, 30))
    assert advice.sentence.startswith(f"You stopped after {round_.notes[9].pitch}")


def drowned(take: Take, by_db: float, *places: int) -> Take:
    """These notes late, and so much softer than the note before each."""
    levels = {note.index: note.level_db for note in take.expected_notes}
    notes = []
    for note in take.notes:
        if note.index in places and note.state is State.PLAYED:
            before_db = levels[note.index - 1] or 0.0
            note = replace(note, onset_s=(note.onset_s or 0.0) + 0.06, level_db=before_db - by_db)
        notes.append(note)
    return replace(take, notes=tuple(notes))


def test_a_note_that_the_louder_one_before_drowns_is_not_called_late(
    clean: tuple[Round, Take],
) -> None:
    round_, take = clean
    twin = [n.index for n in round_.notes if n.pitch == round_.notes[6].pitch]
    loud = judge(round_, drowned(take, 0.0, *twin))
    soft = judge(round_, drowned(take, DROWNED_DB + 1, *twin))
    assert all(loud.notes[index].late for index in twin)
    assert not any(soft.notes[index].late for index in twin)
    assert all(soft.notes[index].off_ms is None for index in twin)
