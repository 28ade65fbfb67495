"""Large figures and note names, to be read from afar, drawn in half blocks."""

from __future__ import annotations

from trainer.screens.drawing.canvas import Canvas, Ink, Row

FIGURE_COLUMNS = 5
"""Columns of one figure, unscaled."""
FIGURE_ROWS = 3
"""Rows of one figure, unscaled."""
_DOTS = {
    "0": ("01110", "11011", "11011", "11011", "11011", "01110"),
    "1": ("00110", "01110", "00110", "00110", "00110", "01111"),
    "2": ("11110", "00011", "00011", "01110", "11000", "11111"),
    "3": ("11110", "00011", "01110", "00011", "00011", "11110"),
    "4": ("00110", "01110", "11010", "11111", "00010", "00010"),
    "5": ("11111", "11000", "11110", "00011", "00011", "11110"),
    "6": ("01110", "11000", "11110", "11011", "11011", "01110"),
    "7": ("11111", "00011", "00110", "00110", "01100", "01100"),
    "8": ("01110", "11011", "01110", "11011", "11011", "01110"),
    "9": ("01110", "11011", "11011", "01111", "00011", "01110"),
    "+": ("00000", "00100", "00100", "11111", "00100", "00100"),
    "-": ("00000", "00000", "00000", "11111", "00000", "00000"),
    "−": ("00000", "00000", "00000", "11111", "00000", "00000"),
    "↑": ("00100", "01110", "11111", "00100", "00100", "00100"),
    "↓": ("00100", "00100", "00100", "11111", "01110", "00100"),
    ":": ("00000", "00100", "00000", "00000", "00100", "00000"),
    "#": ("01010", "11111", "01010", "01010", "11111", "01010"),
    "'": ("00110", "00110", "00100", "00000", "00000", "00000"),
    "A": ("01110", "11011", "11011", "11111", "11011", "11011"),
    "B": ("11110", "11011", "11110", "11011", "11011", "11110"),
    "C": ("01111", "11000", "11000", "11000", "11000", "01111"),
    "D": ("11110", "11011", "11011", "11011", "11011", "11110"),
    "E": ("11111", "11000", "11110", "11000", "11000", "11111"),
    "F": ("11111", "11000", "11110", "11000", "11000", "11000"),
    "G": ("01111", "11000", "11000", "11011", "11011", "01111"),
    "H": ("11011", "11011", "11111", "11011", "11011", "11011"),
    "a": ("00000", "01110", "00011", "01111", "11011", "01111"),
    "b": ("11000", "11000", "11110", "11011", "11011", "11110"),
    "c": ("00000", "00000", "01111", "11000", "11000", "01111"),
    "d": ("00011", "00011", "01111", "11011", "11011", "01111"),
    "e": ("00000", "01110", "11011", "11111", "11000", "01111"),
    "é": ("00011", "00110", "01110", "11111", "11000", "01111"),
    "f": ("00111", "01100", "11110", "01100", "01100", "01100"),
    "g": ("00000", "01111", "11011", "01111", "00011", "01110"),
    "h": ("11000", "11000", "11110", "11011", "11011", "11011"),
    "i": ("00110", "00000", "00110", "00110", "00110", "00110"),
    "l": ("00110", "00110", "00110", "00110", "00110", "00110"),
    "m": ("00000", "00000", "11111", "10101", "10101", "10101"),
    "o": ("00000", "00000", "01110", "11011", "11011", "01110"),
    "r": ("00000", "00000", "11011", "11100", "11000", "11000"),
    "s": ("00000", "01111", "11000", "01110", "00011", "11110"),
}
"""The letters are those of notes' names in five languages."""
_HALVES = {"00": " ", "10": "▀", "01": "▄", "11": "█"}


def figure_rows(text: str, scale: int = 1) -> tuple[str, ...]:
    """Digits, signs and notes' names as lines of text, three rows high times the scale."""
    lines = [" ".join(_DOTS[character][dot] for character in text) for dot in range(6)]
    wide = ["".join(dot * scale for dot in line) for line in lines for _ in range(scale)]
    pairs = zip(wide[::2], wide[1::2], strict=True)
    return tuple(
        "".join(" " if " " in pair else _HALVES["".join(pair)] for pair in zip(*rows, strict=True))
        for rows in pairs
    )


def filling_rows(text: str, ink: Ink, width: int, height: int) -> tuple[Row, ...]:
    """One thing as large as there is room for, in the middle."""
    canvas = Canvas(width, height)
    columns = len(text) * (FIGURE_COLUMNS + 1) - 1
    figure = figure_rows(text, max(1, min(height // FIGURE_ROWS, width // max(columns, 1))))
    top = max(0, (height - len(figure)) // 2)
    for row, line in enumerate(figure, top):
        canvas.put(max(0, (width - len(line)) // 2), row, line, ink)
    return canvas.rows()


def count_rows(count: int, beats: int, width: int, height: int) -> tuple[Row, ...]:
    """The count-in: what has been counted stays, the count of the moment stands out."""
    canvas = Canvas(width, height)
    scale = max(1, height // FIGURE_ROWS)
    pitch = min(width // max(beats, 1), scale * (FIGURE_COLUMNS + 4))
    left = (width - pitch * beats) // 2
    top = max(0, (height - scale * FIGURE_ROWS) // 2)
    for number in range(1, beats + 1):
        x, ink = left + (number - 1) * pitch, Ink.WORDS if number == count else Ink.QUIET
        if number > count:
            canvas.put(x + pitch // 2, height // 2, "·", Ink.QUIET)
            continue
        for row, text in enumerate(figure_rows(str(number), scale), top):
            canvas.put(x + (pitch - len(text)) // 2, row, text, ink)
        if number == count and top + scale * FIGURE_ROWS < height:
            canvas.put(x, top + scale * FIGURE_ROWS, "▔" * pitch, Ink.WORDS)
    return canvas.rows()


def spoken_rows(lines: list[str], width: int, height: int) -> tuple[Row, ...]:
    """A few lines of words, centred; the first stands out."""
    canvas = Canvas(width, height)
    top = max(0, (height - len(lines)) // 2)
    for row, line in enumerate(lines[:height], top):
        ink = Ink.WORDS if row == top else Ink.QUIET
        canvas.put(max(0, (width - len(line)) // 2), row, line[:width], ink)
    return canvas.rows()
