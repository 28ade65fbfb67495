"""Reading what is played: instrument, tuning, range, pattern, rhythm, long notes."""

from __future__ import annotations

import re
from fractions import Fraction

import yaml

from trainer.music.instrument import INSTRUMENT_NAMES, instrument_named
from trainer.music.layout import PATTERNS, STEPWISE, End, Pattern, pattern_named
from trainer.music.pitch import Pitch
from trainer.music.rhythm import GROUPINGS
from trainer.music.tuning import HIGHEST_A4_HZ, LOWEST_A4_HZ
from trainer.routine.key_words import PITCH, one_pitch
from trainer.routine.model import (
    FromTo,
    FullRange,
    OctaveCount,
    RangeAsked,
)
from trainer.routine.problem import listed
from trainer.routine.reader import (
    Reader,
    choice,
    folded,
    items,
    meant,
    misread,
    number,
    scalar,
)

_TEXT = {"type": "string"}
_TEXT_OR_NUMBER = {"type": ["string", "number"]}

# Instrument and tuning


def _instrument(node: yaml.Node) -> str:
    typed = scalar(node)
    try:
        return instrument_named(typed).name
    except ValueError:
        mend = meant(typed, dict.fromkeys(INSTRUMENT_NAMES), INSTRUMENT.says)
        raise misread(node, f"'{typed}' is not an instrument here.", mend) from None


INSTRUMENT: Reader[str] = Reader(
    f"an instrument: {listed(INSTRUMENT_NAMES)}", _instrument, {"type": "string"}
)

_A4 = re.compile(
    r"(?:a(?:4\s*(?:=|at\b|\s)|\s*(?:=|at\b)?)\s*)?(\d+(?:[.,]\d+)?)\s*(?:hz)?", re.IGNORECASE
)


def _tuning(node: yaml.Node) -> float:
    typed = scalar(node)
    match = _A4.fullmatch(typed)
    if match is None:
        raise misread(node, f"'{typed}' is not a tuning.")
    a4_hz = float(match[1].replace(",", "."))
    if not LOWEST_A4_HZ <= a4_hz <= HIGHEST_A4_HZ:
        raise misread(node, f"A4 = {a4_hz:g} is no tuning a flute plays at.")
    return a4_hz


TUNING: Reader[float] = Reader(
    f"the A4 to tune to, from {LOWEST_A4_HZ:g} to {HIGHEST_A4_HZ:g} Hz: 'A4 = 442'",
    _tuning,
    _TEXT_OR_NUMBER,
)
TEMPERAMENT: Reader[bool] = choice("a temperament", {"equal": False, "pure above the drone": True})

# Range, pattern, rhythm

_WORDS_FOR_COUNTS = {"one": 1, "two": 2, "three": 3}
_OCTAVES = re.compile(r"(one|two|three|\d{1,3}) octaves?")
_FROM_TO = re.compile(r"(?:from\s+)?(.+?)\s+to\s+(.+)", re.IGNORECASE)
_FULL = {
    "full": End.TOP,
    "full, top first": End.TOP,
    "full, bottom first": End.BOTTOM,
}


_RANGE_PATTERN = r"^\s*((one|two|three|[1-3]) octaves?|(from\s+)?\S.*\d\s+to\s+\S.*\d)\s*$"


def _range(node: yaml.Node) -> RangeAsked:
    typed = scalar(node)
    words = folded(typed)
    if words in _FULL:
        return FullRange(_FULL[words])
    octaves, from_to = _OCTAVES.fullmatch(words), _FROM_TO.fullmatch(typed)
    if octaves is not None:
        count = _WORDS_FOR_COUNTS.get(octaves[1]) or int(octaves[1])
        if not 1 <= count <= 3:
            raise misread(node, f"A flute has no {count} octaves to play.")
        return OctaveCount(count)
    if from_to is not None:
        low, high = (one_pitch(_part(node, part)) for part in from_to.groups())
        if low.midi >= high.midi:
            raise misread(node, f"{low} is not below {high}.", "Write the lower note first.")
        return FromTo(low, high)
    raise misread(node, f"'{typed}' is not a range.", meant(typed, _FULL, RANGE.says))


def _part(node: yaml.Node, text: str) -> yaml.ScalarNode:
    """A piece of a value as a node of its own, to be read by another reader."""
    return yaml.ScalarNode(node.tag, text, node.start_mark, node.end_mark, style="'")


RANGE: Reader[RangeAsked] = Reader(
    "a range: 'full', 'full, bottom first', '2 octaves' or 'D4 to A6'",
    _range,
    {"anyOf": [{"enum": list(_FULL)}, {"type": "string", "pattern": _RANGE_PATTERN}]},
)


def _pattern(node: yaml.Node) -> Pattern:
    typed = scalar(node)
    words = " ".join(typed.lower().split())
    try:
        pattern = STEPWISE if words == "straight" else pattern_named(words)
    except ValueError:
        mend = meant(typed, PATTERNS, PATTERN.says)
        raise misread(node, f"'{typed}' is not a pattern.", mend) from None
    if len(pattern) > LONGEST_PATTERN or max(pattern) >= LONGEST_PATTERN:
        mend = f"Write {LONGEST_PATTERN} degrees at most, none above {LONGEST_PATTERN}."
        raise misread(node, "The pattern goes too far.", mend)
    return pattern


LONGEST_PATTERN = 16


PATTERN: Reader[Pattern] = Reader(
    f"a pattern: straight, {', '.join(list(PATTERNS)[1:])}, or degrees such as '1-3-2-4'",
    _pattern,
    {"anyOf": [{"enum": ["straight", *PATTERNS]}, {"type": "string", "pattern": r"^\s*\d"}]},
)

MOST_NOTES_PER_BEAT = 12
_BRITISH = {"crotchets": 1, "quavers": 2, "semiquavers": 4, "demisemiquavers": 8}
_PER_BEAT = re.compile(r"(\d{1,4})(?: (?:notes )?(?:per|to the|to a) beat)?")


def _rhythm(node: yaml.Node) -> int:
    typed = scalar(node)
    words = folded(typed)
    known = GROUPINGS | _BRITISH
    spelled = {folded(word): count for word, count in known.items()}
    if words in spelled:
        return spelled[words]
    match = _PER_BEAT.fullmatch(words)
    if match is None:
        raise misread(node, f"'{typed}' is not a rhythm.", meant(typed, known, RHYTHM.says))
    if not 1 <= int(match[1]) <= MOST_NOTES_PER_BEAT:
        raise misread(node, f"{match[1]} notes to a beat can't be played.")
    return int(match[1])


RHYTHM: Reader[int] = Reader(
    f"a rhythm: {', '.join(GROUPINGS)}, or '5 per beat' (1 to {MOST_NOTES_PER_BEAT})",
    _rhythm,
    {
        "anyOf": [
            {"type": "integer", "minimum": 1, "maximum": MOST_NOTES_PER_BEAT},
            {"enum": [*GROUPINGS, *_BRITISH]},
            {"type": "string", "pattern": r"^\s*\d"},
        ]
    },
)

# Long tones and passages


def _beats(name: str, highest: int) -> Reader[Fraction]:
    numbers = number(name, 0.25, highest, ("beats", "beat"))

    def read(node: yaml.Node) -> Fraction:
        return Fraction(round(4 * numbers.read(node)), 4)

    return Reader(numbers.says, read, numbers.schema)


BEATS_EACH = _beats("how long each note is held, in beats", 60)
BEATS_BETWEEN = _beats("how long to breathe between notes, in beats", 30)


def _pitches(node: yaml.Node) -> tuple[Pitch, ...]:
    if isinstance(node, yaml.ScalarNode):
        return tuple(one_pitch(_part(node, word)) for word in scalar(node).split())
    return items(node, one_pitch)


PITCHES: Reader[tuple[Pitch, ...]] = Reader(
    "notes in order with their octaves: [B4, A#4, A4]",
    _pitches,
    {"anyOf": [_TEXT, {"type": "array", "minItems": 1, "items": PITCH.schema}]},
)

_TIME = re.compile(r"(\d{1,3})\s*/\s*4")


def _time(node: yaml.Node) -> int:
    typed = scalar(node)
    match = _TIME.fullmatch(typed)
    if match is None or not 1 <= int(match[1]) <= 12:
        raise misread(node, f"'{typed}' is no time signature read here.")
    return int(match[1])


TIME: Reader[int] = Reader(
    "a time signature with quarter-note beats: '3/4'",
    _time,
    {"type": "string", "pattern": rf"^\s*{_TIME.pattern}\s*$"},
)
