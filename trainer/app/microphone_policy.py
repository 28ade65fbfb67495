"""What is known of the microphone before today's first round, and whether it is to be looked at.

Asked only when it is new here, or when the last session's sound was in the way; gone past once, it
is not asked again for the same reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from statistics import median

from trainer.ear.heard import State
from trainer.journal.log import SessionLog
from trainer.session.microphone_check import CheckAsked
from trainer.sound.calibrate import keep_known, known_devices
from trainer.sound.port import SoundPort

NEW = "This microphone is new here: a quarter of a minute to get to know it."
IN_THE_WAY = (
    "Last time the sound itself was in the way: a quarter of a minute to see whether it is fixed."
)
BAD_SHARE = 0.5
"""Of a session's rounds heard, with something wrong with the sound. Our own estimate: a lorry
outside spoils one round, a wrong level all of them."""


def why_to_check(file: Path, port: SoundPort, sessions: Sequence[SessionLog]) -> str:
    """A sentence for the student; empty where there is no reason.

    `sessions`: of earlier days, oldest first.
    """
    if not port.listens:
        return ""
    asked = _asked(file, port)
    if asked is None:
        return NEW
    heard = [session for session in sessions if any(r.measures for r in session.rounds)]
    if heard and heard[-1].started > asked and _was_in_the_way(heard[-1]):
        return IN_THE_WAY
    return ""


def check_due(
    file: Path, port: SoundPort, sessions: Sequence[SessionLog], now: datetime
) -> CheckAsked | None:
    """The look at the microphone before the first round, where there is a reason for it."""
    why = why_to_check(file, port, sessions)
    keep = partial(keep_check, file, port, now)
    return CheckAsked(why, keep) if why else None


def level_before_db(file: Path, port: SoundPort, sessions: Sequence[SessionLog]) -> float | None:
    """How loud the player usually was since this microphone came here, in the softest session, dB
    re full scale; None where it is new, or nothing was heard.

    The softest: with some other microphone the player may have been louder.
    """
    asked = _asked(file, port)
    if asked is None:
        return None
    levels = [_levels_db(session) for session in sessions if session.started > asked]
    return min((median(each) for each in levels if each), default=None)


def _levels_db(session: SessionLog) -> list[float]:
    """Of the notes that were practised here."""
    return [
        note.level_db
        for round_ in session.rounds
        if not round_.heard_from
        for note in round_.notes
        if note.state is State.PLAYED and note.level_db is not None
    ]


def keep_check(file: Path, port: SoundPort, when: datetime, found: Sequence[str] | None) -> None:
    """Write down that this microphone was checked, or (None) that the check was gone past.

    Raises SoundError where it can't be written.
    """
    said = None if found is None else [str(one) for one in found]
    keep_known(file, _key(port), {"asked": when.isoformat(), "found": said})


def _key(port: SoundPort) -> str:
    """Another sampling rate is another microphone: a headset's profile, say."""
    return f"microphone of {port.name} at {port.sample_rate_hz} Hz"


def _asked(file: Path, port: SoundPort) -> datetime | None:
    """When this microphone's check was asked for last; None where it never was."""
    known = known_devices(file).get(_key(port))
    try:
        asked = datetime.fromisoformat(known["asked"]) if isinstance(known, dict) else None
        return asked if asked is None or asked.tzinfo else None
    except (KeyError, TypeError, ValueError):
        return None


def _was_in_the_way(session: SessionLog) -> bool:
    heard = [round_ for round_ in session.rounds if round_.measures is not None]
    return sum(bool(round_.warnings) for round_ in heard) >= BAD_SHARE * len(heard)
