"""Ways of practising as a teacher orders them: what is played for each (common practice)."""

from datetime import date, timedelta
from fractions import Fraction

import pytest

from trainer.music.note import Hairpin, Start
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.practice_until import Tries, Until
from trainer.routine.problem_report import describe

FOUR_BARS = """  notes: |
    quarter (C5 D5 E5 F5) | half (G5 E5) | quarter D5 D5 D5 D5 | whole C5
"""


def planned(entry: str, day: date = date(2026, 3, 2)):
    routine, problems = read_routine(f"title: T\nexercises:\n- {entry}", "t.yaml")
    assert routine is not None, describe(problems)
    (exercise,) = plan(routine, day, seed=1)
    return exercise


def passage(way: str):
    return planned(f"passage: p\n  practise: {way}\n{FOUR_BARS}")


def names(round_) -> str:
    return " ".join(str(note.pitch) for note in round_.notes)


def test_backwards_begins_with_the_last_bar():
    rounds = passage("backwards").rounds
    assert [len(round_.notes) for round_ in rounds] == [1, 5, 7, 11]
    assert names(rounds[1]) == "D5 D5 D5 D5 C5"
    assert [round_.number for round_ in rounds] == [1, 2, 3, 4]
    for round_ in rounds:
        assert round_.notes[0].beat == 0
        assert round_.notes[0].start is Start.TONGUED
        assert [note.index for note in round_.notes] == list(range(len(round_.notes)))
    assert rounds[0].title == "p, last bar"
    assert rounds[-1].title == "p"


def test_a_note_more_each_time():
    (round_,) = planned("passage: p\n  practise: add a note\n  notes: quarter C5 D5 E5 F5\n").rounds
    assert names(round_) == "C5 D5 C5 D5 E5 C5 D5 E5 F5"
    beats = [note.beat for note in round_.notes if note.pitch.name == "C"]
    assert beats == [0, 3, 7]
    breaths = [note.index for note in round_.notes if note.breath_after]
    assert breaths == [1, 4]


def test_a_bar_more_each_time():
    (round_,) = passage("add a bar").rounds
    assert names(round_).split().count("C5") == 5
    assert len(round_.notes) == 4 + 6 + 10 + 11


@pytest.mark.parametrize("words", ["loop bars 2 to 3 four times", "Loop bars 2 to 3, 4 times"])
def test_a_loop(words):
    (round_,) = passage(words).rounds
    assert names(round_) == " ".join(["G5 E5 D5 D5 D5 D5"] * 4)
    assert round_.beats == 4 * 8
    assert round_.notes[6].start is Start.TONGUED


def test_a_loop_of_bars_that_are_not_there():
    text = f"title: T\nexercises:\n- passage: p\n  practise: loop bars 4 to 6 twice\n{FOUR_BARS}"
    routine, problems = read_routine(text, "t.yaml")
    assert routine is None
    assert (problems[0].line, "4 bars" in problems[0].what) == (4, True)


def test_each_group_three_times():
    (round_,) = planned(
        "scale: s\n  key: C\n  range: one octave\n  practise: each group three times\n"
    ).rounds
    fours = names(round_).split()
    second = fours.index("F4")
    assert fours[second : second + 12] == ["F4", "G4", "A4", "B4"] * 3


def test_each_bar_twice():
    (round_,) = passage("each bar twice").rounds
    assert names(round_) == "C5 D5 E5 F5 C5 D5 E5 F5 G5 E5 G5 E5 " + "D5 " * 8 + "C5 C5"


def test_slowly_and_then_in_time():
    rounds = planned("scale: s\n  key: C\n  tempo: 100\n  practise: slow then in time\n").rounds
    assert [round_.tempo_bpm for round_ in rounds] == [60, 100]


def test_hard_and_easy_in_turns():
    rounds = planned(
        "scale: s\n  key: C\n  tempo: 80\n  practise: alternate hard and easy\n"
        "  articulations: [double, single]\n"
    ).rounds
    assert [str(round_.articulation) for round_ in rounds] == [
        "double",
        "slurred",
        "single",
        "slurred",
    ]
    assert [round_.tempo_bpm for round_ in rounds] == [80, 60, 80, 60]


def test_one_way_over_another():
    rounds = passage("[backwards, slow then in time]").rounds
    assert [round_.tempo_bpm for round_ in rounds] == [36, 60] * 4


@pytest.mark.parametrize(
    ("words", "rule"),
    [
        ("the aims are met, at most 6 rounds", Until(1, 6)),
        ("until the aims are met", Until(1, 8)),
        ("three right in a row", Until(3, 8)),
        ("three right in a row, else back a step", Until(3, 8, steps_back=True)),
        ("3 times right in a row, or else a step back, at most ten rounds", Until(3, 10, True)),
    ],
)
def test_until_when(words, rule):
    exercise = planned(f"scale: s\n  key: C\n  aims: {{clean: 95 %}}\n  until: {words}\n")
    assert exercise.until == rule


def test_until_needs_aims():
    routine, problems = read_routine(
        "title: T\nexercises:\n- scale: s\n  key: C\n  until: three right in a row\n", "t.yaml"
    )
    assert routine is None
    assert (problems[0].line, "aims" in problems[0].mend) == (5, True)


def test_three_right_in_a_row_else_back_a_step():
    rule, tries, shares = Until(3, 20, steps_back=True), Tries(), []
    for right in (True, True, False, True, True, True, True, True, True):
        tries = tries.after(rule, right)
        shares.append(round(tries.tempo_share, 2))
    assert shares == [1, 1, 0.92, 0.92, 0.92, 1, 1, 1, 1]
    assert tries.reached(rule)


def test_what_was_not_judged_neither_helps_nor_harms():
    rule = Until(2, 5)
    tries = Tries().after(rule, True).after(rule, None).after(rule, True)
    assert (tries.played, tries.reached(rule)) == (3, True)
    assert Tries(played=4).after(rule, None).over(rule)


def test_harmonics_from_one_root_to_the_sixth_partial():
    """Partials 2 to 6: octave, twelfth, two octaves, a third and a fifth above (their series)."""
    (round_,) = planned("voicing: v\n  form: harmonics\n  roots: [C4]\n  partials: 6\n").rounds
    assert names(round_) == "C4 C5 C5 G5 G5 C6 C6 E6 E6 G6 G6"
    harmonics = [str(n.harmonic_of) if n.harmonic_of else "" for n in round_.notes]
    assert harmonics == ["", *["C4", ""] * 5]


def test_long_tones_between_two_limits_are_drawn_each_day():
    entry = "long tones: l\n  notes: [B4]\n  tempo: 60\n  beats each: 8 to 16 beats\n"
    lengths = [
        planned(entry, date(2026, 3, 2) + timedelta(days=day)).rounds[0].notes[0].length
        for day in range(30)
    ]
    assert all(8 <= length <= 16 and length.denominator == 1 for length in lengths)
    assert len(set(lengths)) > 5
    assert planned(entry).rounds[0].notes[0].length == lengths[0]


@pytest.mark.parametrize(
    ("words", "beats"), [("10 seconds", 15), ("a breath", 14), ("6", 6), ("2.5 beats", 2.5)]
)
def test_long_tones_by_seconds_and_by_a_breath(words, beats):
    exercise = planned(f"long tones: l\n  notes: [B4]\n  tempo: 90\n  beats each: {words}\n")
    assert exercise.rounds[0].notes[0].length in (Fraction(beats), Fraction(beats) + Fraction(1, 2))


def test_a_scale_at_pp_at_ff_and_with_a_hairpin():
    rounds = planned(
        "scale: s\n  key: C\n  dynamic: [pp, ff, p to f and back, diminuendo]\n"
    ).rounds
    first = [round_.notes[0].dynamic for round_ in rounds]
    assert first == ["pp", "ff", "p", None]
    assert rounds[2].notes[0].hairpin is Hairpin.LOUDER
    peak = next(note for note in rounds[2].notes[1:] if note.dynamic is not None)
    assert (peak.dynamic, peak.hairpin) == ("f", Hairpin.SOFTER)
    assert peak.index == (len(rounds[2].notes) - 1) // 2
    assert rounds[3].notes[0].hairpin is Hairpin.SOFTER


@pytest.mark.parametrize(
    ("way", "said"),
    [
        ("backwards", "backwards"),
        ("loop bars 3 to 4 four times", "bars 3 to 4 looped 4 times"),
        ("add a bar", "a bar more each time"),
        ("each bar twice", "each bar 2 times"),
        ("slow then in time", "slow, then in time"),
        ("alternate hard and easy", "hard and easy in turns"),
    ],
)
def test_the_days_line_says_how_it_is_practised(way: str, said: str) -> None:
    assert f", {said} at " in passage(way).detail
