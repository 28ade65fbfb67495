"""Regular expressions for the JSON Schema: what a value may look like, as an editor can check it.

ECMA 262 syntax, as JSON Schema (draft 2020-12, section 6.4) asks for. Words are wanted as the
reference page spells them; only their first letters may be capital.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import groupby
from math import ceil, floor

from trainer.music.key import Mode, key_on
from trainer.music.pitch import LETTERS

SIGN = r"(sharp|flat|#|b|♯|♭)?"
WORD_PITCH = r"[A-Ga-g](#|b|♯|♭)?\d"
"""Without blanks inside, where blanks part notes."""
PITCH = rf"[A-Ga-g][ -]?{SIGN}[ -]?\d"


def whole(pattern: str) -> str:
    """The pattern for all of a value, blanks around it allowed."""
    return rf"^\s*({pattern})\s*$"


def number_between(lowest: float, highest: float) -> str:
    """A number from one to the other, with a point or a comma before its decimals."""
    inside = range(ceil(lowest), floor(highest))
    decimals = r"([.,]\d+)?"
    below = rf"{floor(lowest)}[.,]\d+|" if lowest != int(lowest) else ""
    top = rf"{floor(highest)}([.,]0+)?"
    return rf"\+?0*({below}({_one_of(inside)}){decimals}|{top})" if inside else rf"({below}{top})"


def _one_of(numbers: Iterable[int]) -> str:
    """Whole numbers as a pattern, those with the same tens together."""
    parts = []
    for tens, group in groupby(numbers, lambda number: number // 10):
        digits = "".join(str(number % 10) for number in group)
        parts.append(rf"{tens or ''}[{digits}]" if len(digits) < 10 else rf"{tens or ''}\d")
    return "|".join(parts)


def first_letter_free(words: str) -> str:
    """The words, escaped, with a small or a capital letter at their beginning."""
    first, rest = words[0], words[1:]
    either = f"[{first.upper()}{first.lower()}]" if first.isalpha() else re.escape(first)
    return either + re.escape(rest).replace(r"\ ", " ")


def _keys(mode: Mode, but_none_in: Mode | None = None) -> str:
    """The tonics that have a key in a mode, and perhaps none in the other."""
    spelled = {"": "", "#": r"[ -]?(sharp|#|♯)", "b": r"[ -]?(flat|b|♭)"}
    return "|".join(
        f"[{letter}{letter.lower()}]{spelled[sign]}"
        for letter in LETTERS
        for sign in spelled
        if key_on(letter + sign, mode) is not None
        and (but_none_in is None or key_on(letter + sign, but_none_in) is None)
    )


FIXED_KEY = (
    rf"({_keys(Mode.MAJOR)}|{_keys(Mode.MINOR)})"
    rf"|({_keys(Mode.MAJOR)})[ -]+[Mm]ajor|({_keys(Mode.MINOR)})[ -]+[Mm]inor"
)
"""'E flat', 'F sharp minor': only keys with seven sharps or flats at most."""
ONLY_MINOR = _keys(Mode.MINOR, but_none_in=Mode.MAJOR)
"""Tonics of minor keys alone: 'G sharp'."""
KEY_PHRASE = (
    r"((major|minor) )?(keys )?[Bb]y day( through (the )?(circle of )?(fifths|fourths|semitones))?"
    rf"( from ({FIXED_KEY}))?"
    r"|[Rr]andom( (major or minor|major|minor))?( keys?)?"
    r"|([Tt]he )?[Oo]f the week"
    r"|([Tt]he )?([Ss]ame as|[Rr]elative of|[Pp]arallel of) \S.*"
)
"""The other ways to ask for a key."""


SIGNATURE_CHANGES = (
    r"\[\s*((time|meter|metre)\s*[:=]?\s*)?([1-9]|1[0-2])\s*/\s*(2|4|8)\s*\]",
    r"(time|meter|metre)[ \t]+([1-9]|1[0-2])/(2|4|8)",
    rf"\[\s*key(\s+of)?\s*[:=]?\s+({FIXED_KEY})\s*\]",
    rf"key[ \t]+(of[ \t]+)?({FIXED_KEY})",
)
"""Behind a bar line of a passage."""


def line_notation(
    lengths: Iterable[str], shares: Iterable[str], words: Iterable[str], bar_sign: str
) -> list[str]:
    """What the lines of a passage must look like; all of these patterns hold together.

    Known words and signs only; a share of a length before its length; every slur closed before the
    next and before the end; a note before the first breath. Bars are not counted. `shares`, `words`
    and `bar_sign` are patterns.
    """
    length = rf"({'|'.join(map(re.escape, lengths))})s?"
    note = r"[A-Ga-g](##|#|♯|x|bb|b|♭)?\d[.>\-]?\+?"
    share = rf"({'|'.join(shares)})\s+"
    word = rf"(({share})*{length}(\+{length})*|{'|'.join(words)}|{note})"
    return [
        rf"^\s*(({word}(?=[\s():|,\[/]|$)|[(),]|{bar_sign})\s*)+$",
        r"^([^()]*\([^()]*\))*[^()]*$",
        rf"^[^,]*{note}",
    ]
