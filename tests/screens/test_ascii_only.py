"""Plain ASCII: every screen in it, and the music read back from it."""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest

from tests.screens import test_reading as reading
from tests.screens.cell_reader import CellReader
from tests.sweeps import mostly_slow
from trainer.app.settings import PLAIN, Settings
from trainer.screens.appearance import speaks_unicode
from trainer.screens.drawing.ascii_only import plain
from trainer.session.view import Stage

Opened = Callable[..., Any]
QUARTERS = dict(zip("'`\";[zP,s]qoLd@", "▘▝▀▖▌▞▛▗▚▐▜▄▙▟█", strict=True))
LINES = {"-": "─", "|": "│", "<": "╭", ">": "╮", "~": "╌", "+": "┐"}
HOLLOW = {"()": "⢎⡱", "/\\": "⡠⢄", "\\/": "⠑⠊"}


def as_drawn(line: str) -> str:
    """What the independent reader looks for, where ASCII has its stand-in."""
    for told, drawn in HOLLOW.items():
        line = line.replace(told, drawn)
    return "".join((QUARTERS | LINES).get(cell, cell) for cell in line)


@pytest.mark.parametrize("signature", mostly_slow(range(-7, 8), 3))
def test_a_reader_recovers_every_note_from_ascii(signature: int) -> None:
    dice = random.Random(1000 + signature)
    for _ in range(reading.BARS_IN_EACH_KEY):
        each = dice.choice((Fraction(1), Fraction(1, 2), Fraction(1, 4), Fraction(1, 3)))
        notes = reading.random_bar(dice, each)
        highest = dice.choice((99, 45))
        texts = [plain(row.text) for row in reading.drawn(notes, signature, highest)]
        assert all(text.isascii() for text in texts)
        read = CellReader([as_drawn(text) for text in texts]).pitches()
        assert read == [note.pitch for note in notes], "\n".join(texts)


async def test_every_screen_is_plain_where_that_is_set(stand: Opened) -> None:
    async with stand((80, 24)) as at:
        drawn = await at.shown()
        at.app.dress(replace(Settings(), characters=PLAIN))
        shown = [await at.shown()]
        assert len(shown[0]) == len(drawn)
        shown.append(await at.press("pagedown"))
        shown.append(await at.press("question_mark"))
        shown.append(await at.press("escape"))
        shown.append(await at.press("pagedown"))
        shown.append(await at.until(lambda: (at.session.view().beat or -9) > 2))
        shown.append(await at.until_stage(Stage.AFTER))
        shown.append(await at.press("e"))
        shown.append(await at.press("w"))
        await at.press("escape")
        shown.append(await at.press("q"))
        at.app.action_settings()
        shown.append(await at.press("down"))
    for screen in shown:
        assert screen.isascii(), [c for c in screen if not c.isascii()]
    assert "\\/" in shown[4]
    assert "dP" in shown[4]


@pytest.mark.parametrize(
    ("encoding", "speaks"),
    [("utf-8", True), ("UTF-8", True), ("ascii", False), ("iso8859-1", False), (None, True)],
)
def test_the_terminals_encoding_decides(
    monkeypatch: pytest.MonkeyPatch, encoding: str | None, speaks: bool
) -> None:
    monkeypatch.setattr(sys, "__stderr__", SimpleNamespace(encoding=encoding))
    assert speaks_unicode() is speaks


@pytest.mark.parametrize(
    ("text", "ascii_"),
    [("Übung für Zoë", "Ubung fur Zoe"), ("é–ß", "e-s"), ("日", "??"), ("a → b", "a > b")],
)
def test_words_stay_readable_and_as_wide(text: str, ascii_: str) -> None:
    assert plain(text) == ascii_
