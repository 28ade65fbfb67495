"""Music in pixels: what the terminal can, what is sent to it, and the heads read back from it."""

from __future__ import annotations

import random
import re
from base64 import standard_b64decode
from fractions import Fraction
from io import BytesIO

import pytest

Image = pytest.importorskip("PIL.Image", reason="Pillow is not installed")

import numpy as np  # noqa: E402
from scipy import ndimage  # type: ignore[import-untyped]  # noqa: E402

from tests.screens.rounds import round_of  # noqa: E402
from trainer.music.note import Note, Start  # noqa: E402
from trainer.music.pitch import LETTERS, Pitch  # noqa: E402
from trainer.screens.drawing.engrave import engraved  # noqa: E402
from trainer.screens.drawing.scale import PIXELS, PIXELS_ON_STAND, StaffScale  # noqa: E402
from trainer.screens.drawing.staff_rows import frame, sheet  # noqa: E402
from trainer.screens.drawing.systems import systems  # noqa: E402
from trainer.screens.pixels.palette import Palette  # noqa: E402
from trainer.screens.pixels.picture_codes import kitty_messages, kitty_row, sixels  # noqa: E402
from trainer.screens.pixels.pixel_painter import painted_in_pixels  # noqa: E402
from trainer.screens.pixels.terminal_pixels import PixelWay, way_of  # noqa: E402

DARK = Palette((18, 18, 18), (120, 120, 120), (190, 190, 190), (255, 255, 255), (255, 180, 80))
CELL = (9, 18)
BARS = 300
CELLS = {PIXELS: 110, PIXELS_ON_STAND: 210}
"""Wide enough for any of the bars."""
LOWEST, HIGHEST = Pitch.parse("C4").staff_step, Pitch.parse("A7").staff_step
"""None to eight ledger lines above."""
E4 = Pitch.parse("E4").staff_step


@pytest.mark.parametrize(
    ("answer", "way"),
    [
        (b"\x1b[?62;4;6;22c", PixelWay.SIXEL),
        (b"\x1b[?64;1;2;6;22c", None),
        (b"\x1b_Gi=31;OK\x1b\\\x1bP>|kitty(0.39.1)\x1b\\\x1b[?62;c", PixelWay.KITTY),
        (b"\x1b_Gi=31;OK\x1b\\\x1bP>|kitty(0.26.5)\x1b\\\x1b[?62;c", None),
        (b"\x1b_Gi=31;OK\x1b\\\x1bP>|other 1\x1b\\\x1b[?62;4c", PixelWay.SIXEL),
        (b"\x1b[?14;4c", PixelWay.SIXEL),
        (b"\x1b[?40;14c", None),
        (b"", None),
    ],
)
def test_the_terminals_answer_decides(answer: bytes, way: PixelWay | None) -> None:
    """Answers as xterm's ctlseqs and kitty's graphics protocol describe them; 4 is sixel."""
    assert way_of(answer) == way


def decoded_sixels(text: str) -> np.ndarray:
    """A second reading of sixels (DEC STD 070, 'Sixel graphics'): RGB in percent, by hand."""
    body = text.removeprefix("\x1bPq").removesuffix("\x1b\\")
    found = re.match(r'"1;1;(\d+);(\d+)', body)
    assert found
    width, height = int(found[1]), int(found[2])
    image = np.zeros((height + 6, width, 3), dtype=int)
    colours: dict[int, tuple[int, ...]] = {}
    x = y = 0
    colour = 0
    for token in re.findall(r"#\d+(?:;2;\d+;\d+;\d+)?|!\d+.|[$-]|[?-~]", body[found.end() :]):
        if token[0] == "#":
            colour, *rest = (int(part) for part in token[1:].replace(";2;", ";").split(";"))
            if rest:
                colours[colour] = tuple(rest)
        elif token == "$":
            x = 0
        elif token == "-":
            x, y = 0, y + 6
        else:
            run = int(token[1:-1]) if token[0] == "!" else 1
            bits = ord(token[-1]) - 63
            for bit in range(6):
                if bits >> bit & 1:
                    image[y + bit, x : x + run] = colours[colour]
            x += run
    return image[:height]


def picture(scale: StaffScale, notes: list[Note], signature: int = -3) -> object:
    round_ = round_of(notes, signature)
    (system,) = systems(round_, CELLS[scale], scale)
    music = sheet(round_)
    rows = frame(notes, music, scale)
    return painted_in_pixels(engraved(system, music, rows), rows, CELLS[scale], CELL, DARK), rows


def random_notes(dice: random.Random) -> list[Note]:
    each = dice.choice((Fraction(1), Fraction(1, 2), Fraction(1, 4)))
    notes: list[Note] = []
    lowest = dice.randrange(LOWEST, HIGHEST - 9)
    for index in range(int(4 / each)):
        before = notes[-1].pitch.staff_step if notes else -1
        step = dice.choice([s for s in range(lowest, lowest + 10) if s != before])
        octave, letter = divmod(step, 7)
        pitch = Pitch(LETTERS[letter], dice.choice((-1, 0, 0, 0, 1)), octave)
        notes.append(Note(index, pitch, index * each, each, Start.TONGUED))
    return notes


def test_sixels_are_the_picture() -> None:
    image, _ = picture(PIXELS, random_notes(random.Random(1)))
    shown = np.asarray(image, dtype=float) * 100 / 255
    assert np.abs(decoded_sixels(sixels(image)) - shown).max() <= 8, "sixteen greys"


def test_kittys_messages_are_the_picture_and_its_cells() -> None:
    image, rows = picture(PIXELS, random_notes(random.Random(2)))
    messages = kitty_messages(image, 7, CELLS[PIXELS], rows.height)
    assert messages.startswith(f"\x1b_Ga=T,U=1,i=7,f=100,c={CELLS[PIXELS]},r={rows.height},q=2,")
    coded = "".join(re.findall(r";([^;\x1b]*)\x1b", messages))
    sent = np.asarray(Image.open(BytesIO(standard_b64decode(coded))).convert("RGB"), dtype=int)
    assert np.abs(sent - np.asarray(image, dtype=int)).max() <= 20
    assert kitty_row(3, 40).count("\U0010eeee") == 40


def heads_read(image: object, space: int) -> list[int]:
    """Staff steps of filled heads, from pixels alone, from left to right.

    The five lines are read left of the clef; a head is a blob of the notes' ink as
    wide and as high as a head, and nearly full.
    """
    grey = np.asarray(image)[:, :, 0]
    left = np.abs(grey[:, : CELL[0] // 2].astype(int) - DARK.line[0]) <= 3
    dark_rows = np.flatnonzero(left.all(axis=1))
    groups = np.split(dark_rows, np.flatnonzero(np.diff(dark_rows) > 1) + 1)
    lines = sorted(float(group.mean()) for group in groups)
    assert len(lines) == 5, lines
    bottom, step_height = lines[-1], (lines[-1] - lines[0]) / 8
    ink = (grey > 225).astype(np.uint8)
    opened = ndimage.grey_opening(ink, size=(space // 3, space // 2), mode="constant")
    found = []
    labels, _ = ndimage.label(opened)
    for blob in ndimage.find_objects(labels):
        height, width = (part.stop - part.start for part in blob)
        if 0.7 * space <= height <= 1.3 * space and 0.8 * space <= width <= 1.6 * space:
            middle = (blob[0].start + blob[0].stop - 1) / 2
            found.append((blob[1].start, round((bottom - middle) / step_height) + E4))
    return [step for _, step in sorted(found)]


@pytest.mark.slow
@pytest.mark.parametrize("scale", [PIXELS, PIXELS_ON_STAND], ids=["small", "large"])
def test_heads_are_read_from_the_pixels_of_three_hundred_bars(scale: StaffScale) -> None:
    space = scale.rows_a_space * CELL[1]
    wrong = total = 0
    for seed in range(BARS if scale == PIXELS else BARS // 5):
        dice = random.Random(f"pixels {seed}")
        notes = random_notes(dice)
        image, _ = picture(scale, notes, dice.randint(-7, 7))
        asked = [note.pitch.staff_step for note in notes]
        read = heads_read(image, space)
        total += len(asked)
        wrong += (
            len(asked)
            if len(read) != len(asked)
            else sum(a != b for a, b in zip(asked, read, strict=True))
        )
    assert wrong <= 0.01 * total, f"{wrong} of {total}"
