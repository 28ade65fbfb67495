"""Tone against the player's own earlier rounds: the only comparison a microphone allows.

Nothing published says how much hiss or how strong a fundamental a flute tone should have, so no
tone is judged by itself: only what has changed, on the same notes, in the same articulation and
about as long.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.finger_changes import register_of
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import Observation, certainty
from trainer.figures.enough import FIGURE_NOTES


def in_colour(marks: Marks, earlier: Sequence[Marks]) -> Iterator[Observation]:
    """High notes, or all, that have grown airy or thin since the earlier rounds."""
    alike = [other for other in earlier if _alike(marks, other)]
    before: dict[int, list[NoteMark]] = defaultdict(list)
    for other in alike:
        for note in (note for note in other.heard if note.tone is not None):
            before[note.written.midi].append(note)
    toned = [n for n in marks.heard if n.tone is not None and before.get(n.written.midi)]
    high = [note for note in toned if register_of(note.written) == "high"]
    for notes, where in ((high, "high"), (toned, "all")):
        seen = _changed(notes, before, where)
        if seen is not None:
            yield seen
            return


def _alike(marks: Marks, other: Marks) -> bool:
    """A held note and a quick one are different sounds, whoever plays them."""
    short, long = sorted((marks.note_ms, other.note_ms))
    return other.articulation == marks.articulation and long <= thresholds.LIKE_LENGTH * short


def _changed(
    notes: Sequence[NoteMark], before: dict[int, list[NoteMark]], where: str
) -> Observation | None:
    airier = [_noise_db(note) - _median_noise_db(before[note.written.midi]) for note in notes]
    thinner = [_balance_db(note) - _median_balance_db(before[note.written.midi]) for note in notes]
    for changes, word in ((airier, "airier"), (thinner, "thinner")):
        if len(changes) < FIGURE_NOTES:
            continue
        amount = float(np.median(changes))
        spread = max(thresholds.STEADIEST_DB, float(np.std(changes)))
        if amount >= thresholds.TONE_DB and certainty(changes, spread) >= thresholds.CERTAIN:
            lowest = min(notes, key=lambda note: note.written.midi)
            return Observation(
                Topic.TONE,
                amount / thresholds.TONE_DB,
                (f"{len(notes)} notes {word} by {amount:.0f} dB than in your earlier rounds",),
                tuple(note.index for note in notes),
                amount=amount,
                frm=lowest.written if where == "high" else None,
                times=len(notes),
                detail=word,
            )
    return None


def _noise_db(note: NoteMark) -> float:
    return note.tone.noise_share_db if note.tone is not None else float("nan")


def _balance_db(note: NoteMark) -> float:
    return note.tone.harmonic_balance_db if note.tone is not None else float("nan")


def _median_noise_db(notes: Sequence[NoteMark]) -> float:
    return float(np.median([_noise_db(note) for note in notes if note.tone is not None]))


def _median_balance_db(notes: Sequence[NoteMark]) -> float:
    return float(np.median([_balance_db(note) for note in notes if note.tone is not None]))
