"""A morning at the stand, by keys alone."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import yaml
from textual._compositor import LayoutUpdate

from tests.screens.conftest import ROUTINE
from tests.session.conftest import TICK_FRAMES
from tests.sweeps import mostly_slow
from trainer.coach.advice import FigureThenAndNow, LastTime
from trainer.errors import JournalError
from trainer.screens.drawing.last_time_line import beside_line, beside_words
from trainer.screens.help_screen import HelpScreen
from trainer.screens.week_screen import PAGE_BREAK, WeekScreen
from trainer.session.view import Stage

SIZES = [(80, 24), (120, 40)]
Opened = Callable[..., Any]
TRAIL_MARKS = "━▀▄"
MOST_PRESSES = 60
PAGES = 8
"""More than any text of ours takes up."""


def lane_of(shown: str) -> list[str]:
    """The lines from 'sharp' to 'flat'."""
    lines = shown.splitlines()
    first, last = (next(i for i, li in enumerate(lines) if li.startswith(w)) for w in LANE)
    return lines[first : last + 1]


LANE = ("sharp", "flat")


def marks_in(line: str) -> list[int]:
    return [column for column, mark in enumerate(line) if mark in TRAIL_MARKS]


def staff_lines_in(shown: str) -> set[int]:
    return {row for row, line in enumerate(shown.splitlines()) if line.startswith("─")}


@pytest.mark.parametrize("size", mostly_slow(SIZES, 1))
async def test_from_today_to_the_week_by_the_pedal_alone(
    stand: Opened, size: tuple[int, int]
) -> None:
    async with stand(size) as at:
        today = await at.shown()
        assert "A short one" in today
        assert "E flat major, two octaves" in today
        assert "PageDown to begin" in today
        seen = await by_the_pedal(at)
        for words in (
            "Let it roll.",
            "1 of 3",
            "Breathe out slowly.",
            "Flute down",
            "Kept in",
        ):
            assert words in seen
        assert "The week" in await at.press("pagedown")
        (file,) = at.journal.glob("*.yaml")
        kept = yaml.safe_load(file.read_text())["rounds"]
        assert {round_["articulation"] for round_ in kept} == {"slurred", "double"}


async def by_the_pedal(at: Any) -> str:
    """PageDown wherever something waits, and nothing else, to the end; all that was shown."""
    seen = ""
    for _ in range(MOST_PRESSES):
        if at.session.view().stage is Stage.ENDED:
            return seen
        seen += await at.press("pagedown")
        waits = {Stage.READY, Stage.AFTER, Stage.REST, Stage.READING, Stage.ENDED}
        seen += await at.until(lambda waits=waits: at.session.view().stage in waits)
    raise AssertionError(f"still at {at.session.view().stage}")


async def test_keys_pressed_before_the_screen_was_there_are_pressed_on_it(stand: Opened) -> None:
    async with stand() as at:
        at.app.typed = "\x1b[6~"
        at.app._press_typed()
        await at.pilot.pause()
        at.session.tick()
        assert at.session.view().stage is Stage.READY


async def test_what_is_heard_stands_on_the_music(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        await at.press("pagedown")
        playing = await at.until(lambda: (at.session.view().beat or -9) > 2)
        assert "◥◤" in playing
        assert "━" in playing
        assert "▪" in playing
        assert "sharp" in playing
        assert "flat" in playing


async def test_the_trail_follows_the_note_due_to_the_end_of_a_slow_round(stand: Opened) -> None:
    slow = "title: S\nexercises:\n  - scale: hill\n    key: C\n    tempo: 50\n"
    async with stand(text=slow) as at:
        await at.press("pagedown")
        await at.press("pagedown")
        for beat in (1.9, 5.9, 9.9):
            shown = await at.until(lambda beat=beat: (at.session.view().beat or -9) > beat)
            due = next(line for line in shown.splitlines() if "◥◤" in line).index("◥◤")
            trail = [column for line in lane_of(shown) for column in marks_in(line)]
            assert max(trail) >= due - 8


async def test_nothing_jumps_while_the_round_is_played(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        ready = await at.press("pagedown")
        places = staff_lines_in(ready)
        assert len(places) in (5, 10)
        while at.session.view().stage in (Stage.COUNT_IN, Stage.PLAYING):
            at.port.fail("Sound was lost for a moment.")
            at.port.advance(TICK_FRAMES)
            at.session.tick()
            if at.session.view().stage in (Stage.COUNT_IN, Stage.PLAYING):
                assert staff_lines_in(await at.shown()) <= places
        assert staff_lines_in(ready) == places


async def test_a_fault_is_told_while_the_music_stays(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        await at.press("pagedown")
        await at.until_stage(Stage.PLAYING)
        assert "Slower" in await at.shown()
        at.port.fail("Sound was lost for a moment.")
        at.session.tick()
        last = (await at.shown()).splitlines()[-1]
        assert "Sound was lost for a moment." in last
        assert "Slower" not in last


async def test_a_journal_that_cant_be_read_is_told_in_the_week(stand: Opened) -> None:
    def unreadable() -> str:
        raise JournalError("The journal's folder can't be read: give yourself the right to it.")

    async with stand() as at:
        at.app._week_text = unreadable
        assert "give yourself the right to it" in await at.press("w")
        assert "A short one" in await at.press("escape")


async def test_help_turns_to_the_signs_and_back_by_the_pedal(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        seen = await at.press("question_mark")
        for _ in range(PAGES):
            seen += await at.press("pagedown") if isinstance(at.app.screen, HelpScreen) else ""
        assert "a place to breathe" in seen
        assert at.session.view().stage is Stage.READY


async def test_a_week_of_pages_is_turned_page_by_page(stand: Opened) -> None:
    async with stand() as at:
        at.app._week_text = lambda: PAGE_BREAK.join(("First\nhere", "Second\nthere"))
        assert "First   1 of 2" in await at.press("w")
        assert "Second   2 of 2" in await at.press("pagedown")
        assert "here" not in (await at.press("left")).replace("there", "")
        await at.press("pagedown")
        assert not isinstance(at.app.screen, WeekScreen)


async def test_the_week_turns_to_its_end_and_back_by_the_pedal(stand: Opened) -> None:
    async with stand() as at:
        seen = await at.press("w")
        for _ in range(PAGES):
            seen += await at.press("pagedown") if isinstance(at.app.screen, WeekScreen) else ""
        assert "line 59" in seen
        assert "A short one" in await at.shown()


@pytest.mark.parametrize("key", mostly_slow(["question_mark", "w"], 1))
async def test_no_round_counts_in_while_help_or_week_is_read(stand: Opened, key: str) -> None:
    async with stand() as at:
        await at.press("pagedown")
        await at.press("pagedown")
        await at.until_stage(Stage.AFTER)
        read = await at.press(key)
        for _ in range(300):
            at.port.advance(TICK_FRAMES)
            at.session.tick()
        assert await at.shown() == read
        assert at.session.view().stage is Stage.AFTER
        await at.press("escape")
        assert (at.session.view().seconds_left or 0) > 1
        await at.until_stage(Stage.COUNT_IN)


async def test_the_keys_stay_in_sight_from_round_to_round(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        await at.press("pagedown")
        await at.until_stage(Stage.AFTER)
        await at.until_stage(Stage.COUNT_IN)
        assert "Slower" in (await at.until_stage(Stage.PLAYING)).splitlines()[-1]


async def test_leaving_is_asked_while_a_round_sounds(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        await at.press("pagedown")
        await at.until_stage(Stage.PLAYING)
        assert "End the session?" in await at.press("q")
        await at.press("pagedown")
        assert at.session.view().stage is Stage.PLAYING
        await at.press("q", "q")
        assert at.session.view().stage is Stage.ENDED


async def test_a_rest_is_left_by_the_key_for_the_next_exercise(stand: Opened) -> None:
    async with stand() as at:
        for key in ("pagedown", "n", "n"):
            await at.press(key)
        assert at.session.view().stage is Stage.REST
        await at.press("n")
        assert at.session.view().stage is Stage.ENDED


async def test_what_does_not_fit_on_today_is_shown_before_practice_begins(stand: Opened) -> None:
    many = "title: M\nexercises:\n" + "".join(
        f"  - {{scale: hill {number}, key: D, tempo: 60}}\n" for number in range(20)
    )
    async with stand((80, 24), many) as at:
        seen = await at.shown()
        assert "PageDown for the rest" in seen
        for _ in range(PAGES):
            if at.session.view().stage is Stage.TODAY:
                seen += await at.press("pagedown")
        assert "20  " in seen
        assert "PageDown to begin" in seen
        assert at.session.view().stage is Stage.READY


async def test_resizing_in_the_middle_of_a_round(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        await at.press("pagedown")
        await at.until(lambda: (at.session.view().beat or -9) > 1)
        await at.pilot.resize_terminal(120, 40)
        assert "◥◤" in await at.shown()
        await at.pilot.resize_terminal(60, 20)
        await at.shown()
        await at.pilot.resize_terminal(80, 24)
        assert "◥◤" in await at.shown()
        await at.until_stage(Stage.AFTER)


@pytest.mark.parametrize("presses", mostly_slow(range(5), 3))
async def test_ending_anywhere_keeps_what_was_played(stand: Opened, presses: int) -> None:
    async with stand() as at:
        await at.press("pagedown")
        if presses >= 1:
            await at.press("pagedown")
        if presses >= 2:
            await at.until_stage(Stage.PLAYING)
        if presses >= 3:
            await at.until_stage(Stage.AFTER)
        if presses >= 4:
            await at.press("r")
        end = await at.press(*"qq" if presses in (1, 2) else "q")
        assert at.session.view().stage is Stage.ENDED
        assert ("Nothing was played." in end) == (presses < 3)
        files = list(at.journal.glob("*.yaml"))
        assert len(files) == (presses >= 3)
        for file in files:
            assert len(yaml.safe_load(file.read_text())["rounds"]) == 1


async def test_a_remark_at_the_end_is_written_down(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        await at.press("pagedown")
        await at.until_stage(Stage.AFTER)
        await at.press("q")
        await at.press("m")
        await at.press(*"cold", "enter")
        (file,) = at.journal.glob("*.yaml")
        assert yaml.safe_load(file.read_text())["remark"] == "cold"
        assert "The week" in await at.press("pagedown")


async def test_figures_behind_the_sentence_are_one_key_away(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        await at.press("pagedown")
        plain = await at.until_stage(Stage.AFTER)
        evidence = at.session.view().advice.evidence
        assert evidence
        assert evidence[0] not in plain
        assert evidence[0] in await at.press("e")
        assert evidence[0] not in await at.press("e")


async def test_notes_that_need_care_are_marked_by_a_sign(stand: Opened) -> None:
    async with stand((120, 40)) as at:
        await at.press("pagedown")
        await at.press("pagedown")
        after = await at.until_stage(Stage.AFTER)
        care = at.session.view().advice.note_indices
        assert after.count("△") == len(care)


@pytest.mark.parametrize("height", mostly_slow([24, 23, 22, 21], 2))
async def test_after_a_round_the_time_line_is_there_at_any_usual_height(
    stand: Opened, height: int
) -> None:
    async with stand((80, height)) as at:
        await at.press("pagedown")
        await at.press("pagedown")
        after = await at.until_stage(Stage.AFTER)
        assert [line for line in after.splitlines() if line.startswith("time")]


async def test_how_it_felt_by_one_key(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        await at.press("pagedown")
        await at.until_stage(Stage.AFTER)
        assert "felt hard" in await at.press("3")
        (file,) = at.journal.glob("*.yaml")
        assert yaml.safe_load(file.read_text())["rounds"][0]["felt"] == "hard"


async def test_help_speaks_in_words_and_closes(stand: Opened) -> None:
    async with stand() as at:
        shown = await at.press("question_mark")
        assert "PageDown, Space, Enter" in shown
        assert "question_mark" not in shown
        assert "A short one" in await at.press("escape")


async def test_every_key_is_in_the_palette(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        titles = {command.title for command in at.app.get_system_commands(at.app.screen)}
        assert {"Go on", "Again", "Slower", "Faster", "Next", "Rest", "Help", "End"} <= titles


async def test_without_a_microphone_the_screen_says_so(stand: Opened) -> None:
    async with stand(listens=False) as at:
        assert "There is no microphone" in await at.shown()
        await at.press("pagedown")
        await at.press("pagedown")
        await at.until_stage(Stage.AFTER)
        assert "there is no microphone" in await at.shown()


async def test_without_colour_it_reads_the_same(
    stand: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    texts = []
    for no_color in (False, True):
        if no_color:
            monkeypatch.setenv("NO_COLOR", "1")
        async with stand() as at:
            assert at.app.no_color is no_color
            await at.press("pagedown")
            texts.append(await at.shown())
    assert texts[0] == texts[1]


async def test_a_light_theme_reads_the_same(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        dark = await at.shown()
        at.app.theme = "textual-light"
        assert await at.shown() == dark


@pytest.mark.parametrize("presses", [0, 1, 5])
async def test_a_screen_where_nothing_moves_paints_nothing(stand: Opened, presses: int) -> None:
    async with stand() as at:
        for _ in range(min(presses, 1)):
            await at.press("pagedown")
        for _ in range(presses - 1):
            at.session.skip()
            at.session.tick()
        standing = (await at.shown()).split("\n")
        painted: list[object] = []
        at.app._display = lambda _screen, update: painted.append(update)  # above a driver unseen
        assert await at.shown() == "\n".join(standing)

    def is_another(update: object) -> bool:
        """The same frame once more is never sent (`screens.sent_once`)."""
        if not isinstance(update, LayoutUpdate):
            return True
        rows = ["".join(piece.text for piece in row if piece) for row in update.strips]
        return [row.rstrip() for row in rows] != standing

    assert [one for one in painted if one is not None and is_another(one)] == []


async def test_long_words_are_wrapped_not_cut(stand: Opened) -> None:
    words = "Let the air do the work and the fingers follow, all the way up and all the way down."
    async with stand(text=ROUTINE.replace("Let it roll.", words)) as at:
        ready = await at.press("pagedown")
        assert words in " ".join(ready.split())


async def test_after_a_round_the_last_time_stands_beside_it(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        await at.press("pagedown")
        first = await at.until_stage(Stage.AFTER)
        assert "Since" not in first
        await at.press("minus")
        await at.until_stage(Stage.PLAYING)
        again = await at.until_stage(Stage.AFTER)
        assert re.search(r"Since last time at 112:  \d+ → \d+ % clean  (as|more|less) even", again)


@pytest.mark.parametrize("wanted", [True, False])
async def test_the_last_tuning_lies_beneath_todays_where_it_is_wanted(
    stand: Opened, wanted: bool
) -> None:
    async with stand() as at:
        at.app.take_settings(replace(at.app.settings, last_tuning=wanted))
        await at.press("pagedown")
        await at.press("pagedown")
        assert "before" not in await at.until_stage(Stage.PLAYING)
        await at.until_stage(Stage.AFTER)
        await at.press("a")
        assert ("before" in await at.until_stage(Stage.PLAYING)) is wanted


def test_the_line_beside_the_last_time_is_never_cut() -> None:
    figures = (FigureThenAndNow("clean", "%", 94, 100), FigureThenAndNow("evenness", "ms", 22, 18))
    last = LastTime("30 September", 100.0, (*figures, FigureThenAndNow("", "cents", 10, 11)))
    assert beside_line(last, 82).endswith("→ 100 % clean  more even  10 → 11 cents")
    assert beside_line(last, 62).endswith("→ 100 % clean  more even")
    assert beside_line(None, 78) == ""
    assert beside_words(last) == (
        "Since 30 September at 100: clean before 94, now 100 %; more even; before 10, now 11 cents."
    )


async def test_a_notice_of_the_morning_stands_beside_one_of_the_sound(stand: Opened) -> None:
    wrong = (
        "/home/you/.config/trainer/config.yaml: 'tuning' is 'loud'; write 'A4 = 442' or another "
        "number from 415 to 446, or 'as the routine says'. Until then everything is as usual."
    )
    mute = "The microphone gives no sound at all: is it plugged in, and not muted?"
    async with stand((80, 24), notices=(wrong, mute)) as at:
        shown = " ".join((await at.shown()).split())
        assert wrong in shown
        assert mute in shown
        assert "q End" in shown
