"""Reading what the trainer itself sounds in a round: the click and the partner."""

from __future__ import annotations

import re

import yaml

from trainer.music.pulse import Timbre
from trainer.music.rhythm import GROUPINGS
from trainer.routine import patterns
from trainer.routine.model import DroneOn, Partner
from trainer.routine.note_words import BRITISH, RHYTHM
from trainer.routine.other_words import SAME_CLICK
from trainer.routine.reader import Reader, choice, folded, misread, scalar
from trainer.routine.round import PartnerPart

# Partner; 'in thirds' is above and 'in sixths' below, for then a scale begins in its own chord.

BY_PHRASES = 0
"""Stands for turns as long as the phrases."""
_DRONE_ON_NOTE = re.compile(r"drone(?: on)?(?: an?)? (?P<note>[a-g](?:#|b| sharp| flat)?)\d?")


def _partner(node: yaml.Node) -> Partner | None:
    note = _DRONE_ON_NOTE.fullmatch(folded(scalar(node)))
    if note is not None:
        key = f"{note['note'][0].upper()}{note['note'][1:]}"
        raise misread(
            node,
            "A drone is on a note of the key.",
            f"Write 'partner: drone on the tonic', and 'key: {key}'.",
        )
    return _PARTNER.read(node)


_PARTNER: Reader[Partner | None] = choice(
    "a partner",
    {
        "off": None,
        "same notes": Partner(PartnerPart.SAME_NOTES),
        "octave below": Partner(PartnerPart.OCTAVE_BELOW),
        "drone on the tonic": Partner(PartnerPart.DRONE, DroneOn.TONIC),
        "drone on the fifth": Partner(PartnerPart.DRONE, DroneOn.FIFTH),
        "drone with the harmony": Partner(PartnerPart.DRONE, DroneOn.HARMONY),
        "in thirds": Partner(PartnerPart.THIRDS_ABOVE),
        "in thirds above": Partner(PartnerPart.THIRDS_ABOVE),
        "in thirds below": Partner(PartnerPart.THIRDS_BELOW),
        "in sixths": Partner(PartnerPart.SIXTHS_BELOW),
        "in sixths above": Partner(PartnerPart.SIXTHS_ABOVE),
        "in sixths below": Partner(PartnerPart.SIXTHS_BELOW),
        "canon after a beat": Partner(PartnerPart.CANON, behind_beats=1),
        "canon after 2 beats": Partner(PartnerPart.CANON, behind_beats=2),
        "canon after 3 beats": Partner(PartnerPart.CANON, behind_beats=3),
        "canon after a bar": Partner(PartnerPart.CANON, behind_bars=1),
        "canon after 2 bars": Partner(PartnerPart.CANON, behind_bars=2),
        "canon after 4 bars": Partner(PartnerPart.CANON, behind_bars=4),
        "plays it first": Partner(PartnerPart.LEADS),
        "call and answer": Partner(PartnerPart.CALLS, turn_bars=1),
        "call and answer of 2 bars": Partner(PartnerPart.CALLS, turn_bars=2),
        "call and answer of 4 bars": Partner(PartnerPart.CALLS, turn_bars=4),
        "call and answer by phrases": Partner(PartnerPart.CALLS, turn_bars=BY_PHRASES),
        "in turns": Partner(PartnerPart.TURNS, turn_bars=1),
        "in turns of 2 bars": Partner(PartnerPart.TURNS, turn_bars=2),
        "in turns of 4 bars": Partner(PartnerPart.TURNS, turn_bars=4),
        "in turns by phrases": Partner(PartnerPart.TURNS, turn_bars=BY_PHRASES),
    },
)

PARTNER: Reader[Partner | None] = Reader(_PARTNER.says, _partner, _PARTNER.schema)

# How loud

SOFTEST_DB, LOUDEST_DB = 30, 6
"""Louder than that, click and partner together would come near full scale."""
_LEVELS = {"as usual": 0.0, "softer": -6.0, "much softer": -12.0, "louder": 6.0}
"""Common practice, no source: 6 dB is plainly softer, 12 dB leaves the room to the player."""
_LEVEL = re.compile(r"(\d{1,3}) ?db (softer|louder)")


def _level(node: yaml.Node) -> float:
    typed = scalar(node)
    words = folded(typed)
    if words in _LEVELS:
        return _LEVELS[words]
    match = _LEVEL.fullmatch(words)
    if match is None:
        raise misread(node, f"'{typed}' is no level read here.")
    decibels, louder = int(match[1]), match[2] == "louder"
    furthest = LOUDEST_DB if louder else SOFTEST_DB
    if not 1 <= decibels <= furthest:
        mend = f"Write '{furthest} dB {match[2]}' at most."
        raise misread(node, f"'{typed}' is no level to practise with.", mend)
    return float(decibels if louder else -decibels)


def _whole_numbers(most: int) -> str:
    return f"({'|'.join(map(str, range(1, most + 1)))})"


_LEVEL_PATTERN = (
    rf"{_whole_numbers(SOFTEST_DB)} ?[dD][bB] softer|{_whole_numbers(LOUDEST_DB)} ?[dD][bB] louder"
)
LOUDNESS: Reader[float] = Reader(
    f"a level: {', '.join(_LEVELS)}, or '4 dB softer'",
    _level,
    {
        "anyOf": [
            {"enum": list(_LEVELS)},
            {"type": "string", "pattern": patterns.whole(_LEVEL_PATTERN)},
        ]
    },
)

# Click

CLICK: Reader[Timbre | None] = choice(
    "a click", {**{str(timbre): timbre for timbre in Timbre}, "off": None}, SAME_CLICK
)

MOST_TAPS = 6
"""Taps to a beat; more run together at any tempo. Our own estimate."""


def _subdivision(node: yaml.Node) -> int:
    taps = RHYTHM.read(node)
    if taps > MOST_TAPS:
        raise misread(node, f"{taps} taps to a beat run together.")
    return taps


_SUBDIVISIONS = [word for word, taps in GROUPINGS.items() if taps <= MOST_TAPS]
_BRITISH = [word for word, taps in BRITISH.items() if taps <= MOST_TAPS]
SUBDIVISION: Reader[int] = Reader(
    f"note values to tap: {', '.join(_SUBDIVISIONS)}",
    _subdivision,
    {
        "anyOf": [
            {"type": "integer", "minimum": 1, "maximum": MOST_TAPS},
            {"enum": [*_SUBDIVISIONS, *_BRITISH]},
            {
                "type": "string",
                "pattern": patterns.whole(rf"[1-{MOST_TAPS}]( (notes )?(per|to the|to a) beat)?"),
            },
        ]
    },
)

LONGEST_CYCLE_BARS = 16
"""Bars with and without the click come round within so many."""
NEVER = "never"
_RESTS = re.compile(r"(\d{1,3}) bars? (?:in|of|out of)(?: every)? (\d{1,3})(?: bars)?")
_CYCLES = "|".join(
    rf"{_whole_numbers(bars - 1)} bars? (in|of|out of)( every)? {bars}( bars)?"
    for bars in range(2, LONGEST_CYCLE_BARS + 1)
)


def _rests(node: yaml.Node) -> tuple[int, int]:
    """Bars in which the click sounds, and then bars in which it rests."""
    typed = scalar(node)
    if folded(typed) == NEVER:
        return 0, 0
    match = _RESTS.fullmatch(folded(typed))
    if match is None:
        raise misread(node, f"'{typed}' does not say in which bars the click rests.")
    silent, cycle = int(match[1]), int(match[2])
    if not 1 <= silent < cycle <= LONGEST_CYCLE_BARS:
        what = f"The click can't rest {silent} bars in {cycle}."
        mend = f"Write fewer bars than the second number, and that {LONGEST_CYCLE_BARS} at most."
        raise misread(node, what, f"{mend} '2 bars in 4' is one way.")
    return cycle - silent, silent


CLICK_RESTS: Reader[tuple[int, int]] = Reader(
    f"how many bars in how many: '2 bars in 4', the last two of every four; or '{NEVER}'",
    _rests,
    {"anyOf": [{"const": NEVER}, {"type": "string", "pattern": patterns.whole(_CYCLES)}]},
)
