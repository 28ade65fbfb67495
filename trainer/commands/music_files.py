"""Music in and out: a passage from a score, a sheet for the stand, a look and a listen ahead."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.app.paths import user_paths
from trainer.commands.desk import routine_or_complaint
from trainer.commands.family import DAY, day_ahead
from trainer.commands.page_file import unused, write_file, write_page
from trainer.errors import ScoreError
from trainer.wording.days import day_words

if TYPE_CHECKING:
    from trainer.commands.family import Commands
    from trainer.music.instrument import Instrument
    from trainer.routine.model import Routine
    from trainer.routine.plan import PlannedExercise
    from trainer.score.week_glance import WeekGlance

SOUND_FILE_RATE_HZ = 44100
"""As on a compact disc."""


def add_to(commands: Commands) -> None:
    """Add these commands to the command line."""
    bring = commands.add_parser(
        "import", help="a passage from a MusicXML, MIDI or ABC file, as YAML"
    )
    bring.add_argument(
        "score", type=Path, metavar="SCORE", help=".musicxml, .mxl, .xml, .mid or .abc"
    )
    bring.add_argument("--part", metavar="NAME|N", help="which part, by name or number")
    bring.add_argument("--bars", metavar="A-B", help="bars as numbered in the score; else all")
    bring.add_argument("--sections", action="store_true", help="each section an exercise")
    bring.add_argument("--name", metavar="NAME", help="what the exercise is called")
    bring.add_argument(
        "--for", dest="instrument", metavar="FLUTE", help="write it so that this flute sounds it"
    )
    bring.add_argument("--routine", action="store_true", help="a whole routine, not one exercise")
    bring.add_argument("--json", action="store_true")
    bring.set_defaults(command=_import)

    sheet = commands.add_parser("sheet", help="the day's music on paper, or as a score file")
    sheet.add_argument("routine", type=Path, metavar="FILE")
    sheet.add_argument(
        "--out",
        type=Path,
        metavar="FILE",
        help=".pdf or .html for the stand; .svg, .musicxml or .mid for other programs",
    )
    _add_day(sheet)
    sheet.set_defaults(command=_sheet)

    calendar = commands.add_parser("calendar", help="the planned days as a calendar file")
    calendar.add_argument("routine", type=Path, metavar="FILE")
    calendar.add_argument("--weeks", type=int, default=4, choices=range(1, 53), metavar="NUMBER",
                          help="how many from today on, 1 to 52; else 4")  # fmt: skip
    calendar.set_defaults(command=_calendar)

    preview = commands.add_parser("preview", help="the day's timetable and notes, before practice")
    preview.add_argument("routine", type=Path, metavar="FILE")
    _add_day(preview)
    preview.add_argument("--play", action="store_true", help="hear it from the partner")
    preview.add_argument("--wav", type=Path, metavar="FILE", help="the partner into a sound file")
    preview.add_argument("--json", action="store_true")
    preview.set_defaults(command=_preview)


def _add_day(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--day", type=day_ahead, metavar=DAY, help="today, monday, 29.11.2026; else today"
    )
    parser.add_argument("--exercise", metavar="ID", help="only this exercise of the routine")
    parser.add_argument("--week", action="store_true", help="seven days at a glance")
    parser.add_argument("--level", metavar="NAME", help="as this level plays it")


def _import(options: argparse.Namespace) -> int:
    from trainer.score.excerpt import excerpt, part_named, read_score, sections_of
    from trainer.score.exercise import checked, excerpt_json, exercises_text, routine_text

    score = read_score(options.score)
    part = part_named(score, options.part)
    if options.sections:
        found = sections_of(score, part, options.bars, options.instrument)
    else:
        found = (excerpt(score, part, options.bars, options.instrument),)
    whole = routine_text(found, options.name, options.score.name)
    checked(whole)
    text = whole if options.routine else exercises_text(found, options.name, options.score.name)
    if options.json:
        parts = [excerpt_json(one, text) for one in found]
        print(json.dumps(parts if options.sections else parts[0], indent=2))
    else:
        print(text, end="")
    return 0


# A routine's day


def _planned(routine: Routine, day: date, exercise: str | None) -> Sequence[PlannedExercise]:
    """What practice would bring on the day, as far as the journal knows by now."""
    from trainer.app.open_session import planned_as_known
    from trainer.score.sections import chosen

    return chosen(planned_as_known(routine, day, user_paths(os.environ)), exercise)


def _glance(routine: Routine, first: date) -> WeekGlance:
    """Seven days running, as far as the journal knows by now."""
    from trainer.app.open_session import KEYS_REMEMBERED, planned_for_days, remembered_sessions
    from trainer.score.week_glance import days_from, week_glance

    days = days_from(first)
    before = first - timedelta(days=1)
    sessions, _ = remembered_sessions(user_paths(os.environ), first - KEYS_REMEMBERED, before)
    return week_glance(days, planned_for_days(routine, days, sessions))


def _sheet(options: argparse.Namespace) -> int:
    from trainer.music.instrument import instrument_named

    routine = routine_or_complaint(options.routine, options.level)
    if routine is None:
        return 1
    day = options.day or date.today()
    out = options.out or unused(Path(f"{options.routine.stem}.pdf"))
    if options.week:
        from trainer.score.week_glance import glance_html

        return write_page(out, glance_html(routine, _glance(routine, day)))
    planned = _planned(routine, day, options.exercise)
    make = _MAKERS.get(out.suffix.lower())
    if make is None:
        raise ScoreError(f"--out: write a name that ends in {', '.join(_MAKERS)}")
    data = make(routine, planned, day, instrument_named(routine.instrument))
    write_file(out, data)
    print(out)
    return 0


_Maker = Callable[["Routine", Sequence["PlannedExercise"], date, "Instrument"], bytes]


def _html(routine: Routine, planned: Sequence[PlannedExercise], day: date, _: Instrument) -> bytes:
    from trainer.score.sheet import sheet_html

    return sheet_html(routine, planned, day).encode()


def _pdf(
    routine: Routine, planned: Sequence[PlannedExercise], day: date, instrument: Instrument
) -> bytes:
    from trainer.paper.pdf import pdf, places_mm
    from trainer.score.sheet import shared_on, sheet_html
    from trainer.score.sheet_pages import heights_of, pages_for

    found = []
    for tight in (False, True):
        places = places_mm(sheet_html(routine, planned, day, tight=tight))
        heading_mm, heights = heights_of(planned, shared_on(planned, instrument), places)
        pages = pages_for(planned, heading_mm, heights)
        found.append((len(pages), tight, pages))
        if len(pages) == 1:
            break
    fewest = min(found, key=lambda one: one[:2])
    return pdf(sheet_html(routine, planned, day, fewest[2], tight=fewest[1]))


def _svg(_: Routine, planned: Sequence[PlannedExercise], __: date, instrument: Instrument) -> bytes:
    from trainer.score.engraving import stacked
    from trainer.score.sections import music_of

    return stacked([section.round for section in music_of(planned)], instrument).encode()


def _musicxml(
    routine: Routine, planned: Sequence[PlannedExercise], _: date, instrument: Instrument
) -> bytes:
    from trainer.score.musicxml_out import musicxml
    from trainer.score.sections import music_of

    return musicxml(routine.title, music_of(planned), instrument)


def _midi(
    routine: Routine, planned: Sequence[PlannedExercise], _: date, instrument: Instrument
) -> bytes:
    from trainer.score.midi_out import midi
    from trainer.score.sections import music_of

    return midi(routine.title, music_of(planned), instrument)


_MAKERS: dict[str, _Maker] = {
    ".pdf": _pdf,
    ".html": _html,
    ".svg": _svg,
    ".musicxml": _musicxml,
    ".mid": _midi,
}


def _calendar(options: argparse.Namespace) -> int:
    from datetime import datetime

    from trainer.routine.calendar_file import calendar_file

    routine = routine_or_complaint(options.routine)
    if routine is None:
        return 1
    today = date.today()
    ahead = [today + timedelta(days=days) for days in range(7 * options.weeks)]
    planned = [(day, _planned(routine, day, None)) for day in ahead]
    sys.stdout.write(calendar_file(routine.title, planned, datetime.now().astimezone()))
    return 0


def _preview(options: argparse.Namespace) -> int:
    from trainer.music.instrument import instrument_named
    from trainer.score.asked import minutes_in_words
    from trainer.score.timetable import timetable, timetable_json, timetable_text

    routine = routine_or_complaint(options.routine, options.level)
    if routine is None:
        return 1
    day = options.day or date.today()
    if options.week:
        return _week(routine, day, in_json=options.json)
    planned = _planned(routine, day, options.exercise)
    instrument = instrument_named(routine.instrument)
    slots = timetable(planned)
    minutes = sum(exercise.minutes for exercise in planned)
    if options.json:
        entries = timetable_json(slots, instrument)
        print(json.dumps({"title": routine.title, "day": str(day), "instrument": routine.instrument,
                          "minutes": round(minutes, 1), "entries": entries}, indent=2))  # fmt: skip
    else:
        dated = f"{day_words(day)} {day.year}"
        length = minutes_in_words(minutes)
        head = f"{routine.title} · {dated} · {routine.instrument} · {length}"
        print(timetable_text(head, slots))
    if options.wav is not None:
        _write_sound(planned, instrument, options.wav)
    if options.play:
        _play(planned, instrument)
    return 0


def _week(routine: Routine, first: date, *, in_json: bool) -> int:
    from trainer.score.week_glance import glance_json, glance_text

    glance = _glance(routine, first)
    print(
        json.dumps(glance_json(routine, glance), indent=2)
        if in_json
        else glance_text(routine, glance)
    )
    return 0


def _write_sound(planned: Sequence[PlannedExercise], instrument: Instrument, file: Path) -> None:
    from trainer.commands.play_preview import music_of_day
    from trainer.score.sections import music_of
    from trainer.sound.soundfile_io import write_sound

    music = music_of_day(music_of(planned), instrument, SOUND_FILE_RATE_HZ)
    write_sound(file, music, SOUND_FILE_RATE_HZ)


def _play(planned: Sequence[PlannedExercise], instrument: Instrument) -> None:
    from contextlib import closing, suppress

    from trainer.app.devices_set import devices_set
    from trainer.commands.play_preview import play
    from trainer.score.sections import music_of
    from trainer.sound.device_port import open_port

    paths = user_paths(os.environ)
    port_opened = open_port(devices_set(paths), log_path=paths.log_file)
    with closing(port_opened) as port, suppress(KeyboardInterrupt):
        play(port, music_of(planned), instrument, print)
