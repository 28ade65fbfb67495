"""Reading how notes are to sound: settling, vibrato, swells, colours, trills."""

from __future__ import annotations

import re

import yaml

from trainer.music.pitch import Pitch
from trainer.routine import patterns
from trainer.routine.key_words import one_pitch
from trainer.routine.note_words import RHYTHM
from trainer.routine.other_words import SAME_SWELL, SAME_UNJUDGED
from trainer.routine.reader import (
    Reader,
    choice,
    folded,
    items,
    misread,
    number,
    part,
    scalar,
    times,
)
from trainer.routine.round import Depth, Swell, Unjudged, Vibrato

LEAST_STANDS_S, LONGEST_STANDS_S = 0.3, 10.0
"""A note is asked to stand at least and at most so long."""
MOST_PULSES = 8
"""Vibrato pulses to a beat; more is no vibrato at any tempo a teacher asks for."""
LONGEST_COLOUR = 30
LARGEST_TRILL_SEMITONES = 4
"""Wider than a major third it is a tremolo; common practice, no source."""

SETTLE: Reader[float] = number(
    "how long each note is to stand, in seconds",
    LEAST_STANDS_S,
    LONGEST_STANDS_S,
    ("seconds", "second", "s"),
)
SWELL: Reader[Swell] = choice("a swell", {str(swell): swell for swell in Swell}, SAME_SWELL)
UNJUDGED: Reader[Unjudged] = choice(
    "what is asked beside the notes", {str(asked): asked for asked in Unjudged}, SAME_UNJUDGED
)
MOST_REPEATED = 8
"""Times one note is sounded before the next; more belongs in a passage."""
EACH: Reader[int] = times("how often each note sounds", MOST_REPEATED)
_YES = choice("yes or no", {"yes": True, "no": False, "true": True, "false": False})
YES: Reader[bool] = Reader(
    _YES.says, _YES.read, {"anyOf": [{"type": "boolean"}, {"enum": ["yes", "no"]}]}
)
WAY: Reader[bool] = choice(
    "a way to climb", {"step by step": False, "slow and goal in turns": True}
)

ORDER: Reader[bool] = choice(
    "an order",
    {"as written": False, "mixed once it holds": True},
    {"mixed when secure": "mixed once it holds"},
)

_PULSES = re.compile(r"(straight|\d{1,2})(?: (?:pulses )?(?:a|to the|per) beat)?(?:,? (\w+))?")


_PULSES_PATTERN = (
    rf"([Ss]traight|[1-{MOST_PULSES}])( (pulses )?(a|to the|per) beat)?(,? ({'|'.join(Depth)}))?"
)


def _one_vibrato(node: yaml.Node) -> Vibrato:
    typed = scalar(node)
    match = _PULSES.fullmatch(folded(typed))
    if match is None or (match[2] or Depth.DEEPER) not in set(Depth):
        raise misread(node, f"'{typed}' is no vibrato read here.")
    per_beat = 0 if match[1] == "straight" else int(match[1])
    if per_beat > MOST_PULSES or (match[1] != "straight" and per_beat < 1):
        raise misread(node, f"{match[1]} pulses to a beat can't be played.")
    return Vibrato(per_beat, Depth(match[2]) if match[2] else None)


_VIBRATO_ITEM = {
    "anyOf": [
        {"type": "integer", "minimum": 1, "maximum": MOST_PULSES},
        {"type": "string", "pattern": patterns.whole(_PULSES_PATTERN)},
    ]
}
VIBRATO: Reader[tuple[Vibrato, ...]] = Reader(
    f"'straight', or pulses to a beat, 1 to {MOST_PULSES}: '4 a beat', '4 a beat, deeper', "
    "'4 a beat, lighter'; or a list of these, one for each round",
    lambda node: items(node, _one_vibrato),
    {"anyOf": [*_VIBRATO_ITEM["anyOf"], {"type": "array", "minItems": 1, "items": _VIBRATO_ITEM}]},
)


def _one_colour(node: yaml.Node) -> str:
    return scalar(node, LONGEST_COLOUR)


_COLOUR_SCHEMA = {"type": "string", "minLength": 1, "maxLength": LONGEST_COLOUR}
COLOURS: Reader[tuple[str, ...]] = Reader(
    "your words for the colours, one for each round: [dark, bright]",
    lambda node: items(node, _one_colour),
    {"anyOf": [_COLOUR_SCHEMA, {"type": "array", "minItems": 1, "items": _COLOUR_SCHEMA}]},
)


def _one_pair(node: yaml.Node) -> tuple[Pitch, Pitch]:
    typed = scalar(node)
    words = typed.split()
    if len(words) != 2:
        raise misread(node, f"'{typed}' is not a pair of notes.")
    first, second = (one_pitch(part(node, word)) for word in words)
    if not 1 <= abs(first.midi - second.midi) <= LARGEST_TRILL_SEMITONES:
        raise misread(
            node, f"{first} and {second} can't be trilled.", "Write notes up to a third apart."
        )
    return first, second


_PAIR_SCHEMA = {
    "type": "string",
    "pattern": patterns.whole(rf"{patterns.WORD_PITCH}\s+{patterns.WORD_PITCH}"),
}
PAIRS: Reader[tuple[tuple[Pitch, Pitch], ...]] = Reader(
    "pairs of notes with their octaves, the main note first: [G4 A4, D#5 E5]",
    lambda node: items(node, _one_pair),
    {"anyOf": [_PAIR_SCHEMA, {"type": "array", "minItems": 1, "items": _PAIR_SCHEMA}]},
)
RHYTHMS: Reader[tuple[int, ...]] = Reader(
    "rhythms, one for each round: [eighths, triplets, sixteenths]",
    lambda node: items(node, RHYTHM.read),
    {"anyOf": [*RHYTHM.schema["anyOf"], {"type": "array", "minItems": 1, "items": RHYTHM.schema}]},
)
