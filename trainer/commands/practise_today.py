"""Practising today's routine in the terminal, by microphone or with a played-in flutist."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing, suppress
from datetime import date, timedelta

from trainer.app.microphone_policy import check_due, keep_check
from trainer.app.open_session import (
    KEYS_REMEMBERED,
    local_now,
    open_session,
    planned_for,
    remembered_sessions,
    take_keeper,
    ticking,
)
from trainer.app.paths import Paths
from trainer.app.practice_ports import open_practice_port, practice_port
from trainer.app.settings import Settings, write_settings
from trainer.app.settings_applied import as_set, partners_voice, settings_or_usual
from trainer.app.todays_routine import is_first_morning
from trainer.commands.newcomer import meet
from trainer.errors import SoundError
from trainer.journal.week_summary import TWO_WEEKS, week
from trainer.journal.week_text import week_text
from trainer.routine.model import Routine
from trainer.session.history_from_journal import history_of
from trainer.session.round_begins import RoundBegins
from trainer.session.session import Session
from trainer.sound.device_port import DevicePort
from trainer.sound.port import SoundPort
from trainer.sound.process import quiet_stderr


def practise_on_screen(
    routine: Routine, paths: Paths, player: str | None = None, *, in_lines: bool = False
) -> None:
    """Practise the day's routine in the terminal, by microphone or with a played-in flutist.

    Without a device, practice goes on in silence and the screen says how to mend it. `in_lines`
    tells it in lines for a screen reader, whatever is set.
    """
    if player is None and is_first_morning(paths):
        port = open_practice_port(paths)
        with quiet_stderr(paths.log_file), closing(port):
            if meet(paths, port, in_lines=in_lines) is None:
                return
            with suppress(SoundError):  # the first morning has looked at it; asked again at worst
                keep_check(paths.calibration_file, port, local_now(), ())
    port_, round_begins = practice_port(paths, player)
    with quiet_stderr(paths.log_file), closing(port_):
        while _practise_once(routine, paths, port_, round_begins, in_lines=in_lines):
            pass


def _practise_once(
    routine: Routine,
    paths: Paths,
    port: SoundPort,
    round_begins: Callable[[RoundBegins], None],
    *,
    in_lines: bool,
) -> bool:
    """One session, as set now; True when it is to be opened anew with other settings."""
    today = date.today()
    yesterday = today - timedelta(days=1)
    settings, wrong = settings_or_usual(paths)
    sessions, problems = remembered_sessions(paths, today - KEYS_REMEMBERED, yesterday)
    routine, unfit = as_set(routine, settings, today)
    voice, unheard = partners_voice(settings, port.sample_rate_hz)
    session = open_session(
        routine,
        planned_for(routine, today, sessions),
        port,
        paths,
        now=local_now,
        round_begins=round_begins,
        notices=[*problems, *unfit, *unheard, *wrong],
        history=history_of(sessions, today),
        keep_take=None if wrong else take_keeper(paths, local_now),
        check_asked=check_due(paths.calibration_file, port, sessions, local_now())
        if isinstance(port, DevicePort)
        else None,
        voice=voice,
    )
    with ticking(session):
        if in_lines or settings.spoken_lines:
            _tell(session, settings, paths)
            return False
        return _show(session, settings, paths)


def _show(session: Session, settings: Settings, paths: Paths) -> bool:
    from trainer.screens.app import TrainerApp

    def keep(changed: Settings) -> None:
        write_settings(paths.config_file, changed)

    return bool(TrainerApp(session, lambda: _week_now(paths), settings, keep).run())


def _tell(session: Session, settings: Settings, paths: Paths) -> None:
    from trainer.screens.keyboard import keys
    from trainer.screens.lines import practise_in_lines

    with keys() as read_key:
        practise_in_lines(session, settings.names, lambda: _week_now(paths), read_key, print)


def _week_now(paths: Paths) -> str:
    today = date.today()
    sessions, _ = remembered_sessions(paths, today - TWO_WEEKS, today)
    return week_text(week(sessions, today))
