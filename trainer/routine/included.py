"""Which files a routine may include: those of its own folder, not too deep, and never itself."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import yaml

from trainer.routine.problem import Problem, listed, nearest
from trainer.routine.reader import Fault, misread

DEEPEST_INCLUSION = 3
"""A file may include one that includes one that includes one."""


@dataclass(frozen=True)
class ReadingPlace:
    """Where entries are read from, and for which level."""

    folder: Path | None
    """Of the file the reading began with; nothing outside it is opened. None: there is no file."""
    level: str = ""
    files: tuple[Path, ...] = ()
    """The files being read, outermost first; each but the first is included by the one before."""


def path_of(name: str, node: yaml.Node, place: ReadingPlace) -> Path:
    """The file named, if it may be opened. Raises MisreadError saying why it may not."""
    if place.folder is None or not place.files:
        mend = "Save the routine in the folder of the other first."
        raise misread(node, "Another file can only be included from a file.", mend)
    folder, path = place.folder.resolve(), place.files[-1].parent / name
    try:
        target = path.resolve(strict=True)
    except (OSError, RuntimeError):
        near = nearest(path.name, sorted(file.name for file in path.parent.glob("*.y*ml")))
        question = f"Did you mean '{near}'? " if near is not None else ""
        what = f"There is no file '{name}' beside this one."
        raise misread(node, what, f"{question}Put the file into the same folder.") from None
    if not target.is_relative_to(folder):
        what = f"'{name}' leads out of this routine's folder."
        mend = "Copy that file into the folder; a routine opens nothing outside it."
        raise misread(node, what, mend)
    if target in place.files:
        what = f"'{name}' includes itself, by way of {listed(f.name for f in place.files)}."
        raise misread(node, what, "Leave one of the two 'include' lines out.")
    if len(place.files) > DEEPEST_INCLUSION:
        what = f"Files are included {DEEPEST_INCLUSION} deep already."
        raise misread(node, what, "Include this file from the first one instead.")
    return target


def fault_of(problem: Problem, node: yaml.Node) -> Fault:
    """A problem of another file at its own line; at the 'include' where it has none."""
    if problem.line is None:
        return Fault(node, f"{problem.file} can't be included. {problem.what}", problem.mend)
    mark = yaml.Mark(problem.file, 0, problem.line - 1, (problem.column or 1) - 1, None, 0)
    return Fault(yaml.ScalarNode("", "", mark, mark), problem.what, problem.mend)
