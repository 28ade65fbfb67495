"""Exports hold every note and no private word."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
import yaml

from trainer.journal.encode import session_text
from trainer.journal.export import notes_csv, sessions_json, without_private
from trainer.journal.log import LaterRemark, SessionLog
from trainer.journal.week_summary import week
from trainer.journal.week_text import week_json, week_text

SECRET = "the wolf under the bed"


@pytest.fixture
def with_secrets(a_session: SessionLog) -> list[SessionLog]:
    """Two sessions; private words everywhere they may stand."""
    at = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)
    later = (LaterRemark("for all", at), LaterRemark(f"{SECRET} 3", at, private=True))
    private = replace(
        a_session, felt=f"{SECRET} 1", remark=f"{SECRET} 2", private=True, session_id="b"
    )
    return [replace(a_session, remarks=later), replace(private, remarks=later)]


def plain_yaml(log: SessionLog) -> dict[str, object]:
    loaded: dict[str, object] = yaml.load(session_text(log), Loader=yaml.BaseLoader)
    return loaded


def test_a_row_a_note(a_session: SessionLog) -> None:
    rows = list(csv.DictReader(io.StringIO(notes_csv([a_session]), newline="")))
    expected = [
        (round_["exercise"], str(place), note)
        for round_ in plain_yaml(a_session)["rounds"]  # type: ignore[attr-defined]
        for place, note in enumerate(round_["notes"], start=1)
    ]
    assert len(rows) == len(expected) > 100
    for row, (exercise, place, note) in zip(rows, expected, strict=True):
        assert (row["exercise"], row["place"]) == (exercise, place)
        assert row["state"] == note.pop("state", "played")
        assert row["blip"] == note.pop("blip", "false")
        for column, value in note.items():
            assert float(row[column]) == float(value) if column == "cents" else row[column] == value


def test_json_is_the_file_without_private_words(with_secrets: list[SessionLog]) -> None:
    exported = json.loads(sessions_json(with_secrets))
    first = yaml.safe_load(session_text(with_secrets[0]))
    assert exported[0]["rounds"][0]["notes"] == first["rounds"][0]["notes"]
    assert [set(each) - {"remarks"} for each in exported] == [
        set(first) - {"remarks"},
        set(first) - {"felt", "remark", "remarks"} | {"private"},
    ]
    assert [each["remarks"] for each in exported] == [
        [{"at": "2026-11-24T08:00:00+00:00", "remark": "for all"}]
    ] * 2


def test_no_export_tells_a_secret(with_secrets: list[SessionLog]) -> None:
    found = week(with_secrets, date(2026, 11, 22))
    assert SECRET in week_text(found), "the student's own eyes see it"
    for exported in (
        notes_csv(with_secrets),
        sessions_json(with_secrets),
        json.dumps(week_json(found)),
    ):
        assert SECRET not in exported


def test_what_is_not_private_stays(a_session: SessionLog) -> None:
    assert without_private(a_session) == a_session
