"""The JSON Schema against the jsonschema library, the trainer's own files, and broken ones."""

from __future__ import annotations

import importlib.util
import json
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from types import ModuleType
from typing import Any

import jsonschema
import pytest
import yaml
from hypothesis import given, settings

from trainer import cli
from trainer.app.paths import user_paths
from trainer.journal.encode import session_text
from trainer.journal.export import sessions_json
from trainer.journal.json_schema import journal_schema
from trainer.journal.log import LaterRemark, SessionLog
from trainer.journal.read import read_session
from trainer.routine.load import load_routine

from .test_round_trip import sessions

PROJECT = Path(__file__).parents[2]


class TextTimes(yaml.SafeLoader):
    """As PyYAML's safe loader, but times stay text, which is all JSON has."""

    yaml_implicit_resolvers = {  # noqa: RUF012  (PyYAML's own name for a table)
        first: [entry for entry in entries if entry[0] != "tag:yaml.org,2002:timestamp"]
        for first, entries in yaml.SafeLoader.yaml_implicit_resolvers.items()
    }


def strict(schema: Any) -> Any:
    """The schema with every unknown name refused: so a forgotten field is found."""
    if isinstance(schema, list):
        return [strict(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    inner = {
        key: value if key in ("if", "else") else strict(value) for key, value in schema.items()
    }
    return inner | {"additionalProperties": False} if "required" in schema else inner


VALIDATOR = jsonschema.Draft202012Validator(strict(journal_schema()))


def faults(text: str) -> list[str]:
    plain = yaml.load(text, Loader=TextTimes)
    return [f"{list(fault.path)}: {fault.message}" for fault in VALIDATOR.iter_errors(plain)]


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(journal_schema())


def test_invented_weeks_fit(
    invented_weeks: Callable[[int, date], list[SessionLog]],
) -> None:
    for log in invented_weeks(5, date(2026, 11, 22)):
        assert faults(session_text(log)) == []


def demo_weeks() -> ModuleType:
    spec = importlib.util.spec_from_file_location("demo_weeks", PROJECT / "demo" / "weeks.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.slow
def test_the_demo_journal_fits(tmp_path: Path) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path)})
    routine, _ = load_routine(PROJECT / "routines" / "busy_day.yaml")
    assert routine is not None
    written = demo_weeks().write_weeks(routine, paths, date(2026, 11, 25))
    files = sorted(paths.journal.glob("*.yaml"))
    assert len(files) == written > 10
    for file in files:
        assert faults(file.read_text(encoding="utf-8")) == []


@given(log=sessions)
@settings(max_examples=40)
def test_whatever_the_trainer_writes_fits(log: SessionLog) -> None:
    assert faults(session_text(log)) == []


def test_the_export_fits_too(a_session: SessionLog) -> None:
    later = LaterRemark("Added.", datetime.fromisoformat("2026-11-24T08:10:00+01:00"))
    exported = json.loads(sessions_json([replace(a_session, remarks=(later,))]))
    for session in exported:
        assert list(VALIDATOR.iter_errors(session)) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("version: 2", "version: 3"),
        ("tempo_bpm: 72", "tempo_bpm: fast"),
        ("tempo_bpm: 72", "tempo_bpm: 0"),
        ("kind: technique", "kind: juggling"),
        ("articulation: slurred", "articulation: sung"),
        ("  started: 2026-11-20", "  started: yesterday"),
        ("- {note: D4,", "- {note: H4,"),
        ("- {note: D4,", "- {"),
        ("measures: {played: 3", "measures: {plaid: 3"),
        ("- exercise: hill-scale\n  title", "- title"),
        ("- {exercise: slow-lamps, ", "- {"),
    ],
)
def test_schema_and_reader_refuse_the_same(
    old: str, new: str, a_session: SessionLog, tmp_path: Path
) -> None:
    text = session_text(a_session)
    assert old in text
    broken = text.replace(old, new, 1)
    (tmp_path / "session.yaml").write_text(broken)
    assert faults(broken)
    assert read_session(tmp_path / "session.yaml")[1]


def test_the_command_prints_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["journal", "schema"]) == 0
    assert json.loads(capsys.readouterr().out) == journal_schema()
