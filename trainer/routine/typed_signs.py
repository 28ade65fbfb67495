"""Signs that word processors put in place of typed ones, put back where that harms nothing.

Blanks that don't break, bullets and long dashes before an entry, curled quotation marks round a
value: a teacher can't see the difference, and no text of theirs changes its meaning.
"""

from __future__ import annotations

import re

_BLANKS = re.compile("[\N{NO-BREAK SPACE}\N{FIGURE SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}"
                     "\N{EN SPACE}\N{EM SPACE}\N{IDEOGRAPHIC SPACE}]")  # fmt: skip
_UNSEEN = re.compile("[\N{ZERO WIDTH SPACE}\N{WORD JOINER}\N{ZERO WIDTH NO-BREAK SPACE}"
                     "\N{SOFT HYPHEN}]")  # fmt: skip
_DASH = ("[\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{FIGURE DASH}\N{EN DASH}\N{EM DASH}"
         "\N{MINUS SIGN}\N{BULLET}]")  # fmt: skip
_ENTRY = re.compile(rf"^( *){_DASH}(?= *[A-Za-z][A-Za-z ]*:)", re.MULTILINE)
_OPEN, _CLOSE = "[“„«”‘‚’]", "[”“»’‘]"
_QUOTED = re.compile(
    rf"^(?P<before>[ -]*[A-Za-z][A-Za-z ]*: +){_OPEN}(?P<text>[^\"“”„«»\n]*){_CLOSE}(?= *(?:#|$))",
    re.MULTILINE,
)
_IN_LIST = re.compile(rf"{_OPEN}(?P<text>[^\"“”„«»‚‘’\n\[\],]*){_CLOSE}(?=\s*[,\]}}])")


def plain_signs(text: str) -> str:
    """The text with typed signs; lines stay where they are."""
    text = _UNSEEN.sub("", _BLANKS.sub(" ", text))
    text = _ENTRY.sub(r"\1-", text)
    text = _QUOTED.sub(r'\g<before>"\g<text>"', text)
    return "\n".join(_list_quotes(line) for line in text.split("\n"))


def _list_quotes(line: str) -> str:
    opened = re.match(r"^[ -]*[A-Za-z][A-Za-z ]*: *[\[{]", line)
    return _IN_LIST.sub(r'"\g<text>"', line) if opened else line
