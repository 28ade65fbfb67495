"""Words can be read in every choice of colours.

WCAG 2.2, success criterion 1.4.3 (minimum contrast of text 4.5:1), with its relative luminance.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from dataclasses import replace

import pytest
from textual.color import Color

from tests.screens.conftest import Stand
from trainer.app.settings import CHOICES, HIGH_CONTRAST
from trainer.session.view import Stage

LEAST = 4.5
Opened = Callable[..., AbstractAsyncContextManager[Stand]]


def luminance(colour: Color) -> float:
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in colour.normalized
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: Color, other: Color) -> float:
    darker, lighter = sorted(map(luminance, (one, other)))
    return (lighter + 0.05) / (darker + 0.05)


def faint_words(at: Stand) -> dict[str, float]:
    found = {}
    for strip in at.app.screen._compositor.render_strips():
        for words, style, _ in strip:
            if style is None or style.color is None or style.bgcolor is None:
                continue
            if any(sign.isalnum() for sign in words):
                ink, paper = map(Color.from_rich_color, (style.color, style.bgcolor))
                if (seen := contrast(ink, paper)) < LEAST:
                    found[words.strip()] = round(seen, 1)
    return found


@pytest.mark.parametrize("colours", CHOICES["colours"])
async def test_words_stand_out_on_every_screen(stand: Opened, colours: str) -> None:
    async with stand() as at:
        at.app.take_settings(replace(at.app.settings, colours=colours))
        await at.shown()
        assert not faint_words(at)
        await at.press("s")
        assert not faint_words(at)
        await at.press("escape", "pagedown", "pagedown")
        await at.until_stage(Stage.AFTER)
        assert not faint_words(at)
        await at.press("question_mark")
        assert not faint_words(at)
        if colours != HIGH_CONTRAST:
            assert ink_of(at, "To play") != ink_of(at, "The same round once more")
        await at.press("escape", "q")
        assert not faint_words(at)
        assert contrast(*colours_of(at, "text-warning", "background")) >= LEAST


def ink_of(at: Stand, words: str) -> Color:
    segments = [each for strip in at.app.screen._compositor.render_strips() for each in strip]
    (style,) = {each.style for each in segments if each.text.strip() == words}
    assert style is not None
    assert style.color is not None
    return Color.from_rich_color(style.color)


def colours_of(at: Stand, *names: str) -> tuple[Color, Color]:
    ink, paper = (Color.parse(at.app.theme_variables[name]) for name in names)
    return ink, paper
