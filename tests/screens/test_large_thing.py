"""One large thing for the far stand: the note, the tempo or the time left, alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.screens.test_tuner_screen import play
from trainer.music.names import Language, NoteNames, Octaves
from trainer.music.pitch import Pitch
from trainer.screens.drawing.large_figures import FIGURE_COLUMNS, FIGURE_ROWS, figure_rows
from trainer.screens.drawing.large_thing import large_name
from trainer.session.view import Stage
from trainer.sound.device_port import LOST_WORDS

SIZES = ((80, 24), (120, 40), (200, 60))
FOOT = 1
Stand = Callable[..., Any]


def fills(shown: str, text: str, size: tuple[int, int]) -> bool:
    """The text stands there, at the largest size the window above the keys allows."""
    columns = len(text) * (FIGURE_COLUMNS + 1) - 1
    scale = min(size[0] // columns, (size[1] - FOOT) // FIGURE_ROWS)
    wanted = [row.strip() for row in figure_rows(text, scale)]
    lines = [line.strip() for line in shown.splitlines()]
    return any(lines[top : top + len(wanted)] == wanted for top in range(len(lines)))


@pytest.mark.parametrize("size", SIZES)
async def test_the_tuners_note_alone_with_its_sign(stand: Stand, size: tuple[int, int]) -> None:
    async with stand(size) as at:
        await at.press("t")
        await at.press("v")
        assert fills(await play(at, 587.33), "D5", size)
        flat = await play(at, 587.33 * 2 ** (-14 / 1200))
        assert fills(flat, "D5−", size), "by its sign, never by colour alone"
        assert "cents" not in flat
        assert "14 cents flat" in await at.press("v")


async def test_the_clicks_tempo_alone(stand: Stand) -> None:
    async with stand((80, 24)) as at:
        await at.press("c")
        shown = await at.press("v")
        assert fills(shown, "60", (80, 24))
        assert "○" not in shown


async def test_what_is_told_before_a_round_stands_beside_the_large_thing(stand: Stand) -> None:
    async with stand((80, 24)) as at:
        await at.press("pagedown")
        at.session.tick()
        await at.press("v")
        at.port.lose(LOST_WORDS)
        at.session.tick()
        shown = await at.until(lambda: bool(at.session.view().notices))
        assert " ".join(shown.split()).endswith(LOST_WORDS)
        at.port.come_back("The sound is back.")
        at.session.tick()
        assert "The sound is back." in await at.shown()


async def test_of_a_round_each_thing_by_two_keys_and_the_next_round_keeps_it(stand: Stand) -> None:
    size = (120, 40)
    async with stand(size) as at:
        await at.press("pagedown")
        at.session.tick()
        assert at.session.view().stage is Stage.READY
        ready = at.session.view().round
        assert fills(await at.press("v"), "Eb4", size)
        assert fills(await at.press("v"), "112", size)
        await at.press("v")
        assert fills(await at.press("v", "left"), f"0:{int(ready.seconds):02}", size)
        await at.press("pagedown")
        await at.until(lambda: (at.session.view().beat or 0) > 8)
        left_s = ready.seconds - at.session.view().beat * 60 / ready.tempo_bpm
        assert fills(await at.shown(), f"0:{int(left_s):02}", size)
        await at.until_stage(Stage.AFTER)
        await at.until_stage(Stage.COUNT_IN)
        await at.until_stage(Stage.PLAYING)
        assert "0:" not in (shown := await at.press("left"))
        assert fills(shown, "112", size), "the next round keeps it"


@pytest.mark.parametrize("language", Language)
def test_every_note_of_the_flute_can_be_written_large(language: Language) -> None:
    pitches = [Pitch(letter, alter, octave) for letter in "CDEFGAB" for alter in range(-2, 3)
               for octave in (3, 4, 7)]  # fmt: skip
    for octaves in Octaves:
        for pitch in pitches:
            assert figure_rows(large_name(pitch, NoteNames(language, octaves)))
