"""Music in pixels: what the terminal can, what is sent to it, and the music read back from it."""

from __future__ import annotations

import os
import random
import re
import select
import time
import tty
from base64 import standard_b64decode
from dataclasses import replace
from fractions import Fraction
from io import BytesIO
from types import SimpleNamespace
from typing import Any

import pytest

Image = pytest.importorskip("PIL.Image", reason="Pillow is not installed")
ImageFont = pytest.importorskip("PIL.ImageFont", reason="Pillow is not installed")
pytest.importorskip("verovio", reason="verovio, whose Bravura the reader knows, is not installed")

import numpy as np  # noqa: E402

from tests.screens.pixel_reader import PixelReader  # noqa: E402
from tests.screens.rounds import round_of  # noqa: E402
from tests.sweeps import mostly_slow  # noqa: E402
from trainer.music.note import Note, Start  # noqa: E402
from trainer.music.pitch import LETTERS, Pitch  # noqa: E402
from trainer.routine.round import Round  # noqa: E402
from trainer.screens.drawing.accidentals import signature_alters  # noqa: E402
from trainer.screens.drawing.canvas import Ink  # noqa: E402
from trainer.screens.drawing.engrave import engraved  # noqa: E402
from trainer.screens.drawing.scale import PIXELS, PIXELS_ON_STAND, StaffScale  # noqa: E402
from trainer.screens.drawing.staff_items import Wedge  # noqa: E402
from trainer.screens.drawing.staff_rows import frame, sheet  # noqa: E402
from trainer.screens.drawing.systems import systems  # noqa: E402
from trainer.screens.pixels.palette import Palette, shade_of  # noqa: E402
from trainer.screens.pixels.picture_codes import (  # noqa: E402
    kitty_messages,
    kitty_row,
    sixels,
)
from trainer.screens.pixels.pixel_painter import (  # noqa: E402
    CODE_POINTS,
    FONT_FILE,
    painted_in_pixels,
)
from trainer.screens.pixels.staff_picture import sixel_tiles  # noqa: E402
from trainer.screens.pixels.terminal_pixels import (  # noqa: E402
    PixelWay,
    terminals_answer,
    typed_in,
    way_of,
)
from trainer.screens.pixels.theme_palette import palette  # noqa: E402

DARK = Palette((18, 18, 18), (224, 230, 240))
CELL = (9, 18)
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
        (b"\x1b_Gi=31;OK\x1b\\\x1bP>|kitty(" + b"9" * 5000 + b".1)\x1b\\\x1b[?62;c", None),
    ],
)
def test_the_terminals_answer_decides(answer: bytes, way: PixelWay | None) -> None:
    """Answers as xterm's ctlseqs and kitty's graphics protocol describe them; 4 is sixel."""
    assert way_of(answer) == way


def answered(sent: bytes) -> bytes:
    """What is read as the answer of a terminal that sends this, through a pty."""
    terminal, keyboard = os.openpty()
    try:
        tty.setraw(keyboard)
        os.write(terminal, sent)
        return terminals_answer(keyboard, keyboard)
    finally:
        os.close(terminal)
        os.close(keyboard)


def test_a_key_pressed_while_the_terminal_is_asked_is_not_lost() -> None:
    """PageDown before the answer and a space behind it, through a pty."""
    answers = b"\x1b_Gi=31;OK\x1b\\\x1bP>|kitty(0.39.1)\x1b\\\x1b[?62;c"
    answer = answered(b"\x1b[6~ " + answers)
    assert way_of(answer) is PixelWay.KITTY
    assert typed_in(answer) == "\x1b[6~ "


def test_an_answer_from_far_away_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Left over, it would press keys: 'kitty' opens the tuner. The clock is moved by hand."""
    now_s, comes_s = 0.0, 1.5

    def select_(
        keyboards: list[int], _: list[int], __: list[int], wait_s: float
    ) -> tuple[list[int], list[int], list[int]]:
        nonlocal now_s
        now_s += wait_s
        return (keyboards if now_s >= comes_s else [], [], [])

    monkeypatch.setattr(time, "monotonic", lambda: now_s)
    monkeypatch.setattr(select, "select", select_)
    answer = answered(b"\x1bP>|kitty(0.39.1)\x1b\\\x1b[?62;4c")
    assert way_of(answer) is PixelWay.SIXEL
    assert typed_in(answer) == ""


@pytest.mark.parametrize(
    ("colours", "paper"),
    [("truecolor", (18, 18, 18)), ("256", (18, 18, 18)), ("standard", (0, 0, 0))],
)
def test_a_pictures_paper_is_what_the_terminal_shows_around_it(
    colours: str, paper: tuple[int, int, int]
) -> None:
    """Of xterm's 256 colours, 233 is #121212; of the 16, black is nearest."""
    app = SimpleNamespace(
        theme_variables={"background": "#121212", "foreground": "#e0e0e0"},
        console=SimpleNamespace(color_system=colours),
    )
    assert palette(app).paper == paper  # type: ignore[arg-type]


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
    return painted_in_pixels(engraved(system, music, rows), rows, CELLS[scale], CELL), rows


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


def percent(image: Any) -> np.ndarray:
    """Each pixel's colour in percent: between paper and ink by its shade, reckoned here anew."""
    share = np.asarray(image, dtype=float)[..., None] / 255
    paper, ink = (np.array(colour) * 100 / 255 for colour in (DARK.paper, DARK.ink))
    return paper + share * (ink - paper)


def test_sixels_are_the_picture() -> None:
    image, _ = picture(PIXELS, random_notes(random.Random(1)))
    assert np.abs(decoded_sixels(sixels(image, DARK)) - percent(image)).max() <= 4, "16 shades"


def test_no_sixel_picture_is_wider_than_xterm_shows_and_together_they_are_the_whole() -> None:
    """xterm's manual, maxGraphicSize: 1000 by 1000 unless set otherwise."""
    image, _ = picture(PIXELS_ON_STAND, random_notes(random.Random(3)))
    tiles = sixel_tiles(image, DARK, CELLS[PIXELS_ON_STAND])
    parts = [decoded_sixels(code) for _, code in tiles]
    assert max(part.shape[1] for part in parts) <= 1000
    assert [first * CELL[0] for first, _ in tiles] == [
        sum(part.shape[1] for part in parts[:place]) for place in range(len(parts))
    ]
    assert np.abs(np.concatenate(parts, axis=1) - percent(image)).max() <= 4


def test_kittys_messages_are_the_picture_and_its_cells() -> None:
    image, rows = picture(PIXELS, random_notes(random.Random(2)))
    messages = kitty_messages(image, DARK, 7, CELLS[PIXELS], rows.height)
    assert messages.startswith(f"\x1b_Ga=T,U=1,i=7,f=100,c={CELLS[PIXELS]},r={rows.height},q=2,")
    coded = "".join(re.findall(r";([^;\x1b]*)\x1b", messages))
    sent = np.asarray(Image.open(BytesIO(standard_b64decode(coded))).convert("RGB"), dtype=float)
    assert np.abs(sent * 100 / 255 - percent(image)).max() <= 4
    assert kitty_row(3, 40).count("\U0010eeee") == 40


@pytest.mark.parametrize("scale", [PIXELS, PIXELS_ON_STAND], ids=["small", "large"])
def test_a_slur_is_whole_under_the_markers_row(scale: StaffScale) -> None:
    notes = [
        Note(beat, Pitch.parse("D5"), Fraction(beat), Fraction(1), start)
        for beat, start in enumerate((Start.TONGUED, Start.SLURRED, Start.SLURRED))
    ]
    round_ = round_of(notes)
    (system,) = systems(round_, CELLS[scale], scale)
    music = sheet(round_)
    rows = frame(notes, music, scale)
    items = engraved(system, music, rows)
    (bow,) = items.bows
    image = np.asarray(painted_in_pixels(items, rows, CELLS[scale], CELL))
    above = image[scale.marker_rows * CELL[1] : round(rows.row(bow.y - 1) * CELL[1])]
    first, last = (round(x * scale.columns_a_space * CELL[0]) for x in (bow.x + 1, bow.end))
    assert above[:, first:last].any(axis=0).all()


def test_every_sign_is_in_its_font() -> None:
    """What a font lacks is drawn as an empty box."""
    notes = [
        Note(beat, Pitch.parse("D5"), Fraction(beat), Fraction(1), start)
        for beat, start in enumerate(Start)
    ]
    round_ = round_of(notes)
    (system,) = systems(round_, CELLS[PIXELS], PIXELS)
    music = sheet(round_)
    said = {
        sign
        for words in engraved(system, music, frame(notes, music, PIXELS)).words
        for sign in words.text
    }
    assert {"h", "K"} <= said
    signs = {
        ImageFont.load_default(30): said,
        ImageFont.truetype(FONT_FILE, 30): map(chr, CODE_POINTS.values()),
    }
    lacking = [
        sign
        for font, of_font in signs.items()
        for sign in of_font
        if bytes(font.getmask(sign)) == bytes(font.getmask("\ufffe"))
    ]
    assert not lacking


@pytest.mark.parametrize("scale", [PIXELS, PIXELS_ON_STAND], ids=["small", "large"])
def test_a_hairpin_is_whole_at_the_lower_edge(scale: StaffScale) -> None:
    notes = [Note(0, Pitch.parse("G4"), Fraction(0), Fraction(4), Start.TONGUED)]
    round_ = round_of(notes)
    (system,) = systems(round_, CELLS[scale], scale)
    music = sheet(round_)
    rows = replace(frame(notes, music, scale), level_row=True)
    wedge = Wedge(x=6.0, end=12.0, y=rows.level_y, louder=True)
    items = replace(engraved(system, music, rows), hairpins=(wedge,))
    image = np.asarray(painted_in_pixels(items, rows, CELLS[scale], CELL))
    at = round((wedge.end - 0.3) * scale.columns_a_space * CELL[0])
    column = image[round(rows.row(rows.level_y + 0.6) * CELL[1]) :, at] > 0
    assert np.count_nonzero(np.diff(column.astype(int)) == 1) == 2, "two lines, apart"


LENGTHS = [Fraction(*each) for each in ((4,), (3,), (2,), (3, 2), (1,), (3, 4), (1, 2), (1, 4))]
"""In quarters, dots among them."""
METRES = {(2, 4): Fraction(1), (3, 4): Fraction(1), (4, 4): Fraction(1), (6, 8): Fraction(3, 2)}
"""The quarters in a beat."""


def random_bar(dice: random.Random) -> Round:
    """Notes, rests and dots that fill a bar, from none to eight ledger lines above, in any key."""
    metre = dice.choice(list(METRES))
    beat, bar = METRES[metre], Fraction(4 * metre[0], metre[1])
    lowest = dice.randrange(LOWEST, HIGHEST - 9)
    notes: list[Note] = []
    at = Fraction(0)
    while at < bar:
        length = dice.choice([each for each in LENGTHS if each <= bar - at])
        if dice.random() < 0.7 or (not notes and at + length == bar):
            octave, letter = divmod(lowest + dice.randrange(10), 7)
            pitch = Pitch(LETTERS[letter], dice.choice((-2, -1, -1, 0, 0, 0, 1, 1, 2)), octave)
            notes.append(Note(len(notes), pitch, at / beat, length / beat, Start.TONGUED))
        at += length
    round_ = round_of(notes, dice.randint(-7, 7), int(bar / beat), beat)
    return replace(round_, ends_on_beat=bar / beat)


def misread(round_: Round, scale: StaffScale) -> tuple[int, int]:
    """How many signs an independent reader takes for others, and of how many."""
    (system,) = systems(round_, 3 * CELLS[scale], scale)
    music = sheet(round_)
    rows = frame(round_.notes, music, scale)
    items = engraved(system, music, rows)
    image = painted_in_pixels(items, rows, system.right + 3, CELL)
    inks = (0, *(shade_of(ink) for ink in (Ink.LINE, Ink.SIGN, Ink.NOTE)))
    reader = PixelReader(image, scale.rows_a_space * CELL[1], inks)
    heads = [
        (part.note.pitch, value_of_head(part.symbol.value), part.symbol.dots, ledgers(part.note))
        for part in music.written.parts
    ]
    read = [
        (pitch, head.quarters, head.dots, head.ledgers)
        for pitch, head in zip(reader.pitches(), reader.heads, strict=True)
    ]
    rests = [(r.symbol.value, r.symbol.dots) for r in music.written.rests if not r.whole_bar]
    read_rests = [(rest.quarters, rest.dots) for rest in reader.rests]
    signature = round_.key.signature if round_.key else 0
    key = [reader.signature == signature_alters(signature), reader.metre() == round_.meter.printed]
    wrong = unlike(heads, read) + unlike(rests, read_rests) + key.count(False)
    return wrong, len(heads) + len(rests) + len(key)


def unlike(asked: list[Any], read: list[Any]) -> int:
    """How many differ; all of them where there are more or fewer."""
    if len(asked) != len(read):
        return max(len(asked), len(read))
    return sum(a != b for a, b in zip(asked, read, strict=True))


def value_of_head(quarters: Fraction) -> Fraction:
    """What the head alone says: a whole note, a half, or less."""
    return Fraction(4 if quarters >= 4 else 2 if quarters >= 2 else 1)


def ledgers(note: Note) -> int:
    """Lines from the staff to the head, itself on one or just beyond."""
    above, below = note.pitch.staff_step - E4 - 8, E4 - note.pitch.staff_step
    return max(above // 2, below // 2, 0)


@pytest.mark.parametrize("scale", mostly_slow([PIXELS, PIXELS_ON_STAND], 1), ids=["small", "large"])
def test_a_few_bars_are_read_from_pixels(scale: StaffScale) -> None:
    dice = [random.Random(f"few {seed}") for seed in range(4)]
    assert sum(misread(random_bar(each), scale)[0] for each in dice) == 0


@pytest.mark.slow
@pytest.mark.parametrize(("scale", "bars"), [(PIXELS, 300), (PIXELS_ON_STAND, 40)])
def test_three_hundred_bars_are_read_from_pixels(scale: StaffScale, bars: int) -> None:
    """Keys, metres, heads, accidentals, ledger lines, dots and rests, 99 in 100 of them right."""
    read = [misread(random_bar(random.Random(f"bar {seed}")), scale) for seed in range(bars)]
    wrong, signs = (sum(each) for each in zip(*read, strict=True))
    assert wrong <= 0.01 * signs, f"{wrong} of {signs}"
