"""Whatever a session holds comes back from its file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trainer.ear.heard import State, Tone
from trainer.figures.round_measures import OlderMeasures, RoundMeasures
from trainer.journal.encode import session_text
from trainer.journal.field_kinds import (
    Kept,
    KeptFields,
    Number,
    Record,
    Records,
    Whole,
    flat,
    rounded,
)
from trainer.journal.log import AskedExercise, LaterRemark, NoteLog, RoundLog, SessionLog
from trainer.journal.read import read_session
from trainer.journal.session_schema import (
    AIMS,
    ASKED,
    MEASURES,
    NOTE,
    OLDER,
    ROUND,
    SESSION,
    TONE,
)
from trainer.music.articulations import FOURS, SIXES
from trainer.music.note import Articulation, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import Aims, RoundKind

words = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
maybe = lambda strategy: st.none() | strategy  # noqa: E731


def figure(
    fields: KeptFields, key: str, low: float = -10_000, high: float = 10_000
) -> st.SearchStrategy[float]:
    """Numbers as fine as the file keeps them."""
    (kind,) = (field.kind for field in fields if field.key == key)
    assert isinstance(kind, Number)
    return st.floats(max(low, kind.least), min(high, kind.greatest)).map(
        lambda value: float(rounded(value, kind.decimals))
    )


def figures(fields: KeptFields) -> dict[str, st.SearchStrategy[float | None]]:
    """Every measured number that may be missing."""
    return {
        field.attribute: maybe(figure(fields, field.key))
        for field in fields
        if isinstance(field.kind, Number) and not (isinstance(field.kind, Whole) or field.required)
    }


times = st.builds(
    lambda naive, minutes: naive.replace(
        microsecond=0, tzinfo=timezone(timedelta(minutes=minutes))
    ),
    st.datetimes(datetime(1970, 1, 3), datetime(2199, 12, 31)),
    st.integers(-14 * 60, 14 * 60),
)
pitches = st.builds(
    lambda letter, alter, octave: str(Pitch(letter, alter, octave)),
    st.sampled_from("CDEFGAB"),
    st.integers(-2, 2),
    st.integers(3, 7),
)
tones = st.builds(Tone, *(figure(TONE, field.key) for field in TONE))
notes = st.builds(
    NoteLog,
    written=pitches,
    state=st.sampled_from(State),
    start=maybe(st.sampled_from(Start)),
    tone=maybe(tones),
    blip=st.booleans(),
    instead_of=maybe(pitches),
    **figures(NOTE),
)
counts = st.integers(0, 500)
older = st.builds(OlderMeasures, **figures(OLDER)).filter(lambda one: one != OlderMeasures())
seconds = figure(ROUND, "seconds", 0, 4000)
OF_A_ROUND = {
    "exercise_id": words,
    "title": words,
    "kind": st.sampled_from(RoundKind),
    "number": st.integers(1, 99),
    "articulation": st.sampled_from([*Articulation, *FOURS, *SIXES]),
    "tempo_bpm": figure(ROUND, "tempo_bpm", 20, 300),
    "started": times,
    "seconds": figure(ROUND, "seconds", 0, 4000),
    "key": words,
    "knot": st.lists(pitches, max_size=4).map(tuple),
    "aims": st.builds(Aims, **figures(AIMS)),
    "secure": maybe(st.booleans()),
    "advice": words,
    "topic": words,
    "strength": maybe(figure(ROUND, "strength", 0, 9)),
    "felt": words,
    "measures": maybe(
        st.builds(
            RoundMeasures,
            played=counts,
            missed=counts,
            extra=counts,
            starts_unsure=counts,
            **figures(MEASURES),
            older=maybe(older),
        )
    ),
    "notes": st.lists(notes, max_size=4).map(tuple),
    "breaths_s": st.lists(st.tuples(seconds, seconds), max_size=3).map(tuple),
    "warnings": st.lists(words.filter(bool), max_size=2).map(tuple),
    "disagreed": st.booleans(),
    "heard_from": words,
}
rounds = st.builds(RoundLog, **OF_A_ROUND)
OF_A_SESSION = {
    "started": times,
    "routine_title": words,
    "routine_file": words,
    "student": words,
    "instrument": words.filter(bool),
    "a4_hz": figure(SESSION, "a4_hz", 415, 446),
    "asked": st.lists(
        st.builds(AskedExercise, words, words, maybe(figure(ASKED, "minutes", 0, 60))), max_size=3
    ).map(tuple),
    "rounds": st.lists(rounds, max_size=3).map(tuple),
    "ended": maybe(times),
    "elapsed_s": maybe(figure(SESSION, "elapsed_s", 0, 9000)),
    "felt": words,
    "remark": words,
    "private": st.booleans(),
    "remarks": st.lists(
        st.builds(LaterRemark, words.filter(bool), maybe(times), st.booleans()), max_size=2
    ).map(tuple),
    "session_id": words,
}
sessions = st.builds(SessionLog, **OF_A_SESSION)


@pytest.mark.parametrize(("log", "tried"), [(RoundLog, OF_A_ROUND), (SessionLog, OF_A_SESSION)])
def test_nothing_a_log_holds_goes_untried(log: type, tried: dict[str, object]) -> None:
    assert {field.name for field in fields(log)} - {"version"} == set(tried)


@given(log=sessions)
@settings(
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
def test_a_session_comes_back_as_it_was(log: SessionLog, tmp_path: Path) -> None:
    path = tmp_path / "session.yaml"
    path.write_bytes(session_text(log).encode())
    assert read_session(path) == (log, ())


@given(value=st.floats(-1e6, 1e6), decimals=st.integers(0, 3))
def test_rounding_twice_is_rounding_once(value: float, decimals: int) -> None:
    assert rounded(rounded(value, decimals), decimals) == rounded(value, decimals)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_is_no_number_is_left_out(value: float, a_session: SessionLog) -> None:
    odd = replace(a_session.rounds[0], notes=(NoteLog("D5", cents=value),))
    plain = yaml.safe_load(session_text(replace(a_session, rounds=(odd,))))
    assert plain["rounds"][0]["notes"] == [{"note": "D5"}]


def test_numbers_from_numpy_are_numbers(a_session: SessionLog) -> None:
    note = NoteLog("D5", cents=np.float32(4), off_ms=np.int64(-3), blip=np.bool_(True))  # type: ignore[arg-type]
    measures = RoundMeasures(np.int64(1), np.int64(0), np.int64(0), lead_ms=np.float64(2))  # type: ignore[arg-type]
    round_ = replace(
        a_session.rounds[0],
        notes=(note,),
        measures=measures,
        secure=np.bool_(False),  # type: ignore[arg-type]
        breaths_s=((np.float64(1), np.float64(1.5)),),
    )
    (plain,) = yaml.safe_load(session_text(replace(a_session, rounds=(round_,))))["rounds"]
    assert plain["notes"] == [{"note": "D5", "cents": 4, "off_ms": -3, "blip": True}]
    assert plain["measures"] == {"played": 1, "missed": 0, "extra": 0, "lead_ms": 2}
    assert (plain["secure"], plain["breaths_s"]) == (False, [[1, 1.5]])


def test_text_that_has_no_utf8_is_written_all_the_same(a_session: SessionLog) -> None:
    text = session_text(replace(a_session, remark="from a \ud800 terminal"))
    assert yaml.safe_load(text)["remark"] == "from a ? terminal"


def test_each_note_has_a_line_of_its_own(a_session: SessionLog) -> None:
    lines = session_text(a_session).splitlines()
    asked = sum(len(round_.notes) for round_ in a_session.rounds)
    assert sum("{note: " in line for line in lines) == asked
    assert lines[0].startswith("# ")


def test_a_remark_of_several_lines_stays_as_typed(a_session: SessionLog) -> None:
    text = session_text(replace(a_session, remark="First line.\nSecond: line."))
    assert "  First line.\n  Second: line.\n" in text


def every_line(fields: KeptFields) -> Iterator[Kept]:
    """Lines within lines too."""
    for field in flat(fields):
        yield field
        if isinstance(field.kind, (Record, Records)):
            yield from every_line(field.kind.fields)


def test_the_schema_page_names_every_key() -> None:
    """The page a teacher reads must not lag behind what is written."""
    from trainer.journal import session_schema as schema

    assert schema.__doc__ is not None
    assert {line.key for line in every_line(SESSION) if line.key not in schema.__doc__} == set()


def test_every_line_says_what_it_is() -> None:
    assert all(line.says.endswith(".") for line in every_line(SESSION))


@pytest.mark.parametrize(
    ("table", "log"),
    [(SESSION, SessionLog), (ROUND, RoundLog), (NOTE, NoteLog), (MEASURES, RoundMeasures)],
)
def test_the_table_has_a_row_for_each_field_of_a_log(table: KeptFields, log: type) -> None:
    assert {line.attribute for line in table} == {field.name for field in fields(log)}
