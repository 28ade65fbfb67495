"""Reading a key: 'E flat', 'by day through fifths', 'random minor', 'same as scale of the day'."""

from __future__ import annotations

import re
from collections.abc import Callable

import yaml

from trainer.music.key import Key, Mode, cycle, key_on, tonic_pitch
from trainer.music.pitch import LETTERS, Pitch
from trainer.routine import patterns
from trainer.routine.model import (
    FixedKey,
    KeyByDay,
    KeyChoice,
    KeyLike,
    KeyOfWeek,
    RandomKey,
    Relation,
)
from trainer.routine.other_words import key_meant, note_meant
from trainer.routine.problem import listed, nearest
from trainer.routine.reader import Reader, after_on_line, folded, items, misread, scalar

KeyAsked = Callable[[Mode | None], KeyChoice]
"""A key as written. Called with the mode that the scale or chord needs (None: either), it gives
the choice, or raises MisreadError where the two contradict each other."""

KEY_SAYS = (
    "a key such as 'E flat' or 'F sharp minor', a list of keys, 'by day through fifths' "
    "(or fourths, or semitones), 'random', 'random minor', 'of the week', or 'same as' an exercise "
    "above"
)
CYCLE_WORDS = {
    "fifths": "circle of fifths",
    "fourths": "circle of fourths",
    "semitones": "chromatic",
}
"""What a teacher writes after 'by day through' → the order of keys it means."""
OF_WEEK = "of week"
"""As it is read, without its articles."""

_SIGNS = {"": "", "sharp": "#", "#": "#", "♯": "#", "flat": "b", "b": "b", "♭": "b"}
_SIGN = r"(sharp|flat|#|b|♯|♭|)"
_KEY = re.compile(rf"([a-g])[ -]?{_SIGN}(?:[ -]+(major|minor))?", re.IGNORECASE)
_PITCH = re.compile(rf"([a-g])[ -]?{_SIGN}[ -]?(\d)", re.IGNORECASE)
_BY_DAY = re.compile(
    r"(?:(?P<mode>major|minor) )?(?:keys )?by day(?: through (?P<cycle>\w+))?"
    r"(?: from (?P<first>.+))?"
)
_ONE_A_DAY = re.compile(
    r"^(?:(?:through|around|round) )?(?P<cycle>fifths|fourths|semitones)"
    r"(?:,? (?:one|new|another)(?: key)? (?:a|per|every|each|)\s?day)?$"
)
"""What is left of 'the circle of fifths, one a day' without its articles."""
_RANDOM = re.compile(r"random(?: (?P<mode>major or minor|major|minor))?(?: keys?)?")
_CUT_BY_COMMENT = re.compile(r"\s#\s*(?:$|major\b|minor\b|\d)")


def one_pitch(node: yaml.Node) -> Pitch:
    """A written note: 'F#5', 'B flat 4'.

    Raises MisreadError for anything else.
    """
    typed = scalar(node)
    _refuse_comment(node, typed)
    match = _PITCH.fullmatch(typed)
    if match is None:
        raise misread(node, f"'{typed}' is not a note.", _note_mend(typed))
    letter, sign, octave = match.groups()
    return Pitch.parse(f"{letter}{_SIGNS[sign.lower()]}{octave}")


def _note_mend(typed: str) -> str:
    several = typed.split()
    if len(several) > 1 and all(_PITCH.fullmatch(one) for one in several):
        return f"Put a comma between: {', '.join(several)}."
    meant = note_meant(typed)
    if meant is not None:
        return f"Did you mean '{meant}'?"
    if _KEY.fullmatch(typed):
        return "Write its octave too: G4 is the G on the second line of the staff."
    return "Write a letter, sharp or flat, and the octave: 'F#5' or 'B flat 4'."


PITCH: Reader[Pitch] = Reader(
    "a note with its octave: 'F#5' or 'B flat 4'",
    one_pitch,
    {"type": "string", "pattern": patterns.whole(patterns.PITCH)},
)


def _refuse_comment(node: yaml.Node, typed: str) -> None:
    """' #' begins a comment in YAML, so 'F # minor' would silently be F major."""
    plain = isinstance(node, yaml.ScalarNode) and node.style is None
    if plain and _CUT_BY_COMMENT.match(after_on_line(node)):
        raise misread(
            node,
            f"Only '{typed}' is read here, for ' #' begins a comment.",
            f"Write '{typed} sharp' or '{typed}#' without a space.",
        )


def _tonic_and_mode(node: yaml.Node) -> tuple[str, Mode | None]:
    typed = scalar(node)
    _refuse_comment(node, typed)
    match = _KEY.fullmatch(typed)
    if match is None:
        raise misread(node, f"'{typed}' is not a key.", _key_mend(typed))
    letter, sign, mode = match.groups()
    return letter.upper() + _SIGNS[sign.lower()], Mode(mode.lower()) if mode else None


_WITH_FORM = re.compile(
    r"(?P<key>.+?)[ -]+(?P<form>harmonic|melodic|natural) minor|(?P<tonic>.+?)[ -]+(?P<other>"
    r"dorian|phrygian|lydian|mixolydian|locrian|chromatic|pentatonic|blues)",
    re.IGNORECASE,
)


_EVERY_KEY = re.compile(r"(?:in )?(?:all|every)(?: the)?(?: (major|minor))?(?: keys?| scales?)?")


def _key_mend(typed: str) -> str:
    """What to write instead of something that is no key."""
    both = _WITH_FORM.fullmatch(folded(typed))
    if both is not None and both["key"]:
        key = f"{both['key'][0].upper()}{both['key'][1:]} minor"
        return f"Write the key and the form: 'key: {key}' and 'form: {both['form']} minor'."
    if both is not None:
        key = f"{both['tonic'][0].upper()}{both['tonic'][1:]}"
        return f"Write the key and the form: 'key: {key}' and 'form: {both['other']}'."
    every = _EVERY_KEY.fullmatch(folded(typed))
    if every is not None:
        mode = f"{every[1]} keys " if every[1] else ""
        return (
            f"Write '{mode}by day through fifths' for one key a day, or an exercise for each key "
            "that is to be played on one day."
        )
    return f"{_key_question(typed)}Write {KEY_SAYS}."


def _key_question(typed: str) -> str:
    meant = key_meant(typed)
    if meant is not None:
        return f"Did you mean '{meant}'? "
    names = [
        f"{letter.lower()}{sign}{mode}"
        for letter in LETTERS
        for sign in ("", " flat", " sharp")
        for mode in ("", " major", " minor")
    ]
    phrases = ["random", "random minor", "random major", "by day", "by day through fifths"]
    near = nearest(folded(typed), [*names, *phrases])
    if near is None:
        return ""
    return f"Did you mean '{near[0].upper() + near[1:] if near in names else near}'? "


def _key(node: yaml.Node, tonic: str, said: Mode | None, needed: Mode | None) -> Key:
    if said is not None and needed is not None and said is not needed:
        raise misread(
            node,
            f"The key is {said}, but the form or chord asked for is {needed}.",
            f"Write the key in {needed}, or leave out 'form' and 'chord'.",
        )
    mode = said or needed or Mode.MAJOR
    key = key_on(tonic, mode)
    if key is None:
        other = _other_name(tonic, mode)
        raise misread(
            node,
            f"{tonic[0]} {'sharp' if '#' in tonic else 'flat'} {mode} "
            "would need more than seven sharps or flats.",
            f"Write {other} instead.",
        )
    return key


def _other_name(tonic: str, mode: Mode) -> Key:
    """The key that sounds the same as one that can't be written."""
    return cycle("chromatic", mode)[tonic_pitch(tonic).midi % 12]


def _named_keys(node: yaml.Node) -> Callable[[Mode | None], tuple[Key, ...]]:
    read = items(node, lambda item: (item, *_tonic_and_mode(item)))
    return lambda needed: tuple(_key(item, tonic, said, needed) for item, tonic, said in read)


def fixed_key(node: yaml.Node) -> Key:
    """One key, named: 'E flat', 'F sharp minor'. Raises MisreadError for anything else."""
    typed = scalar(node)
    if _KEY.fullmatch(typed) is None:
        raise misread(
            node, f"'{typed}' is not a key.", f"{_key_question(typed)}Write {ONE_KEY.says}."
        )
    return _key(node, *_tonic_and_mode(node), None)


def read_key(node: yaml.Node) -> KeyAsked:
    """Any way of asking for a key."""
    if isinstance(node, yaml.MappingNode):
        return _key_of_mapping(node)
    if isinstance(node, yaml.SequenceNode):
        keys = _named_keys(node)
        return lambda needed: KeyByDay(keys(needed))
    words = re.sub(r"\b(the|circle of|a) ", "", folded(scalar(node)))
    if words == OF_WEEK:
        return lambda _needed: KeyOfWeek()
    for relation in Relation:
        if words.startswith(f"{relation} "):
            name = re.split(r"\b(?:as|of)\s+", scalar(node), maxsplit=1)[1].strip()
            return lambda _needed: KeyLike(name, relation)
    words = _ONE_A_DAY.sub(r"by day through \g<cycle>", words)
    by_day, random = _BY_DAY.fullmatch(words), _RANDOM.fullmatch(words)
    if by_day is not None:
        return _by_day(node, by_day["mode"], by_day["cycle"] or "fifths", by_day["first"])
    if random is not None:
        return _random(node, random["mode"])
    keys = _named_keys(node)
    return lambda needed: _one_or_by_day(keys(needed))


def _one_or_by_day(keys: tuple[Key, ...]) -> KeyChoice:
    return FixedKey(keys[0]) if len(keys) == 1 else KeyByDay(keys)


def _by_day(node: yaml.Node, mode: str | None, order: str, first: str | None) -> KeyAsked:
    if order not in CYCLE_WORDS:
        near = nearest(order, CYCLE_WORDS)
        question = f"Did you mean '{near}'? " if near is not None else ""
        raise misread(
            node,
            f"'{order}' is no way through the keys.",
            f"{question}Write 'by day through' {listed(CYCLE_WORDS)}.",
        )
    start = yaml.ScalarNode("", first or "C", node.start_mark, node.end_mark, style="'")
    tonic, said_first = _tonic_and_mode(start)
    said = Mode(mode) if mode else said_first

    def choice(needed: Mode | None) -> KeyChoice:
        begun = "A" if (said or needed) is Mode.MINOR and first is None else tonic
        key = _key(node, begun, said, needed)
        return KeyByDay(cycle(CYCLE_WORDS[order], key.mode, key.tonic))

    return choice


def _random(node: yaml.Node, mode: str | None) -> KeyAsked:
    def choice(needed: Mode | None) -> KeyChoice:
        if mode == "major or minor":
            modes = [needed] if needed else list(Mode)
        else:
            modes = [_key(node, "C", Mode(mode) if mode else None, needed).mode]
        return RandomKey(tuple(key for one in modes for key in cycle("circle of fifths", one)))

    return choice


def _key_of_mapping(node: yaml.MappingNode) -> KeyAsked:
    if len(node.value) != 1:
        raise misread(node, "A key has one field at most.", _MAPPING_MEND)
    name, value = node.value[0]
    keys = _named_keys(value)
    match folded(scalar(name)):
        case "by day":
            return lambda needed: KeyByDay(keys(needed))
        case "random":
            return lambda needed: RandomKey(keys(needed))
    raise misread(name, f"'{scalar(name)}' is not known in a key.", _MAPPING_MEND)


_MAPPING_MEND = "Write {by day: [C, G, D]} or {random: [C, G, D]}."

_FIXED_SCHEMA = {"type": "string", "pattern": patterns.whole(patterns.FIXED_KEY)}
_FIXED_SCHEMAS = {
    "anyOf": [_FIXED_SCHEMA, {"type": "array", "minItems": 1, "items": _FIXED_SCHEMA}]
}
KEY: Reader[KeyAsked] = Reader(
    KEY_SAYS,
    read_key,
    {
        "anyOf": [
            {"type": "string", "pattern": patterns.whole(patterns.KEY_PHRASE)},
            *_FIXED_SCHEMAS["anyOf"],
            {
                "type": "object",
                "minProperties": 1,
                "maxProperties": 1,
                "properties": {"by day": _FIXED_SCHEMAS, "random": _FIXED_SCHEMAS},
                "additionalProperties": False,
            },
        ]
    },
)
ONE_KEY: Reader[KeyAsked] = Reader(
    "a key such as 'E flat' or 'F sharp minor'", read_key, _FIXED_SCHEMA
)
"""Where a key can't change from day to day; whether it does is asked when the entry is built."""
