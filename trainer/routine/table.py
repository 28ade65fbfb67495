"""Reading a mapping of the file by a table of fields."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Any

import yaml

from trainer.routine.fields import Field
from trainer.routine.other_words import ELSEWHERE, SAME_FIELD
from trainer.routine.problem import listed, nearest
from trainer.routine.reader import Fault, MisreadError, folded, misread, scalar

Pairs = Mapping[str, tuple[yaml.Node, yaml.Node]]
"""Field name → the nodes of its name and its value."""


def pairs_of(node: yaml.Node, says: str) -> Pairs:
    """The fields of a mapping by name. Raises MisreadError where it is none or has one twice."""
    if not isinstance(node, yaml.MappingNode):
        raise misread(
            node, f"Fields such as 'tempo: 60' are wanted {says}.", "Write one on each line."
        )
    pairs: dict[str, tuple[yaml.Node, yaml.Node]] = {}
    for name, value in node.value:
        if not isinstance(name, yaml.ScalarNode):
            raise misread(name, "A list or a brace can't be the name of a field.", "Write a word.")
        pairs.setdefault(folded(name.value), (name, value))
    return pairs


def in_our_words(pairs: Pairs, known: Collection[str]) -> Pairs:
    """The same fields, those with another name of the trade under the name that is known here."""
    found: dict[str, tuple[yaml.Node, yaml.Node]] = {}
    for word, nodes in pairs.items():
        ours = SAME_FIELD.get(word, word)
        stays = word in known or ours not in known or ours in pairs or ours in found
        found[word if stays else ours] = nodes
    return found


def faults_of_file(root: yaml.Node) -> Iterator[Fault]:
    """What is wrong anywhere in the file, whatever the field: names that stand there twice."""
    if isinstance(root, yaml.SequenceNode):
        for item in root.value:
            yield from faults_of_file(item)
    if isinstance(root, yaml.MappingNode):
        first_lines: dict[str, int] = {}
        for name, value in root.value:
            yield from faults_of_file(name)
            yield from faults_of_file(value)
            word = folded(name.value) if isinstance(name, yaml.ScalarNode) else ""
            if word in first_lines:
                yield Fault(
                    name,
                    f"'{name.value}' is here for the second time, after line {first_lines[word]}.",
                    "Keep one of the two.",
                )
            first_lines.setdefault(word, name.start_mark.line + 1)


def read_fields(
    pairs: Pairs, fields: Iterable[Field]
) -> tuple[dict[str, Any], dict[str, yaml.Node], list[Fault]]:
    """Values and their places for the fields that are written, and every mistake in them."""
    values: dict[str, Any] = {}
    nodes: dict[str, yaml.Node] = {}
    faults: list[Fault] = []
    for field in fields:
        if field.name not in pairs:
            continue
        node = pairs[field.name][1]
        nodes[field.name] = node
        try:
            values[field.name] = field.reader.read(node)
        except MisreadError as mistake:
            faults.extend(_mended(fault, field) for fault in mistake.faults)
    return values, nodes, faults


_PRINTED_QUOTES = "“”„‟‘’‚«»"


def _mended(fault: Fault, field: Field) -> Fault:
    typed = fault.node.value if isinstance(fault.node, yaml.ScalarNode) else ""
    if typed[:1] and typed[0] in _PRINTED_QUOTES:
        bare = typed.strip(_PRINTED_QUOTES)
        return Fault(fault.node, fault.what, f"Write '{bare}' without quotation marks.")
    if fault.mend:
        return fault
    return Fault(fault.node, fault.what, f"Write {field.reader.says}.")


def unknown_fields(
    pairs: Pairs, known: Collection[str], elsewhere: Mapping[str, str], where: str
) -> Iterator[Fault]:
    """Names that mean nothing here; `elsewhere` says where a name does mean something."""
    for word, (name, _) in pairs.items():
        if word in known:
            continue
        typed = scalar_or_blank(name)
        near = nearest(word, known)
        if word in elsewhere or word in ELSEWHERE:
            mend = elsewhere.get(word) or ELSEWHERE[word]
            yield Fault(name, f"'{typed}' does not belong {where}.", mend)
        elif near is not None:
            yield Fault(name, f"'{typed}' is not known here.", f"Did you mean '{near}'?")
        else:
            yield Fault(
                name, f"'{typed}' is not known here.", f"Known {where}: {listed(sorted(known))}."
            )


def scalar_or_blank(node: yaml.Node) -> str:
    """The name as typed, for a message."""
    try:
        return scalar(node)
    except MisreadError:
        return ""
