"""The figures of a round: each is counted here, and nowhere else.

Each takes the plain values of the notes it counts, so that a round just heard (`coach.judge`), one
of an earlier day (the journal's) and a sound file (`trainer listen`) come to the same figure.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trainer.figures.enough import ENOUGH_SHARE, FIGURE_NOTES

AIM_SHARE = 0.9
"""'Within 10 cents' is met when nine notes in ten are; nobody stands there with every one. Our own
reading of the aim."""


def evenness_ms(off_ms: Sequence[float]) -> float | None:
    """How even a round was: the standard deviation of its onsets about the player's own line.

    off_ms: each placed onset against that line (`onset_places`), in milliseconds. A constant lead
    and a tempo that bends are no unevenness, single late notes are. None for fewer than
    FIGURE_NOTES. After the measure of scale playing of Jabusch 2006 and of van Vugt, Jabusch &
    Altenmüller 2012 (Front Psychol 3:495), who take a straight line where we allow one bend.
    """
    return float(np.std(off_ms)) if len(off_ms) >= FIGURE_NOTES else None


def clean_share(clean: Sequence[bool], asked_notes: int) -> float | None:
    """Clean notes (`note_figures.is_clean`) among those judged, 0 to 1.

    None where fewer than ENOUGH_SHARE of the notes asked for could be judged.
    """
    enough = len(clean) >= max(1.0, ENOUGH_SHARE * asked_notes)
    return sum(clean) / len(clean) if enough else None


def within_cents(cents: Sequence[float]) -> float | None:
    """So near to the tuning in force stood nine of ten right notes (AIM_SHARE, interpolated
    between neighbours); None without any."""
    return float(np.quantile(np.abs(cents), AIM_SHARE)) if len(cents) else None


def median_cents(cents: Sequence[float]) -> float | None:
    """Where the right notes stood in the middle, sharp positive; None without any."""
    return float(np.median(cents)) if len(cents) else None


def lead_ms(onsets_s: Sequence[float], due_s: Sequence[float]) -> float | None:
    """Median of onset minus beat, early negative; None without any onset.

    Shown, never judged: a constant lead is no error (Repp 2005, Psychon Bull Rev 12:969), and what
    is not known of the sound card's delay is in it.
    """
    return float(1000 * np.median(np.subtract(onsets_s, due_s))) if len(onsets_s) else None
