"""The form of a session's file as JSON Schema, for editors and other programs.

JSON Schema draft 2020-12 (json-schema.org/draft/2020-12), made from the tables the reader uses.
Lines it doesn't know are allowed, as the reader passes them over. Times are text, as YAML and
JSON write them; a YAML loader that makes dates of them must be told not to.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import Any

from trainer.ear.heard import State
from trainer.journal.log import SCHEMA_VERSION
from trainer.journal.session_schema import AIMS, MEASURES, NOTE_FIELDS, RANGES, TONE_FIELDS, WIDEST
from trainer.music.note import Articulation, Start
from trainer.routine.round import RoundKind

DIALECT = "https://json-schema.org/draft/2020-12/schema"
COUNTS = ("played", "missed", "extra")
TIME = r"^\d{4}-\d{2}-\d{2}[ T]\d{2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d{2}:\d{2})?$"
PITCH = r"^[A-G](#|##|b|bb)?-?\d$"

Schema = dict[str, Any]


def journal_schema() -> Schema:
    """The whole schema, ready for `json.dumps`."""
    return {
        "$schema": DIALECT,
        "title": "A practice session",
        **_mapping(_session(), required=("version", "started")),
    }


def _session() -> Schema:
    return {
        "version": {"const": SCHEMA_VERSION, "description": "The form of this file."},
        "session": _text("The session's own name, the same in every copy of the file."),
        "student": _text("Who practised."),
        "routine": _text("Title of the teacher's routine."),
        "routine_file": _text("The routine's file."),
        "instrument": _text("What was played."),
        "a4_hz": _number("a4_hz", "Tuning asked for, in Hz."),
        "started": _time("Its date is the day the session counts for."),
        "ended": _time("Missing when the session was cut off."),
        "elapsed_s": _number("elapsed_s", "Start to end in seconds, rests included."),
        "felt": _text("The student's own word on the session."),
        "remark": _text("The student's own words."),
        "private": _truth("'felt' and 'remark' stay out of exports and of the lesson page."),
        "remarks": _list("Words added later.", _later_remark()),
        "asked": _list("What the routine asked for, in its order.", _asked()),
        "rounds": _list("Every finished round, in the order played.", _round()),
    }


def _later_remark() -> Schema:
    properties = {
        "at": _time("When they were added."),
        "remark": _text("The student's own words."),
        "private": _truth("They stay out of exports and of the lesson page."),
    }
    return _mapping(properties, required=("remark",))


def _asked() -> Schema:
    properties = {
        "exercise": _text("The exercise's id in the routine."),
        "title": _text("What it is called."),
        "minutes": _number("minutes", "How long it was to take, pauses included."),
    }
    return _mapping(properties, required=("exercise",))


def _round() -> Schema:
    properties = {
        "exercise": _text("The exercise's id in the routine."),
        "title": _text("What it is called."),
        "kind": _word(RoundKind, "What sort of practice it was."),
        "number": _whole("number", "1 for the exercise's first round of the session."),
        "key": _text("The key: 'D major'."),
        "articulation": _word(Articulation, "How the notes were to begin."),
        "tempo_bpm": _number("tempo_bpm", "The tempo asked for."),
        "started": _time("When its first beat fell."),
        "seconds": _number("seconds", "Time played, count-in left out."),
        "aims": _mapping({key: _number(key, "What the teacher asked for.") for key in AIMS}),
        "secure": _truth("Everything asked for was heard; missing: not judged."),
        "advice": _text("The one sentence said afterwards."),
        "topic": _text("What it was about."),
        "felt": _text("The student's own word on the round."),
        "disagreed": _truth("The student did not agree with the advice."),
        "measures": _measures(),
        "breaths_s": _list("Start and end of each breath, seconds into the take.", _breath()),
        "warnings": _list("What was wrong with the sound.", {"type": "string"}),
        "notes": _list("One line a note, extra notes where they sounded.", _note()),
    }
    needed = ("exercise", "kind", "articulation", "tempo_bpm", "started", "seconds")
    return _mapping(properties, required=needed)


def _measures() -> Schema:
    counts = {key: _whole(key, "Notes.") for key in COUNTS}
    figures = {key: _number(key, "As measured over the round.") for key in MEASURES}
    return _mapping(counts | figures, required=COUNTS)


def _breath() -> Schema:
    return {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}


def _note() -> Schema:
    properties = {
        "note": {"type": "string", "pattern": PITCH, "description": "The written pitch: 'F#5'."},
        "state": _word(State, "'played' when left out."),
        "start": _word(Start, "How it began."),
        "blip": _truth("A false note sounded just before this one."),
        "instead_of": {
            "type": "string", "pattern": PITCH, "description": "The note an extra one replaced.",
        },
        **{key: _number(key, "As measured on this note.") for key in (*NOTE_FIELDS, *TONE_FIELDS)},
    }  # fmt: skip
    extra = {"properties": {"state": {"const": State.EXTRA.value}}, "required": ["state"]}
    return {**_mapping(properties), "if": extra, "else": {"required": ["note"]}}


def _mapping(properties: Schema, required: Iterable[str] = ()) -> Schema:
    return {"type": "object", "properties": properties, "required": list(required)}


def _list(description: str, items: Schema) -> Schema:
    return {"type": "array", "items": items, "description": description}


def _text(description: str) -> Schema:
    return {"type": "string", "description": description}


def _time(description: str) -> Schema:
    return {"type": "string", "pattern": TIME, "description": description}


def _truth(description: str) -> Schema:
    return {"type": "boolean", "description": description}


def _word(words: type[StrEnum], description: str) -> Schema:
    return {"enum": [word.value for word in words], "description": description}


def _number(key: str, description: str) -> Schema:
    lowest, highest = RANGES.get(key, WIDEST)
    return {"type": "number", "minimum": lowest, "maximum": highest, "description": description}


def _whole(key: str, description: str) -> Schema:
    return {**_number(key, description), "type": "integer"}
