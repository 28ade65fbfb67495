"""The commands."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import TrainerError
from trainer.paths import user_paths

if TYPE_CHECKING:
    from trainer.journal.log import SessionLog
    from trainer.music.tuning import Tuning
    from trainer.routine.model import Routine


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status says whether it went well (0), or what was asked can't
    be done (1); 2 is for words on the command line that are not understood.
    """
    options = _parser().parse_args(arguments)
    try:
        status: int = options.command(options)
    except TrainerError as error:
        print(error, file=sys.stderr)
        return 1
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    return status


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="trainer", description="A practice partner for flute students."
    )
    parser.set_defaults(command=_practise, routine=None, player=None)
    commands = parser.add_subparsers(title="commands", metavar="")

    practise = commands.add_parser("practise", help="today's routine (the same as no command)")
    practise.add_argument("--routine", type=Path, metavar="FILE", help="another routine file")
    practise.add_argument(
        "--player", metavar="HABITS", nargs="?", const="student", help="a played-in flutist plays"
    )
    practise.set_defaults(command=_practise)

    check = commands.add_parser("check", help="read a routine file and say what is wrong with it")
    check.add_argument("files", type=Path, nargs="+", metavar="FILE")
    check.add_argument("--json", action="store_true")
    check.set_defaults(command=_check)

    listen = commands.add_parser("listen", help="what the trainer hears in a sound file")
    listen.add_argument("sound", type=Path, metavar="SOUND")
    asked = listen.add_mutually_exclusive_group()
    asked.add_argument("--routine", type=Path, metavar="FILE", help="notes of a routine's exercise")
    asked.add_argument("--midi", type=Path, metavar="FILE", help="notes of a MIDI file, in order")
    asked.add_argument("--notes", metavar="NOTES", help='notes in order: "G4 A4 B4"')
    listen.add_argument("--exercise", metavar="ID", help="the exercise's name in the routine")
    listen.add_argument("--articulation", metavar="NAME", help="the round with this articulation")
    listen.add_argument("--tempo", type=float, metavar="BPM")
    listen.add_argument("--day", type=date.fromisoformat, default=None, metavar="YYYY-MM-DD")
    listen.add_argument("--a4", type=float, default=None, metavar="HZ", help="415 to 446")
    listen.add_argument("--json", action="store_true")
    listen.set_defaults(command=_listen)

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

    desk = commands.add_parser("new", help="a routine to begin from, on standard output")
    desk.add_argument("level", choices=("beginner", "intermediate", "advanced"))
    desk.set_defaults(command=_new)
    reference = commands.add_parser("reference", help="everything a routine file may say")
    reference.set_defaults(command=_reference)
    schema = commands.add_parser("schema", help="the JSON Schema of a routine, for an editor")
    schema.set_defaults(command=_schema)

    calibrate = commands.add_parser(
        "calibrate", help="measure the delay between loudspeaker and microphone"
    )
    calibrate.add_argument("--json", action="store_true")
    calibrate.set_defaults(command=_calibrate)

    devices = commands.add_parser("devices", help="the microphones and speakers there are")
    devices.add_argument("--json", action="store_true")
    devices.set_defaults(command=_devices)
    return parser


def _practise(options: argparse.Namespace) -> int:
    from trainer.practise import practise_on_screen, todays_routine_file

    paths = user_paths(os.environ)
    routine = _routine_or_complaint(options.routine or todays_routine_file(paths))
    if routine is None:
        return 1
    practise_on_screen(routine, paths, player=options.player)
    return 0


def _routine_or_complaint(file: Path) -> Routine | None:
    """The routine, or None after printing everything that is wrong with the file."""
    from trainer.routine.load import load_routine
    from trainer.routine.report import describe

    routine, problems = load_routine(file)
    if routine is None:
        print(describe(problems), file=sys.stderr)
    return routine


def _check(options: argparse.Namespace) -> int:
    from trainer.routine.load import load_routine
    from trainer.routine.report import describe

    found = [(file, *load_routine(file)) for file in options.files]
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


def _listen(options: argparse.Namespace) -> int:
    from trainer.ear.hear import hear
    from trainer.ear.report import take_json, take_text
    from trainer.ear.transcribe import transcribe
    from trainer.expected import GUIDE_BPM, from_midi, from_routine, from_words
    from trainer.sound.soundfile_io import read_sound

    tuning = _tuning(options.a4)
    recording = read_sound(options.sound)
    samples, rate = recording.samples, recording.sample_rate_hz
    for notice in recording.notices:
        print(notice, file=sys.stderr)
    if options.routine is not None:
        routine = _routine_or_complaint(options.routine)
        if routine is None:
            return 1
        day = options.day or date.today()
        round_ = from_routine(routine, options.exercise, options.articulation, options.tempo, day)
        if options.a4 is None:
            tuning = round_.tuning
        take = hear(samples, rate, round_.notes, round_.tempo_bpm, tuning, None)
    elif options.midi is not None or options.notes is not None:
        notes = from_midi(options.midi) if options.midi else from_words(options.notes)
        tempo_bpm = options.tempo or GUIDE_BPM
        take = hear(samples, rate, notes, tempo_bpm, tuning, None, timed=False)
    else:
        take = transcribe(samples, rate, tuning)
    print(json.dumps(take_json(take), indent=2) if options.json else take_text(take))
    return 0


def _tuning(a4_hz: float | None) -> Tuning:
    from trainer.music.tuning import Tuning

    try:
        return Tuning() if a4_hz is None else Tuning(a4_hz)
    except ValueError as error:
        raise TrainerError(f"--a4: {error}") from error


def _devices(options: argparse.Namespace) -> int:
    from trainer.sound.devices import device_table, list_devices
    from trainer.sound.process import quiet_stderr

    with quiet_stderr(user_paths(os.environ).log_file):
        devices = list_devices()
    if options.json:
        print(json.dumps([asdict(device) for device in devices], indent=2))
    else:
        print(device_table(devices))
    return 0


def _calibrate(options: argparse.Namespace) -> int:
    import time

    from trainer.sound.calibrate import measure_round_trip, remember_round_trip
    from trainer.sound.process import quiet_stderr
    from trainer.sound.stream import open_stream

    paths = user_paths(os.environ)
    with quiet_stderr(paths.log_file):
        port = open_stream()

    def wait_until(frame: int) -> None:
        while port.alive and port.heard_frame() < frame:
            time.sleep(0.02)

    try:
        measured = measure_round_trip(port, wait_until)
    finally:
        port.close()
    if measured is None:
        raise TrainerError(
            "The microphone didn't hear the loudspeaker. Take headphones off, turn the volume up, "
            "and try again; with headphones the device's own figure is used."
        )
    remember_round_trip(paths.calibration_file, port.name, measured)
    rate = port.sample_rate_hz
    found = {
        "devices": port.name,
        "round_trip_ms": round(1000 * measured.frames / rate, 2),
        "spread_ms": round(1000 * measured.spread_frames / rate, 2),
    }
    if options.json:
        print(json.dumps(found, indent=2))
    else:
        print(
            f"{port.name}: {found['round_trip_ms']} ms there and back, "
            f"within {found['spread_ms']} ms. Remembered."
        )
    return 0


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


def _new(options: argparse.Namespace) -> int:
    from trainer.routine.desk import new_routine

    print(new_routine(options.level), end="")
    return 0


def _reference(_: argparse.Namespace) -> int:
    from trainer.routine.desk import reference

    print(reference(), end="")
    return 0


def _schema(_: argparse.Namespace) -> int:
    from trainer.routine.desk import schema_text

    print(schema_text(), end="")
    return 0
