"""Skimming says the same as reading, whatever was done to the file."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from trainer.ear.heard import State, Tone
from trainer.journal import read
from trainer.journal.encode import session_text
from trainer.journal.log import NoteLog, SessionLog
from trainer.journal.outline import outline
from trainer.journal.read import read_session
from trainer.journal.skim import skim_session
from trainer.music.note import Start

FULL = NoteLog("Gb5", cents=-3.2, cents_spread=2.0, drift_cents=-1.0, off_ms=-12.0, level_db=-23.1,
               start=Start.SLURRED, start_certainty=0.981, attack_ms=40.0, vibrato_hz=5.12,
               vibrato_cents=12.0, tone=Tone(-3.2, -31.0, 2.1), blip=True)  # fmt: skip
ODD = (
    FULL,
    NoteLog("C#6", State.MISSED),
    NoteLog("B#3", State.NOT_JUDGED),
    NoteLog("Bb4", State.EXTRA, cents=11.0, instead_of="A4"),
    NoteLog(None, State.EXTRA),
    NoteLog("D4", start=Start.SILENT_AIR),
    NoteLog("D4", cents=1.0, start_certainty=0.5),
)


def same(path: Path) -> bool:
    read, read_problems = read_session(path)
    skimmed, skim_problems = skim_session(path)
    assert skim_problems == read_problems
    assert (read and outline(read)) == (skimmed and outline(skimmed))
    return skimmed is not None


@pytest.fixture
def whole(a_session: SessionLog, tmp_path: Path) -> Path:
    rounds = tuple(replace(round_, notes=(*round_.notes, *ODD)) for round_ in a_session.rounds)
    said = replace(a_session, rounds=rounds, remark="  notes:\n  - {note: A4}\nand so on")
    path = tmp_path / "2026-11-20_17-05-12.yaml"
    path.write_text(session_text(said), encoding="utf-8")
    return path


def test_every_note_the_trainer_writes_is_passed_over(whole: Path) -> None:
    assert same(whole)
    skimmed, _ = skim_session(whole)
    assert skimmed
    assert [round_.notes for round_ in skimmed.rounds] == [()] * len(skimmed.rounds)


CHANGES: dict[str, Callable[[str], str]] = {
    "wrong pitch": lambda text: text.replace("note: D5", "note: H5", 1),
    "no pitch": lambda text: text.replace("{note: D5, ", "{", 1),
    "wrong number": lambda text: text.replace("off_ms: ", "off_ms: soon ", 1),
    "huge number": lambda text: text.replace("off_ms: ", "off_ms: 99999999", 1),
    "unknown line": lambda text: text.replace("{note: D5, ", "{note: D5, mood: glad, ", 1),
    "wrong state": lambda text: text.replace("state: extra", "state: glad", 1),
    "other spacing": lambda text: text.replace("  - {note", "    - {note"),
    "quoted": lambda text: text.replace("note: D5", "note: 'D5'"),
    "comment": lambda text: text.replace("level_db", "# level_db", 1),
    "torn": lambda text: text[: len(text) // 2],
    "torn in a note": lambda text: text[: text.index("  - {note: F#5") + 18],
    "windows line ends": lambda text: text.replace("\n", "\r\n"),
    "wrong tempo": lambda text: text.replace("tempo_bpm: 72", "tempo_bpm: quick", 2),
    "notes lost": lambda text: text.replace("  notes:\n", "  notes: gone\n", 1),
    "two lists of notes": lambda text: text.replace("  notes:\n", "  notes:\n  notes:\n", 1),
    "notes elsewhere": lambda text: text.replace("asked:\n", "notes:\n  - {note: A4}\nasked:\n"),
    "empty": lambda _: "",
    "byte order mark": lambda text: "\ufeff" + text,
}


@pytest.mark.parametrize("how", CHANGES)
def test_a_changed_file_says_the_same(whole: Path, how: str) -> None:
    text = whole.read_text(encoding="utf-8")
    changed = CHANGES[how](text)
    assert changed != text
    whole.write_bytes(changed.encode())
    same(whole)


@pytest.mark.slow
def test_files_with_random_faults_say_the_same(whole: Path) -> None:
    text = whole.read_text(encoding="utf-8")
    lucky = random.Random(11)
    readable = 0
    for _ in range(100):
        lines = text.splitlines(keepends=True)
        for _ in range(lucky.randrange(1, 4)):
            place = lucky.randrange(len(lines))
            line = lines[place]
            at = lucky.randrange(len(line))
            lines[place] = line[:at] + lucky.choice("{}[]:#x9 -,'") + line[at + 1 :]
        whole.write_text("".join(lines), encoding="utf-8")
        readable += same(whole)
    assert readable > 15


def test_a_file_that_is_none_says_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, whole: Path
) -> None:
    folder = tmp_path / "2026-11-21_folder.yaml"
    folder.mkdir()
    assert not same(folder)
    assert not same(tmp_path / "nowhere.yaml")
    monkeypatch.setattr(read, "LARGEST_FILE_BYTES", 100)
    assert not same(whole)


def test_weeks_say_the_same(
    tmp_path: Path, invented_weeks: Callable[[int, date], list[SessionLog]]
) -> None:
    for number, log in enumerate(invented_weeks(5, date(2026, 11, 22))):
        path = tmp_path / f"{number}.yaml"
        path.write_text(session_text(log), encoding="utf-8")
        assert same(path)
