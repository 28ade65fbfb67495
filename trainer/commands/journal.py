"""The commands that read back what was practised."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import TrainerError
from trainer.paths import user_paths

if TYPE_CHECKING:
    from trainer.commands.line import Commands
    from trainer.journal.log import SessionLog


def add_to(commands: Commands) -> None:
    """Add these commands to the command line."""
    week = commands.add_parser("week", help="the last seven days")
    week.add_argument("--ending", type=date.fromisoformat, default=None, metavar="YYYY-MM-DD")
    week.add_argument("--json", action="store_true")
    week.add_argument("--page", type=Path, metavar="FILE", help="write the lesson page (HTML)")
    week.set_defaults(command=_week)

    journal = commands.add_parser("journal", help="the sessions written down; alone: a list")
    journal.set_defaults(command=_journal, from_day=None, to_day=None)
    actions = journal.add_subparsers(title="actions", metavar="")
    listed = actions.add_parser("list", help="a line a session")
    shown = actions.add_parser("show", help="one session")
    remark = actions.add_parser("remark", help="add a remark to a session that is over")
    export = actions.add_parser("export", help="sessions for other programs, on standard output")
    for action in (listed, export):
        action.add_argument(
            "--from", dest="from_day", type=date.fromisoformat, metavar="YYYY-MM-DD"
        )
        action.add_argument("--to", dest="to_day", type=date.fromisoformat, metavar="YYYY-MM-DD")
    for action in (shown, remark):
        action.add_argument("when", help="'last', 2026-11-23 or '2026-11-23 17:05'")
    shown.set_defaults(command=_journal_show)
    remark.add_argument("words")
    remark.add_argument("--private", action="store_true", help="keep it out of exports and pages")
    remark.set_defaults(command=_journal_remark)
    export.add_argument("--form", choices=("csv", "json"), default="csv", help="csv: a row a note")
    export.set_defaults(command=_journal_export)


def _week(options: argparse.Namespace) -> int:
    from trainer.journal.page import lesson_page
    from trainer.journal.week import week
    from trainer.journal.week_text import week_json, week_text
    from trainer.practise import TWO_WEEKS, remembered_sessions

    ending = options.ending or date.today()
    paths = user_paths(os.environ)
    sessions, faults = remembered_sessions(paths, ending - TWO_WEEKS, ending)
    for fault in faults:
        print(fault, file=sys.stderr)
    summary = week(sessions, ending)
    if options.page is not None:
        return _write_page(options.page, lesson_page(summary, sessions))
    print(json.dumps(week_json(summary), indent=2) if options.json else week_text(summary))
    return 0


def _write_page(file: Path, page: str) -> int:
    try:
        file.write_text(page, encoding="utf-8")
    except OSError as error:
        raise TrainerError(f"{file} can't be written: {error.strerror}") from error
    print(f"Written to {file}.")
    return 0


def _sessions(from_day: date | None, to_day: date | None) -> Sequence[SessionLog]:
    """The sessions of these days; what is wrong with a file goes to standard error."""
    from trainer.practise import remembered_sessions

    first, last = from_day or date.min, to_day or date.max
    sessions, faults = remembered_sessions(user_paths(os.environ), first, last)
    for fault in faults:
        print(fault, file=sys.stderr)
    return sessions


def _journal(options: argparse.Namespace) -> int:
    from trainer.journal.sessions_text import sessions_text

    print(sessions_text(_sessions(options.from_day, options.to_day)), end="")
    return 0


def _journal_show(options: argparse.Namespace) -> int:
    from trainer.journal.sessions_text import session_named, session_text_page

    print(session_text_page(session_named(_sessions(None, None), options.when)), end="")
    return 0


def _journal_remark(options: argparse.Namespace) -> int:
    from trainer.journal.read import read_files
    from trainer.journal.remark import add_remark
    from trainer.journal.sessions_text import session_named

    paths = user_paths(os.environ)
    files = [
        file for folder in (paths.journal, paths.spare_journal) for file in read_files(folder)[0]
    ]
    session = session_named([log for _, log in files], options.when)
    path = next(path for path, log in files if log is session)
    add_remark(path, options.words, datetime.now().astimezone(), private=options.private)
    print(f"Written in {path}.")
    return 0


def _journal_export(options: argparse.Namespace) -> int:
    from trainer.journal.export import notes_csv, sessions_json

    sessions = _sessions(options.from_day, options.to_day)
    form = notes_csv if options.form == "csv" else sessions_json
    sys.stdout.write(form(sessions))
    return 0
