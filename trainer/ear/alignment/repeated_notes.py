"""Notes that repeat the one before, where fewer were found than were asked for.

A room fills the gap between two strokes, and a dip that is left of it may be too faint to be taken
for a stroke by itself. Where the same note was due again less will do, and the less the nearer it
lies to where it was due; a note held instead is seldom cut by that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from trainer.ear.alignment.align import Answer
from trainer.ear.analysis.features import Features
from trainer.ear.analysis.frames import Track
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import Reattack, new_starts

LASTS_FOR_TWO = 1.5
"""A sound so many times as long as was asked for may be two notes."""
ASKED_ODDS = 3.4
"""A player does as asked thirty times to one (as a logarithm; our own estimate): a stroke called
missed that was played is worse than one called played that wasn't."""
STEADY_SHARE, UNEVEN_SHARE = 0.05, 0.15
"""A start lies near where it is due, normally distributed with so much of a step for a steady
player and so much for one who isn't, as likely the one as the other; a dip that is none lies
anywhere in it. Our own estimate."""
SAME_PITCH_SEMITONES = 0.5
"""Between expected notes: less is another tuning, not another note."""


def repeat_groups(midi: Track) -> NDArray[np.int64]:
    """Which notes repeat one another: a number for each note, the same while the pitch stays; both
    of shape (notes,)."""
    changes = np.abs(np.diff(midi, prepend=midi[:1])) >= SAME_PITCH_SEMITONES
    return np.asarray(np.cumsum(changes), np.int64)


def started_again(
    features: Features,
    found: Sequence[NoteSegment],
    answers: Sequence[Answer],
    groups: NDArray[np.int64],
    lengths_s: Track,
) -> dict[int, float]:
    """Sounds that last too long where the same note was due several times and fewer were found,
    and likely started again near where it was due. Sound → where it is cut, in seconds.

    groups, lengths_s: of the expected notes, shape (notes,).
    """
    answered = _answered(answers)
    cuts: dict[int, float] = {}
    for group in sorted({int(groups[n]) for n in range(groups.size) if n not in answered}):
        asked = [int(index) for index in np.flatnonzero(groups == group)]
        sounds = [answered[index] for index in asked if index in answered]
        if sounds:
            length_s = float(lengths_s[asked[0]])
            cuts |= _likely_again(features, found, sounds, len(asked), length_s)
    return cuts


def _answered(answers: Sequence[Answer]) -> dict[int, int]:
    """The sound that answers each expected note."""
    return {a.index: a.segment for a in answers if a.index is not None and not a.wrong}


def _likely_again(
    features: Features,
    found: Sequence[NoteSegment],
    sounds: Sequence[int],
    asked: int,
    length_s: float,
) -> dict[int, float]:
    """Where the sounds of one note asked for several times may have started again: no more of them
    than are missing, the likeliest of each sound."""
    spread_s = found[sounds[-1]].from_s - found[sounds[0]].from_s
    step_s = max(length_s, spread_s / (asked - 1))
    likely = [
        (start.log_odds, sound, start.at_s)
        for sound in sounds
        if found[sound].length_s > LASTS_FOR_TWO * step_s
        for start in _near_due(new_starts(found[sound], features), found[sound], step_s)
        if start.log_odds > -ASKED_ODDS
    ]
    cuts: dict[int, float] = {}
    for _, sound, at_s in sorted(likely, reverse=True)[: asked - len(sounds)]:
        cuts.setdefault(sound, at_s)
    return cuts


def _near_due(starts: Sequence[Reattack], segment: NoteSegment, step_s: float) -> list[Reattack]:
    """For each place inside a sound where its note is due again the likeliest dip near it, likelier
    the nearer it lies."""
    near = []
    for place_s in segment.from_s + step_s * np.arange(1, round(segment.length_s / step_s) + 1):
        off = [(start.at_s - float(place_s)) / step_s for start in starts]
        fitting = [
            replace(start, log_odds=start.log_odds + _place_odds(steps))
            for start, steps in zip(starts, off, strict=True)
            if abs(steps) < 0.5
        ]
        if fitting:
            near.append(max(fitting, key=lambda start: start.log_odds))
    return near


def _place_odds(off: float) -> float:
    """What its place adds to the log odds of a start so many steps off where it is due."""
    density = sum(
        np.exp(-0.5 * (off / share) ** 2) / (share * np.sqrt(2 * np.pi)) / 2
        for share in (STEADY_SHARE, UNEVEN_SHARE)
    )
    return float(np.log(max(density, 1e-9)))
