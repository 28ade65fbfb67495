"""Each figure against arithmetic of its own, and one round told alike in every room."""

from __future__ import annotations

import statistics
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from tests.journal.recount import Facts, measures_of
from trainer.app.open_session import open_session, planned_for
from trainer.app.paths import user_paths
from trainer.app.simulated_flutist import SimulatedFlutist
from trainer.ear.alignment import align
from trainer.ear.heard import State
from trainer.ear.live import live_ear
from trainer.figures.note_figures import WRONG_CENTS, is_clean, is_right
from trainer.figures.round_figures import (
    clean_share,
    evenness_ms,
    lead_ms,
    median_cents,
    within_cents,
)
from trainer.journal.read import read_session
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.routine.load import load_routine
from trainer.session.beginning import Beginning
from trainer.session.history_from_journal import history_of
from trainer.session.view import Stage
from trainer.sound.simulated import SimulatedPort

ROUTINE = """
title: The rushing hill
exercises:
  - scale: hill
    key: D
    range: full
    tempo: 84
    aims: {evenness: 15 ms, cents: 20, clean: 90 %}
"""
DAY = date(2026, 3, 2)
Played = tuple[Path, list[float | None], str]
some = st.floats(-200, 200)


@given(off_ms=st.lists(some, max_size=40))
def test_evenness_is_the_standard_deviation_of_six_or_more(off_ms: list[float]) -> None:
    """Against Python's `statistics.pstdev`."""
    found = evenness_ms(off_ms)
    assert (found is None) == (len(off_ms) < 6)
    assert found is None or found == pytest.approx(statistics.pstdev(off_ms), abs=1e-6)


@given(cents=st.lists(some, min_size=2, max_size=40))
def test_nine_in_ten_stand_within(cents: list[float]) -> None:
    """Against Python's `statistics.quantiles`, its inclusive method."""
    last = statistics.quantiles(map(abs, cents), n=10, method="inclusive")[-1]
    assert within_cents(cents) == pytest.approx(last, abs=1e-6)
    assert median_cents(cents) == pytest.approx(statistics.median(cents))


def test_nothing_heard_gives_no_figure() -> None:
    assert within_cents([]) is median_cents([]) is evenness_ms([]) is lead_ms([], []) is None
    assert clean_share([], 0) is None


def test_clean_notes_are_a_share_of_those_judged_where_these_are_enough() -> None:
    assert clean_share([True] * 5 + [False], 8) == pytest.approx(5 / 6)
    assert clean_share([True] * 5, 8) is None, "fewer than three in four were judged"


def test_the_lead_is_early_negative() -> None:
    assert lead_ms([0.98, 1.99, 2.5], [1.0, 2.0, 3.0]) == pytest.approx(-20)


@pytest.mark.parametrize("cents", [-66.0, -64.0, -62.0, 0.0, 62.0, 64.0, 66.0, None])
def test_one_limit_parts_a_note_out_of_tune_from_another_note(cents: float | None) -> None:
    right = cents is None or abs(cents) < 65
    assert is_right(State.PLAYED, cents) is right
    assert is_clean(State.PLAYED, cents, blip=False) is right
    assert not is_clean(State.PLAYED, cents, blip=True)
    assert not is_right(State.MISSED, cents)
    assert align.WRONG_SEMITONES == live_ear.WRONG_SEMITONES == WRONG_CENTS / 100


# One round in every room


@pytest.fixture(scope="module")
def rushed(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """A round whose tempo grows by an eighth: its journal, its places as shown, what was said."""
    folder = tmp_path_factory.mktemp("rushed")
    file = folder / "routine.yaml"
    file.write_text(ROUTINE)
    routine, problems = load_routine(file)
    assert routine is not None, problems
    port = SimulatedPort()
    habits = Habits(rush_percent_per_round=12.0, human_timing_ms=5.0)
    flutist = SimulatedFlutist(Flutist(habits, seed=4), port)
    paths = user_paths({"TRAINER_HOME": str(folder / "home")})
    session = open_session(
        routine,
        planned_for(routine, DAY, ()),
        port,
        paths,
        Beginning(
            now=lambda: datetime(2026, 3, 2, 12, 0, tzinfo=UTC), round_begins=flutist.round_begins
        ),
    )
    for _ in range(2):
        session.advance()
        session.tick()
    for _ in range(20 * 60):  # a minute
        if session.view().stage is Stage.AFTER:
            break
        port.advance(2400)
        session.tick()
    view = session.view()
    assert view.advice is not None
    (journal,) = paths.journal.glob("*.yaml")
    return journal, list(view.off_beat_ms), " ".join(view.advice.evidence)


def kept(journal: Path) -> Facts:
    round_: Facts = yaml.safe_load(journal.read_text())["rounds"][0]
    return round_


def test_the_journal_keeps_what_its_notes_come_to(rushed: Played) -> None:
    """Counted again without the trainer; places in time stand there in whole milliseconds."""
    round_ = kept(rushed[0])
    for name, figure in measures_of(round_).items():
        tolerance = {"evenness_ms": 0.15, "cents_median": 0.06}.get(name, 0)
        assert round_["measures"].get(name, 0) == pytest.approx(figure, abs=tolerance), name


def test_what_is_said_is_what_is_shown_kept_and_remembered(rushed: Played) -> None:
    journal, off_beat_ms, said = rushed
    measures = kept(journal)["measures"]
    assert f"evenness: within {measures['evenness_ms']:.0f} ms; your teacher wants" in said
    assert measures["evenness_ms"] < 8, "a tempo that bends is not unevenness"
    placed = [off for off in off_beat_ms if off is not None]
    assert float(np.std(placed)) == pytest.approx(measures["evenness_ms"], abs=0.06)
    written = [note.get("off_ms") for note in kept(journal)["notes"]]
    assert [off if off is None else round(off) for off in off_beat_ms] == written
    log, _ = read_session(journal)
    assert log is not None
    (then,) = history_of([log], DAY + timedelta(days=1)).days[0].rounds
    assert then.figures.evenness_ms == pytest.approx(measures["evenness_ms"], abs=0.15)
