"""Practising today's routine in the terminal, by microphone or with a played-in flutist."""

from __future__ import annotations

import sys
from contextlib import closing
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, TextIO

from trainer.app.anew import Anew
from trainer.app.device_choices import device_choices
from trainer.app.leaving import leave_now, leaving_at_signals, leaving_with_the_terminal
from trainer.app.morning import INVENTED_FLUTIST, Morning, morning_of, outlined_sessions
from trainer.app.open_session import remembered_sessions, ticking
from trainer.app.other_routines import chosen_routine, routines_offered
from trainer.app.paths import Paths
from trainer.app.room_tunings import RoomTuning, leave_room, read_rooms, take_room
from trainer.app.settings import IN_CELLS, Settings, write_settings
from trainer.app.sound_opening import SoundOpening
from trainer.app.todays_routine import is_first_morning, words_before_lesson, words_from_teacher
from trainer.commands.newcomer import meet
from trainer.errors import TrainerError
from trainer.player.habits import EXAMPLES
from trainer.routine.model import Routine
from trainer.session.session import Session
from trainer.session.view import ShelvedSpot
from trainer.sound.process import (
    collect_only_later_garbage,
    quiet_stderr,
    refuse_system_without_sound,
)

if TYPE_CHECKING:
    from trainer.app.practice_ready import PracticeReady
    from trainer.screens.then_and_now_screen import TwoTakes
    from trainer.session.walk import Walk

KEYS = 0
"""Standard input, where the keys come from."""


def practise_on_screen(
    routine: Routine,
    paths: Paths,
    player: str | None = None,
    *,
    in_lines: bool = False,
    at_first: str = "",
    few_minutes: bool = False,
) -> None:
    """Practise the day's routine in the terminal, by microphone or with a played-in flutist.

    Without a device, practice goes on in silence and the screen says how to mend it. `in_lines`
    tells it in lines for a screen reader, whatever is set; `at_first` names what is opened over
    Today, such as 'tuner'; `few_minutes`: only those, chosen from the journal.

    Raises TrainerError for a player nobody knows, where there is no terminal to be seen in, and,
    but for a player, on a system on which nothing can be heard.
    """
    if player is not None and player not in EXAMPLES:
        raise TrainerError(f"--player: write one of {', '.join(sorted(EXAMPLES))}")
    if player is None:
        refuse_system_without_sound()
    if not in_lines:
        refuse_unseen(sys.stdin, sys.__stderr__)
    today = date.today()
    who_plays = ""
    if player is not None:
        paths, who_plays = paths.of_invented_flutist, INVENTED_FLUTIST

    def make_ready() -> PracticeReady:
        from trainer.app.practice_ready import practice_ready

        return practice_ready(paths, player, today)

    with (
        quiet_stderr(paths.log_file),
        leaving_at_signals(leave_now),
        leaving_with_the_terminal(KEYS),
    ):
        if player is None and is_first_morning(paths) and meet(paths, in_lines=in_lines) is None:
            return
        wanted: Anew | ShelvedSpot = Anew.FEW_MINUTES if few_minutes else Anew.AS_SET
        while True:
            morning = _morning(routine, paths, today, wanted, who_plays)
            with closing(SoundOpening(make_ready)) as opening:
                asked = _practise_once(morning, paths, opening, in_lines, at_first)
            match asked:
                case None:
                    return
                case Routine():
                    routine, wanted = asked, Anew.AS_SET
                case Anew.AS_SET:
                    pass
                case _:
                    wanted = asked
            at_first = ""


def _morning(
    routine: Routine, paths: Paths, day: date, wanted: Anew | ShelvedSpot, who_plays: str
) -> Morning:
    """The whole routine, a few minutes, or one trouble spot."""
    if wanted is Anew.AS_SET:
        return morning_of(routine, paths, day, who_plays)
    from trainer.app.short_morning import short_morning_of, spot_morning_of

    if isinstance(wanted, ShelvedSpot):
        return spot_morning_of(routine, paths, day, wanted, who_plays)
    return short_morning_of(routine, paths, day, who_plays)


def refuse_unseen(keys: TextIO | None, picture: TextIO | None) -> None:
    """Raises TrainerError unless a person can see the screen and press a key."""
    if not all(end is not None and end.isatty() for end in (keys, picture)):
        raise TrainerError(
            "Practice needs a terminal to be seen in and to take your keys; what it draws can't go "
            "to a file. Leave out the redirection, or have it told in lines: trainer practise "
            "--lines."
        )


def _practise_once(
    morning: Morning,
    paths: Paths,
    opening: SoundOpening[PracticeReady],
    in_lines: bool,
    at_first: str,
) -> Anew | Routine | ShelvedSpot | None:
    """One session, as set now; what is asked for instead or afterwards, None when the student
    leaves."""

    def begin() -> Walk | None:
        ready = opening.opened()
        if ready is None:
            return None
        walk = ready.walk(morning)
        collect_only_later_garbage()
        return walk

    session = Session(morning.view, begin)
    with ticking(session):
        if in_lines or morning.settings.spoken_lines:
            _tell(session, morning.settings, paths, opening, at_first)
            return None
        return _show(session, morning.settings, paths, opening, at_first)


def _show(
    session: Session,
    settings: Settings,
    paths: Paths,
    opening: SoundOpening[PracticeReady],
    at_first: str,
) -> Anew | Routine | ShelvedSpot | None:
    from trainer.screens.app import OtherRoutines, Rooms, TrainerApp
    from trainer.screens.pixels.terminal_pixels import ask_terminal, typed_in, way_of

    def shelf() -> tuple[ShelvedSpot, ...]:
        from trainer.app.short_morning import shelf_today

        return shelf_today(paths, date.today())

    def keep(changed: Settings) -> None:
        write_settings(paths.config_file, changed)

    rooms = Rooms(
        lambda: read_rooms(paths.rooms_file),
        partial(_take_room_today, paths),
        lambda: leave_room(paths.rooms_file, date.today()),
    )
    others = OtherRoutines(lambda: routines_offered(paths), chosen_routine)
    app = TrainerApp(
        session,
        lambda: _week_now(paths),
        settings,
        keep,
        opening.begin,
        at_first,
        others,
        device_choices,
        shelf,
        lambda: _two_takes(paths),
        rooms,
    )
    if settings.drawing != IN_CELLS:
        answer = ask_terminal()
        app.pixels, app.typed = way_of(answer), typed_in(answer)
    with leaving_at_signals(app.leave_soon):
        asked = app.run()
    return asked if isinstance(asked, Anew | Routine | ShelvedSpot) else None


def _tell(
    session: Session,
    settings: Settings,
    paths: Paths,
    opening: SoundOpening[PracticeReady],
    at_first: str,
) -> None:
    from trainer.screens.keyboard import keys
    from trainer.screens.lines import practise_in_lines
    from trainer.screens.tuner_lines import tune_in_lines

    opening.begin()
    with keys() as read_key:

        def tune() -> None:
            try:
                rooms = read_rooms(paths.rooms_file)
            except TrainerError as error:
                print(error)
                rooms = ()
            take = partial(_take_room_today, paths)
            tune_in_lines(session, settings.names, rooms, take, read_key, print)

        if at_first == "tuner":
            tune()
        practise_in_lines(
            session,
            settings.names,
            lambda: _week_now(paths),
            tune,
            lambda: _two_takes(paths),
            read_key,
            print,
        )


def _two_takes(paths: Paths) -> TwoTakes | str:
    """A round of this week and an old take of the same, or why there are none."""
    from trainer.app.keepsake import keepsake
    from trainer.screens.then_and_now_screen import TwoTakes

    found = keepsake(paths, date.today())
    if isinstance(found, str):
        return found
    names = (found.then_words, found.now_words)
    return TwoTakes(found.title, names, (found.then_file, found.now_file), found.changed)


def _take_room_today(paths: Paths, a4_hz: float, room: str) -> None:
    take_room(paths.rooms_file, RoomTuning(room, a4_hz, date.today()))


def _week_now(paths: Paths) -> str:
    from trainer.journal.stuck import first_outlined
    from trainer.journal.week_summary import TWO_WEEKS, week
    from trainer.journal.week_text import week_pages
    from trainer.screens.week_screen import PAGE_BREAK

    today = date.today()
    sessions, _ = remembered_sessions(paths, today - TWO_WEEKS, today)
    summary = week(sessions, today, outlined_sessions(paths, first_outlined(today), today)[0])
    lesson = words_before_lesson(paths, today)
    return PAGE_BREAK.join(week_pages(summary, words_from_teacher(paths), lesson))
