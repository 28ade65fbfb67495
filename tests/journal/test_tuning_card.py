"""The tuning card: habits planted under cold mornings and an unsteady headjoint are found again.

What is true is what was planted; the card is counted a second time from the YAML files alone, by
numpy and with no word of the trainer's.
"""

from __future__ import annotations

import json
import random
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from statistics import median, quantiles
from typing import Any

import numpy as np
import pytest
import yaml

from demo.made_rounds import plain_round
from trainer.cli import main
from trainer.journal.encode import session_text
from trainer.journal.index import ask_index
from trainer.journal.log import NoteLog, SessionLog
from trainer.journal.tuning_card import TuningCard, tuning_cards
from trainer.journal.tuning_card_page import card_page, card_text
from trainer.music.pitch import Pitch, sharp_name

FIRST = date(2026, 8, 3)
HERE = timezone(timedelta(hours=2))
RANGE = [sharp_name(midi) for midi in range(62, 96)]
HABITS = {"C#5": 9.0, "C#6": 14.0, "E6": -8.0, "F#6": 6.0, "A4": -7.0}
WANDERS = "G#6"


def sessions() -> list[SessionLog]:
    """Forty mornings; each with its own middle, every third of high notes alone."""
    lucky = random.Random(11)
    found = []
    for number in range(40):
        middle = lucky.gauss(-6, 9)
        names = [name for name in RANGE if number % 3 or name[-1] == "6"]
        notes = []
        for name in names:
            habit = HABITS.get(name, 0.0) + (lucky.choice((-18, 18)) if name == WANDERS else 0)
            notes += [NoteLog(name, cents=round(lucky.gauss(middle + habit, 3), 1)) for _ in "two"]
        started = datetime(2026, 8, 3, 8, tzinfo=HERE) + timedelta(days=2 * number)
        rounds = (plain_round(notes, started=started, seconds=30, exercise_id="e", title="E"),)
        found.append(SessionLog(started, rounds=rounds, elapsed_s=60, session_id=str(number)))
    return found


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("home") / "journal"
    folder.mkdir()
    for log in sessions():
        (folder / f"{log.file_stem}.yaml").write_text(session_text(log), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def card(folder: Path) -> TuningCard:
    last = FIRST + timedelta(days=200)
    cards, problems = ask_index(
        lambda index: tuning_cards(index, FIRST, last), [folder], folder.parent / "state"
    )
    assert not problems
    (found,) = cards
    return found


def test_what_was_planted_is_found_within_two_cents(card: TuningCard) -> None:
    found = {sharp_name(note.midi): note for note in card.notes}
    assert set(found) == set(RANGE)
    for name, note in found.items():
        if name != WANDERS:
            assert note.cents.median == pytest.approx(HABITS.get(name, 0.0), abs=2)
    assert {name for name, note in found.items() if note.out} == set(HABITS)
    assert [name for name, note in found.items() if note.wanders] == [WANDERS]
    assert card.middle_cents == pytest.approx(-6, abs=4)


def polished(table: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """What a table holds beyond its rows, by sweeping out medians of rows and columns in turn."""
    rows = np.zeros((table.shape[0], 1))
    columns = np.zeros((1, table.shape[1]))
    for _ in range(10):
        rows = np.nanmedian(table - columns, axis=1, keepdims=True)
        columns = np.nanmedian(table - rows, axis=0, keepdims=True)
        rows += np.nanmedian(columns)
        columns -= np.nanmedian(columns)
    beyond: np.ndarray[Any, Any] = table - rows
    return beyond


def test_the_card_is_recounted_from_the_files(card: TuningCard, folder: Path) -> None:
    names = [sharp_name(note.midi) for note in card.notes]
    rows = []
    for file in sorted(folder.glob("*.yaml")):
        plain = yaml.safe_load(file.read_text(encoding="utf-8"))
        cents: dict[str, list[float]] = {}
        for note in plain["rounds"][0]["notes"]:
            cents.setdefault(note["note"], []).append(note["cents"])
        rows.append([median(cents[name]) if name in cents else np.nan for name in names])
    beyond = polished(np.array(rows))
    for place, note in enumerate(card.notes):
        own = [one for one in beyond[:, place] if not np.isnan(one)]
        low, middle, high = quantiles(own, n=4, method="inclusive")
        assert (note.cents.low, note.cents.median, note.cents.high) == pytest.approx(
            (low, middle, high)
        )
        assert note.cents.count == len(own)


def test_a_note_heard_on_two_days_is_not_spoken_of(folder: Path) -> None:
    few = FIRST + timedelta(days=3)
    cards, _ = ask_index(lambda index: tuning_cards(index, FIRST, few), [folder], folder / "state")
    assert [card.notes for card in cards] == [()]


def test_the_page_is_one_sheet_that_asks_for_nothing(card: TuningCard) -> None:
    page, text = card_page([card]), card_text([card])
    assert page.count("<section>") == 1
    assert "http" not in page.replace("http-equiv", "")
    for name, cents in HABITS.items():
        sign = f"{'▲' if cents > 0 else '▼'} {abs(round(found_cents(card, name)))}"
        assert sign in page
        assert sign in text
    assert max(map(len, text.splitlines())) <= 80


def found_cents(card: TuningCard, name: str) -> float:
    midi = Pitch.parse(name).midi
    return next(note.cents.median for note in card.notes if note.midi == midi)


def test_the_command_prints_and_writes_the_card(
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("TRAINER_HOME", str(folder.parent))
    days = ["--from", "2026-08-03", "--to", "2026-11-30"]
    assert main(["tuning", *days, "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)
    assert told["sessions"] == 40
    page = tmp_path / "card.html"
    assert main(["tuning", *days, "--page", str(page)]) == 0
    assert "Tuning card of the flute" in page.read_text(encoding="utf-8")
    assert main(["tuning", "--to", "2020-01-01"]) == 0
    assert "No note was heard" in capsys.readouterr().out
