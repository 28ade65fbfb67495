"""Starts that can't be heard for the room: when to say so, and what helps.

Said of many notes together, never of a player: what was not heard is no fault.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.figures.round_measures import RoundMeasures
from trainer.wording.sentence_list import say

TOO_MANY = 0.3
"""Share of the notes whose starts were not judged. Tongued lines of recorded notes: none of their
starts in no room, 0.5 % in one of 0.4 s, 3 % in one of 0.8 s as loud as the flute itself (our own
measurement, tests.bench.ear.recorded, 30 lines each); more means a livelier place than these. Our
own estimate."""
FEWEST_NOTES = 40
"""Two lines or so; of fewer notes a few unclear ones would be a large share. Our own estimate."""
NOW, LAST_TIME = say("starts unclear"), say("starts were unclear")


def too_blurred(rounds: Sequence[RoundMeasures]) -> bool:
    """Whether too many starts of these rounds were not judged."""
    played = sum(measures.played for measures in rounds)
    unsure = sum(measures.starts_unsure for measures in rounds)
    return played >= FEWEST_NOTES and unsure > TOO_MANY * played
