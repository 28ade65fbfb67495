"""The rounds found in a recording as `trainer listen --routine FILE` prints them.

As JSON one object: `routine`, `rounds` in order, and `too_short` (exercises with too few notes to
be known again). Each round has `exercises` (more than one where they share their notes), `title`,
`articulations` (every one it may be), `tempo_bpm` (as played), `begins_s`, `ends_s` from the
recording's beginning, and `notes`, `played`, `missed`, `extra` as counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trainer.ear.heard import State
from trainer.session.heard_lesson import FoundRound

NOTHING = "No round of this day was found in it from beginning to end."


def found_json(title: str, found: Sequence[FoundRound], too_short: Sequence[str]) -> dict[str, Any]:
    """As plain values, ready for `json.dumps`."""
    return {
        "routine": title,
        "rounds": [_round_json(one) for one in found],
        "too_short": list(too_short),
    }


def _round_json(one: FoundRound) -> dict[str, Any]:
    return {
        "exercises": list(one.exercise_ids),
        "title": one.rounds[0].title,
        "articulations": _articulations(one),
        "tempo_bpm": one.rounds[0].tempo_bpm,
        "begins_s": round(one.begins_s, 2),
        "ends_s": round(one.ends_s, 2),
        "notes": len(one.rounds[0].notes),
        **{
            str(state): one.take.count(state) for state in (State.PLAYED, State.MISSED, State.EXTRA)
        },
    }


def found_text(found: Sequence[FoundRound], too_short: Sequence[str]) -> str:
    """A line a round; then what was not looked for."""
    lines = [_line(one) for one in found] or [NOTHING]
    if too_short:
        lines.append(f"Too few notes to be known again: {', '.join(too_short)}.")
    return "\n".join(lines)


def _line(one: FoundRound) -> str:
    """'1:23  hill: D major, two octaves   slurred at 72   29 of 29 notes'."""
    minutes, seconds = divmod(int(one.begins_s), 60)
    how = " or ".join(_articulations(one))
    played, notes = one.take.count(State.PLAYED), len(one.rounds[0].notes)
    return (
        f"{minutes:3}:{seconds:02}  {' or '.join(one.exercise_ids)}: {one.rounds[0].title}   "
        f"{how} at {one.rounds[0].tempo_bpm:.0f}   {played} of {notes} notes"
    )


def _articulations(one: FoundRound) -> list[str]:
    return list(dict.fromkeys(round_.how for round_ in one.rounds))
