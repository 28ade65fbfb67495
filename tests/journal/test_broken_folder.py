"""One folder with two hundred broken files among good ones.

What is broken is decided without the trainer: by PyYAML's own loader and the jsonschema library.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import jsonschema
import pytest
import yaml

from trainer.app.paths import user_paths
from trainer.journal.encode import session_text
from trainer.journal.json_schema import journal_schema
from trainer.journal.kept import kept_sessions
from trainer.journal.log import SessionLog
from trainer.journal.read import read_sessions

from .test_json_schema import TextTimes
from .test_read import ALL_BROKEN, fuzzed

BROKEN = 200
GOOD = 30
VALIDATOR = jsonschema.Draft202012Validator(journal_schema())


@pytest.fixture
def good_text(a_session: SessionLog) -> str:
    """Short, so that what is changed matters more often."""
    rounds = [
        replace(round_, secure=True, notes=round_.notes[:6]) for round_ in a_session.rounds[-4:]
    ]
    return session_text(replace(a_session, felt="light", rounds=tuple(rounds)))


def is_broken(raw: bytes) -> bool:
    try:
        plain = yaml.load(raw.decode("utf-8-sig"), Loader=TextTimes)
    except (yaml.YAMLError, ValueError, RecursionError):
        return True
    return not VALIDATOR.is_valid(plain)


def broken_files(text: str) -> Iterator[bytes]:
    """First by hand, then by what disks and syncing do, until there are enough."""
    for old, new, _ in ALL_BROKEN:
        if old in text and len(new) < 1000:
            yield text.replace(old, new, 1).encode()
    for seed in range(10_000):
        raw = fuzzed(text, random.Random(seed))
        if is_broken(raw):
            yield raw


@pytest.mark.slow
def test_two_hundred_broken_files_are_told_and_hide_none(
    tmp_path: Path, good_text: str, a_session: SessionLog
) -> None:
    broken = {}
    for number, raw in zip(range(BROKEN), broken_files(good_text), strict=False):
        path = tmp_path / f"broken {number:03}.yaml"
        path.write_bytes(raw)
        broken[path] = raw
    for number in range(GOOD):
        started = a_session.started + timedelta(days=number)
        log = replace(a_session, started=started, session_id=f"good {number}")
        (tmp_path / f"{started:%Y-%m-%d}.yaml").write_text(session_text(log))
    sessions, problems = read_sessions(tmp_path)
    assert len(broken) == BROKEN
    assert {f"good {number}" for number in range(GOOD)} <= {log.session_id for log in sessions}
    assert {problem.path for problem in problems} == set(broken), "each is told, no other is"
    for problem in problems:
        assert problem.path.name in str(problem)
        assert len(problem.sentence) < 300
        assert problem.line is None or 1 <= problem.line <= broken[problem.path].count(b"\n") + 1
    assert all(path.read_bytes() == raw for path, raw in broken.items())
    inside = sum(problem.line is not None for problem in problems)
    assert inside > len(problems) / 2, "most are told with their line"


def test_the_commands_tell_them_too(tmp_path: Path, good_text: str) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path)})
    paths.journal.mkdir()
    (paths.journal / "2026-11-20.yaml").write_text(good_text.replace("seconds: ", "seconds: -", 1))
    _, (problem,) = kept_sessions(paths.journal_folders)
    assert problem.brief.startswith(f"2026-11-20.yaml, line {problem.line}: 'seconds: -")
