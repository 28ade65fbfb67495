"""The command that hears a sound file."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.commands.desk import routine_or_complaint
from trainer.commands.family import DAY, day
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from trainer.coach.advice import Advice
    from trainer.commands.family import Commands
    from trainer.music.tuning import Tuning


def add_to(commands: Commands) -> None:
    """Add these commands to the command line."""
    listen = commands.add_parser("listen", help="what the trainer hears in a sound file")
    listen.add_argument("sound", type=Path, metavar="SOUND")
    asked = listen.add_mutually_exclusive_group()
    asked.add_argument("--routine", type=Path, metavar="FILE", help="notes of a routine's exercise")
    asked.add_argument("--midi", type=Path, metavar="FILE", help="notes of a MIDI file, in order")
    asked.add_argument("--notes", metavar="NOTES", help='notes in order: "G4 A4 B4"')
    listen.add_argument("--exercise", metavar="ID", help="the exercise's name in the routine")
    listen.add_argument("--articulation", metavar="NAME", help="the round with this articulation")
    listen.add_argument("--tempo", type=float, metavar="BPM")
    listen.add_argument("--day", type=day, default=None, metavar=DAY)
    listen.add_argument("--a4", type=float, default=None, metavar="HZ", help="415 to 446")
    listen.add_argument("--json", action="store_true")
    listen.set_defaults(command=_listen)


def _listen(options: argparse.Namespace) -> int:
    from trainer.coach.judge import judge
    from trainer.coach.words import advise
    from trainer.commands.expected_notes import GUIDE_BPM, from_midi, from_routine, from_words
    from trainer.commands.take_report import take_json, take_text
    from trainer.ear.hear import hear
    from trainer.ear.transcribe import transcribe
    from trainer.figures.onset_places import onset_places
    from trainer.figures.round_measures import note_counts
    from trainer.figures.take_measures import take_measures
    from trainer.sound.soundfile_io import read_sound

    tuning = _tuning(options.a4)
    recording = read_sound(options.sound)
    samples, rate = recording.samples, recording.sample_rate_hz
    for notice in recording.notices:
        print(notice, file=sys.stderr)
    advice: Advice | None = None
    if options.routine is not None:
        routine = routine_or_complaint(options.routine)
        if routine is None:
            return 1
        day = options.day or date.today()
        round_ = from_routine(routine, options.exercise, options.articulation, options.tempo, day)
        if options.a4 is None:
            tuning = round_.tuning
        take = hear(samples, rate, round_.notes, round_.tempo_bpm, tuning, None)
        marks = judge(round_, take)
        measures, advice = marks.measures, advise(round_, take, marks)
    elif options.midi is not None or options.notes is not None:
        notes = from_midi(options.midi) if options.midi else from_words(options.notes)
        tempo_bpm = options.tempo or GUIDE_BPM
        take = hear(samples, rate, notes, tempo_bpm, tuning, None, timed=False)
        places = onset_places(notes, take, in_time=False)
        measures = replace(take_measures(notes, take, 60 / tempo_bpm, places), lead_ms=None)
    else:
        take = transcribe(samples, rate, tuning)
        measures = note_counts(take)
    if options.json:
        said = {} if advice is None else {"advice": _advice_json(advice)}
        print(json.dumps(take_json(take, measures) | said, indent=2))
    else:
        told = [] if advice is None else [advice.sentence]
        print("\n".join([take_text(take, measures), *told]))
    return 0


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
