"""What a student should ask at the lesson: their own questions, what they heard otherwise, and what
practice alone has not put right."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from trainer.journal.log import SessionLog
from trainer.journal.stuck import OpenKnot, StuckTempo
from trainer.wording.sentence_list import say

LONG_OPEN = timedelta(days=7)
"""A trouble spot open for so long was there at the lesson before (common practice, no source)."""
MOST = 5
"""More than a lesson has time for isn't asked (our own estimate)."""
_SENTENCE = re.compile(r"[^.!?]+\??")
"""Up to its end; only a question keeps its sign."""


def to_ask(
    now: Sequence[SessionLog], open_spots: Sequence[OpenKnot], tempos: Sequence[StuckTempo]
) -> tuple[str, ...]:
    """A sentence each, the student's own questions first; `now`: the week's sessions, oldest first.

    Private remarks are the student's own.
    """
    first_day = min((log.day for log in now), default=date.min)
    found = (
        *(question for log in now for question in _questions(log)),
        *_heard_otherwise(now),
        *(
            _of_a_spot(spot)
            for spot in open_spots
            if spot.last_day >= first_day and spot.last_day - spot.first_day >= LONG_OPEN
        ),
        *map(_of_a_tempo, tempos),
    )
    return tuple(dict.fromkeys(found))[:MOST]


def own_questions(
    asked: Sequence[str], open_spots: Sequence[OpenKnot], tempos: Sequence[StuckTempo]
) -> tuple[str, ...]:
    """Of what is to be asked, all that isn't about these spots and tempos: for where those stand
    beside it."""
    about = {*map(_of_a_spot, open_spots), *map(_of_a_tempo, tempos)}
    return tuple(sentence for sentence in asked if sentence not in about)


def _of_a_spot(spot: OpenKnot) -> str:
    return say("ask about a spot", spot_note=spot.title, day=spot.since)


def _of_a_tempo(stuck: StuckTempo) -> str:
    return say("ask about a tempo", what=stuck.what)


def _questions(log: SessionLog) -> Iterator[str]:
    """What of the student's words ends in a question mark."""
    said = [(log.remark, log.private), *((each.remark, each.private) for each in log.remarks)]
    for words, private in said:
        if not private:
            sentences = map(str.strip, _SENTENCE.findall(" ".join(words.split())))
            yield from (each for each in sentences if each.endswith("?") and each != "?")


def _heard_otherwise(now: Sequence[SessionLog]) -> Iterator[str]:
    titles = dict.fromkeys(round_.title for log in now for round_ in log.rounds if round_.disagreed)
    if titles:
        yield say("ask about what was heard", what=" and ".join(titles))
