"""The pieces the lesson page is put together from: HTML, and how much of the paper it takes.

Heights are estimates for A4 in the page's own type, rather too large than too small. Nothing is
drawn before a piece is asked for its HTML. Every word passes through `escape`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from trainer.paper.page_words import escape, policy
from trainer.paper.plot import note_name

WIDE_IN, NARROW_IN = 7.08, 3.46
SHEET_MM = 262.0
"""Of a sheet's 271 mm between its margins; the rest is for estimates that fall short."""
MM_PER_IN = 25.4
"""By definition (NIST SP 811)."""
LINE_MM, ROW_MM, HEADING_MM, RULE_MM = 4.1, 4.9, 9.0, 8.3
WIDE_LETTERS, NARROW_LETTERS = 95, 42
"""Letters that surely fit on a line."""

_NOTE = re.compile(r"\b[A-G](##?|bb?)\d\b")


@dataclass(frozen=True)
class PagePart:
    """Something on the page."""

    height_mm: float
    html: Callable[[], str]


def head(title: str, style: str) -> str:
    """All that stands before the page's words; it lets nothing in from elsewhere."""
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f"{policy()}\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{style}</style>\n</head>\n<body>"
    )


def section(title: str, *content: PagePart, name: str = "") -> PagePart:
    """A heading with what belongs to it."""
    opening = f'<section class="{name}">' if name else "<section>"
    return PagePart(
        HEADING_MM + sum(piece.height_mm for piece in content),
        lambda: f"{opening}<h2>{escape(title)}</h2>\n{_joined(content)}\n</section>",
    )


def pair(left: Sequence[PagePart], right: Sequence[PagePart]) -> PagePart | None:
    """Two columns; one of full width where the other is empty."""
    if not left or not right:
        only = (*left, *right)
        return PagePart(_height_mm(only), lambda: _joined(only)) if only else None
    return PagePart(
        max(_height_mm(left), _height_mm(right)),
        lambda: f'<div class="pair"><div>{_joined(left)}</div>\n<div>{_joined(right)}</div></div>',
    )


def _height_mm(pieces: Iterable[PagePart]) -> float:
    return sum(piece.height_mm for piece in pieces)


def _joined(pieces: Iterable[PagePart]) -> str:
    return "\n".join(piece.html() for piece in pieces)


def figure(height_in: float, draw: Callable[[], str]) -> PagePart:
    """A plot of this height."""
    return PagePart(height_in * MM_PER_IN, lambda: f"<figure>{draw()}</figure>")


def small(words: str, letters: int = WIDE_LETTERS) -> PagePart:
    """Some lines of explanation."""
    return PagePart(
        _lines(words, letters) * LINE_MM + 1.2,
        lambda: f'<p class="small">{escape(with_signs(words))}</p>',
    )


def left_out(count: int, what: str) -> tuple[PagePart, ...]:
    """A line for what didn't fit, if anything."""
    return (small(f"More {what} in the journal: {count}."),) if count > 0 else ()


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> PagePart:
    """The first column holds words that may break; the others stay on one line."""
    kinds = ["name"] + ["together"] * (len(heads) - 1)

    def row(cells: Sequence[str]) -> str:
        marked = zip(kinds, cells, strict=True)
        return "".join(f'<td class="{kind}">{escape(cell)}</td>' for kind, cell in marked)

    top = "".join(f"<th>{escape(each)}</th>" for each in heads)
    body = "\n".join(f"<tr>{row(cells)}</tr>" for cells in rows)
    text = f"<table><thead><tr>{top}</tr></thead><tbody>\n{body}\n</tbody></table>"
    return PagePart((len(rows) + 1) * ROW_MM, lambda: text)


def bullets(sentences: Sequence[str], letters: int = WIDE_LETTERS) -> PagePart:
    """A list of sentences."""
    items = "".join(f"<li>{escape(with_signs(each))}</li>" for each in sentences)
    lines = sum(_lines(each, letters) for each in sentences)
    return PagePart(lines * LINE_MM + 1.0, lambda: f"<ul>{items}</ul>")


def rules(count: int) -> PagePart:
    """Ruled lines for a pencil."""
    return PagePart(count * RULE_MM, lambda: "<hr>" * count)


def _lines(words: str, letters: int) -> int:
    return max(1, math.ceil(len(words) / letters))


def left_on_two_sheets_mm(pieces: Iterable[PagePart]) -> float | None:
    """What is free at the end of the last sheet; None when two sheets don't hold the pieces.

    A piece is never divided: what doesn't fit on the first sheet begins the second.
    """
    sheets, used_mm = 1, 0.0
    for piece in pieces:
        if used_mm + piece.height_mm > SHEET_MM:
            sheets, used_mm = sheets + 1, 0.0
        used_mm += piece.height_mm
        if sheets > 2 or used_mm > SHEET_MM:
            return None
    return SHEET_MM - used_mm


def with_signs(words: str) -> str:
    """The words with ♯ and ♭ in the names of notes: 'C♯6' for 'C#6'."""
    return _NOTE.sub(lambda found: note_name(found.group()), words)
