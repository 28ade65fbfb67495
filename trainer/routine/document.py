"""From a file to YAML nodes with their lines, or to the one problem that stops the reading.

Nodes are read as the teacher typed them: `off`, `1:30` and `60` stay text, so YAML's own guesses
about truth values, times and numbers never change what was meant.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import yaml

from trainer.routine.problem import Problem

LARGEST_FILE_BYTES = 100_000
DEEPEST_NESTING = 12
_STARTERS_OF_NESTING = (yaml.MappingStartEvent, yaml.SequenceStartEvent)
_ENDS_OF_NESTING = (yaml.MappingEndEvent, yaml.SequenceEndEvent)


class UnreadableError(Exception):
    """The file can't be read any further; the problem says why."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.sentence())
        self.problem = problem


def read_text(path: Path) -> str:
    """The file's text. Raises UnreadableError for whatever stands in the way."""
    raw = _read_bytes(path)
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _whole_file(path.name, "The file is not saved as UTF-8.", _SAVE_AS_UTF8)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        what = "A letter here is not saved as UTF-8."
        raise UnreadableError(Problem(path.name, line, 1, what, _SAVE_AS_UTF8)) from None


_SAVE_AS_UTF8 = "In the text editor choose 'Save as' and the encoding UTF-8."


def _read_bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise _whole_file(
                path.name, "This is a folder.", "Name the routine file inside it: 'morning.yaml'."
            )
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE_BYTES + 1)
    except FileNotFoundError:
        raise _whole_file(
            path.name, "There is no such file.", f"Look whether it is really here: {path}"
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _whole_file(
            path.name, f"The file can't be opened: {reason}.", "Check its place and permissions."
        ) from None
    if len(raw) > LARGEST_FILE_BYTES:
        raise _whole_file(
            path.name,
            f"The file is larger than {LARGEST_FILE_BYTES // 1000} kB; no routine is that long.",
            "Check that this is the routine, or divide it into several.",
        )
    return raw


def _whole_file(file: str, what: str, mend: str) -> UnreadableError:
    return UnreadableError(Problem(file, None, None, what, mend))


def compose(text: str, file: str) -> yaml.Node:
    """The document's root node. Raises UnreadableError for YAML mistakes, with their line."""
    _refuse_unprintable(text, file)
    try:
        _refuse_what_no_routine_needs(text, file)
        root = yaml.compose(text, Loader=yaml.SafeLoader)
    except yaml.MarkedYAMLError as error:
        raise UnreadableError(_syntax_problem(error, text, file)) from None
    except yaml.YAMLError as error:
        raise _whole_file(file, f"The file is not YAML: {error}.", _COMPARE) from None
    if root is None:
        raise _whole_file(
            file,
            "The file is empty.",
            "A routine needs at least 'title:' and 'exercises:'; copy a shipped one to begin.",
        )
    return root


_COMPARE = "Compare this line and the one above it with a shipped routine."


def _refuse_unprintable(text: str, file: str) -> None:
    found = yaml.reader.Reader.NON_PRINTABLE.search(text)
    if found is not None:
        line = text.count("\n", 0, found.start()) + 1
        what = "This is not plain text: a character here can't be printed."
        mend = "Save the routine as plain text in a text editor, not in a word processor."
        raise UnreadableError(Problem(file, line, 1, what, mend))


def _refuse_what_no_routine_needs(text: str, file: str) -> None:
    """References to other places of the file, and nesting without end, could swell a small file."""
    depth = 0
    for event in yaml.parse(text, Loader=yaml.SafeLoader):
        depth += isinstance(event, _STARTERS_OF_NESTING) - isinstance(event, _ENDS_OF_NESTING)
        if depth > DEEPEST_NESTING:
            what = "Brackets or lists stand too deep inside each other."
            raise _at(event, file, what, "No entry of a routine needs that.")
        if isinstance(event, yaml.AliasEvent):
            what = f"'*{event.anchor}' is not read here: '*' means another place of the file."
            raise _at(event, file, what, "Put the word in quotes, or write it out.")


def _at(event: yaml.Event, file: str, what: str, mend: str) -> UnreadableError:
    mark = event.start_mark
    line, column = (None, None) if mark is None else (mark.line + 1, mark.column + 1)
    return UnreadableError(Problem(file, line, column, what, mend))


def _syntax_problem(error: yaml.MarkedYAMLError, text: str, file: str) -> Problem:
    mark = error.problem_mark or error.context_mark
    if mark is None:
        return Problem(file, None, None, "The file is not YAML.", _COMPARE)
    complaint = f"{error.context or ''}; {error.problem or ''}"
    known = next((row for row in _SYNTAX_SENTENCES if row.fragment in complaint), _UNKNOWN)
    if known.at_beginning and error.context_mark is not None:
        mark = error.context_mark
    what, mend = known.what, known.mend
    if known.fragment == _COLON:
        what, mend = _stray_colon(text.split("\n")[mark.line])
    return Problem(file, mark.line + 1, mark.column + 1, what, mend)


def _stray_colon(line: str) -> tuple[str, str]:
    if len(re.findall(r":(?:\s|$)", line)) > 1:
        return (
            "A second colon stands inside the text of this line.",
            'Put the text in quotes: words: "Sound first: then speed".',
        )
    return (
        "This line is moved in too far, or the line above lacks its colon.",
        "Line it up with the line above.",
    )


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
_SYNTAX_SENTENCES = (
    _Syntax(
        r"character '\t'",
        False,
        "A tab stands here.",
        "Move lines in with spaces, two for each step.",
    ),
    _Syntax(
        "quoted scalar",
        True,
        "A quotation mark opens here and is never closed.",
        "Close it at the end of the text.",
    ),
    _Syntax(_COLON, False, "", ""),
    _Syntax(
        "could not find expected ':'",
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
        "expected <block end>",
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
        "expected a single document",
        False,
        "A second document begins here with '---'.",
        "Keep one routine in each file.",
    ),
    _Syntax(
        "while scanning an anchor",
        False,
        "A text can't begin with '&' here.",
        "Put the text in quotes.",
    ),
    _Syntax(
        "while scanning an alias",
        False,
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
_UNKNOWN = _Syntax("", False, "The file can't be read from here on.", _COMPARE)
