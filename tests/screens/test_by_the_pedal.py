"""By PageDown alone through every kind of round, with music in cells and in pixels."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.screens.test_manners import SOUNDING, kept_rounds
from trainer.routine.round import RoundKind
from trainer.screens.pixels.staff_picture import StaffPicture
from trainer.screens.pixels.terminal_pixels import PixelWay
from trainer.session.view import Stage

Opened = Callable[..., Any]
EVERY_KIND = """
title: Every kind
words: One thing at a time.
defaults: {tempo: 112}
exercises:
  - passage: let it stand
    settle: 1 second
    notes: half (D5 F#5) | whole D5
    key: D
  - long tones: calm
    notes: [G4, A4]
    beats each: 4
  - long tones: grow
    notes: [G4]
    beats each: 4
    swell: there and back
  - long tones: pulses
    notes: [A4]
    beats each: 4
    vibrato: [2 a beat]
  - voicing: floors
    form: same names
    key: F
    range: F4 to F6
    beats each: 1
  - passage: two colours
    key: G
    colours: [dark, bright]
    notes: half G4 quarter B4 D5
  - trills: little fingers
    pairs: [G4 A4]
    rhythms: [eighths]
  - passage: on one breath
    key: F
    one breath: yes
    notes: quarter F4 A4 C5 F5
  - scale: hill
    key: F
    range: one octave
    articulations: [slurred, single]
  - speed climb: up
    key: F
    range: one octave
    from: 100
    to: 108
    within: 1 minute
  - passage: free
    notes: quarter G4 B4 [cadenza] D5 eighth C5 A4 [in time] whole G4
  - read: Breathe out slowly.
  - rest: 30 seconds
"""
MOST_PRESSES = 150


@pytest.mark.slow
@pytest.mark.parametrize(
    ("way", "size"), [(None, (80, 24)), (PixelWay.KITTY, (80, 24)), (PixelWay.SIXEL, (120, 40))]
)
async def test_every_kind_by_the_pedal_alone(
    stand: Opened, monkeypatch: pytest.MonkeyPatch, way: PixelWay | None, size: tuple[int, int]
) -> None:
    if way is not None:
        pytest.importorskip("PIL", reason="Pillow is not installed")
    monkeypatch.setattr("trainer.screens.playing_screen.cell_pixels", lambda: (10, 20))
    async with stand(size, EVERY_KIND) as at:
        at.app.pixels = way
        kinds: set[RoundKind] = set()
        presses = 0
        while (stage := at.session.view().stage) is not Stage.ENDED:
            if stage in SOUNDING:
                kinds.add(at.session.view().round.kind)
                shown = await at.shown()
                assert "Pause" in shown.splitlines()[-1], "the keys stay while a round sounds"
                pictures = [each for each in at.app.screen.query(StaffPicture) if each.display]
                assert bool(pictures) is (way is not None)
                await at.until(lambda: at.session.view().stage not in SOUNDING)
            else:
                await at.press("pagedown")
                presses += 1
            assert presses < MOST_PRESSES
        assert kinds >= set(RoundKind) - {RoundKind.KNOT}
        done = [line.rounds for line in at.session.view().done]
        assert all(done[:-2])
        assert kept_rounds(at) == sum(done)
