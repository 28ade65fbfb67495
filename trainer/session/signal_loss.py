"""Notes that a fault of the sound touched are not judged: never wrong."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trainer.ear.heard import HeardNote, State, Take
from trainer.music.note import Note
from trainer.sound.port import Samples

FAULT_REACH_S = 0.15
"""Sound lost at a fault may belong to notes this near: a device's buffer, our own estimate."""
DEAD_S = 1.0
"""A microphone that works is never silent to the last digit for so long."""

BLOCK_S = 0.01
"""The sound is looked at in stretches of this."""
LONGEST_TAP_S = 0.12
"""A click of ours lasts no longer."""
DEAD_WORDS = (
    "From some point on the microphone gave no sound at all: see whether it is plugged in and "
    "not muted."
)


@dataclass(frozen=True)
class Damage:
    """What went wrong with the sound in a take; times in its samples."""

    faults_s: tuple[float, ...] = ()
    """When what was played broke off."""
    way_s: float = 0.0
    """The round trip: what the microphone lost at a fault had sounded so much earlier."""
    until_s: float = math.inf
    """From here on nothing can be judged: the sound broke off, or its delay changed."""


def spared(take: Take, expected: Sequence[Note], beat_s: float, damage: Damage) -> Take:
    """The take with the notes that a fault touched as not judged."""

    def touched(note: HeardNote) -> bool:
        place_s = note.onset_s
        if note.index is not None:
            asked = expected[note.index]
            due_s = take.first_beat_s + float(asked.beat) * beat_s
            end_s = due_s + float(asked.length) * beat_s
            if end_s > damage.until_s - FAULT_REACH_S:
                return True
            place_s = due_s if place_s is None else place_s
        return place_s is not None and any(
            -FAULT_REACH_S - damage.way_s < place_s - fault_s < FAULT_REACH_S
            for fault_s in damage.faults_s
        )

    return replace(
        take,
        notes=tuple(
            HeardNote(note.index, note.expected, State.NOT_JUDGED) if touched(note) else note
            for note in take.notes
            if note.index is not None or not touched(note)
        ),
    )


def hums(samples: Samples, sample_rate_hz: int) -> bool:
    """The microphone's own noise is there all the way."""
    return bool(_sounding_blocks(samples, sample_rate_hz).all())


def dies_at_s(samples: Samples, sample_rate_hz: int) -> float | None:
    """Where the microphone gives nothing more of its own; None when it lives to the end.

    Short islands of sound may be the trainer's click: systems put the loudspeaker's signal in the
    place of a microphone that was unplugged; where there is nothing else, it was dead from the
    beginning.
    """
    sounding = _sounding_blocks(samples, sample_rate_hz)
    edges = np.flatnonzero(np.diff(sounding, prepend=False, append=False))
    runs = [
        int(end) for begin, end in edges.reshape(-1, 2) if (end - begin) * BLOCK_S > LONGEST_TAP_S
    ]
    last_s = runs[-1] * BLOCK_S if runs else 0.0
    return last_s if samples.size / sample_rate_hz - last_s > DEAD_S else None


def _sounding_blocks(samples: Samples, sample_rate_hz: int) -> NDArray[np.bool_]:
    """Which stretches of BLOCK_S are not silent to the last digit."""
    block = round(BLOCK_S * sample_rate_hz)
    count = samples.size // block
    return np.asarray(samples[: count * block].reshape(count, block).any(axis=1))
