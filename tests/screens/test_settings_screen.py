"""Settings on the screen: kept at once, taken on at once, never written over a mistake."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest

from trainer.app.anew import Anew
from trainer.app.paths import user_paths
from trainer.app.settings import (
    CHOICES,
    HIGH_CONTRAST,
    PLAIN,
    Settings,
    read_settings,
    write_settings,
)
from trainer.app.settings_applied import settings_or_usual
from trainer.errors import TrainerError
from trainer.screens.settings_screen import EXPLAINED, SettingsScreen
from trainer.session.view import Stage

Opened = Callable[..., Any]


async def to_setting(at: Any, name: str) -> str:
    await at.press("s")
    return str(await at.press(*["down"] * list(EXPLAINED).index(name)))


async def test_today_shows_the_settings_and_back_by_the_pedal(stand: Opened) -> None:
    async with stand() as at:
        shown = await at.press("s")
        assert "-> instrument" in shown
        assert "as the routine says" in shown
        for _ in EXPLAINED:
            shown = await at.press("pagedown")
        assert "PageDown to begin" in shown
        assert at.session.view().stage is Stage.TODAY


async def test_note_names_change_at_once(stand: Opened, tmp_path: Path) -> None:
    file = tmp_path / "config.yaml"
    async with stand() as at:
        at.app._keep_settings = lambda settings: write_settings(file, settings)
        assert "E flat major" in await at.shown()
        await to_setting(at, "note_names")
        await at.press("right")
        assert "Es major" in await at.press("escape")
        assert read_settings(file).note_names == "German (H, B)"


async def test_a_new_tuning_opens_the_session_anew(stand: Opened) -> None:
    async with stand() as at:
        await to_setting(at, "tuning")
        await at.pilot.press("right", "escape")
        await at.pilot.pause()
        assert at.app.return_value is Anew.AS_SET
        assert at.app.settings.tuning == "A4 = 440"


async def test_once_begun_a_new_tuning_waits(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        at.app.action_settings()
        await at.pilot.pause()
        await at.press("down", "right")
        await at.press("escape")
        assert at.app.return_value is None
        assert at.session.view().stage is Stage.READY


async def test_settings_are_in_the_palette_of_every_screen(stand: Opened) -> None:
    async with stand() as at:
        await at.press("pagedown")
        commands = {c.title: c for c in at.app.get_system_commands(at.app.screen)}
        commands["Settings"].callback()
        await at.pilot.pause()
        assert isinstance(at.app.screen, SettingsScreen)


async def test_what_cant_be_kept_is_said(stand: Opened) -> None:
    def refuse(_settings: Settings) -> None:
        raise TrainerError("config.yaml can't be written (no room): check its place.")

    async with stand() as at:
        at.app._keep_settings = refuse
        await to_setting(at, "colours")
        assert "Not kept" in await at.press("right")


async def test_every_look_reads_the_same(stand: Opened) -> None:
    async with stand() as at:
        dark = await at.shown()
        at.app.dress(replace(Settings(), colours=HIGH_CONTRAST))
        assert at.app.theme == "high-contrast"
        assert await at.shown() == dark


def test_every_setting_but_the_limit_is_on_the_screen() -> None:
    names = {field.name for field in fields(Settings)} - {"takes_limit_mb"}
    assert set(EXPLAINED) == set(CHOICES) == names


@pytest.mark.parametrize("name", CHOICES)
def test_every_choice_comes_back_from_the_file(tmp_path: Path, name: str) -> None:
    file = tmp_path / "config.yaml"
    for choice in CHOICES[name]:
        settings = replace(Settings(), **{name: choice})
        write_settings(file, settings)
        assert read_settings(file) == settings


def test_a_broken_file_is_told_and_never_written_over(tmp_path: Path) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path)})
    broken = "note names: Latin\ncolours: dark\n"
    paths.config_file.write_text(broken)
    settings, (sentence,) = settings_or_usual(paths)
    assert settings == Settings()
    assert "write one of: English (B, B flat), German" in sentence
    with pytest.raises(TrainerError, match="note names"):
        write_settings(paths.config_file, replace(Settings(), characters=PLAIN))
    assert paths.config_file.read_text() == broken
