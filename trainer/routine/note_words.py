"""Reading what is played: instrument, tuning, range, pattern, rhythm, long notes."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

import yaml

from trainer.music.bars import Meter
from trainer.music.breath import COMFORTABLE_PHRASE_S
from trainer.music.instrument import INSTRUMENT_NAMES, INSTRUMENT_SPELLINGS, instrument_named
from trainer.music.layout import PATTERNS, STEPWISE, End, Pattern, pattern_named
from trainer.music.pitch import Pitch
from trainer.music.rhythm import GROUPINGS, RHYTHMS
from trainer.music.tuning import HIGHEST_A4_HZ, LOWEST_A4_HZ
from trainer.routine import patterns
from trainer.routine.key_words import PITCH, one_pitch
from trainer.routine.model import (
    FromTo,
    FullRange,
    Held,
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
    part,
    scalar,
    times,
)

# Instrument and tuning


def _instrument(node: yaml.Node) -> str:
    typed = scalar(node)
    try:
        return instrument_named(typed).name
    except ValueError:
        mend = meant(typed, dict.fromkeys(INSTRUMENT_NAMES), INSTRUMENT.says)
        raise misread(node, f"'{typed}' is not an instrument here.", mend) from None


_SPELLINGS = "|".join(map(patterns.first_letter_free, INSTRUMENT_SPELLINGS))
INSTRUMENT: Reader[str] = Reader(
    f"an instrument: {listed(INSTRUMENT_NAMES)}",
    _instrument,
    {"type": "string", "pattern": patterns.whole(_SPELLINGS)},
)

_A4 = re.compile(
    r"(?:a(?:4\s*(?:=|at\b|\s)|\s*(?:=|at\b)?)\s*)?(\d+(?:[.,]\d+)?)\s*(?:hz)?", re.IGNORECASE
)


_A4_PATTERN = patterns.whole(
    r"([Aa](4\s*(=|at\b|\s)|\s*(=|at\b)?)\s*)?"
    + patterns.number_between(LOWEST_A4_HZ, HIGHEST_A4_HZ)
    + r"\s*([Hh]z)?"
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
    {
        "anyOf": [
            {"type": "number", "minimum": LOWEST_A4_HZ, "maximum": HIGHEST_A4_HZ},
            {"type": "string", "pattern": _A4_PATTERN},
        ]
    },
)
TEMPERAMENT: Reader[bool] = choice(
    "a temperament", {"equal": False, "pure above the drone": True, "pure": True}
)

# Range, pattern, rhythm

_WORDS_FOR_COUNTS = {"one": 1, "two": 2, "three": 3}
_OCTAVES = re.compile(r"(one|two|three|\d{1,3}) octaves?")
_FROM_TO = re.compile(r"(?:from\s+)?(.+?)\s+to\s+(.+)", re.IGNORECASE)
_FULL = {
    "full": End.TOP,
    "full, top first": End.TOP,
    "full, bottom first": End.BOTTOM,
}


_RANGE_PATTERN = patterns.whole(
    r"([Oo]ne|[Tt]wo|[Tt]hree|[1-3]) octaves?"
    rf"|([Ff]rom\s+)?{patterns.PITCH}\s+to\s+{patterns.PITCH}"
)


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
    if from_to is None and re.fullmatch(r"\S+\d[ -]+\S+\d", typed.strip()):
        low_high = re.split(r"[ -]+", typed.strip())
        mend = f"Write 'to' between them: '{' to '.join(low_high)}'."
        raise misread(node, f"'{typed}' is not a range.", mend)
    if from_to is not None:
        low, high = (one_pitch(part(node, one)) for one in from_to.groups())
        if low.midi >= high.midi:
            raise misread(node, f"{low} is not below {high}.", f"Write '{high} to {low}'.")
        return FromTo(low, high)
    raise misread(node, f"'{typed}' is not a range.", meant(typed, _RANGE_WORDS, RANGE.says))


_RANGE_WORDS = dict.fromkeys([*_FULL, "one octave", "two octaves", "three octaves"])


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
"""Degrees in a pattern, and the highest of them: two octaves."""


PATTERN: Reader[Pattern] = Reader(
    f"a pattern: straight, {', '.join(list(PATTERNS)[1:])}, or degrees such as '1-3-2-4'",
    _pattern,
    {
        "anyOf": [
            {"enum": ["straight", *PATTERNS]},
            {"type": "string", "pattern": patterns.whole(r"1(-\d{1,2}){1,15}")},
        ]
    },
)

MOST_NOTES_PER_BEAT = 12
"""Faster than any tongue or finger at 60."""
BRITISH = {"crotchets": 1, "quavers": 2, "semiquavers": 4, "demisemiquavers": 8}
_PER_BEAT = re.compile(r"(\d{1,4})(?: (?:notes )?(?:per|to the|to a) beat)?")


_PER_BEAT_PATTERN = (
    patterns.number_between(1, MOST_NOTES_PER_BEAT) + r"( (notes )?(per|to the|to a) beat)?"
)


def _rhythm(node: yaml.Node) -> int:
    typed = scalar(node)
    words = re.sub(r" notes?$", "", folded(typed))
    known = GROUPINGS | BRITISH
    spelled = {folded(word): count for word, count in known.items()}
    words = f"{words}s" if f"{words}s" in spelled else words
    if words in spelled:
        return spelled[words]
    match = _PER_BEAT.fullmatch(words)
    if words in RHYTHMS:
        mend = f"Write 'practice rhythm: {words}' for it, and the note values here."
        raise misread(node, f"'{typed}' is no number of notes to a beat.", mend)
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
            {"enum": [*GROUPINGS, *BRITISH]},
            {"type": "string", "pattern": patterns.whole(_PER_BEAT_PATTERN)},
        ]
    },
)

_FIGURE = re.compile(r"\d{1,2}([- ]\d{1,2}){1,7}")
EVEN = "even"
LONGEST_IN_FIGURE = 8
"""A length in a rhythm, against the shortest."""


def _one_figure(node: yaml.Node) -> tuple[int, ...]:
    typed = scalar(node)
    words = folded(typed)
    if words == EVEN:
        return ()
    if words in RHYTHMS:
        return RHYTHMS[words]
    if _FIGURE.fullmatch(words) is None:
        known = dict.fromkeys([EVEN, *RHYTHMS])
        raise misread(node, f"'{typed}' is not a rhythm.", meant(typed, known, FIGURES.says))
    lengths = tuple(int(length) for length in words.split())
    if not all(1 <= length <= LONGEST_IN_FIGURE for length in lengths):
        mend = f"Write lengths from 1 to {LONGEST_IN_FIGURE}."
        raise misread(node, f"'{typed}' can't be played.", mend)
    return lengths


_FIGURE_SCHEMA: dict[str, Any] = {
    "anyOf": [
        {"enum": [EVEN, *RHYTHMS]},
        {"type": "string", "pattern": r"^\s*[1-8]([- ][1-8]){1,7}\s*$"},
    ]
}
FIGURES: Reader[tuple[tuple[int, ...], ...]] = Reader(
    f"practice rhythms, one for each round: {EVEN}, {', '.join(RHYTHMS)}, or lengths such as '3-1'",
    lambda node: items(node, _one_figure),
    {
        "anyOf": [
            *_FIGURE_SCHEMA["anyOf"],
            {"type": "array", "minItems": 1, "items": _FIGURE_SCHEMA},
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


_PARTIALS = times("how many partials, the root being the first", 6, 2)
_ORDINALS = {"second": "2", "third": "3", "fourth": "4", "fifth": "5", "sixth": "6"}


def _partials(node: yaml.Node) -> int:
    words = re.sub(r"^the | (partials?|harmonics?)$", "", folded(scalar(node)))
    plain = re.sub(r"(?<=\d)(nd|rd|th)$", "", _ORDINALS.get(words, words))
    return _PARTIALS.read(part(node, plain))


PARTIALS: Reader[int] = Reader(_PARTIALS.says, _partials, _PARTIALS.schema)
LONGEST_HELD = 60.0
"""Beats or seconds; longer is likely a slip of the pen."""
_HELD = re.compile(r"(\d+(?:[.,]\d+)?)(?: (?:to|-) (\d+(?:[.,]\d+)?))? ?(beats?|seconds?|secs?|s)?")
A_BREATH = "a breath"


def _held(node: yaml.Node) -> Fraction | Held:
    typed = scalar(node)
    words = folded(typed)
    if words in (A_BREATH, "one breath"):
        return Held(COMFORTABLE_PHRASE_S, COMFORTABLE_PHRASE_S, seconds=True)
    match = _HELD.fullmatch(re.sub(r"(?<=\d) ?[–-] ?(?=\d)", " to ", typed.strip().lower()))
    if match is None:
        raise misread(node, f"'{typed}' is no length for a note.")
    least = float(match[1].replace(",", "."))
    most = float((match[2] or match[1]).replace(",", "."))
    seconds = (match[3] or "").startswith("s")
    if not 0.25 <= least <= most <= LONGEST_HELD:
        raise misread(node, f"A note can't be held for {typed}.")
    if not seconds and most == least:
        return Fraction(round(4 * least), 4)
    return Held(least, most, seconds)


HELD: Reader[Fraction | Held] = Reader(
    "how long each note is held, in beats from 0.25 to 60, or '12 seconds', 'a breath', or two "
    "limits: '8 to 16 beats', '8 to 12 seconds'",
    _held,
    {
        "anyOf": [
            {"type": "number", "minimum": 0.25, "maximum": LONGEST_HELD},
            {"enum": [A_BREATH, "one breath"]},
            {
                "type": "string",
                "pattern": patterns.whole(
                    rf"{patterns.number_between(0.25, 60)}( ?(to|-) ?"
                    rf"{patterns.number_between(0.25, 60)})? ?(beats?|seconds?|secs?|s)?"
                ),
            },
        ]
    },
)

LONGEST_ROW_OF_NOTES = 2000
"""Characters."""


def _pitches(node: yaml.Node) -> tuple[Pitch, ...]:
    if isinstance(node, yaml.ScalarNode):
        words = re.split(r"[,\s]+", scalar(node, LONGEST_ROW_OF_NOTES).strip(", "))
        return tuple(one_pitch(part(node, word)) for word in words)
    return items(node, one_pitch)


PITCHES: Reader[tuple[Pitch, ...]] = Reader(
    "notes in order with their octaves: [B4, A#4, A4]",
    _pitches,
    {
        "anyOf": [
            {"type": "string", "pattern": patterns.whole(rf"({patterns.PITCH}[\s,]*)+")},
            {"type": "array", "minItems": 1, "items": PITCH.schema},
        ]
    },
)

_TIME = re.compile(r"(\d{1,2})\s*/\s*(2|4|8)")
_TIME_PATTERN = r"^\s*([1-9]|1[0-2])\s*/\s*(2|4|8)\s*$"
MOST_BEATS_IN_BAR = 12
"""As in 12/8."""


def _time(node: yaml.Node) -> Meter:
    typed = scalar(node)
    match = _TIME.fullmatch(typed)
    if match is None or not 1 <= int(match[1]) <= MOST_BEATS_IN_BAR:
        raise misread(node, f"'{typed}' is no time signature read here.")
    count, unit = int(match[1]), int(match[2])
    if unit == 8 and count > 3 and count % 3 == 0:
        return Meter(count // 3, Fraction(3, 2))
    return Meter(count, Fraction(4, unit))


TIME: Reader[Meter] = Reader(
    "a time signature over 2, 4 or 8: '3/4' or '6/8'",
    _time,
    {"type": "string", "pattern": _TIME_PATTERN},
)
