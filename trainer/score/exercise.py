"""An excerpt as YAML a teacher pastes into a routine, or as a whole routine."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

import yaml

from trainer.errors import ScoreError
from trainer.music.pitch import Pitch
from trainer.routine.load import read_routine
from trainer.routine.model import Passage
from trainer.score.excerpt import Excerpt
from trainer.score.line_notation import line_notation
from trainer.score.told import in_bars

LONGEST_NAME = 60
"""As long as a name in a routine may be."""
_WIDTH = 98
"""Columns of what is printed to be pasted."""


def exercise_text(found: Excerpt, name: str | None, source: str) -> str:
    """One exercise, with what was left out as comments above it."""
    lines = [
        *_comments(found, source),
        f"- passage: {_quoted(name or _name(found))}",
        *([f"  key: {_quoted(found.key.name.removesuffix(' major'))}"] if found.key else []),
        f"  time: {_time(found)}",
        f"  tempo: {found.tempo_bpm or 60.0:g}",
        "  notes: |",
        textwrap.indent(_lines(found), "    "),
    ]
    return "\n".join(lines) + "\n"


def routine_text(found: Sequence[Excerpt], name: str | None, source: str) -> str:
    """A whole routine of these exercises."""
    first = found[0]
    head = [
        f"title: {_quoted(first.title or name or _name(first))}",
        f"instrument: {first.instrument}",
        "",
        "exercises:",
        "",
    ]
    return "\n".join(head) + textwrap.indent(exercises_text(found, name, source), "  ")


def exercises_text(found: Sequence[Excerpt], name: str | None, source: str) -> str:
    """Several exercises one below the other, each with its bars in its name."""
    if len(found) == 1:
        return exercise_text(found[0], name, source)
    names = [f"{name}, {one.bars}" if name else None for one in found]
    return "\n".join(exercise_text(one, own, source) for one, own in zip(found, names, strict=True))


def checked(text: str) -> Passage | None:
    """The passage as a routine reads it; None where the notes don't fit the instrument.

    Raises ScoreError where the text is no routine: nothing is handed out that does not load.
    """
    routine, problems = read_routine(text, "the import")
    if routine is not None:
        return next(entry for entry in routine.entries if isinstance(entry, Passage))
    if any("is not on the" in problem.what for problem in problems):
        return None
    raise ScoreError(
        f"These bars can't be written as a passage: {problems[0].what} Choose others: --bars A-B"
    )


def excerpt_json(found: Excerpt, text: str) -> dict[str, Any]:
    """What was read, for a program: every note written and sounding, in quarters."""
    return {
        "title": found.title,
        "part": found.part,
        "bars": found.bars,
        "instrument": found.instrument,
        "key": found.key.name if found.key else None,
        "time": _time(found),
        "changes": [
            {
                "beat": str(change.beat),
                "time": str(change.meter),
                "key": change.key.name if change.key else None,
            }
            for change in found.changes
        ],
        "tempo_bpm": found.tempo_bpm,
        "notes": [
            {
                "bar": bar,
                "written": str(note.pitch),
                "sounding": _sounding(note.pitch, found),
                "midi": note.pitch.midi + found.transposition.semitones,
                "beat": str(note.beat),
                "length": str(note.length),
                "slurred_from_last": note.slurred_from_last,
                "breath_after": note.breath_after,
                "dynamic": note.dynamic,
                "hairpin": note.hairpin,
                "mark": note.mark,
                "graces": [str(grace) for grace in note.graces],
                "ornament": note.ornament,
                "fermata": note.fermata,
            }
            for note, bar in zip(found.notes, found.note_bars, strict=True)
        ],
        "left_out": [{"what": what, "bars": list(bars)} for what, bars in found.left_out],
        "remarks": list(found.remarks),
        "yaml": text,
    }


def _time(found: Excerpt) -> str:
    return f"{found.time[0]}/{found.time[1]}"


def _lines(found: Excerpt) -> str:
    return line_notation(found.notes, found.in_bars, upbeat=found.upbeat)


def _sounding(pitch: Pitch, found: Excerpt) -> str | None:
    try:
        return str(pitch.transposed(found.transposition))
    except ValueError:
        return None


def _comments(found: Excerpt, source: str) -> list[str]:
    title = f"{found.title}, " if found.title else ""
    said = [f"{title}{found.part}, {found.bars}, from {source}."]
    if found.instrument != "C flute":
        said.append(f"Written for: {found.instrument}.")
    said += [f"Left out: {what} in {in_bars(bars)}." for what, bars in found.left_out]
    said += found.remarks
    return [line for sentence in said for line in textwrap.wrap(
        "".join(sign if sign.isprintable() else " " for sign in sentence),
        _WIDTH, initial_indent="# ", subsequent_indent="#   ")]  # fmt: skip


def _name(found: Excerpt) -> str:
    name = f"{found.title or found.part}, {found.bars}"
    return name if len(name) <= LONGEST_NAME else found.bars


def _quoted(text: str) -> str:
    """A plain or quoted YAML scalar on one line, whatever is in the text."""
    clean = "".join(sign if sign.isprintable() else " " for sign in text)
    clean = " ".join(clean.split())[:LONGEST_NAME]
    dumped: str = yaml.safe_dump(clean, width=1_000_000, allow_unicode=True)
    return dumped.removesuffix("\n").removesuffix("\n...")
