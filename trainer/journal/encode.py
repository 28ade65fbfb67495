"""A session's log as the text of its file (form: `trainer.journal.session_schema`).

Numbers are made Python's own on the way: YAML's writer refuses numpy's.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime, timedelta, timezone

import yaml

from trainer.ear.heard import RoundMeasures, State
from trainer.journal.log import AskedExercise, LaterRemark, NoteLog, RoundLog, SessionLog
from trainer.journal.session_schema import (
    AIMS,
    HEADING,
    MEASURES,
    NOTE_FIELDS,
    TONE_FIELDS,
    rounded,
)

_ONE_LINE = 1_000_000_000


class _Dumper(getattr(yaml, "CSafeDumper", yaml.SafeDumper)):  # type: ignore[misc]
    """The safe dumper, with remarks of several lines written as they were typed."""


def _written_text(dumper: yaml.SafeDumper, text: str) -> yaml.Node:
    # a block that ends in blank lines makes libyaml close the whole document after it
    as_typed = "\n" in text and bool(text.strip()) and not text[-2:].isspace()
    style = "|" if as_typed else None
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


_Dumper.add_representer(str, _written_text)


Plain = dict[str, object]


def session_text(log: SessionLog) -> str:
    """The whole file."""
    return joined_text(header_text(log), [round_text(round_) for round_ in log.rounds])


def joined_text(header: str, rounds: list[str]) -> str:
    """The whole file from parts made earlier."""
    if not rounds:
        return header + "rounds: []\n"
    return header + "rounds:\n" + "\n".join(rounds)


def header_text(log: SessionLog) -> str:
    """Everything above the rounds."""
    return HEADING + _dump(_present(_header(log)))


def round_text(round_log: RoundLog) -> str:
    """One round, a line a note."""
    return _dump([_present(_round(round_log))])


def remark_text(later: LaterRemark) -> str:
    """One remark added later, on one line."""
    return _dump([_present(_later_remark(later))])


def session_plain(log: SessionLog) -> Plain:
    """The whole session as plain data under the file's own names; times are datetimes."""
    rounds = [_present(_round(round_)) for round_ in log.rounds]
    return _present(_header(log)) | {"rounds": rounds}


def _dump(plain: object) -> str:
    text: str = yaml.dump(
        plain,
        Dumper=_Dumper,
        default_flow_style=None,  # innermost collections on one line, the rest indented
        sort_keys=False,
        allow_unicode=True,
        width=_ONE_LINE,
    )
    return text


def _header(log: SessionLog) -> Plain:
    return {
        "version": log.version,
        "session": _text(log.session_id),
        "student": _text(log.student),
        "routine": _text(log.routine_title),
        "routine_file": _text(log.routine_file),
        "instrument": _text(log.instrument),
        "a4_hz": _number("a4_hz", log.a4_hz),
        "started": _time(log.started),
        "ended": _time(log.ended),
        "elapsed_s": _number("elapsed_s", log.elapsed_s),
        "felt": _text(log.felt),
        "remark": _text(log.remark),
        "private": True if log.private else None,
        "remarks": [_present(_later_remark(later)) for later in log.remarks] or None,
        # even when empty: an inner collection keeps the lines around it apart
        "asked": [_present(_asked(asked)) for asked in log.asked],
    }


def _later_remark(later: LaterRemark) -> Plain:
    return {
        "at": _time(later.at),
        "remark": _text(later.remark) or "",
        "private": True if later.private else None,
    }


def _asked(asked: AskedExercise) -> Plain:
    return {
        "exercise": _text(asked.exercise_id) or "",
        "title": _text(asked.title),
        "minutes": _number("minutes", asked.minutes),
    }


def _round(log: RoundLog) -> Plain:
    return {
        "exercise": _text(log.exercise_id) or "",
        "title": _text(log.title),
        "kind": log.kind.value,
        "number": int(log.number),
        "key": _text(log.key),
        "articulation": log.articulation.value,
        "tempo_bpm": _number("tempo_bpm", log.tempo_bpm),
        "started": _time(log.started),
        "seconds": _number("seconds", log.seconds),
        "aims": _numbers(AIMS, vars(log.aims)) or None,
        "secure": None if log.secure is None else bool(log.secure),
        "advice": _text(log.advice),
        "topic": _text(log.topic),
        "felt": _text(log.felt),
        "disagreed": True if log.disagreed else None,
        "measures": _measures(log.measures),
        "breaths_s": [[_number("s", at) for at in breath] for breath in log.breaths_s] or None,
        "warnings": [_text(warning) for warning in log.warnings if warning] or None,
        "notes": [note_plain(note) for note in log.notes],
    }


def _measures(measures: RoundMeasures | None) -> Plain | None:
    if measures is None:
        return None
    counts: Plain = {
        "played": int(measures.played),
        "missed": int(measures.missed),
        "extra": int(measures.extra),
    }
    return counts | _numbers(MEASURES, vars(measures))


def note_plain(note: NoteLog) -> Plain:
    """One note under the names of its line; what was not measured is left out."""
    values = vars(note)
    tone = vars(note.tone) if note.tone else {}
    return _present(
        {
            "note": note.written,
            "state": None if note.state is State.PLAYED else note.state.value,
            **{key: _number(key, values[field]) for key, field in NOTE_FIELDS.items()},
            "start": note.start.value if note.start else None,
            **{key: _number(key, tone.get(field)) for key, field in TONE_FIELDS.items()},
            "blip": True if note.blip else None,
            "instead_of": note.instead_of,
        }
    )


def _present(plain: Plain) -> Plain:
    return {key: value for key, value in plain.items() if value is not None}


def _numbers(keys: tuple[str, ...], values: Mapping[str, float | None]) -> Plain:
    return _present({key: _number(key, values[key]) for key in keys})


def _number(key: str, value: float | None) -> float | int | None:
    if value is None or not math.isfinite(value):
        return None
    return rounded(key, float(value))


def _text(text: str) -> str | None:
    """Text fit for UTF-8; None where there is none."""
    return text.encode("utf-8", "replace").decode("utf-8") or None


def _time(moment: datetime | None) -> datetime | None:
    """To the second, with an offset of whole minutes: all that YAML's time can hold."""
    if moment is None:
        return None
    offset = moment.utcoffset() or timedelta(0)
    minutes = round(offset / timedelta(minutes=1))
    return moment.astimezone(timezone(timedelta(minutes=minutes))).replace(microsecond=0)
