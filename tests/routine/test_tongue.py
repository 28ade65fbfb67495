"""Patterns, multiple tonguing and detached scales as a teacher writes them, in many languages."""

from datetime import date
from itertools import pairwise

import pytest

from trainer.music.articulations import FOURS, THREES
from trainer.music.note import Articulation, Start
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.problem_report import describe
from trainer.score.timetable import timetable, timetable_text


def planned(fields: str, kind: str = "scale"):
    text = f"title: T\nexercises:\n- {kind}: s\n  key: C\n" + "".join(
        f"  {line}\n" for line in fields.splitlines()
    )
    routine, problems = read_routine(text, "t.yaml")
    assert routine is not None, describe(problems)
    (exercise,) = plan(routine, date(2026, 3, 2), seed=1)
    return exercise


def asked(words: str) -> list[str]:
    return [str(round_.articulation) for round_ in planned(f"articulations: {words}").rounds]


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("slur 2 tongue 2", "slur 2 tongue 2"),
        ("slur 2, tongue 2", "slur 2 tongue 2"),
        ("Slur two, tongue two", "slur 2 tongue 2"),
        ("two slurred, two tongued", "slur 2 tongue 2"),
        ("tongue 1 slur 2 then tongue 1", "tongue 1 slur 2 tongue 1"),
        ("slur in twos across the beat", "slur 2 across the beat"),
        ("slurred in threes", "slur 3"),
        ("slur 2 staccato 2", "slur 2 staccato 2"),
        ("slur 2 and double 2", "slur 2 double 2"),
    ],
)
def test_a_pattern_in_the_words_of_a_lesson(written, meant):
    assert asked(written) == [meant]
    assert asked(f"['{written}', single]") == [meant, "single"]


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("tongued", "single"), ("détaché", "single"), ("Einfachzunge", "single"),
        ("coup de langue simple", "single"), ("picado", "single"), ("sciolto", "single"),
        ("legato", "slurred"), ("gebunden", "slurred"), ("lié", "slurred"), ("ligado", "slurred"),
        ("breath attack", "air-only"), ("ohne Zunge", "air-only"), ("sans langue", "air-only"),
        ("double tongue", "double"), ("Doppelzunge", "double"), ("doble picado", "double"),
        ("double coup de langue", "double"), ("doppio colpo di lingua", "double"),
        ("triple tongue", "triple"), ("triple coup de langue", "triple"), ("TKT", "triple"),
        ("Tripelzunge", "triple"), ("T T K", "triple T T K"), ("staccato", "staccato"),
        ("marcato", "accented"), ("louré", "legato tongue"),
    ],
)  # fmt: skip
def test_the_names_flutists_use_are_taken(written, meant):
    assert asked(written) == [meant]


def test_sets_come_in_order_or_in_any():
    assert asked("all patterns for fours") == list(map(str, FOURS))
    drawn = asked("all patterns for fours in random order")
    assert sorted(drawn) == sorted(map(str, FOURS))
    assert drawn != list(map(str, FOURS))
    assert asked("[slurred, all patterns for threes]") == ["slurred", *map(str, THREES)]
    assert set(asked("{a different one every round: all patterns for threes}")) == set(
        map(str, THREES)
    )


@pytest.mark.parametrize("kind", ["scale", "arpeggio", "speed climb"])
def test_patterns_go_over_every_line(kind):
    first = planned("articulations: slur 2 tongue 2\nrhythm: sixteenths", kind).rounds[0]
    fours = [note.start for note in first.notes if 1 <= note.beat < 2]
    assert [start is Start.SLURRED for start in fours] == [False, True, False, False]


def test_patterns_go_over_broken_chords_and_passages():
    broken = planned("articulations: slur 3 tongue 1\npattern: 1-3-2-4\nrhythm: sixteenths")
    starts = [note.start for note in broken.rounds[0].notes if 1 <= note.beat < 2]
    assert [start is Start.SLURRED for start in starts] == [False, True, True, False]
    text = (
        "title: T\nexercises:\n- passage: p\n  articulations: slur 2 tongue 2\n"
        "  notes: quarter G4 rest eighth A4 B4 C5 D5 | sixteenth E5 D5 C5 B4 quarter A4 half G4\n"
    )
    routine, problems = read_routine(text, "t.yaml")
    assert routine is not None, describe(problems)
    (exercise,) = plan(routine, date(2026, 3, 2), seed=1)
    slurred = [note.start is Start.SLURRED for note in exercise.rounds[0].notes]
    assert slurred == [False, False, True, False, False, False, True, False, False, False, False]


@pytest.mark.parametrize(
    ("times", "count"), [("4 times", 4), ("twice", 2), ("3", 3), ("four", 4), ("two times", 2)]
)
def test_a_note_sounds_so_often_before_the_next(times, count):
    """As double tonguing is learned (fluteline.com, 'Double_tonguing')."""
    exercise = planned(f"each note: {times}\narticulations: double\nrange: one octave")
    notes = exercise.rounds[0].notes
    assert len(notes) == 14 * count + 1
    assert [n.pitch.midi for n in notes[: 2 * count]] == [60] * count + [62] * count
    for note, after in pairwise(notes):
        assert not (note.breath_after and note.pitch == after.pitch)


def test_what_cant_be_judged_says_so():
    exercise = planned("technique: Flatterzunge\naims: {clean: 95 %}")
    assert str(exercise.rounds[0].manner.unjudged) == "flutter tongue"
    told = timetable_text("", timetable([exercise]))
    assert "slurred, flutter tongue, not judged, at 60" in told
    assert "% clean" not in told


def test_numbers_as_words():
    exercise = planned("rounds: twice\nrest after: two minutes")
    assert (len(exercise.rounds), exercise.rest_s) == (2, 120)
    assert planned("rest after: half a minute").rest_s == 30
    assert planned("swell: messa di voce", "long tones").rounds[0].manner.swell == "there and back"
    assert planned("swell: diminuendo", "long tones").rounds[0].manner.swell == "softer"


def test_detached_scales_are_marked():
    rounds = planned("articulations: [staccato, tenuto, accented]").rounds
    assert [str(round_.notes[3].mark) for round_ in rounds] == ["staccato", "tenuto", "accent"]
    assert {note.start for note in rounds[0].notes} == {Start.TONGUED}
    assert rounds[0].articulation is Articulation.STACCATO
