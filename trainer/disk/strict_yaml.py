"""The one reader for every YAML file: text and lists and names, and nothing that could do more.

Anchors, aliases, tags, merge keys and complex names are refused with their line: none of our files
needs them, and a few bytes of them can ask for hours or for code. Numbers are decimal; what YAML
1.1 would take for base 60, octal, hexadecimal, binary or a time stays text. What the trainer's
writer (PyYAML's safe dumper) writes is read back as it was.

Source of the rules left out: YAML 1.1 types (yaml.org/type) and YAML 1.2.2, chapter 10.3.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import yaml

from trainer.disk.outside_text import is_harmless

DEEPEST_NESTING = 12
"""Lists and names inside each other; a session nests six deep, a routine five."""
MOST_THINGS = 700_000
"""Values, names, lists: a long day's 500 rounds of 50 notes have 650 000."""
MOST_REPEATED = 100
"""Names that stand twice, told one by one; more of them tell nothing new."""
WRITERS_TAGS = frozenset({"!", "tag:yaml.org,2002:str", "tag:yaml.org,2002:timestamp"})
"""PyYAML's writer puts these before times inside braces; all they may say is that this is text."""
MOST_DIGITS = 15
"""Of a whole number: 64-bit floating point holds every one of these exactly (IEEE 754)."""
_PARSER: type = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""libyaml's where it is there, 20 times as fast, with the same positions."""


Place: TypeAlias = tuple[str | int, ...]
"""Where a value stands: ('rounds', 2, 'tempo_bpm')."""
Event: TypeAlias = Any
"""Of the parser: its kind is one of `yaml.events`; what each kind holds is told to no type."""


class StrictYamlError(Exception):
    """The text can't be read any further."""

    def __init__(
        self,
        what: str,
        mend: str,
        mark: yaml.Mark | None = None,
        complaint: yaml.MarkedYAMLError | None = None,
    ) -> None:
        super().__init__(f"{what} {mend}")
        self.what = what
        """What is wrong, a whole sentence."""
        self.mend = mend
        """How to mend it, a whole sentence."""
        self.line = None if mark is None else mark.line + 1
        """Line in the text, from 1; None where the text as a whole is meant."""
        self.column = None if mark is None else mark.column + 1
        """Column in the line, from 1; None where the text as a whole is meant."""
        self.complaint = complaint
        """The parser's own, where it was the parser that gave up."""


@dataclass(frozen=True)
class RepeatedName:
    """A name that stands a second time in one place: what stands there first is what was read."""

    name: str
    line: int
    """Of the second, from 1."""
    first_line: int

    @property
    def sentence(self) -> str:
        """What is wrong and how to mend it."""
        return (
            f"'{self.name}' is here for the second time, after line {self.first_line}, which "
            "is what was read; keep one of the two"
        )


@dataclass(frozen=True)
class YamlContent:
    """A document as plain Python: dict, list, str, int, float, bool or None."""

    plain: object
    repeated: tuple[RepeatedName, ...] = ()


def yaml_content(text: str) -> YamlContent:
    """The one document in a text; `plain` is None where there is none.

    Names are text, whatever they look like. Raises StrictYamlError for everything that can't be
    read or that no file of ours needs.
    """
    building = _PlainBuilding(_strict_events(text, WRITERS_TAGS))
    return YamlContent(building.document(), tuple(building.repeated))


def node_tree(
    text: str, file: str | None = None, text_tags: Collection[str] = ()
) -> yaml.Node | None:
    """The one document in a text as nodes whose values stay as typed, with their places in `text`.

    A value that holds what a terminal would obey is refused, however it was written. Each place
    also holds the file's name and the text, where there is a name. A name of a line that
    stands twice is there twice. `text_tags`: those that may stand before a text. Raises
    StrictYamlError as `yaml_content`.
    """
    return _NodeBuilding(_strict_events(text, text_tags), text + "\0", file).document()


def lines_of(text: str, places: Iterable[Place]) -> dict[Place, int]:
    """The line, from 1, of the value at each place, or of the nearest thing around it.

    Raises StrictYamlError as `yaml_content`.
    """
    events = _strict_events(text, WRITERS_TAGS)
    lines: dict[Place, int] = {}
    for root in events:
        _find_lines(root, events, {place: place for place in places}, lines)
    return lines


def _find_lines(
    event: Event, events: Iterator[Event], wanted: Mapping[Place, Place], lines: dict[Place, int]
) -> None:
    """`wanted`: whole place → what is left of it from here on."""
    lines |= dict.fromkeys(wanted, event.start_mark.line + 1)
    kind = type(event)
    if kind is yaml.ScalarEvent:
        return
    number = 0
    while type(inner := next(events)) not in _ENDS:
        if kind is yaml.SequenceStartEvent:
            step: str | int = number
            number += 1
        else:
            step = _name(inner)
            inner = next(events)
        within = {whole: left[1:] for whole, left in wanted.items() if left[:1] == (step,)}
        if within:
            _find_lines(inner, events, within, lines)
            wanted = {whole: left for whole, left in wanted.items() if whole not in within}
        elif type(inner) in _STARTERS:
            _pass_over(events)


def _pass_over(events: Iterator[Event]) -> None:
    """To the end of the list or the lines just begun."""
    depth = 1
    while depth:
        kind = type(next(events))
        depth += (kind in _STARTERS) - (kind in _ENDS)


def python_complaint(text: str) -> yaml.MarkedYAMLError | None:
    """What PyYAML's own parser says of a text that libyaml's refused: it says more; None if it
    finds nothing wrong.
    """
    try:
        deque(_allowed(_events(text, yaml.SafeLoader), ()), maxlen=0)
    except yaml.MarkedYAMLError as complaint:
        return complaint
    except (yaml.YAMLError, StrictYamlError):
        return None
    return None


_TOO_DEEP = (
    "Brackets or lists stand too deep inside each other.",
    "No file of the trainer needs that.",
)
_TOO_DEEP_FOR_LIBYAML = "exceeded maximum nesting depth"


def _events(text: str, parser: type) -> Iterator[Event]:
    parsing = parser(text)
    try:
        yield from iter(parsing.get_event, None)
    finally:
        parsing.dispose()


def _strict_events(text: str, text_tags: Collection[str]) -> Iterator[Event]:
    """The parser's events, each of them harmless. Raises StrictYamlError."""
    _refuse_unprintable(text)
    try:
        yield from _allowed(_events(text, _PARSER), text_tags)
    except yaml.MarkedYAMLError as complaint:
        mark = complaint.problem_mark or complaint.context_mark
        if complaint.problem == _TOO_DEEP_FOR_LIBYAML:
            raise StrictYamlError(*_TOO_DEEP, mark) from None
        raise StrictYamlError(
            f"YAML can't follow this line ({complaint.problem}).",
            "Fix it, or restore an older copy.",
            mark,
            complaint,
        ) from None
    except (yaml.YAMLError, ValueError, RecursionError) as fault:
        first_line = str(fault).partition("\n")[0] or type(fault).__name__
        raise StrictYamlError(
            f"This is not YAML ({first_line}).", "Fix it, or restore an older copy."
        ) from None


_UNPRINTABLE = (
    "This is not plain text: a character here can't be printed.",
    "Save the file as plain text in a text editor, not in a word processor.",
)


def _refuse_unprintable(text: str) -> None:
    found = yaml.reader.Reader.NON_PRINTABLE.search(text)
    if found is None:
        return
    at = found.start()
    line, column = text.count("\n", 0, at), at - (text.rfind("\n", 0, at) + 1)
    raise StrictYamlError(*_UNPRINTABLE, yaml.Mark("", at, line, column, None, 0))


_STARTERS = (yaml.MappingStartEvent, yaml.SequenceStartEvent)
_ENDS = (yaml.MappingEndEvent, yaml.SequenceEndEvent)
_FRAMES = (yaml.StreamStartEvent, yaml.StreamEndEvent, yaml.DocumentEndEvent)


def _allowed(events: Iterable[Event], text_tags: Collection[str]) -> Iterator[Event]:
    """What is in the one document of a text. Raises StrictYamlError for what may not be there."""
    depth = documents = things = 0
    for event in events:
        kind = type(event)
        if kind is yaml.ScalarEvent or kind in _STARTERS:
            things += 1
            if kind is not yaml.ScalarEvent:
                depth += 1
            if event.anchor is not None or event.tag is not None:
                _refuse_name_or_tag(event, text_tags)
            if depth > DEEPEST_NESTING:
                raise _at(event, *_TOO_DEEP)
            if things > MOST_THINGS:
                what = f"There are more than {MOST_THINGS} words and numbers in this file."
                raise _at(event, what, "No file of the trainer needs that; divide it.")
            yield event
        elif kind in _ENDS:
            depth -= 1
            yield event
        elif kind is yaml.DocumentStartEvent:
            documents += 1
            if documents > 1:
                what = "A second document begins here with '---'."
                raise _at(event, what, "Keep one of the two in each file.")
        elif kind not in _FRAMES:
            what = f"'*{event.anchor}' is not read here: '*' means another place of the file."
            raise _at(event, what, "Put the text in quotes, or write it out.")


def _refuse_name_or_tag(event: Event, text_tags: Collection[str]) -> None:
    mend = "Put the text in quotes, or leave the sign out."
    if event.anchor is not None:
        what = f"'&{event.anchor}' is not read here: '&' gives a place of the file a name."
        raise _at(event, what, mend)
    if type(event) is not yaml.ScalarEvent or event.tag not in text_tags:
        what = "A text that begins with '!' is not read here: it would be a command."
        raise _at(event, what, mend)


def _at(event: Event, what: str, mend: str) -> StrictYamlError:
    return StrictYamlError(what, mend, event.start_mark)


_MERGE = "<<"


def _name(event: Event) -> str:
    """What stands before a colon. Raises StrictYamlError where that is more than a word."""
    if type(event) is not yaml.ScalarEvent:
        what = "A list or a brace can't be the name of a line."
        raise _at(event, what, "Write a word before the colon.")
    name: str = event.value
    if name == _MERGE and event.implicit[0]:
        what = "'<<' is not read here: it would fetch lines from elsewhere."
        raise _at(event, what, "Write the lines out.")
    return name


@dataclass
class _PlainBuilding:
    """Events on their way into plain Python."""

    events: Iterator[Event]
    repeated: list[RepeatedName] = field(default_factory=list)

    def document(self) -> object:
        for root in self.events:
            found = self._value(root)
            next(self.events, None)  # what stands behind is refused
            return found
        return None

    def _value(self, event: Event) -> object:
        kind = type(event)
        if kind is yaml.ScalarEvent:
            plain = event.implicit[0] and event.tag is None
            return _resolved(event.value) if plain else event.value
        return self._list() if kind is yaml.SequenceStartEvent else self._mapping()

    def _list(self) -> list[object]:
        found: list[object] = []
        for event in self.events:
            if type(event) is yaml.SequenceEndEvent:
                break
            found.append(self._value(event))
        return found

    def _mapping(self) -> dict[str, object]:
        found: dict[str, object] = {}
        lines: dict[str, int] = {}
        for event in self.events:
            if type(event) is yaml.MappingEndEvent:
                break
            name = _name(event)
            value = self._value(next(self.events))
            if name not in found:
                found[name], lines[name] = value, event.start_mark.line + 1
            elif len(self.repeated) < MOST_REPEATED:
                line = event.start_mark.line + 1
                self.repeated.append(RepeatedName(name, line, lines[name]))
        return found


@dataclass
class _NodeBuilding:
    """Events on their way into nodes."""

    events: Iterator[Event]
    buffer: str
    """The text, with the sign that ends it for PyYAML."""
    file: str | None

    def document(self) -> yaml.Node | None:
        for root in self.events:
            found = self._node(root)
            next(self.events, None)  # what stands behind is refused
            return found
        return None

    def _node(self, event: Event) -> yaml.Node:
        kind = type(event)
        start = self._mark(event.start_mark)
        if kind is yaml.ScalarEvent:
            if not is_harmless(event.value):
                raise _at(event, *_UNPRINTABLE)
            end = self._mark(event.end_mark)
            return yaml.ScalarNode("", event.value, start, end, event.style or None)
        if kind is yaml.SequenceStartEvent:
            items: list[yaml.Node] = []
            while type(inner := next(self.events)) is not yaml.SequenceEndEvent:
                items.append(self._node(inner))
            end = self._mark(inner.end_mark)
            return yaml.SequenceNode("", items, start, end, event.flow_style)
        pairs: list[tuple[yaml.Node, yaml.Node]] = []
        while type(inner := next(self.events)) is not yaml.MappingEndEvent:
            name = self._node(inner)
            pairs.append((name, self._node(next(self.events))))
        end = self._mark(inner.end_mark)
        return yaml.MappingNode("", pairs, start, end, event.flow_style)

    def _mark(self, mark: Any) -> Any:
        if self.file is None:
            return mark
        return yaml.Mark(self.file, mark.index, mark.line, mark.column, self.buffer, mark.index)


_TRUTHS = {
    spelled: truth
    for truth, words in ((True, ("yes", "true", "on")), (False, ("no", "false", "off")))
    for word in words
    for spelled in (word, word.capitalize(), word.upper())
}
_NOTHING = ("", "~", "null", "Null", "NULL")
_WHOLE = re.compile(rf"[-+]?(?:0|[1-9][0-9]{{0,{MOST_DIGITS - 1}}})")
_BROKEN = re.compile(r"[-+]?(?:[0-9]{1,40}\.[0-9]{0,40}(?:[eE][-+][0-9]{1,3})?|\.[0-9]{1,40})")
_ENDLESS = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")
"""Every spelling here is a number to PyYAML's writer too, so that it quotes a text of that kind."""


def _resolved(typed: str) -> object:
    """What stands without quotes, as it is meant."""
    first = typed[:1]
    if first.isalpha():
        truth = _TRUTHS.get(typed)
        return truth if truth is not None else None if typed in _NOTHING else typed
    if typed in _NOTHING:
        return None
    if _WHOLE.fullmatch(typed):
        return int(typed)
    if _BROKEN.fullmatch(typed):
        return float(typed)
    if _ENDLESS.fullmatch(typed):
        return float(typed.lower().replace(".", ""))
    return typed
