"""A picture as the terminal takes it: sixels, or kitty's protocol with its placeholders."""

from __future__ import annotations

import math
from base64 import standard_b64encode
from functools import lru_cache
from io import BytesIO
from itertools import repeat

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from trainer.screens.pixels.palette import FULL, Colour, Palette

SHADES = 16
"""Of the ink: smooth edges and two fainter inks; more would only be sent."""
BAND_ROWS = 6
"""Of a sixel."""
SHORTEST_RUN = 4
"""From so many on, a count is shorter."""
CHUNK = 4096
"""Most base64 of one message (kitty's graphics protocol, 'Remote client')."""
PLACEHOLDER = "\U0010eeee"
ROW_MARKS = (
    "\u0305\u030d\u030e\u0310\u0312\u033d\u033e\u033f\u0346\u034a\u034b\u034c\u0350\u0351\u0352"
    "\u0357\u035b\u0363\u0364\u0365\u0366\u0367\u0368\u0369\u036a\u036b\u036c\u036d\u036e\u036f"
    "\u0483\u0484\u0485\u0486\u0487\u0592\u0593\u0594\u0595\u0597\u0598\u0599\u059c\u059d\u059e"
    "\u059f\u05a0\u05a1\u05a8\u05a9\u05ab\u05ac\u05af\u05c4\u0610\u0611\u0612\u0613\u0614\u0615"
)
"""Row numbers over a placeholder; columns count on from the one before (kitty's graphics protocol,
'Unicode placeholders')."""
_STEPS = bytes(round(shade * (SHADES - 1) / FULL) for shade in range(FULL + 1))
"""The step of each shade."""
Columns = NDArray[np.intp]
Runs = tuple[Columns, Columns, Columns, Columns]
"""Of each run: its band and step in one figure, first column, the column after its last, dots."""


def sixels(image: Image.Image, palette: Palette) -> str:
    """A picture in shades as one sixel sequence: each band is paper first, then darker steps."""
    width, height = image.size
    begun = [f'\x1bPq"1;1;{width};{height}'.encode()]
    for step, colour in enumerate(_colours(palette)):
        red, green, blue = (round(value * 100 / 255) for value in colour)
        begun.append(f"#{step};2;{red};{green};{blue}".encode())
    pixels = np.asarray(image.point(_STEPS))
    bands = np.zeros((math.ceil(height / BAND_ROWS), BAND_ROWS, width), np.uint8)
    bands.reshape(-1, width)[:height] = pixels
    written = _written(*_with_paper(*_over_paper(bands), len(bands), width, height))
    return b"".join((*begun, *written, b"-\x1b\\")).decode("ascii")


def _over_paper(bands: NDArray[np.uint8]) -> Runs:
    """Runs of columns with the same dots.

    Columns that are the same as the one before are taken together first: there is more of lines
    and paper than of anything else.
    """
    width = bands.shape[2]
    begins = np.ones((len(bands), width), bool)
    begins[:, 1:] = np.bitwise_or.reduce(bands[:, :, 1:] ^ bands[:, :, :-1], axis=1) != 0
    band, column = np.nonzero(begins)
    until = np.append(column[1:], 0)
    until[until == 0] = width
    dots = bands[band, :, column]
    run, row = np.nonzero(dots)
    if not run.size:
        return run, run, run, run
    line = band[run] * SHADES + dots[run, row]
    order = np.argsort(line.astype(np.uint16), kind="stable")  # short figures sort soonest
    line, run, row = line[order], run[order], row[order]
    first = np.flatnonzero(_differs(line) | _differs(run))
    bits = np.bitwise_or.reduceat(1 << row, first)
    line, begin, end = line[first], column[run[first]], until[run[first]]
    parted = _differs(line) | _differs(bits)
    parted[1:] |= begin[1:] != end[:-1]
    first = np.flatnonzero(parted)
    return line[first], begin[first], end[np.append(first[1:], len(end)) - 1], bits[first]


def _with_paper(
    line: Columns, begin: Columns, end: Columns, bits: Columns, bands: int, width: int, height: int
) -> Runs:
    """The same after a run of paper over the whole of each band."""
    paper = np.arange(bands) * SHADES
    place = np.searchsorted(line, paper)
    rows = np.minimum(BAND_ROWS, height - np.arange(bands) * BAND_ROWS)
    return (
        np.insert(line, place, paper),
        np.insert(begin, place, 0),
        np.insert(end, place, width),
        np.insert(bits, place, (1 << rows) - 1),
    )


def _differs(values: Columns) -> NDArray[np.bool_]:
    """Whether each is another than the one before."""
    return np.append(True, values[1:] != values[:-1])


def _written(line: Columns, begin: Columns, end: Columns, bits: Columns) -> list[bytes]:
    """Runs as sixels: what is left out before each, then the run itself."""
    heads = np.flatnonzero(_differs(line))
    left_out = begin.copy()
    left_out[1:] -= end[:-1]
    left_out[heads] = begin[heads]
    parts = [b""] * (2 * len(line))
    parts[::2] = map(_run, left_out.tolist(), repeat(0))
    parts[1::2] = map(_run, (end - begin).tolist(), bits.tolist())
    for place, here in zip(heads.tolist(), line[heads].tolist(), strict=True):
        band, step = divmod(here, SHADES)
        parts[2 * place] = _head(step, first=not band) + parts[2 * place]
    return parts


@lru_cache
def _head(step: int, *, first: bool) -> bytes:
    """Where a step's runs begin: paper begins a band."""
    if step:
        return b"$#%d" % step
    return b"#0" if first else b"-#0"


@lru_cache(maxsize=8192)
def _run(length: int, dots: int) -> bytes:
    """So many columns with the same dots."""
    sixel = bytes([0x3F + dots])
    return sixel * length if length < SHORTEST_RUN else b"!%d%c" % (length, sixel)


def coloured(image: Image.Image, palette: Palette) -> Image.Image:
    """A picture in shades with a theme's colours ("P")."""
    picture = image.point(_STEPS)
    picture.putpalette([value for colour in _colours(palette) for value in colour])
    return picture


def _colours(palette: Palette) -> list[Colour]:
    return [palette.shade(step / (SHADES - 1)) for step in range(SHADES)]


def kitty_messages(
    image: Image.Image, palette: Palette, number: int, columns: int, rows: int
) -> str:
    """A picture in shades sent and placed under its number, to be shown wherever its placeholders
    stand.
    """
    file = BytesIO()
    coloured(image, palette).save(file, "PNG", compress_level=1)
    coded = standard_b64encode(file.getvalue()).decode()
    chunks = [coded[start : start + CHUNK] for start in range(0, len(coded), CHUNK)]
    told = f"a=T,U=1,i={number},f=100,c={columns},r={rows},q=2,"
    messages = []
    for place, chunk in enumerate(chunks):
        more = int(place < len(chunks) - 1)
        messages.append(f"\x1b_G{told if place == 0 else ''}m={more};{chunk}\x1b\\")
    return "".join(messages)


def kitty_row(row: int, columns: int) -> str:
    """The placeholders of one row of cells; their colour says which picture."""
    return f"{PLACEHOLDER}{ROW_MARKS[row]}{ROW_MARKS[0]}" + PLACEHOLDER * (columns - 1)
