from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from trainer.errors import JournalError
from trainer.journal.log import AskedExercise, LaterRemark, SessionLog
from trainer.journal.sessions_text import session_named, session_text_page, sessions_text
from trainer.music.note import Start


@pytest.fixture
def three(a_session: SessionLog) -> list[SessionLog]:
    later = replace(a_session, started=a_session.started + timedelta(hours=3))
    next_day = replace(a_session, started=a_session.started + timedelta(days=1), rounds=())
    return [a_session, later, next_day]


def test_a_line_a_session(three: list[SessionLog]) -> None:
    lines = sessions_text(three).splitlines()
    assert [line[:16] for line in lines] == [
        "2026-11-20 17:05",
        "2026-11-20 20:05",
        "2026-11-21 17:05",
    ]
    assert "22 min" in lines[0]
    assert f"{len(three[0].rounds)} rounds" in lines[0]
    judged = [round_.secure for round_ in three[0].rounds if round_.secure is not None]
    assert f"{sum(judged)} of {len(judged)} clean" in lines[0]
    assert "none judged" in lines[2]
    assert max(map(len, lines)) <= 80


def test_no_session_is_said() -> None:
    assert "No session" in sessions_text([])


def test_sessions_are_named_by_their_start(three: list[SessionLog]) -> None:
    assert session_named(three, "2026-11-21") is three[2]
    assert session_named(three, "2026-11-20 20:05") is three[1]
    assert session_named(three, "2026-11-20T17:05:12") is three[0]
    assert session_named(three, "last") is three[2]


@pytest.mark.parametrize(
    ("when", "said"),
    [
        ("2026-11-20", "2 sessions began at 2026-11-20; name one of them: '2026-11-20 17:05:12'"),
        ("2026-11-22", "No session began"),
        ("yesterday", "is no day"),
        ("2026-11-2", "is no day"),
    ],
)
def test_a_name_that_fits_none_or_several_is_told(
    when: str, said: str, three: list[SessionLog]
) -> None:
    with pytest.raises(JournalError, match=said):
        session_named(three, when)


def test_last_of_none_is_told() -> None:
    with pytest.raises(JournalError, match="No session began"):
        session_named([], "last")


def test_a_session_on_a_page(a_session: SessionLog) -> None:
    log = replace(
        a_session,
        asked=(*a_session.asked, AskedExercise("ladder", "The ladder", 5.0)),
        remarks=(LaterRemark("not for all", datetime(2026, 11, 24, 8, tzinfo=UTC), True),),
    )
    text = session_text_page(log)
    for words in (
        "Ilse Varn, Friday 20 November 2026, 17:05",
        "A4 at 440 Hz; 22 minutes",
        "10 min  D major, full range: 3 rounds",
        " 5 min  The ladder: not played",
        "round 2, D major, legato tongue, 72 bpm",
        "G#4 extra",
        "The C sharp to D sticks, above all coming down.",
        "2026-11-24 08:00: not for all (private)",
    ):
        assert words in text
    assert text.count("\n") > 3 * len(log.rounds)
    assert max(map(len, text.splitlines())) <= 90


def test_a_session_cut_off_says_so(a_session: SessionLog) -> None:
    assert "cut off" in session_text_page(replace(a_session, ended=None))


def test_starts_that_were_not_judged_are_counted(a_session: SessionLog) -> None:
    first, *others = a_session.rounds
    unsure = replace(first.notes[0], start=None, start_certainty=0.6)
    sure = replace(first.notes[1], start=Start.SLURRED, start_certainty=0.98)
    log = replace(a_session, rounds=(replace(first, notes=(unsure, sure)), *others))
    assert "Starts not judged: 1 of 2." in session_text_page(log)
    assert "not judged:" not in session_text_page(a_session)
