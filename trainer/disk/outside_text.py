"""Text from outside made harmless: a title, a remark, a file's name could command the terminal.

What a terminal takes for a command (ECMA-48: C0, DEL, C1), what turns the reading round (Unicode
Annex 9: embeddings, overrides, isolates) and halves of characters become signs that can be seen.
"""

from __future__ import annotations

import re

UNSEEN = "�"
"""Stands for what has no picture of its own (Unicode, REPLACEMENT CHARACTER)."""
_PICTURES = 0x2400
"""Where Unicode's pictures of control characters begin: ␀ ␁ ␂ …, then ␡ for DEL."""
_DELETE = 0x7F
"""The last of the seven-bit codes (ECMA-6)."""
_HARMFUL = re.compile(
    "\r(?!\n)|[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)
_FORMULA = (*"=+-@＝＋－＠", "\t", "\r", "\n")
"""How such a text may begin, full-width signs among them."""


def visible(text: str) -> str:
    """The text with a visible sign for each character that is none; lines and tabs stay."""
    return _HARMFUL.sub(_sign, text)


def without_unseen(text: str) -> str:
    """The text without those characters, for where every cell is counted already."""
    return _HARMFUL.sub("", text)


def is_harmless(text: str) -> bool:
    """Whether nothing in the text would be replaced; nothing printable would, and that is seen
    sooner."""
    return text.isprintable() or _HARMFUL.search(text) is None


def cell(text: str) -> str:
    """The text for a cell of a spreadsheet, which would run what begins like a formula.

    Source: OWASP, 'CSV Injection'.
    """
    return f"'{text}" if text.startswith(_FORMULA) else text


def _sign(found: re.Match[str]) -> str:
    code = ord(found[0])
    if code < ord(" "):
        return chr(_PICTURES + code)
    return chr(_PICTURES + 0x21) if code == _DELETE else UNSEEN
