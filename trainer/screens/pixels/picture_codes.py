"""A picture as the terminal takes it: sixels, or kitty's protocol with its placeholders."""

from __future__ import annotations

import math
from base64 import standard_b64encode
from functools import lru_cache
from io import BytesIO

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


def sixels(image: Image.Image, palette: Palette) -> str:
    """A picture in shades as one sixel sequence: each band is paper first, then darker steps."""
    width, height = image.size
    parts = [f'\x1bPq"1;1;{width};{height}'.encode()]
    for step, colour in enumerate(_colours(palette)):
        red, green, blue = (round(value * 100 / 255) for value in colour)
        parts.append(f"#{step};2;{red};{green};{blue}".encode())
    pixels = np.asarray(image.point(_STEPS))
    bands = np.zeros((math.ceil(height / BAND_ROWS), BAND_ROWS, width), np.uint8)
    bands.reshape(-1, width)[:height] = pixels
    over = _over_paper(bands)
    for band in range(len(bands)):
        rows = min(BAND_ROWS, height - band * BAND_ROWS)
        parts.append(_run(width, (1 << rows) - 1, b"#0"))
        parts += over.get(band, ())
        parts.append(b"-")
    return (b"".join(parts) + b"\x1b\\").decode("ascii")


def _over_paper(bands: NDArray[np.uint8]) -> dict[int, list[bytes]]:
    """For each band that holds ink its steps, as runs of columns with the same dots.

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
        return {}
    line = band[run] * SHADES + dots[run, row]
    order = np.argsort(line * len(band) + run, kind="stable")
    line, run, row = line[order], run[order], row[order]
    first = np.flatnonzero(_differs(line) | _differs(run))
    bits = np.bitwise_or.reduceat(1 << row, first)
    line, begin, end = line[first], column[run[first]], until[run[first]]
    parted = _differs(line) | _differs(bits)
    parted[1:] |= begin[1:] != end[:-1]
    first = np.flatnonzero(parted)
    return _written(line[first], begin[first], end[np.append(first[1:], len(end)) - 1], bits[first])


def _differs(values: Columns) -> NDArray[np.bool_]:
    """Whether each is another than the one before."""
    return np.append(True, values[1:] != values[:-1])


def _written(line: Columns, begin: Columns, end: Columns, bits: Columns) -> dict[int, list[bytes]]:
    """Runs as sixels, by the band they lie in."""
    found: dict[int, list[bytes]] = {}
    before, column = -1, 0
    for here, first, after, dots in zip(
        line.tolist(), begin.tolist(), end.tolist(), bits.tolist(), strict=True
    ):
        parts = found.setdefault(here // SHADES, [])
        if here != before:
            parts.append(b"$#%d" % (here % SHADES))
            before, column = here, 0
        if first > column:
            parts.append(_run(first - column, 0))
        parts.append(_run(after - first, dots))
        column = after
    return found


@lru_cache(maxsize=4096)
def _run(length: int, dots: int, before: bytes = b"") -> bytes:
    """So many columns with the same dots."""
    sixel = bytes([0x3F + dots])
    return before + (sixel * length if length < SHORTEST_RUN else b"!%d%c" % (length, sixel))


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
