"""The session as a teacher leads it: it waits, comes back to old knots, and may be contradicted."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import numpy as np
import yaml

from tests.session.conftest import DAY, Practice
from trainer.coach.advice import Felt, NextStep, Topic
from trainer.coach.history import History, OldKnot, PastDay, PastRound
from trainer.music.pitch import Pitch
from trainer.player.habits import Habits
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.round import RoundKind
from trainer.session.exercise_progress import RoundPlayed, enter, played
from trainer.session.view import Stage

Build = Callable[..., Practice]
SETTLING = """
title: Let it stand
exercises:
  - passage: steps
    key: D
    settle: 1 second
    notes: half D5 F#5 | whole A5
"""
HILL = """
title: One hill
exercises:
  - scale: hill
    key: D
    range: one octave
    tempo: 96
"""
CLIMB = """
title: Up
exercises:
  - speed climb: up
    key: D
    range: one octave
    from: 80
    to: 88
    within: 3 minutes
"""


def rounds_written(at: Practice) -> list[dict[str, Any]]:
    return yaml.safe_load(at.journal_texts()[0])["rounds"]


OVER_A_DRONE = SETTLING + "    partner: drone on the tonic\n"


def test_a_drone_alone_in_the_loudspeaker_is_nobodys_note(practice_of: Build) -> None:
    """The first note is the drone's own: it must not stand by itself."""
    at = practice_of(OVER_A_DRONE.replace("D5 F#5", "D4 F#4"), plays=False)
    at.port.bleed = 0.5
    at.do(at.session.advance)
    at.do(at.session.advance)
    at.pass_time(50.0)  # past where the drone is joined on
    standing = at.view().standing
    assert standing is not None
    assert standing.index == 0
    assert all(reading.midi is None for reading in at.view().trail)
    played = at.port.played(at.port.now_frame() - 45 * 48000, at.port.now_frame())
    levels = np.sqrt(np.mean(played.reshape(-1, 2400).astype(np.float64) ** 2, axis=1))
    assert levels.min() > 0.9 * levels.max()


def test_a_player_stands_above_a_drone_that_comes_back(practice_of: Build) -> None:
    at = practice_of(OVER_A_DRONE.replace("D5 F#5", "D4 F#4"))
    at.port.bleed = 0.3
    at.do(at.session.advance)
    at.do(at.session.advance)
    after = at.until(Stage.AFTER)
    assert all(note.cents is not None and abs(note.cents) < 10 for note in after.take.notes)


def test_out_of_time_each_note_is_waited_for_then_the_same_in_time(practice_of: Build) -> None:
    at = practice_of(SETTLING, Habits(off_cents=25.0))
    at.do(at.session.advance)
    assert at.view().round.kind is RoundKind.SETTLING
    at.do(at.session.advance)
    due = []
    while at.view().stage is not Stage.AFTER:
        at.pass_time(0.05)
        if at.view().standing is not None:
            due.append(at.view().standing.index)
    assert sorted(set(due)) == [0, 1, 2]
    assert due == sorted(due)
    after = at.view()
    assert after.advice.topic is Topic.SETTLING
    assert "sharp" in after.advice.sentence
    assert all(abs(note.cents) < 10 for note in after.take.notes)
    at.do(at.session.advance)
    in_time = at.view().round
    assert in_time.kind is RoundKind.PASSAGE
    assert in_time.notes == after.round.notes
    settled = rounds_written(at)[0]
    assert settled["kind"] == "settling"
    assert settled["seconds"] > 4.5


def test_without_a_microphone_a_key_passes_each_note(practice_of: Build) -> None:
    at = practice_of(SETTLING, plays=False, listens=False)
    at.do(at.session.advance)
    at.do(at.session.advance)
    at.until(Stage.PLAYING)
    for _ in range(3):
        assert at.view().stage is Stage.PLAYING
        at.do(at.session.advance)
    at.until(Stage.AFTER)
    assert at.view().advice.topic is Topic.UNHEARD


def test_the_student_may_disagree_and_it_is_written_down(practice_of: Build) -> None:
    at = practice_of(HILL, Habits(off_cents=18.0))
    at.do(at.session.advance)
    at.do(at.session.advance)
    said = at.until(Stage.AFTER).advice
    assert said.topic is Topic.TUNING
    other = at.do(at.session.disagree).advice
    assert other.topic is Topic.LEFT_OPEN, "nothing is praised that the student heard otherwise"
    assert "secure" not in rounds_written(at)[0]
    assert rounds_written(at)[0]["disagreed"] is True
    assert rounds_written(at)[0]["advice"] == said.sentence
    assert any("differently" in notice for notice in at.view().notices)


def test_praise_is_not_disputed(practice_of: Build) -> None:
    at = practice_of(HILL)
    at.do(at.session.advance)
    at.do(at.session.advance)
    said = at.until(Stage.AFTER).advice
    assert said.topic is Topic.SECURE
    assert at.do(at.session.disagree).advice is said
    assert "disagreed" not in rounds_written(at)[0]


def history(*knots: OldKnot, days_ago: int = 1, **more: Any) -> History:
    days = (PastDay(DAY - timedelta(days=days_ago), 900.0, ()),)
    return History(DAY, days, knots, **more)


def test_an_old_knot_comes_back_before_the_whole(practice_of: Build) -> None:
    pitches = (Pitch.parse("F#4"), Pitch.parse("G4"))
    old = OldKnot("hill", pitches, DAY - timedelta(days=2), 0)
    at = practice_of(HILL, history=history(old))
    at.do(at.session.advance)
    first = at.view().round
    assert first.kind is RoundKind.KNOT
    assert first.title.startswith("F#4–G4")
    kinds = []
    while len(kinds) < 3:
        at.do(at.session.advance)
        at.until(Stage.AFTER)
        kinds.append(at.view().round.kind)
    assert kinds == [RoundKind.KNOT, RoundKind.KNOT, RoundKind.TECHNIQUE]


def test_the_slow_rounds_of_a_knot_are_no_tempos_of_the_exercise() -> None:
    routine, problems = read_routine(HILL, "hill.yaml")
    assert routine is not None, problems
    old = OldKnot("hill", (Pitch.parse("F#4"), Pitch.parse("G4")), DAY - timedelta(days=2), 0)
    course = enter(plan(routine, DAY, 0)[0], history(old))
    tempos = []
    while course.pending:
        course = played(course, RoundPlayed(None, Felt.FINE))
        tempos.append(course.tempos)
    assert tempos == [(), (), (96.0,)]


def test_a_knot_seen_this_morning_is_left_alone(practice_of: Build) -> None:
    old = OldKnot("hill", (Pitch.parse("F#4"), Pitch.parse("G4")), DAY, 0)
    at = practice_of(HILL, history=history(old))
    at.do(at.session.advance)
    assert at.view().round.kind is RoundKind.TECHNIQUE


def test_the_climb_begins_under_what_was_secure_and_ends_with_tomorrow(practice_of: Build) -> None:
    at = practice_of(CLIMB, history=history(climbed_bpm={"up": 100.0}))
    at.do(at.session.advance)
    assert at.view().round.tempo_bpm == 85
    while at.view().proposal is None or at.view().proposal.step is not NextStep.DONE:
        at.do(at.session.advance)
        at.until(Stage.AFTER)
    assert "held today; tomorrow starts" in at.view().proposal.why


def test_days_off_are_noticed_before_anything_is_played(practice_of: Build) -> None:
    at = practice_of(HILL, history=history(days_ago=12))
    assert at.view().today.cautions[0].startswith("11 days without the flute")


MIXING = """
title: One hill
exercises:
  - scale: hill
    key: D
    range: one octave
    articulations: [slurred, legato tongue, single, double]
    order: mixed when secure
"""


def articulations(history_: History) -> list[str]:
    routine, problems = read_routine(MIXING, "hill.yaml")
    assert routine is not None, problems
    return [str(r.articulation) for r in enter(plan(routine, DAY, 0)[0], history_).pending]


def test_blocked_order_gives_way_once_all_was_secure_where_the_teacher_allows_it() -> None:
    """Mixed order may help what is learned to last (Carter & Grahn 2016; others found nothing)."""
    secure = PastRound("hill", RoundKind.TECHNIQUE, 72.0, Topic.SECURE)
    days = tuple(PastDay(DAY - timedelta(days=ago), 600.0, (secure,)) for ago in (2, 1))
    written = articulations(History(DAY))
    assert written == ["slurred", "legato tongue", "single", "double"]
    assert articulations(History(DAY, days[:1])) == written
    orders = {tuple(articulations(History(DAY + timedelta(days=d), days))) for d in range(8)}
    assert {frozenset(order) for order in orders} == {frozenset(written)}
    assert len(orders) > 3


def test_an_old_knot_of_a_settling_passage_comes_back_in_time() -> None:
    routine, problems = read_routine(SETTLING, "settling.yaml")
    assert routine is not None, problems
    old = OldKnot("steps", (Pitch.parse("D5"), Pitch.parse("F#5")), DAY - timedelta(days=2), 0)
    pending = enter(plan(routine, DAY, 0)[0], history(old)).pending
    kinds = [round_.kind for round_ in pending]
    assert kinds == [RoundKind.KNOT, RoundKind.KNOT, RoundKind.SETTLING, RoundKind.PASSAGE]
    assert [round_.in_time for round_ in pending] == [True, True, False, True]
