"""A picture as the terminal takes it: sixels, or kitty's protocol with its placeholders."""

from __future__ import annotations

import re
from base64 import standard_b64encode
from collections.abc import Iterator
from io import BytesIO

from PIL import Image

COLOURS = 16
"""Grey levels of smooth edges and two inks; more would only be sent."""
BAND_ROWS = 6
"""Of a sixel."""
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
_RUN = re.compile(rb"\?{4,}|~{4,}|([@-}])\1{3,}")
"""Of the same sixel; blank and full ones are the most."""
_DOTS = [
    [bytes(1 << bit if value == colour else 0 for value in range(256)) for bit in range(BAND_ROWS)]
    for colour in range(COLOURS)
]
"""For each colour and each row of a band, the dot a pixel of that colour is."""
_AS_SIXELS = bytes((dots + 0x3F) % 256 for dots in range(256))


def sixels(image: Image.Image) -> str:
    """The picture as one sixel sequence: each band is paper first, and other colours over it."""
    flat = _with_few_colours(image)
    width, height = flat.size
    pixels = flat.tobytes()
    palette = flat.getpalette() or []
    counts = flat.histogram()
    paper = counts.index(max(counts))
    parts = [f'\x1bPq"1;1;{width};{height}'.encode()]
    for colour in range(len(palette) // 3):
        red, green, blue = (round(v * 100 / 255) for v in palette[3 * colour : 3 * colour + 3])
        parts.append(f"#{colour};2;{red};{green};{blue}".encode())
    for top in range(0, height, BAND_ROWS):
        rows = [
            pixels[start : start + width]
            for start in range(top * width, min(top + BAND_ROWS, height) * width, width)
        ]
        parts.append(f"#{paper}!{width}".encode() + bytes([0x3E + (1 << len(rows))]))
        parts += _over_paper(rows, paper, width)
        parts.append(b"-")
    return (b"".join(parts) + b"\x1b\\").decode("ascii")


def _over_paper(rows: list[bytes], paper: int, width: int) -> Iterator[bytes]:
    """For each other colour of a band, which dots have it, up to the last."""
    colours: dict[int, int] = {}
    blank = bytes([paper]) * width
    for bit, row in enumerate(rows):
        if row != blank:
            for colour in set(row) - {paper}:
                dots = int.from_bytes(row.translate(_DOTS[colour][bit]), "big")
                colours[colour] = colours.get(colour, 0) | dots
    for colour, dots in sorted(colours.items()):
        line = dots.to_bytes(width, "big").translate(_AS_SIXELS).rstrip(b"?")
        yield f"$#{colour}".encode() + _RUN.sub(_repeated, line)


def _repeated(run: re.Match[bytes]) -> bytes:
    return f"!{len(run[0])}".encode() + run[0][:1]


def _with_few_colours(image: Image.Image) -> Image.Image:
    return image.quantize(COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)


def kitty_messages(image: Image.Image, number: int, columns: int, rows: int) -> str:
    """The picture sent and placed under its number, to be shown wherever its placeholders stand."""
    file = BytesIO()
    _with_few_colours(image).save(file, "PNG", compress_level=1)
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
