"""The app: shows the session's stage on its screen, and sends it what the student asks for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from textual._xterm_parser import XTermParser
from textual.app import SystemCommand
from textual.binding import Binding
from textual.screen import Screen

from trainer.app.anew import Anew
from trainer.app.other_routines import RoutineOffered
from trainer.app.room_tunings import RoomTuning
from trainer.app.settings import Settings
from trainer.disk.outside_text import visible
from trainer.errors import TrainerError
from trainer.music.instrument import instrument_named
from trainer.music.names import NoteNames, renamed, renamed_table
from trainer.routine.model import Routine
from trainer.screens.after_screen import AfterScreen
from trainer.screens.appearance import Appearance
from trainer.screens.choice_screen import Choice, ChoiceScreen
from trainer.screens.click_screen import ClickScreen
from trainer.screens.end_screen import EndScreen
from trainer.screens.help_screen import HelpScreen
from trainer.screens.key_names import wishes_of
from trainer.screens.leave_screen import LeaveScreen
from trainer.screens.microphone_screen import SoundCheckScreen
from trainer.screens.pause_screen import PauseScreen
from trainer.screens.play_along_screen import TEACHER_LATER, PlayAlongScreen
from trainer.screens.playing_screen import PlayingScreen
from trainer.screens.preview_screen import PreviewScreen
from trainer.screens.session_requests import Practice
from trainer.screens.settings_screen import ANEW, FROM_NEXT_START, Offered, SettingsScreen
from trainer.screens.shelf_screen import ShelfScreen
from trainer.screens.stage_screen import StageScreen
from trainer.screens.then_and_now_screen import HEAR_LATER, ThenAndNowScreen, TwoTakes
from trainer.screens.today_screen import TodayScreen
from trainer.screens.tuner_screen import TUNE_LATER, TunerScreen
from trainer.screens.week_screen import PAGE_BREAK, WeekScreen
from trainer.session.view import NOTHING_SOUNDS, SOUNDING, ShelvedSpot, Stage, View

NO_OTHERS = "There is no other routine."
FRAMES_PER_S = 60
"""The view is looked at so often; it is painted when it has changed."""

CLICK_LATER = "A round sounds: the click opens when it is over."

SCREEN_OF: dict[Stage, type[StageScreen]] = {
    Stage.TODAY: TodayScreen,
    Stage.SOUND_CHECK: SoundCheckScreen,
    Stage.READY: PlayingScreen,
    Stage.COUNT_IN: PlayingScreen,
    Stage.PLAYING: PlayingScreen,
    Stage.WEIGHING: PlayingScreen,
    Stage.AFTER: AfterScreen,
    Stage.PAUSED: PauseScreen,
    Stage.REST: PauseScreen,
    Stage.READING: PauseScreen,
    Stage.ENDED: EndScreen,
}


@dataclass(frozen=True)
class OtherRoutines:
    """What there is to practise beside today's routine."""

    offered: Callable[[], tuple[RoutineOffered, ...]] = tuple
    load: Callable[[Path], Routine | str] = lambda file: f"{file} can't be opened from here."
    """The routine in a file, or what is wrong with it."""


@dataclass(frozen=True)
class Rooms:
    """The A of rooms the student plays in; each raises TrainerError."""

    kept: Callable[[], tuple[RoomTuning, ...]] = tuple
    take: Callable[[float, str], None] = lambda a4_hz, room: None  # noqa: ARG005
    """Take this A for today, and keep it under the room's name if it has one."""
    leave: Callable[[], None] = lambda: None
    """Take no room's A today."""


class TrainerApp(Appearance):
    """One session on the screen; ends with an `Anew`, a routine or a trouble spot where another is
    asked for."""

    CSS_PATH = "trainer.tcss"
    TITLE = "trainer"

    def __init__(
        self,
        practice: Practice,
        week_text: Callable[[], str],
        settings: Settings | None = None,
        keep_settings: Callable[[Settings], None] = lambda _: None,
        painted: Callable[[], None] = lambda: None,
        at_first: str = "",
        others: OtherRoutines | None = None,
        devices: Callable[[], Offered] = dict,
        shelf: Callable[[], Sequence[ShelvedSpot]] = lambda: (),
        then_and_now: Callable[[], TwoTakes | str] = str,
        rooms: Rooms | None = None,
    ) -> None:
        """`keep_settings` writes changed settings down; it raises TrainerError where it can't.

        `painted` is called once the first screen is on the terminal; `at_first` names an action
        that is done then, such as 'tuner'. `devices`: the microphones and loudspeakers to choose
        from, asked in a thread. `shelf` gives the trouble spots, `then_and_now` two takes or why
        there are none; they raise TrainerError where the journal can't be read.
        """
        super().__init__()
        self._practice = practice
        self._week_text = week_text
        self._keep_settings = keep_settings
        self._painted = painted
        self._at_first = at_first
        self.typed = ""
        """Keys pressed before the screen was there, as the terminal sends them."""
        self._others = others or OtherRoutines()
        self._devices = devices
        self.announcement = practice.view().today.who_plays
        self._shelf = shelf
        self._then_and_now = then_and_now
        self._rooms = rooms or Rooms()
        self._reads = False
        self._suspends = False
        self._at_start = settings or Settings()
        self.dress(self._at_start)

    def on_mount(self) -> None:
        """Open the session's screen, and look at the session sixty times a second."""
        self.push_screen(SCREEN_OF[self._practice.view().stage](self._practice))
        self.set_interval(1 / FRAMES_PER_S, self.look)
        self.call_after_refresh(self._painted)
        self.call_after_refresh(self._press_typed)
        if self._at_first:
            self.call_after_refresh(self.run_action, self._at_first)

    def _press_typed(self) -> None:
        typed, self.typed = self.typed, ""
        for key in XTermParser(debug=False).feed(typed) if typed else ():
            self.post_message(key)

    def look(self) -> None:
        """Show what the session says now, on the screen of its stage."""
        if self.leaving:
            self.exit()
            return
        stage = self._practice.view().stage
        if not self.screen_stack:  # on the way out
            return
        if self._suspends and stage not in (*SOUNDING, Stage.WEIGHING):
            self._suspends = False
            self._practice.hold(True)
            super().action_suspend_process()
            self._practice.hold(self._reads)
        reads = not isinstance(self.screen, StageScreen)
        if reads is not self._reads:
            self._reads = reads
            self._practice.hold(reads)
        if reads:
            return
        if type(self.screen) is not SCREEN_OF[stage]:
            self.switch_screen(SCREEN_OF[stage](self._practice))
        else:
            self.screen.look()

    def action_week(self) -> None:
        """Show the week over whatever is on the screen."""
        try:
            text = self._week_text()
        except TrainerError as error:
            text = str(error)
        names = self.settings.names
        pages = [visible(renamed_table(page, names)) for page in text.split(PAGE_BREAK)]
        self.push_screen(WeekScreen(pages))

    def action_tuner(self) -> None:
        """Tune, where nothing of the routine sounds."""
        if self._practice.view().stage not in NOTHING_SOUNDS:
            self.notify(TUNE_LATER)
            return
        rooms: tuple[RoomTuning, ...] = ()
        try:
            rooms = self._rooms.kept()
        except TrainerError as error:
            self.notify(str(error))
        names = self.settings.names
        self.push_screen(TunerScreen(self._practice, names, rooms, self._practise_at))

    def action_click(self) -> None:
        """The click alone, where nothing of the routine sounds."""
        if self._practice.view().stage in NOTHING_SOUNDS:
            self.push_screen(ClickScreen(self._practice))
        else:
            self.notify(CLICK_LATER)

    def _practise_at(self, a4_hz: float, room: str) -> None:
        """Practise today at the A this room stands at."""
        try:
            self._rooms.take(a4_hz, room)
        except TrainerError as error:
            self.notify(str(error))
            return
        self._open_anew()

    def action_shelf(self) -> None:
        """The trouble spots, before the first round."""
        view = self._practice.view()
        if view.stage is not Stage.TODAY:
            return
        try:
            spots = self._shelf()
        except TrainerError as error:
            self.notify(str(error))
            return
        instrument = instrument_named(view.today.instrument)
        shelf = ShelfScreen(self._practice, spots, instrument, self.settings.names, self.exit)
        self.push_screen(shelf)

    def action_play_along(self) -> None:
        """The teacher plays what is due first, before the round or in a pause."""
        if self._practice.view().stage in (Stage.READY, Stage.PAUSED):
            self.push_screen(PlayAlongScreen(self._practice, self.settings.names))
        else:
            self.notify(TEACHER_LATER)

    def action_then_and_now(self) -> None:
        """Two takes of the same, heard one after the other, where nothing of the routine sounds."""
        if self._practice.view().stage not in (*NOTHING_SOUNDS, Stage.ENDED):
            self.notify(HEAR_LATER)
            return
        try:
            found = self._then_and_now()
        except TrainerError as error:
            found = str(error)
        if isinstance(found, str):
            self.notify(found)
        else:
            self.push_screen(ThenAndNowScreen(self._practice, found))

    def action_few_minutes(self) -> None:
        """Before the first round: a short session instead of the whole routine."""
        if self._practice.view().stage is Stage.TODAY:
            self.exit(Anew.FEW_MINUTES)

    def action_preview(self) -> None:
        """Show the music of today's exercises over whatever is on the screen."""
        self.push_screen(PreviewScreen(self._practice.view().today, self.settings.names))

    def action_settings(self) -> None:
        """Show the settings over whatever is on the screen."""
        screen = SettingsScreen(
            self.settings, self.take_settings, self._left_settings, self._devices
        )
        self.push_screen(screen)

    def take_settings(self, settings: Settings) -> None:
        """Take on what was set, and keep it. Raises TrainerError where it can't be kept."""
        self.dress(settings)
        self._keep_settings(settings)

    def _left_settings(self) -> None:
        """Before the first round a new flute or tuning opens the session anew."""
        self.pop_screen()
        if self.settings.tuning != self._at_start.tuning:
            try:
                self._rooms.leave()
            except TrainerError as error:
                self.notify(str(error))
        if any(getattr(self.settings, name) != getattr(self._at_start, name) for name in ANEW):
            self._open_anew()

    def _open_anew(self) -> None:
        """What may not change in the middle opens the session anew, or waits."""
        if self._practice.view().stage is Stage.TODAY:
            self.exit(Anew.AS_SET)
        else:
            self.notify(FROM_NEXT_START)

    def action_exercises(self) -> None:
        """Today's exercises, to go to one by its number; a round that sounds is paused."""
        view = self._practice.view()
        if view.stage is Stage.ENDED:
            return
        self._stand_still()
        choices = exercise_choices(view, self.settings.names)
        here = 0 if view.stage is Stage.TODAY else view.exercise_index
        self.push_screen(ChoiceScreen("Where to?", choices, here, self._go_to))

    def _go_to(self, index: int) -> str:
        self.pop_screen()
        self._practice.go_to(index)
        return ""

    def action_routines(self) -> None:
        """The routines there are, to practise another; a round that sounds is paused."""
        self._stand_still()
        offered = self._others.offered()
        choices = [Choice(each.title, group=each.whose, told=each.said) for each in offered]
        if not choices:
            self.notify(NO_OTHERS)
            return

        def take(place: int) -> str:
            loaded = self._others.load(offered[place].file)
            if isinstance(loaded, str):
                return loaded
            self._practice.stop()
            self.exit(loaded)
            return ""

        self.push_screen(ChoiceScreen("Another routine", choices, 0, take))

    def _stand_still(self) -> None:
        if self._practice.view().stage in SOUNDING:
            self._practice.pause()

    def action_help(self) -> None:
        """Every key of this screen."""
        self.push_screen(HelpScreen(wishes_of(self.screen)))

    def action_suspend_process(self) -> None:
        """Back to the shell as soon as no round sounds; one that does is paused."""
        self._stand_still()
        self._suspends = True

    def action_leave(self) -> None:
        """End the session, asked once more while a round sounds; from its last screen, leave."""
        stage = self._practice.view().stage
        if stage in (Stage.ENDED, Stage.TODAY):
            self.exit()
        elif stage in SOUNDING:
            self.push_screen(LeaveScreen(), self._stop_if)
        else:
            self._practice.stop()

    def _stop_if(self, sure: bool | None) -> None:
        if sure:
            self._practice.stop()

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """The palette holds every key of the screen, and Textual's own commands."""
        yield from super().get_system_commands(screen)
        yield SystemCommand("Settings", "Flute, tuning, note names, looks", self.action_settings)
        for _, binding, _, tooltip in screen.active_bindings.values():
            if binding.description and isinstance(screen, StageScreen):
                yield SystemCommand(
                    binding.description, tooltip or binding.tooltip, self._runner(binding)
                )

    def _runner(self, binding: Binding) -> Callable[[], None]:
        async def run() -> None:
            await self.screen.run_action(binding.action)

        def start() -> None:
            self.call_later(run)

        return start


def exercise_choices(view: View, names: NoteNames) -> list[Choice]:
    """A line for each entry of the routine, with what was played of it."""
    return [
        Choice(renamed(line.title, names), _played(done.rounds) or line.minutes_words)
        for line, done in zip(view.today.lines, view.done, strict=True)
    ]


def _played(rounds: int) -> str:
    return f"{rounds} round{'s' * (rounds > 1)} played" if rounds else ""
