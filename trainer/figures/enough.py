"""How much must have been heard before a figure says anything."""

from __future__ import annotations

FIGURE_NOTES = 6
"""Fewer notes than this give no figure for the round. Our own estimate."""

ENOUGH_SHARE = 0.75
"""Judged share of the notes below which nothing is called right. Our own estimate."""

TEMPO_NOTES = 8
"""Notes that make a tempo. Our own estimate; Drake & Botte's best listeners (1993, Percept
Psychophys 54:277) needed seven."""
