"""From a file to YAML nodes with their lines, or to the one problem that stops the reading.

Nodes are read as the teacher typed them: `off`, `1:30` and `60` stay text, so YAML's own guesses
about truth values, times and numbers never change what was meant.
"""

from __future__ import annotations

import errno
import re
from pathlib import Path

import yaml

from trainer.disk.regular_file import UnfitFileError, first_bytes, regular_bytes
from trainer.disk.strict_yaml import StrictYamlError, node_tree, python_complaint
from trainer.routine.other_files import LOOKED_AT_BYTES, kind_of_file, to_do_with
from trainer.routine.problem import Problem
from trainer.routine.syntax import syntax_problem
from trainer.routine.typed_signs import plain_signs

LARGEST_FILE_BYTES = 100_000
"""The longest routine of a teacher's own has a tenth of this."""


class UnreadableError(Exception):
    """The file can't be read any further; the problem says why."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.sentence())
        self.problem = problem


def read_text(path: Path) -> str:
    """The file's text. Raises UnreadableError for whatever stands in the way."""
    raw = _read_bytes(path)
    _refuse_other_files(path.name, raw)
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
        return regular_bytes(path, LARGEST_FILE_BYTES)
    except FileNotFoundError:
        raise _whole_file(
            path.name, "There is no such file.", f"Look whether it is really here: {path}"
        ) from None
    except UnfitFileError as unfit:
        if unfit.errno == errno.EFBIG:
            _refuse_other_files(path.name, first_bytes(path, LOOKED_AT_BYTES))
        what, mend = _UNFIT.get(unfit.errno or 0, (f"This can't be read: {unfit.strerror}.", ""))
        raise _whole_file(path.name, what, mend or "Name a routine file: 'morning.yaml'.") from None
    except OSError as error:
        raise _whole_file(
            path.name,
            f"The file can't be opened: {error.strerror}.",
            "Check its place and permissions.",
        ) from None


def _refuse_other_files(file: str, begins: bytes) -> None:
    kind = kind_of_file(begins)
    if kind is not None:
        what = f"This is {kind}; a routine is plain text."
        raise _whole_file(file, what, to_do_with(kind))


_UNFIT = {
    errno.EISDIR: ("This is a folder.", "Name the routine file inside it: 'morning.yaml'."),
    errno.EINVAL: ("This is a device or a pipe, not a file.", ""),
    errno.EFBIG: (
        f"The file is larger than {LARGEST_FILE_BYTES // 1000} kB; no routine is that long.",
        "Check that this is the routine, or divide it into several.",
    ),
}


def _whole_file(file: str, what: str, mend: str) -> UnreadableError:
    return UnreadableError(Problem(file, None, None, what, mend))


_LINE_END = re.compile("\r\n?|[\x85\u2028\u2029]")
"""Other ways to end a line, all of which YAML knows (YAML 1.2.2, section 5.4; 1.1 for the last)."""


def compose(text: str, file: str) -> yaml.Node:
    """The document's root node. Raises UnreadableError for YAML mistakes, with their line."""
    text = plain_signs(_LINE_END.sub("\n", text))
    try:
        root = node_tree(text, file)
    except StrictYamlError as fault:
        raise UnreadableError(_problem(fault, text, file)) from None
    if root is None:
        raise _whole_file(
            file,
            "The file is empty.",
            "A routine needs at least 'title:' and 'exercises:'; copy a shipped one to begin.",
        )
    return root


def _problem(fault: StrictYamlError, text: str, file: str) -> Problem:
    """What to say to a teacher; of two parsers' complaints the one that tells more."""
    if fault.complaint is None:
        return Problem(file, fault.line, fault.column, fault.what, fault.mend)
    return syntax_problem(python_complaint(text) or fault.complaint, text, file)
