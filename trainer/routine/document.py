"""From a file to YAML nodes with their lines, or to the one problem that stops the reading.

Nodes are read as the teacher typed them: `off`, `1:30` and `60` stay text, so YAML's own guesses
about truth values, times and numbers never change what was meant.
"""

from __future__ import annotations

import re
from pathlib import Path

import yaml

from trainer.routine.problem import Problem
from trainer.routine.syntax import COMPARE, syntax_problem

LARGEST_FILE_BYTES = 100_000
"""The longest routine of a teacher's own has a tenth of this."""
DEEPEST_NESTING = 12
"""The language itself nests five deep."""
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
        if path.exists() and not path.is_file():
            what = "This is a device or a pipe, not a file."
            raise _whole_file(path.name, what, "Name a routine file: 'morning.yaml'.")
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


_LINE_END = re.compile("\r\n?|[\x85\u2028\u2029]")
"""Other ways to end a line, all of which YAML knows (YAML 1.2.2, section 5.4; 1.1 for the last)."""


def compose(text: str, file: str) -> yaml.Node:
    """The document's root node. Raises UnreadableError for YAML mistakes, with their line."""
    _refuse_unprintable(text, file)
    text = _LINE_END.sub("\n", text)
    try:
        _refuse_what_no_routine_needs(text, file)
        root = _composed(text, file)
    except yaml.MarkedYAMLError as error:
        raise UnreadableError(syntax_problem(error, text, file)) from None
    except yaml.YAMLError as error:
        raise _whole_file(file, f"The file is not YAML: {error}.", COMPARE) from None
    if root is None:
        raise _whole_file(
            file,
            "The file is empty.",
            "A routine needs at least 'title:' and 'exercises:'; copy a shipped one to begin.",
        )
    return root


def _composed(text: str, file: str) -> yaml.Node | None:
    """The nodes, whose marks carry the file's name."""
    loader = yaml.SafeLoader(text)
    loader.name = file
    try:
        return loader.get_single_node()
    finally:
        loader.dispose()


def _refuse_unprintable(text: str, file: str) -> None:
    found = yaml.reader.Reader.NON_PRINTABLE.search(text)
    if found is not None:
        line = text.count("\n", 0, found.start()) + 1
        what = "This is not plain text: a character here can't be printed."
        mend = "Save the routine as plain text in a text editor, not in a word processor."
        raise UnreadableError(Problem(file, line, 1, what, mend))


def _refuse_what_no_routine_needs(text: str, file: str) -> None:
    """References to other places and nesting without end could swell a small file; a tag could ask
    for more than text.
    """
    depth = 0
    for event in yaml.parse(text, Loader=yaml.SafeLoader):
        depth += isinstance(event, _STARTERS_OF_NESTING) - isinstance(event, _ENDS_OF_NESTING)
        if depth > DEEPEST_NESTING:
            what = "Brackets or lists stand too deep inside each other."
            raise _at(event, file, what, "No entry of a routine needs that.")
        if isinstance(event, yaml.AliasEvent):
            what = f"'*{event.anchor}' is not read here: '*' means another place of the file."
            raise _at(event, file, what, "Put the text in quotes, or write it out.")
        anchor = getattr(event, "anchor", None)
        if anchor is not None:
            what = f"'&{anchor}' is not read here: '&' gives a place of the file a name."
            raise _at(event, file, what, "Put the text in quotes, or leave the sign out.")
        if getattr(event, "tag", None) is not None:
            what = "A text that begins with '!' is not read here: it would be a command."
            raise _at(event, file, what, "Put the text in quotes, or leave the sign out.")


def _at(event: yaml.Event, file: str, what: str, mend: str) -> UnreadableError:
    mark = event.start_mark
    line, column = (None, None) if mark is None else (mark.line + 1, mark.column + 1)
    return UnreadableError(Problem(file, line, column, what, mend))
