"""The app: shows the session's stage on its screen, and sends it what the student asks for."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from textual.app import App, SystemCommand
from textual.binding import Binding
from textual.screen import Screen

from trainer.errors import TrainerError
from trainer.screens.after import AfterScreen
from trainer.screens.end import EndScreen
from trainer.screens.help import HelpScreen
from trainer.screens.pause import PauseScreen
from trainer.screens.playing import PlayingScreen
from trainer.screens.practice import Practice
from trainer.screens.stage_screen import StageScreen
from trainer.screens.today import TodayScreen
from trainer.screens.week import WeekScreen
from trainer.session import Stage

FRAMES_PER_S = 30

KEY_WORDS = {
    "pagedown": "PageDown",
    "space": "Space",
    "enter": "Enter",
    "escape": "Escape",
    "question_mark": "?",
    "f1": "F1",
    "minus": "-",
    "plus": "+",
    "equals_sign": "=",
    "ctrl+q": "Ctrl-Q",
    "ctrl+p": "Ctrl-P",
}

SCREEN_OF: dict[Stage, type[StageScreen]] = {
    Stage.TODAY: TodayScreen,
    Stage.READY: PlayingScreen,
    Stage.COUNT_IN: PlayingScreen,
    Stage.PLAYING: PlayingScreen,
    Stage.WEIGHING: PlayingScreen,
    Stage.AFTER: AfterScreen,
    Stage.REST: PauseScreen,
    Stage.READING: PauseScreen,
    Stage.ENDED: EndScreen,
}


class TrainerApp(App[None]):
    """One session on the screen."""

    CSS_PATH = "trainer.tcss"
    TITLE = "trainer"

    def __init__(self, practice: Practice, week_text: Callable[[], str]) -> None:
        super().__init__()
        self._practice = practice
        self._week_text = week_text
        self._stage = practice.view().stage

    def on_mount(self) -> None:
        """Open the session's screen, and look at the session thirty times a second."""
        self.push_screen(SCREEN_OF[self._practice.view().stage](self._practice))
        self.set_interval(1 / FRAMES_PER_S, self.look)

    def look(self) -> None:
        """Show what the session says now, on the screen of its stage."""
        stage, before = self._practice.view().stage, self._stage
        self._stage = stage
        if not self.screen_stack:  # on the way out
            return
        if not isinstance(self.screen, StageScreen):
            if stage is Stage.COUNT_IN and before is not stage:
                self.pop_screen()  # the music comes before help and week
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
        self.push_screen(WeekScreen(text))

    def action_help(self) -> None:
        """Every key of this screen."""
        self.push_screen(HelpScreen(_keys(self.screen)))

    def action_leave(self) -> None:
        """End the session; from its last screen, leave."""
        if self._practice.view().stage in (Stage.ENDED, Stage.TODAY):
            self.exit()
        else:
            self._practice.stop()

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """The palette holds every key of the screen, and Textual's own commands."""
        yield from super().get_system_commands(screen)
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


def _keys(screen: Screen[object]) -> list[tuple[str, str]]:
    """Key and meaning of every binding of a screen that has a meaning."""
    keys: dict[str, list[str]] = {}
    for _, binding, _, _ in screen.active_bindings.values():
        if binding.tooltip:
            name = KEY_WORDS.get(binding.key, binding.key)
            keys.setdefault(binding.tooltip, []).append(name)
    return [(", ".join(names), meaning) for meaning, names in keys.items()]
