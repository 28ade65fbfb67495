"""Reading single values: words, numbers with units, choices, notes; each says what it takes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Generic, TypeVar

import yaml

from trainer.routine import patterns
from trainer.routine.number_words import COUNTS
from trainer.routine.other_words import composed
from trainer.routine.problem import listed, nearest

T = TypeVar("T")


@dataclass(frozen=True)
class Fault:
    """A mistake at a node, before it is known which file it stands in."""

    node: yaml.Node
    what: str
    mend: str
    """Empty: the reader's own 'Write …' is put there."""


class MisreadError(Exception):
    """One or several mistakes found while reading a value."""

    def __init__(self, *faults: Fault) -> None:
        super().__init__("; ".join(fault.what for fault in faults))
        self.faults = faults


def misread(node: yaml.Node, what: str, mend: str = "") -> MisreadError:
    """One mistake, to be raised."""
    return MisreadError(Fault(node, what, mend))


@dataclass(frozen=True)
class Reader(Generic[T]):
    """How one value is read, and how that is explained."""

    says: str
    """What may be written, to follow 'Write': 'a tempo in beats a minute, 30 to 208'."""
    read: Callable[[yaml.Node], T]
    """Raises MisreadError."""
    schema: Mapping[str, Any]
    """The JSON Schema (2020-12) of what may be written."""


def read_or_say(reader: Reader[T], node: yaml.Node) -> T:
    """The value; the reader's own 'Write …' stands with every mistake that has no mending yet.

    Raises MisreadError for anything else.
    """
    try:
        return reader.read(node)
    except MisreadError as mistake:
        raise MisreadError(
            *(
                Fault(fault.node, fault.what, fault.mend or f"Write {reader.says}.")
                for fault in mistake.faults
            )
        ) from None


def folded(text: str) -> str:
    """Lower case with single spaces, so that 'Air-Only' and 'air only' are the same word."""
    return re.sub(r"[\s\-_]+", " ", text).strip().lower()


LONGEST_VALUE = 300
"""Letters in a value that is no text of the teacher's."""


def scalar(node: yaml.Node, longest: int = LONGEST_VALUE) -> str:
    """The one value written at a node, as typed.

    Raises MisreadError for anything else.
    """
    if isinstance(node, yaml.SequenceNode):
        raise misread(node, "There is a list where one value is wanted.")
    if isinstance(node, yaml.MappingNode):
        names = [one.value for one, value in node.value if not value.value]
        if node.flow_style and len(names) == len(node.value) > 0:
            what = "Braces are for fields with colons; a list is written in square brackets."
            raise misread(node, what, f"Write [{', '.join(map(str, names))}].")
        raise misread(node, "Fields with colons stand where one value is wanted.")
    text = str(node.value).strip()
    if not text:
        raise misread(node, "Nothing is written here.")
    if len(text) > longest:
        raise misread(node, f"This is {len(text)} letters long.", f"Keep it under {longest}.")
    return text


def is_word(node: yaml.Node, word: str) -> bool:
    """Whether just this word stands here."""
    return isinstance(node, yaml.ScalarNode) and folded(node.value) == word


def part(node: yaml.Node, text: str) -> yaml.ScalarNode:
    """A piece of a value as a node of its own, to be read by another reader."""
    return yaml.ScalarNode(node.tag, text, node.start_mark, node.end_mark, style="'")


def after_on_line(node: yaml.Node) -> str:
    """What stands on the node's last line behind it: perhaps a comment."""
    mark = node.end_mark
    if mark is None or mark.buffer is None:
        return ""
    return re.split(r"[\n\0]", mark.buffer[mark.pointer :], maxsplit=1)[0]


def text(says: str, longest: int = 2000) -> Reader[str]:
    """Words of the teacher's."""

    def read(node: yaml.Node) -> str:
        return scalar(node, longest)

    schema = {"type": ["string", "number", "boolean"], "minLength": 1, "maxLength": longest}
    return Reader(says, read, schema)


_NUMBER = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*([^\d\s].*)?")


def number(name: str, lowest: float, highest: float, units: tuple[str, ...] = ()) -> Reader[float]:
    """A number in a range, with or without its unit behind it.

    Raises MisreadError for anything else.
    """
    unit = f" {units[0]}" if units else ""
    says = f"{name}: a number from {lowest:g} to {highest:g}{unit}"

    def read(node: yaml.Node) -> float:
        typed = scalar(node)
        match = _NUMBER.fullmatch(typed)
        if match is None or (match[2] is not None and folded(match[2]) not in units):
            raise misread(node, f"'{typed}' is not a number{' of ' + units[0] if units else ''}.")
        value = float(match[1].replace(",", "."))
        if not lowest <= value <= highest:
            side = "less" if value < lowest else "more"
            raise misread(node, f"{typed} is {side} than this can be.")
        return value

    return Reader(
        says,
        read,
        {
            "anyOf": [
                {"type": "number", "minimum": lowest, "maximum": highest},
                {"type": "string", "pattern": _number_pattern(lowest, highest, units)},
            ]
        },
    )


def _number_pattern(lowest: float, highest: float, units: tuple[str, ...]) -> str:
    unit = rf"\s*({'|'.join(map(re.escape, units))})?" if units else ""
    return patterns.whole(patterns.number_between(lowest, highest) + unit)


def whole(name: str, lowest: int, highest: int, units: tuple[str, ...] = ()) -> Reader[int]:
    """A whole number in a range.

    Raises MisreadError for anything else.
    """
    numbers = number(name, lowest, highest, units)
    says = numbers.says.replace("a number", "a whole number")

    def read(node: yaml.Node) -> int:
        value = numbers.read(node)
        if value != int(value):
            raise misread(node, f"{scalar(node)} is not a whole number.")
        return int(value)

    plain, with_unit = numbers.schema["anyOf"]
    return Reader(says, read, {"anyOf": [plain | {"type": "integer"}, with_unit]})


_TIMES = re.compile(rf"({'|'.join(COUNTS)}|\d{{1,4}})(?: (times|rounds?|x))?")


def times(name: str, most: int, least: int = 1) -> Reader[int]:
    """How often: '4', 'four', '4 times', 'twice'.

    Raises MisreadError for anything else.
    """
    says = f"{name}: '{least + 1} times', or a whole number from {least} to {most}"

    def read(node: yaml.Node) -> int:
        typed = scalar(node)
        match = _TIMES.fullmatch(folded(typed))
        if typed.startswith(("-", "\N{MINUS SIGN}")):
            raise misread(node, f"{typed} is less than this can be.")
        if match is None:
            what = "not a whole number" if re.fullmatch(r"[\d.,]+", typed) else "no number of times"
            near = nearest(folded(typed), COUNTS)
            mend = f"Did you mean '{near}'? Write {says}." if near is not None else ""
            raise misread(node, f"{typed} is {what}.", mend)
        count = COUNTS.get(match[1]) or int(match[1])
        if not least <= count <= most:
            raise misread(
                node, f"{typed} is {'less' if count < least else 'more'} than this can be."
            )
        return count

    words = "|".join(patterns.first_letter_free(w) for w, n in COUNTS.items() if least <= n <= most)
    numbers = patterns.number_between(least, most)
    written = patterns.whole(rf"({words}|{numbers})( (times|rounds?|x))?")
    plain = {"type": "integer", "minimum": least, "maximum": most}
    return Reader(says, read, {"anyOf": [plain, {"type": "string", "pattern": written}]})


def choice(
    name: str, values: Mapping[str, T], same: Mapping[str, str] = MappingProxyType({})
) -> Reader[T]:
    """One of the words of a table; `same`: other words, and the word of the table each means.

    Raises MisreadError for anything else.
    """
    others = {word: values[ours] for word, ours in same.items()}
    known = {folded(word): value for word, value in {**others, **values}.items()}
    says = f"{name}: {listed(values)}"

    def read(node: yaml.Node) -> T:
        typed = scalar(node)
        if folded(composed(typed)) not in known:
            mend = meant(typed, {**values, **others}, says, values)
            raise misread(node, f"'{typed}' is not known here as {name}.", mend)
        return known[folded(composed(typed))]

    return Reader(says, read, {"enum": [*values, *same]})


def meant(typed: str, known: Mapping[str, Any], says: str, first: Iterable[str] = ()) -> str:
    """How to mend an unknown word: the nearest one, and all of them.

    `first`: of the known words those that are suggested before the others.
    """
    spelled = {folded(word): word for word in known}
    several = _without_commas(folded(typed), spelled)
    if several:
        return (
            f"Put a comma between: '{', '.join(spelled[word] for word in several)}'. Write {says}."
        )
    near = nearest(folded(typed), map(folded, first)) or nearest(folded(typed), spelled)
    question = f"Did you mean '{spelled[near]}'? " if near is not None else ""
    return f"{question}Write {says}."


def _without_commas(typed: str, known: Mapping[str, str]) -> list[str]:
    """The known words that stand one behind the other; empty where it is anything else."""
    found: list[str] = []
    rest = re.sub(r"[,;/()]", " ", typed)
    rest = " ".join(rest.split())
    while rest:
        fitting = [word for word in known if rest == word or rest.startswith(f"{word} ")]
        if not fitting:
            return []
        found.append(max(fitting, key=len))
        rest = rest[len(found[-1]) :].strip()
    return found if len(found) > 1 else []


LONGEST_LIST = 60
"""Entries of any list in a routine."""


def items(node: yaml.Node, one: Callable[[yaml.Node], T]) -> tuple[T, ...]:
    """Each item of a list, or the one value; every mistake among them at once.

    A list may also be written without brackets, its items parted by commas. Raises MisreadError
    for anything else.
    """
    if isinstance(node, yaml.ScalarNode):
        return _without_brackets(node, one)
    nodes = node.value if isinstance(node, yaml.SequenceNode) else [node]
    if not nodes:
        raise misread(node, "The list is empty.")
    if len(nodes) > LONGEST_LIST:
        what = f"There are {len(nodes)} things in this list."
        raise misread(node, what, f"Keep it to {LONGEST_LIST} at most.")
    values: list[T] = []
    faults: list[Fault] = []
    for item in nodes:
        try:
            values.append(one(item))
        except MisreadError as mistake:
            faults.extend(mistake.faults)
    if faults:
        raise MisreadError(*faults)
    return tuple(values)


_PARTED = re.compile(r"\s*,\s*(?:(?:and\s+)?then\s+|and\s+)?")


def _without_brackets(node: yaml.ScalarNode, one: Callable[[yaml.Node], T]) -> tuple[T, ...]:
    """The one value; else those parted by commas, if any of them is known by itself."""
    try:
        return (one(node),)
    except MisreadError as mistake:
        whole = mistake
    words = _PARTED.split(str(node.value).strip())
    if not 1 < len(words) <= LONGEST_LIST:
        raise whole
    read, faults = list[T](), list[Fault]()
    for word in words:
        try:
            read.append(one(part(node, word)))
        except MisreadError as mistake:
            faults.extend(mistake.faults)
    if not read:
        raise whole
    if faults:
        raise MisreadError(*faults)
    return tuple(read)


def read_mapping(
    node: yaml.Node, readers: dict[str, Callable[[yaml.Node], Any]], where: str
) -> dict[str, Any]:
    """A small mapping read by a table of its fields.

    Raises MisreadError for anything else.
    """
    found: dict[str, Any] = {}
    faults: list[Fault] = []
    for name, value in node.value:
        typed = scalar(name)
        if folded(typed) not in readers:
            mend = meant(typed, dict.fromkeys(readers), listed(f"'{known}:'" for known in readers))
            faults.append(Fault(name, f"'{typed}' is not known in {where}.", mend))
            continue
        try:
            found[folded(typed)] = readers[folded(typed)](value)
        except MisreadError as mistake:
            faults.extend(mistake.faults)
    if faults:
        raise MisreadError(*faults)
    return found


_DURATION = re.compile(
    r"(?:(?P<m>\d+(?:[.,]\d+)?)\s*(?:minutes?|min|m)\b)?\s*(?:and\s+)?"
    r"(?:(?P<s>\d+(?:[.,]\d+)?)\s*(?:seconds?|secs?|s)\b)?"
)
_LENGTHS = {**COUNTS, "half a": 0.5, "a": 1, "fifteen": 15, "twenty": 20, "thirty": 30}
_NUMBER_WORD = re.compile(rf"\b({'|'.join(_LENGTHS)})\b(?= )")
_CLOCK = re.compile(r"(\d{1,2}):([0-5]\d)")
_WRITTEN = rf"(\d+([.,]\d+)?|({'|'.join(map(patterns.first_letter_free, _LENGTHS))}) )"
_DURATION_PATTERN = patterns.whole(
    rf"none|no|0|\d{{1,2}}:[0-5]\d|{_WRITTEN}\s*(seconds?|secs?|s)"
    rf"|{_WRITTEN}\s*(minutes?|min|m)(\s*(and\s+)?{_WRITTEN}\s*(seconds?|secs?|s))?"
)
LONGEST_REST_S = 3600.0
"""An hour: longer is the end of practice."""


def duration(name: str) -> Reader[float]:
    """A length of time with its unit, in seconds: '30 seconds', '2 minutes', '1:30', 'none'.

    Raises MisreadError for anything else.
    """
    says = f"{name} with its unit: '30 seconds', '2 minutes' or '1:30'"

    def read(node: yaml.Node) -> float:
        typed = scalar(node)
        seconds = _seconds(typed)
        if seconds is None:
            if re.fullmatch(r"\d+(\.\d+)?", typed):
                raise misread(node, f"{typed} of what: seconds or minutes?")
            raise misread(node, f"'{typed}' is not a length of time.")
        if seconds > LONGEST_REST_S:
            raise misread(node, f"{typed} is longer than an hour.")
        return seconds

    written = {"type": "string", "pattern": _DURATION_PATTERN}
    return Reader(says, read, {"anyOf": [{"const": 0}, written]})


def _seconds(typed: str) -> float | None:
    if folded(typed) in ("none", "no", "0"):
        return 0.0
    clock = _CLOCK.fullmatch(typed)
    if clock is not None:
        return 60.0 * int(clock[1]) + int(clock[2])
    digits = _NUMBER_WORD.sub(lambda word: str(_LENGTHS[word[0]]), typed.strip().lower())
    match = _DURATION.fullmatch(digits)
    if match is None or not (match["m"] or match["s"]):
        return None
    minutes, seconds = (float((match[part] or "0").replace(",", ".")) for part in "ms")
    return 60.0 * minutes + seconds
