"""How a note started, from what stands at its seam.

Weights are our own estimate: each term is 1 where that sign alone would make a teacher say
'tongued'. Real slurs over leaps dip by 10 dB too, so no single sign decides.
"""

from __future__ import annotations

from trainer.ear.boundary import Seam
from trainer.music.note import Start

DIP_DB = 8.0
BURST_FROM_DB = 2.5
BURST_DB = 5.0
GAP_S = 0.025
TONGUED_FROM = 1.0
HARD_DIP_DB = 11.5
HARD_GAP_S = 0.030
HARD_BURST_DB = 5.5
SLOW_ATTACK_S = 0.055
"""Breath starts take 80 ms and more, tongued ones 30 to 60 (musical acoustics, from memory)."""
BURST_BEFORE_RISE_S = 0.045


def kind_of_start(seam: Seam, attack_s: float, joined: bool) -> Start:
    """The start as heard; `joined`: the sound before reaches up to this one."""
    strength = (
        max(0.0, seam.dip_db) / DIP_DB
        + max(0.0, seam.burst_db - BURST_FROM_DB) / BURST_DB
        + seam.gap_s / GAP_S
    )
    if joined and strength < TONGUED_FROM:
        return Start.SLURRED
    hard = seam.dip_db >= HARD_DIP_DB or seam.gap_s >= HARD_GAP_S or seam.burst_db >= HARD_BURST_DB
    if joined and not hard:
        return Start.LEGATO_TONGUE
    return Start.BREATH if attack_s > SLOW_ATTACK_S else Start.TONGUED


def onset_of(seam: Seam, start: Start) -> float:
    """When the note starts: the change of tones under a slur, else the rise after the tongue."""
    if start in (Start.SLURRED, Start.LEGATO_TONGUE) and seam.change_s is not None:
        return seam.change_s
    spoke = seam.rise_s - BURST_BEFORE_RISE_S < seam.burst_s < seam.rise_s + 0.002
    return seam.burst_s if spoke else seam.rise_s
