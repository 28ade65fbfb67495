"""From day to day: the week's plan, and what comes next when the aims have been met."""

from dataclasses import dataclass
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.key import cycle
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.problem_report import describe
from trainer.routine.progress import (
    Attempt,
    Faster,
    NextKey,
    Progress,
    attempts_in,
    key_reached,
    tempo_reached,
)
from trainer.routine.round import RoundKind

MONDAY = date(2026, 3, 2)

WEEK = """
title: The week
week:
  monday: C
  tuesday: {key: A minor, exercises: [chord, last]}
  wednesday: [scale of the day]
  sunday: free
  other days: {key: G, words: Half as long today.}
exercises:
- read: Stand tall.
- scale: scale of the day
  key: of the week
- rest: 1 minute
- arpeggio: chord
  key: same as scale of the day
- rest: 2 minutes
- long tones: last
  notes: [B4]
"""


def loaded(text):
    routine, problems = read_routine(text, "m.yaml")
    assert routine is not None, describe(problems)
    return routine


def played(day: int, text: str = WEEK):
    return plan(loaded(text), MONDAY + timedelta(days=day), seed=1)


def test_monday_plays_everything_in_its_key():
    monday = played(0)
    assert [one.id for one in monday] == [
        "read 1",
        "scale of the day",
        "rest 1",
        "chord",
        "rest 2",
        "last",
    ]
    assert monday[1].rounds[0].key.name == monday[3].rounds[0].key.name == "C major"


def test_tuesday_plays_two_and_the_rest_between_them():
    assert [one.id for one in played(1)] == ["chord", "rest 2", "last"]
    assert played(1)[0].rounds[0].key.name == "A minor"


def test_wednesday_has_the_key_of_the_other_days_and_keeps_the_words_before_its_exercise():
    assert [one.id for one in played(2)] == ["read 1", "scale of the day"]
    assert played(2)[1].rounds[0].key.name == "G major"


def test_other_days_begin_with_their_words():
    first = played(4)[0]
    assert (first.words, first.rounds) == ("Half as long today.", ())


def test_a_free_day_says_so_and_plays_nothing():
    (only,) = played(6)
    assert only.title == "A free day"
    assert not only.rounds


@pytest.mark.parametrize(
    ("week", "fragment"),
    [
        ("{monday: Q}", "'Q' is not a key."),
        ("{monday: random}", "One day has one key."),
        ("{montag: C}", "Did you mean 'monday'?"),
        ("{monday: [scale of the dya]}", "Did you mean 'scale of the day'?"),
        ("{monday: {keys: C}}", "Did you mean 'key'?"),
        ("{monday: C}", "Tuesday has no key"),
        ("monday", "wanted under 'week'"),
    ],
)
def test_mistakes_in_a_week_are_told(week, fragment):
    head, tail = WEEK.split("week:")[0], WEEK.split("exercises:\n")[1]
    routine, problems = read_routine(f"{head}week: {week}\nexercises:\n{tail}", "m.yaml")
    assert routine is None
    assert any(problem.line == 3 and fragment in problem.sentence() for problem in problems), (
        describe(problems)
    )


def test_a_day_needs_no_key_for_what_is_not_played():
    text = WEEK.replace("key: G, ", "exercises: [last], ")
    text = text.replace("wednesday: [scale of the day]", "wednesday: [last]")
    assert read_routine(text, "m.yaml")[1] == ()
    text = text.replace("[last], words", "[chord], words")
    assert "Thursday has no key, but 'chord'" in describe(read_routine(text, "m.yaml")[1])


def test_a_weeks_keys_that_nobody_takes_are_told():
    text = WEEK.replace("of the week", "F")
    assert "No exercise takes its key from the week." in describe(read_routine(text, "m")[1])


CYCLE = cycle("circle of fifths", "major")


def in_key(name: str, *met: bool) -> list[Attempt]:
    return [Attempt(name, 60, one) for one in met]


@pytest.mark.parametrize(
    ("attempts", "key"),
    [
        ([], "C major"),
        (in_key("C major", True), "C major"),
        (in_key("C major", True, True), "G major"),
        (in_key("C major", True, False, True), "C major"),
        (in_key("C major", True, True) + in_key("G major", True), "G major"),
        (in_key("F major", True, True), "C major"),
        (in_key("X major", True, True), "C major"),
    ],
)
def test_the_next_key_comes_when_the_aims_were_met_twice_running(attempts, key):
    assert key_reached(CYCLE, Progress(NextKey()), attempts).name == key


def at(*tempos_and_met: tuple[float, bool]) -> list[Attempt]:
    return [Attempt("", tempo, met) for tempo, met in tempos_and_met]


@pytest.mark.parametrize(
    ("attempts", "tempo"),
    [
        (at(), 60),
        (at((60, True)), 60),
        (at((60, True), (60, True)), 64),
        (at((60, True), (60, True), (64, False)), 64),
        (at((64, True), (64, True)), 66),
        (at((66, True), (66, True)), 66),
        (at((90, True), (90, True)), 66),
        (at((50, True), (50, True)), 60),
    ],
)
def test_the_tempo_rises_step_by_step_to_its_end(attempts, tempo):
    assert tempo_reached(60, Faster(4, 66), 2, attempts, 208) == tempo


@dataclass(frozen=True)
class Kept:
    exercise_id: str
    tempo_bpm: float
    secure: bool | None = True
    kind: RoundKind = RoundKind.TECHNIQUE
    key: str = "C major"


def test_attempts_are_read_from_what_the_journal_keeps():
    first = [
        Kept("s", 60),
        Kept("s", 56),
        Kept("s", 40, False, RoundKind.KNOT),
        Kept("a", 60, None),
    ]
    second = [Kept("s", 64), Kept("s", 64, False), Kept("a", 50)]
    assert attempts_in([first, second]) == {
        "s": [Attempt("C major", 56, met=True), Attempt("C major", 64, met=False)],
        "a": [Attempt("C major", 50, met=True)],
    }


@given(st.lists(st.tuples(st.floats(20, 208), st.booleans())), st.integers(1, 5))
def test_a_tempo_never_leaves_its_bounds(past, times):
    assert 60 <= tempo_reached(60, Faster(7, 100), times, at(*past), 208) <= 100


def test_a_plan_follows_its_rules_and_what_is_the_same_follows_too():
    routine = loaded("""
title: T
defaults: {aims: {cents: 20}}
exercises:
- {scale: s, key: [C, G, D], progress: next key}
- {arpeggio: a, key: same as s, tempo: 60, progress: '4 faster when met once, up to 72'}
""")
    past = {"s": in_key("G major", True, True), "a": at((64, True))}
    for day in range(3):
        scale, arpeggio = plan(routine, MONDAY + timedelta(days=day), 1, attempts=past)
        assert scale.rounds[0].key.name == arpeggio.rounds[0].key.name == "D major"
        assert arpeggio.rounds[0].tempo_bpm == 68
        assert arpeggio.detail.endswith("at 68")


@pytest.mark.parametrize(
    ("rule", "times", "step"),
    [
        ("next key", 2, NextKey()),
        ("Next key when the aims are met three times", 3, NextKey()),
        ("4 faster after met 5 times, up to 96", 5, Faster(4, 96)),
        ("{then: 6 bpm faster, when met: 1, up to: 100}", 1, Faster(6, 100)),
        ("{then: next key, when met: once}", 1, NextKey()),
    ],
)
def test_ways_to_write_a_rule(rule, times, step):
    text = "title: T\nexercises:\n- scale: s\n  key: [C, G]\n  aims: {cents: 9}\n  progress: "
    (scale,) = loaded(f"{text}{rule if rule[0] == '{' else repr(rule)}").entries
    assert scale.progress == Progress(step, times)


@pytest.mark.parametrize(
    ("rule", "fragment"),
    [
        ("quicker", "Write 'next key' or '4 faster'"),
        ("0 faster", "Write 1 to 60 faster."),
        ("next key, up to 90", "Leave out 'up to'."),
        ("next key when met often", "Write once, twice"),
        ("{when met: 2}", "Add 'then:'"),
        ("{then: next key, wenn met: 2}", "Did you mean 'when met'?"),
        ("{then: 4 faster, up to: fast}", "Write the last tempo"),
    ],
)
def test_mistakes_in_a_rule_are_told(rule, fragment):
    text = (
        f"title: T\nexercises:\n- scale: s\n  key: [C, G]\n  aims: {{cents: 9}}\n  progress: {rule}"
    )
    routine, problems = read_routine(text, "m.yaml")
    assert routine is None
    assert problems[0].line == 6
    assert fragment in describe(problems)


def test_a_rule_needs_aims_and_keys_in_order():
    text = "title: T\nexercises:\n- {scale: s, key: C, progress: next key}\n"
    assert "Add 'aims:" in describe(read_routine(text, "m.yaml")[1])
    text = text.replace("progress", "aims: {cents: 9}, progress")
    assert "Write keys that follow each other" in describe(read_routine(text, "m.yaml")[1])
