"""The same drawing in plain ASCII, for terminals and fonts that lack the rest, cell by cell.

Signs that the reader of the music must tell apart stay apart: each quarter of a cell has a letter
of its own. A head is 'dP' on a line and ',o' over '"\'' in a space, a hollow one '()' and '/\\'
over '\\/'; a beam is '=' or '%', a stem '|'.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from rich.cells import cell_len
from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

_ASCII = {
    "─": "-",
    "┄": ".",
    "╌": "~",
    "╶": "-",
    "╴": "-",
    "━": "=",
    "═": "%",
    "│": "|",
    "║": "H",
    "╷": "'",
    "┐": "+",
    "┌": "+",
    "└": "+",
    "┘": "+",
    "╭": "<",
    "╮": ">",
    "╰": "{",
    "╯": "}",
    "⢎": "(",
    "⡱": ")",
    "⡠": "/",
    "⢄": "\\",
    "⠑": "\\",
    "⠊": "/",
    "⠉": "'",
    "⣀": "_",
    "█": "@",
    "▄": "o",
    "▀": '"',
    "▟": "d",
    "▛": "P",
    "▙": "L",
    "▜": "q",
    "▞": "z",
    "▚": "s",
    "▌": "[",
    "▐": "]",
    "▖": ";",
    "▗": ",",
    "▘": "'",
    "▝": "`",
    "•": ".",
    "‿": "u",
    "♯": "#",
    "♭": "b",
    "♮": "n",
    "’": ",",
    "–": "-",
    "◥": "\\",
    "◤": "/",
    "△": "^",
    "▲": "^",
    "▼": "v",
    "◀": "<",
    "▶": ">",
    "▪": "*",
    "×": "X",
    "·": ".",
    "→": ">",
    "…": "~",
    "↑": "^",
    "↓": "v",
    "↔": "=",
    "↗": "/",
    "↘": "\\",
    "−": "-",
    "●": "*",
    "○": "o",
    "■": "#",
    "□": ".",
    "†": "+",
    "▔": "~",
    "‘": "'",
    "“": '"',
    "”": '"',
    "ß": "s",
} | dict.fromkeys("┍┯┑╒╤╕┕┷┙╘╧╛┝┿┥╞╪╡", "+")
_TABLE = str.maketrans(_ASCII)


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """The text in ASCII, as wide as before; letters lose their accents, the unknown becomes '?'."""
    if text.isascii():
        return text
    return "".join(map(_plain_cell, text.translate(_TABLE)))


def _plain_cell(character: str) -> str:
    if character.isascii():
        return character
    width = cell_len(character)
    if "\u2580" <= character <= "\u259f":  # other blocks: bars of a chart
        return "#"
    if "\u2500" <= character <= "\u257f":  # other lines: frames of the toolkit
        return "-"
    letter = unicodedata.normalize("NFKD", character)[0]
    return letter.ljust(width) if letter.isascii() else "?" * width


class PlainFilter(LineFilter):
    """Puts every line of the screen into ASCII."""

    def apply(
        self,
        segments: list[Segment],
        background: Color,  # noqa: ARG002  (Textual's signature)
    ) -> list[Segment]:
        """The segments in ASCII."""
        return [Segment(plain(text), style, control) for text, style, control in segments]
