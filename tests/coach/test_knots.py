"""Knots are found, false ones are not, and a breakdown leads back into the whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from trainer.coach.advice import NextStep
from trainer.coach.breakdown import breakdown
from trainer.coach.judge import judge
from trainer.coach.knots import Knot, knots_in
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.next_step import propose
from trainer.coach.words import advise
from trainer.music.note import Articulation, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import Round, RoundKind

SEEDS = 30


def knots_after(
    seeded_round: Callable[..., Round], takes: Any, seed: int, fault: Any, rounds: int = 3
) -> tuple[Round, tuple[Knot, ...]]:
    played = []
    for number in range(1, rounds + 1):
        round_ = seeded_round(seed, Articulation.SLURRED, number)
        take = takes(round_, seed, fault)
        played.append(judge(round_, take))
    return round_, knots_in(played)


@pytest.mark.parametrize("name", ["late step", "blip at a step"])
def test_planted_finger_trouble_is_found_within_three_rounds(
    name: str, faults: dict[str, Any], seeded_round: Callable[..., Round], takes: Any
) -> None:
    found = [knots_after(seeded_round, takes, seed, faults[name])[1] for seed in range(SEEDS)]
    assert sum(len(knots) == 1 for knots in found) >= 0.9 * SEEDS


def test_clean_players_have_no_knots(
    faults: dict[str, Any], seeded_round: Callable[..., Round], takes: Any
) -> None:
    clean = type(faults["late step"])(faults["late step"].topic)
    found = [knots_after(seeded_round, takes, 500 + seed, clean, 4)[1] for seed in range(40)]
    assert sum(bool(knots) for knots in found) <= 1


def first_knot(
    faults: dict[str, Any], seeded_round: Callable[..., Round], takes: Any
) -> tuple[Round, Knot]:
    for seed in range(SEEDS):
        round_, knots = knots_after(seeded_round, takes, seed, faults["late step"])
        if knots:
            return round_, knots[0]
    raise AssertionError("no knot found")


def test_a_breakdown_goes_from_slow_back_into_the_whole(
    faults: dict[str, Any], seeded_round: Callable[..., Round], takes: Any
) -> None:
    round_, knot = first_knot(faults, seeded_round, takes)
    rounds = breakdown(knot, round_)
    assert rounds[0].tempo_bpm < round_.tempo_bpm
    assert rounds[-1].notes == round_.notes
    assert rounds[-1].kind is round_.kind
    assert {one.kind for one in rounds[:-1]} == {RoundKind.KNOT}
    assert [one.number for one in rounds] == list(range(1, len(rounds) + 1))
    assert rounds[-2].tempo_bpm == round_.tempo_bpm


def test_every_round_of_a_breakdown_can_be_played(
    faults: dict[str, Any], seeded_round: Callable[..., Round], takes: Any
) -> None:
    round_, knot = first_knot(faults, seeded_round, takes)
    for one in breakdown(knot, round_):
        assert [note.index for note in one.notes] == list(range(len(one.notes)))
        assert one.notes[0].start is Start.TONGUED
        assert all(note.length > 0 for note in one.notes)
        ends = [note.beat + note.length for note in one.notes]
        assert all(end <= note.beat for end, note in zip(ends, one.notes[1:], strict=False))


def test_a_foreign_knot_is_refused_in_plain_words(rounds: Callable[..., Round]) -> None:
    pitches = (Pitch.parse("C#5"), Pitch.parse("D#5"))
    knot = Knot("scale of the day", pitches, (0, 1), 3, 4, (), None)
    with pytest.raises(ValueError, match="choose a knot of this exercise"):
        breakdown(knot, rounds("C"))


def test_a_knot_is_proposed_to_be_taken_out(
    faults: dict[str, Any], seeded_round: Callable[..., Round], takes: Any
) -> None:
    earlier: list[Any] = []
    steps = []
    for number in (1, 2, 3):
        round_ = seeded_round(0, Articulation.SLURRED, number)
        take = takes(round_, 0, faults["late step"])
        marks = judge(round_, take)
        steps.append(propose(round_, marks, advise(round_, take, marks, earlier), earlier).step)
        earlier.append(marks)
    assert NextStep.TAKE_OUT in steps


def test_a_breakdown_begins_a_new_count(
    faults: dict[str, Any], seeded_round: Callable[..., Round], takes: Any
) -> None:
    """What was wrong before the knot was taken out is not held against the player after it."""
    played = [seeded_round(0, Articulation.SLURRED, number) for number in (1, 2, 3)]
    before = [judge(one, takes(one, 0, faults["late step"])) for one in played]
    short = replace(before[-1], kind=RoundKind.KNOT)
    after = seeded_round(0, Articulation.SLURRED, 4)
    clean = judge(after, takes(after, 0, slips=False))
    assert knots_in(before)
    assert not knots_in((*before, short, clean))


def four_times_up_and_down(troubled: int) -> Marks:
    """A scale of eight notes; the step from F#5 to G5 fails so often of the eight times."""
    names = ["D5", "E5", "F#5", "G5", "A5", "B5", "C#6", "D6"]
    line = [*names, *names[-2:0:-1]] * 4
    met, notes = 0, []
    for index, (before, name) in enumerate(zip(["", *line], [*line, "D5"], strict=True)):
        hard = {before, name} == {"F#5", "G5"}
        notes.append(
            NoteMark(
                index,
                Pitch.parse(name),
                Start.SLURRED,
                0,
                judged=True,
                missed=hard and met < troubled,
            )
        )
        met += hard
    return Marks("scale", RoundKind.TECHNIQUE, 1, Articulation.SLURRED, 72.0, tuple(notes), aims=())


def test_a_step_that_goes_well_three_times_in_four_is_no_knot() -> None:
    """More often wrong than chance would do it, and still mostly right: nothing to take out."""
    assert knots_in([four_times_up_and_down(2), four_times_up_and_down(2)]) == ()
    (knot,) = knots_in([four_times_up_and_down(4), four_times_up_and_down(4)])
    assert knot.name == "F#5–G5"
