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
_RUN = re.compile(rb"(.)\1{3,}", re.DOTALL)


def sixels(image: Image.Image) -> str:
    """The picture as one sixel sequence."""
    flat = image.quantize(COLOURS)
    width, height = flat.size
    pixels = flat.tobytes()
    palette = flat.getpalette() or []
    colours = sorted(set(pixels))
    parts = [f'\x1bPq"1;1;{width};{height}'.encode()]
    for colour in colours:
        red, green, blue = (round(v * 100 / 255) for v in palette[3 * colour : 3 * colour + 3])
        parts.append(f"#{colour};2;{red};{green};{blue}".encode())
    for top in range(0, height, BAND_ROWS):
        parts += _band(pixels[top * width : (top + BAND_ROWS) * width], width)
    return (b"".join(parts) + b"\x1b\\").decode("ascii")


def _band(pixels: bytes, width: int) -> Iterator[bytes]:
    """Six rows: for each colour in them, which dots have it."""
    rows = [pixels[start : start + width] for start in range(0, len(pixels), width)]
    for place, colour in enumerate(sorted(set(pixels))):
        dots = 0
        for bit, row in enumerate(rows):
            table = bytearray(256)
            table[colour] = 1 << bit
            dots |= int.from_bytes(row.translate(bytes(table)), "big")
        line = bytes(dot + 0x3F for dot in dots.to_bytes(width, "big"))
        yield b"$" * (place > 0) + f"#{colour}".encode() + _RUN.sub(_repeated, line)
    yield b"-"


def _repeated(run: re.Match[bytes]) -> bytes:
    return f"!{len(run[0])}".encode() + run[1]


def kitty_messages(image: Image.Image, number: int, columns: int, rows: int) -> str:
    """The picture sent and placed under its number, to be shown wherever its placeholders stand."""
    file = BytesIO()
    image.quantize(COLOURS).save(file, "PNG")
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
