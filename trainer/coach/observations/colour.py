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


def airier_db(note: NoteMark, others: Sequence[NoteMark], least: int = 1) -> float | None:
    """How much more a note hisses than others in the middle, or, where that is less, how much more
    against its tone; None where fewer than `least` of them are known.

    A louder note hisses more, and a microphone with noise of its own hisses the same beside a
    softer one. A room lifts and drowns the tone of single pitches, but hardly changes the hiss.
    """
    known = [other for other in others if other.hiss_db is not None and other.level_db is not None]
    if note.hiss_db is None or note.level_db is None or len(known) < max(1, least):
        return None
    hiss_db = np.array([[other.hiss_db, other.level_db] for other in known], dtype=float)
    loud, beside_tone = hiss_db[:, 0], hiss_db[:, 0] - hiss_db[:, 1]
    return min(
        note.hiss_db - float(np.median(loud)),
        note.hiss_db - note.level_db - float(np.median(beside_tone)),
    )


def _changed(
    notes: Sequence[NoteMark], before: dict[int, list[NoteMark]], where: str
) -> Observation | None:
    for change, word in ((airier_db, "airier"), (_thinner_db, "thinner")):
        of_pitch: dict[int, list[float]] = defaultdict(list)
        for note in notes:
            if (db := change(note, before[note.written.midi])) is not None:
                of_pitch[note.written.midi].append(db)
        changes = [float(np.median(each)) for each in of_pitch.values()]
        times = sum(map(len, of_pitch.values()))
        if times < FIGURE_NOTES or len(changes) < thresholds.TONE_PITCHES:
            continue
        amount = float(np.median(changes))
        spread = max(thresholds.STEADIEST_DB, float(np.std(changes)))
        if amount >= thresholds.TONE_DB and certainty(changes, spread) >= thresholds.CERTAIN:
            lowest = min(notes, key=lambda note: note.written.midi)
            return Observation(
                Topic.TONE,
                amount / thresholds.TONE_DB,
                (f"{times} notes {word} by {amount:.0f} dB than in your earlier rounds",),
                tuple(note.index for note in notes),
                amount=amount,
                frm=lowest.written if where == "high" else None,
                times=times,
                detail=word,
            )
    return None


def _thinner_db(note: NoteMark, others: Sequence[NoteMark]) -> float | None:
    """How much stronger a note's overtones are than those of others in the middle."""
    known = [other.tone.harmonic_balance_db for other in others if other.tone is not None]
    if note.tone is None or not known:
        return None
    return note.tone.harmonic_balance_db - float(np.median(known))
