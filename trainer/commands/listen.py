"""The command that hears a sound file."""

from __future__ import annotations

import argparse
import json
import math
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.app.paths import user_paths
from trainer.commands.desk import routine_or_complaint
from trainer.commands.family import DAY, day
from trainer.commands.plain_output import progress
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from trainer.app.paths import Paths
    from trainer.coach.advice import Advice
    from trainer.commands.family import Commands
    from trainer.ear.heard import Take
    from trainer.figures.round_measures import RoundMeasures
    from trainer.music.tuning import Tuning
    from trainer.routine.model import Routine
    from trainer.session.heard_lesson import FoundRound
    from trainer.sound.soundfile_io import SoundReader


ONLY_FOUND = "--journal goes with --routine, where no --exercise is named."


def add_to(commands: Commands) -> None:
    """Add these commands to the command line."""
    listen = commands.add_parser("listen", help="what the trainer hears in a sound file")
    listen.add_argument("sound", type=Path, metavar="SOUND")
    asked = listen.add_mutually_exclusive_group()
    asked.add_argument(
        "--routine", type=Path, metavar="FILE", help="which of its rounds are played, and where"
    )
    asked.add_argument("--midi", type=Path, metavar="FILE", help="notes of a MIDI file, in order")
    asked.add_argument("--notes", metavar="NOTES", help='notes in order: "G4 A4 B4"')
    listen.add_argument(
        "--exercise", metavar="ID", help="with --routine: this exercise, note by note"
    )
    listen.add_argument("--articulation", metavar="NAME", help="the round with this articulation")
    listen.add_argument("--tempo", type=float, metavar="BPM", help="beats a minute")
    listen.add_argument("--day", type=day, default=None, metavar=DAY)
    listen.add_argument("--a4", type=float, default=None, metavar="HZ", help="415 to 446")
    listen.add_argument(
        "--journal", action="store_true", help="write the rounds found down as heard from a file"
    )
    listen.add_argument("--json", action="store_true")
    listen.set_defaults(command=_listen)


def _listen(options: argparse.Namespace) -> int:
    from trainer.commands.take_report import take_json, take_text
    from trainer.sound.soundfile_io import SoundReader

    if options.tempo is not None and not 0 < options.tempo < math.inf:
        raise TrainerError("--tempo: write beats a minute, as --tempo 72")
    for notice in _passed_over(options):
        print(notice, file=sys.stderr)
    tuning = _tuning(options.a4)
    routine = None
    if options.routine is not None:
        routine = routine_or_complaint(options.routine)
        if routine is None:
            return 1
    if routine is not None and options.exercise is None:
        return _find(options, replace(routine, a4_hz=options.a4 or routine.a4_hz))
    if options.journal:
        raise TrainerError(ONLY_FOUND)
    with SoundReader(options.sound) as sound:
        try:
            take, measures, advice = _heard(options, routine, tuning, sound)
        finally:
            progress("")
        for notice in sound.notices:
            print(notice, file=sys.stderr)
    if options.json:
        said = {} if advice is None else {"advice": _advice_json(advice)}
        print(json.dumps(take_json(take, measures) | said, indent=2))
    else:
        told = [] if advice is None else [advice.sentence]
        print("\n".join([take_text(take, measures), *told]))
    return 0


def _passed_over(options: argparse.Namespace) -> Iterator[str]:
    """What is said of options that nothing comes of."""
    if options.routine is None:
        for word in ("exercise", "articulation", "day"):
            if getattr(options, word) is not None:
                yield f"--{word} goes with --routine: passed over."
        if options.tempo is not None and options.midi is None and options.notes is None:
            yield "--tempo goes with --routine, --midi or --notes: passed over."


def _find(options: argparse.Namespace, routine: Routine) -> int:
    """Which rounds of the routine's day are in the recording."""
    from trainer.app.lesson_heard import unwritten
    from trainer.app.open_session import planned_as_known
    from trainer.commands.found_report import found_json, found_text
    from trainer.music.instrument import instrument_named
    from trainer.session.heard_lesson import find_rounds, too_short
    from trainer.sound.soundfile_io import SoundReader

    if options.articulation is not None or options.tempo is not None:
        raise TrainerError("--articulation and --tempo are for one exercise: name it: --exercise")
    paths, on = user_paths(os.environ), options.day or date.today()
    planned = planned_as_known(routine, on, paths)
    with SoundReader(options.sound) as sound:
        name = unwritten(options.sound, on, paths) if options.journal else ""
        rate, shown = sound.sample_rate_hz, _progress(sound.promised_s)
        instrument = instrument_named(routine.instrument)
        try:
            found = find_rounds(planned, instrument, sound.blocks, rate, shown)
        finally:
            progress("")
        for notice in sound.notices:
            print(notice, file=sys.stderr)
    if options.json:
        print(json.dumps(found_json(routine.title, found, too_short(planned)), indent=2))
    else:
        print(found_text(found, too_short(planned)))
    if options.journal:
        _write(found, routine, on, options.sound, name, paths)
    return 0


def _write(
    found: Sequence[FoundRound], routine: Routine, on: date, sound: Path, name: str, paths: Paths
) -> None:
    from trainer.app.lesson_heard import write_lesson
    from trainer.journal.week_text import times_words

    written, file = write_lesson(found, routine, on, sound, name, paths)
    left = len(found) - written
    unsure = f"; {left} left out, since exercises share their notes" if left else ""
    print(f"{times_words(written, 'round')} written into {file}{unsure}.", file=sys.stderr)


def _heard(
    options: argparse.Namespace, routine: Routine | None, tuning: Tuning, sound: SoundReader
) -> tuple[Take, RoundMeasures, Advice | None]:
    """What is in the sound, its figures, and with a routine what the coach says of it."""
    from trainer.coach.judge import judge
    from trainer.coach.words import advise
    from trainer.commands.expected_notes import GUIDE_BPM, from_midi, from_routine, from_words
    from trainer.ear.long_take import hear_long, transcribe_long
    from trainer.figures.onset_places import onset_places
    from trainer.figures.round_measures import note_counts
    from trainer.figures.take_measures import take_measures
    from trainer.music.pulse import timed

    read, rate, shown = sound.blocks, sound.sample_rate_hz, _progress(sound.promised_s)
    if routine is not None and options.exercise is not None:
        day = options.day or date.today()
        round_ = from_routine(routine, options.exercise, options.articulation, options.tempo, day)
        if options.a4 is None:
            tuning = round_.tuning
        due = timed(round_.notes, round_.pace)
        take = hear_long(read, rate, due, round_.tempo_bpm, tuning, shown)
        marks = judge(round_, take)
        return take, marks.measures, advise(round_, take, marks)
    if options.midi is not None or options.notes is not None:
        notes = from_midi(options.midi) if options.midi else from_words(options.notes)
        tempo_bpm = options.tempo or GUIDE_BPM
        take = hear_long(read, rate, notes, tempo_bpm, tuning, shown, timed=False)
        places = onset_places(notes, take, in_time=False)
        measures = take_measures(notes, take, 60 / tempo_bpm, places)
        return take, replace(measures, lead_ms=None), None
    take = transcribe_long(read(), rate, tuning, shown)
    return take, note_counts(take), None


def _progress(whole_s: float | None) -> Callable[[float], None]:
    """Shows how far a long recording has been heard."""

    def show(heard_s: float) -> None:
        of = "" if whole_s is None else f" of {whole_s / 60:.0f}"
        progress(f"{heard_s / 60:.0f}{of} minutes heard")

    return show


def _advice_json(advice: Advice) -> dict[str, Any]:
    """What the coach would say of a round it has no history of."""
    return {
        "topic": str(advice.topic),
        "sentence": advice.sentence,
        "notes": list(advice.note_indices),
    }


def _tuning(a4_hz: float | None) -> Tuning:
    from trainer.music.tuning import Tuning

    try:
        return Tuning() if a4_hz is None else Tuning(a4_hz)
    except ValueError as error:
        raise TrainerError(f"--a4: {error}") from error
