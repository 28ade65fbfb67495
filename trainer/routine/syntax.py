"""From a complaint of the YAML parser to a sentence for a teacher, at the place to be mended.

The parser says where it gave up; what a person did wrong often stands a little before.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import yaml

from trainer.routine.fields import DEFAULTS_FIELDS, KINDS, ROUTINE_FIELDS, WEEK_FIELDS
from trainer.routine.problem import Problem

COMPARE = "Compare this line and the one above it with a shipped routine."
_HOLDERS = ("defaults", "exercises", "week")
_NAMES = sorted(
    {
        *_HOLDERS,
        *KINDS,
        *DEFAULTS_FIELDS,
        *WEEK_FIELDS,
        *(field.name for field in ROUTINE_FIELDS),
        *(field.name for kind in KINDS.values() for field in kind.fields),
    },
    key=len,
    reverse=True,
)
"""Every name that may stand before a colon, longest first."""


@dataclass(frozen=True)
class _Finding:
    """Where the mistake is, counted from 0, and what to say."""

    line: int
    column: int
    what: str
    mend: str


def syntax_problem(error: yaml.MarkedYAMLError, text: str, file: str) -> Problem:
    """What is wrong with the file as YAML."""
    mark = error.problem_mark or error.context_mark
    if mark is None:
        return Problem(file, None, None, "The file is not YAML.", COMPARE)
    complaint = f"{error.context or ''}; {error.problem or ''}"
    known = next((row for row in _SYNTAX_SENTENCES if row.fragment in complaint), _UNKNOWN)
    if known.at_beginning and error.context_mark is not None:
        mark = error.context_mark
    found = _Finding(mark.line, mark.column, known.what, known.mend)
    lines = text.split("\n")
    if known.fragment in _ABOUT_LINES:
        found = _quotation_left_open(lines, mark) or _about_the_lines(lines, mark) or found
    return Problem(file, found.line + 1, found.column + 1, found.what, found.mend)


def _about_the_lines(lines: Sequence[str], mark: yaml.Mark) -> _Finding | None:
    """What the lines themselves show: a colon, a dash or a blank forgotten, a margin left."""
    at = min(mark.line, len(lines) - 1)
    above = _above(lines, at)
    undashed = _without_its_dash(lines, at)
    for line in (at, above, *undashed):
        mended = _mended(lines, line)
        if mended is not None:
            what, right = mended
            return _Finding(line, _margin(lines[line]), what, f"Write '{right}'.")
    return (
        _quotation_cut_short(lines, mark)
        or _nameless(lines, above)
        or _stray_colon(lines, mark)
        or _out_of_line(lines, at, above)
    )


def _above(lines: Sequence[str], at: int) -> int:
    """The nearest line above that says something."""
    said = (n for n in range(at - 1, -1, -1) if lines[n].split("#")[0].strip())
    return next(said, at)


def _margin(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _margin_of_fields(line: str) -> int:
    """Where the fields beside this one begin: after the dash, where there is one."""
    return _margin(line) + 2 * line.lstrip(" ").startswith("- ")


def _mended(lines: Sequence[str], at: int) -> tuple[str, str] | None:
    """What a line lacks, and the line as it should be; None where it lacks nothing."""
    body = lines[at].strip()
    if re.match(r"-[^\s-]", body) and ":" in body:
        return "A space is missing after the '-'.", f"- {body[1:]}"
    dash = "- " if body.startswith("- ") else ""
    rest = body.removeprefix(dash).strip()
    for name in _NAMES:
        if not rest.lower().startswith(name):
            continue
        after = rest[len(name) :]
        if re.match(r":[^\s]", after):
            return "A space is missing after the colon.", f"{dash}{rest[: len(name)]}: {after[1:]}"
        if re.match(r"\s*[=;]|\s+[^\s:]", after) and ":" not in after:
            what = "A colon is missing on this line."
            return what, f"{dash}{rest[: len(name)]}: {after.strip(' =;')}"
        if not after and name in _HOLDERS:
            return "A colon is missing on this line.", f"{name}:"
        if after.startswith(":"):
            break
    if not dash and rest.split(":")[0] in KINDS and _begins_an_entry(lines, at):
        return "A '-' is missing on this line.", f"- {rest}"
    return None


def _begins_an_entry(lines: Sequence[str], at: int) -> bool:
    """Lines just as far in begin with a dash, above or, of the first entry, below."""
    margin = _margin(lines[at])
    first = lines[_above(lines, at)].rstrip() == "exercises:"
    return any(line.startswith(" " * margin + "- ") for line in (lines if first else lines[:at]))


def _without_its_dash(lines: Sequence[str], at: int) -> list[int]:
    """The entry around a line, if it is the first one and lacks its dash."""
    opening = next((n for n in range(at, -1, -1) if lines[n].rstrip() == "exercises:"), None)
    if opening is None:
        return []
    first = next((n for n in range(opening + 1, at + 1) if lines[n].split("#")[0].strip()), at)
    return [] if lines[first].lstrip().startswith("-") else [first]


def _quotation_left_open(lines: Sequence[str], mark: yaml.Mark) -> _Finding | None:
    """A quotation that a mark far below seems to close: where it opens, not where that is."""
    for at, line in enumerate(lines[: mark.line]):
        match = re.match(
            r"""(?P<before>[ -]*[A-Za-z][A-Za-z ]*:\s+)(?P<quote>['"])(?P<text>.*)$""", line
        )
        if match is None:
            continue
        text, sign = match["text"], match["quote"]
        inside = (
            text.replace("\\\\", "").replace('\\"', "") if sign == '"' else text.replace("''", "")
        )
        if sign not in inside and at < mark.line:
            closes = next((n for n in range(at + 1, len(lines)) if sign in lines[n]), len(lines))
            if closes >= mark.line and _is_named(lines[at + 1 : closes]):
                return _Finding(
                    at,
                    len(match["before"]),
                    "A quotation mark opens here and is never closed.",
                    "Close it at the end of the text.",
                )
    return None


def _is_named(lines: Sequence[str]) -> bool:
    """Among the lines is one that begins with a name of ours and a colon."""
    names = (line.strip().removeprefix("- ").split(":")[0] for line in lines if ":" in line)
    return any(name in _NAMES for name in names)


def _quotation_cut_short(lines: Sequence[str], mark: yaml.Mark) -> _Finding | None:
    """An apostrophe inside a text that opened with one, or a quotation inside a quotation."""
    before = lines[mark.line][: mark.column]
    match = re.match(r"(?P<name>.*?:\s+)(?P<quote>['\"])(?P<text>.*)(?P=quote)\s*$", before)
    if match is None:
        return None
    sign = '"' if match["quote"] == "'" else "'"
    return _Finding(
        mark.line,
        match.start("quote"),
        "The quotation that opens here is closed again inside the text.",
        f"Put the whole text in the other kind of quotation marks: {sign}…{sign}.",
    )


def _nameless(lines: Sequence[str], at: int) -> _Finding | None:
    """The first line of the file, without a name: it is the title."""
    first = next((n for n, line in enumerate(lines) if line.split("#")[0].strip()), at)
    if at != first or ":" in lines[at] or lines[at].startswith((" ", "-")):
        return None
    what = "This line has no name."
    return _Finding(at, 0, what, f"If it is the title, write 'title: {lines[at].strip()}'.")


def _stray_colon(lines: Sequence[str], mark: yaml.Mark) -> _Finding | None:
    line = lines[mark.line]
    if len(re.findall(r":(?:\s|$)", line)) < 2:
        return None
    name, _, said = line.strip().removeprefix("- ").partition(": ")
    if said.strip().startswith(("{", "[")):
        return None
    sign = "'" if '"' in said else '"'
    return _Finding(
        mark.line,
        mark.column,
        "There is a second colon in the text of this line.",
        f"Put the text in quotes: {name}: {sign}{said.strip()}{sign}.",
    )


def _out_of_line(lines: Sequence[str], at: int, above: int) -> _Finding | None:
    """A line further in than it may be; or the line above further out than its neighbours."""
    margin = _margin(lines[at])
    before = _above(lines, above)
    if margin <= _margin_of_fields(lines[above]):
        opens = lines[before].rstrip().endswith(":") and before != above
        if opens and _margin(lines[before]) < margin < _margin(lines[above]):
            what = "This line is further to the right than the lines below it."
            return _Finding(above, _margin(lines[above]), what, "Line it up with the line below.")
        return None
    if before != above and _margin_of_fields(lines[before]) == margin:
        what = "This line is further to the left than the lines around it."
        return _Finding(above, _margin(lines[above]), what, "Line it up with the line above.")
    what = "This line is moved in too far, or the line above lacks its colon."
    return _Finding(at, margin, what, "Line it up with the line above.")


@dataclass(frozen=True)
class _Syntax:
    """What we say for one complaint of the YAML parser."""

    fragment: str
    """Part of the complaint."""
    at_beginning: bool
    """Point at where the broken thing begins, not where the parser gave up."""
    what: str
    mend: str


_COLON = "mapping values are not allowed"
_NO_COLON = "could not find expected ':'"
_BLOCK_END = "expected <block end>"
_ABOUT_LINES = (_COLON, _NO_COLON, _BLOCK_END)
_SYNTAX_SENTENCES = (
    _Syntax(
        r"character '\t'",
        False,
        "There is a tab here.",
        "Move lines in with spaces, two for each step.",
    ),
    _Syntax(
        "quoted scalar",
        True,
        "A quotation mark opens here and is never closed.",
        "Close it at the end of the text.",
    ),
    _Syntax(
        _COLON,
        False,
        "There is a colon where none can be.",
        "Put the text in quotes, or line this line up with the one above.",
    ),
    _Syntax(
        _NO_COLON,
        True,
        "A colon is missing on this line, or it is not lined up with the lines around it.",
        "Write it as 'tempo: 60'.",
    ),
    _Syntax(
        "flow sequence",
        True,
        "A bracket '[' opens here and is not closed, or a comma is missing inside.",
        "Write it as [slurred, single, double].",
    ),
    _Syntax(
        "flow mapping",
        True,
        "A brace '{' opens here and is not closed, or a comma is missing inside.",
        "Write it as {cents: 15, clean: 95 %}.",
    ),
    _Syntax(
        "flow node",
        False,
        "Somewhere above, a bracket or brace is not closed.",
        "Close it: [slurred, single], {cents: 15}.",
    ),
    _Syntax(
        "that cannot start any token",
        False,
        "A text can't begin with this sign.",
        "Put the text in quotes.",
    ),
    _Syntax(
        _BLOCK_END,
        False,
        "This line does not line up with the ones above it.",
        "Give lines that belong together the same number of spaces in front.",
    ),
    _Syntax(
        "block sequence entries are not allowed",
        False,
        "A '-' can't stand here.",
        "Begin each exercise on a line of its own with '- '.",
    ),
    _Syntax(
        "while scanning an anchor",
        True,
        "A text can't begin with '&' here.",
        "Put the text in quotes.",
    ),
    _Syntax(
        "while scanning an alias",
        True,
        "A text can't begin with '*' here.",
        "Put the text in quotes.",
    ),
    _Syntax(
        "a block scalar",
        False,
        "Text that begins on the next line needs only '|' here.",
        "Write 'words: |' and move the text in on the lines below.",
    ),
)
_UNKNOWN = _Syntax("", False, "The file can't be read from here on.", COMPARE)
