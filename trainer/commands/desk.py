"""The teacher's commands: write a routine and check it."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.commands.family import Commands
    from trainer.routine.model import Routine


def add_to(commands: Commands) -> None:
    """Add these commands to the command line."""
    check = commands.add_parser("check", help="read a routine file and say what is wrong with it")
    check.add_argument("files", type=Path, nargs="+", metavar="FILE")
    check.add_argument("--level", metavar="NAME", help="as this level plays it")
    check.add_argument("--json", action="store_true")
    check.set_defaults(command=_check)

    desk = commands.add_parser("new", help="a routine to begin from, on standard output")
    desk.add_argument("level", choices=("beginner", "intermediate", "advanced"))
    desk.set_defaults(command=_new)
    reference = commands.add_parser("reference", help="everything a routine file may say")
    reference.add_argument(
        "--page", type=Path, metavar="FILE", help="as a page to print: a name in .html or .pdf"
    )
    reference.set_defaults(command=_reference)
    schema = commands.add_parser("schema", help="the JSON Schema of a routine, for an editor")
    schema.set_defaults(command=_schema)


def routine_or_complaint(file: Path, level: str | None = None) -> Routine | None:
    """The routine at a level, or None after printing everything that is wrong with the file."""
    from trainer.routine.load import load_routine
    from trainer.routine.problem_report import describe

    routine, problems = load_routine(file, level)
    if routine is None:
        print(describe(problems), file=sys.stderr)
    return routine


def _check(options: argparse.Namespace) -> int:
    from trainer.routine.load import load_routine
    from trainer.routine.problem_report import describe

    found = [(file, *load_routine(file, options.level)) for file in options.files]
    if options.json:
        report = [
            {"file": str(file), "problems": [asdict(problem) for problem in problems]}
            for file, _, problems in found
        ]
        print(json.dumps(report, indent=2))
    else:
        for file, _, problems in found:
            print(describe(problems) if problems else f"{file}: nothing wrong")
    return 0 if all(routine is not None for _, routine, _ in found) else 1


def _new(options: argparse.Namespace) -> int:
    from trainer.routine.desk_texts import new_routine

    print(new_routine(options.level), end="")
    return 0


def _reference(options: argparse.Namespace) -> int:
    from pydoc import pager

    from trainer.commands.page_file import write_page
    from trainer.paper.manual_page import manual_page
    from trainer.routine.desk_texts import reference

    if options.page is not None:
        return write_page(options.page, manual_page(reference()))
    if sys.stdout.isatty():
        pager(reference())
    else:
        print(reference(), end="")
    return 0


def _schema(_: argparse.Namespace) -> int:
    from trainer.routine.desk_texts import schema_text

    print(schema_text(), end="")
    return 0
