"""Reading articulations and patterns of them, in the words of flutists of several languages."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

import yaml

from trainer.music.articulations import (
    ACROSS,
    FOURS,
    SIXES,
    THREES,
    AnyArticulation,
    ArticulationPattern,
    GroupKind,
    PatternGroup,
)
from trainer.music.note import Articulation
from trainer.routine import patterns
from trainer.routine.model import ArticulationChoice, AsWritten, DifferentEveryRound, InOrder
from trainer.routine.number_words import COUNTS, IN_GROUPS
from trainer.routine.other_words import SAME_ARTICULATION, composed
from trainer.routine.problem import listed, nearest
from trainer.routine.reader import MisreadError, Reader, folded, items, meant, misread, scalar

ALL_SIX = (
    Articulation.SLURRED,
    Articulation.LEGATO_TONGUE,
    Articulation.SINGLE,
    Articulation.AIR_ONLY,
    Articulation.DOUBLE,
    Articulation.REVERSE_DOUBLE,
)
PATTERN_SETS: Mapping[str, tuple[AnyArticulation, ...]] = {
    "all patterns for fours": FOURS,
    "all patterns for threes": THREES,
    "all patterns for sixes": SIXES,
}
_SETS: Mapping[str, tuple[AnyArticulation, ...]] = {"all six": ALL_SIX, **PATTERN_SETS}
_EVERY_ROUND = "a different one every round"
_RANDOM = "in random order"
_WHOLE_PHRASES: Mapping[str, ArticulationChoice] = {
    **{name: InOrder(kinds) for name, kinds in _SETS.items()},
    **{f"{name} {_RANDOM}": DifferentEveryRound(kinds) for name, kinds in _SETS.items()},
    _EVERY_ROUND: DifferentEveryRound(ALL_SIX),
}
_PLAIN: Mapping[str, Articulation] = {
    folded(word): Articulation(ours)
    for word, ours in {**{str(one): str(one) for one in Articulation}, **SAME_ARTICULATION}.items()
}

# Patterns

_KINDS: Mapping[str, GroupKind] = {
    "slur": GroupKind.SLUR,
    "slurs": GroupKind.SLUR,
    "slurred": GroupKind.SLUR,
    "tongue": GroupKind.TONGUE,
    "tongued": GroupKind.TONGUE,
    "single": GroupKind.TONGUE,
    "detached": GroupKind.TONGUE,
    "separate": GroupKind.TONGUE,
    "staccato": GroupKind.STACCATO,
    "soft tongue": GroupKind.SOFT,
    "soft": GroupKind.SOFT,
    "double": GroupKind.DOUBLE,
    "double tongue": GroupKind.DOUBLE,
    "triple": GroupKind.TRIPLE,
    "triple tongue": GroupKind.TRIPLE,
}
_COUNTS = {word: count for word, count in COUNTS.items() if word not in ("once", "twice")}
_KIND = "|".join(sorted(_KINDS, key=len, reverse=True))
_COUNT = rf"{'|'.join(_COUNTS)}|[1-9]\d?"
_JOINED = re.compile(r" and | then |, ?| \+ ")
_GROUP = re.compile(
    rf"(?P<kind>{_KIND})(?: in (?P<sets>{'|'.join(IN_GROUPS)})| (?:of )?(?P<count>{_COUNT}))"
    rf"|(?P<first>{_COUNT}) (?P<what>{_KIND})"
)
_PATTERN_WORDS = frozenset(word for kind in _KINDS for word in kind.split()) | {
    *_COUNTS,
    *IN_GROUPS,
}
_SOME_COUNT = re.compile(rf"\b({_COUNT}|{'|'.join(IN_GROUPS)})\b")
_NO_COMMA = (
    "A pattern has a slur in it, and no comma in a list: [slur 2 tongue 2, tongue 1 slur 3]."
)


def _pattern_groups(words: str) -> Iterator[PatternGroup]:
    """The groups one after the other; nothing where a word is left that belongs to none."""
    groups: list[PatternGroup] = []
    rest = words
    while rest:
        match = _GROUP.match(rest)
        if match is None or rest[match.end() : match.end() + 1].strip():
            return
        count = match["count"] or match["first"] or match["sets"]
        number = _COUNTS.get(count) or IN_GROUPS.get(count) or int(count)
        groups.append(PatternGroup(_KINDS[match["kind"] or match["what"]], number))
        rest = rest[match.end() :].strip()
    yield from groups


def _groups_said(words: str) -> tuple[tuple[PatternGroup, ...], bool]:
    """The groups that folded words say, none where they say something else; True: across the
    beat."""
    plain = " ".join(_JOINED.sub(" ", words).split())
    groups = tuple(_pattern_groups(plain.removesuffix(ACROSS).strip()))
    return groups, plain.endswith(f" {ACROSS}")


def _pattern(node: yaml.Node, typed: str) -> ArticulationPattern | None:
    """A pattern; None where the words are no groups at all.

    Raises MisreadError for groups that make no pattern.
    """
    groups, across = _groups_said(folded(composed(typed)))
    if not groups:
        return None
    try:
        return ArticulationPattern(groups, across)
    except ValueError as error:
        mend = _NO_COMMA if str(error) == "a pattern needs a slur" else ARTICULATIONS.says
        raise misread(
            node,
            f"'{typed}' can't be played: {error}.",
            mend if mend == _NO_COMMA else f"Write {mend}.",
        ) from None


# One, several, drawn


def _some(node: yaml.Node) -> tuple[AnyArticulation, ...]:
    """What one word stands for: an articulation, a pattern, or a set of them."""
    typed = scalar(node)
    words = folded(composed(typed))
    if words in _PLAIN:
        return (_PLAIN[words],)
    if words in _SETS:
        return _SETS[words]
    pattern = _pattern(node, typed)
    if pattern is not None:
        return (pattern,)
    _refuse_tongue_on_air(node, words)
    raise misread(node, f"'{typed}' is not an articulation.", _mend(typed, words))


def _mend(typed: str, words: str) -> str:
    """What to write instead of words that are neither an articulation nor a pattern."""
    parts = [" ".join(part.split()) for part in words.split(";")]
    respelled = [part if part in _PLAIN else _respelled(part) for part in parts]
    groups = [
        _groups_said(one)[0]
        for part, one in zip(parts, respelled, strict=True)
        if part not in _PLAIN
    ]
    if all(groups):
        slurs = (any(group.kind is GroupKind.SLUR for group in one) for one in groups)
        if not all(slurs):
            return _NO_COMMA
        if len(respelled) > 1:
            return f"Put commas between, in square brackets: [{', '.join(respelled)}]."
        return f"Did you mean '{respelled[0]}'? Write {_SAYS}."
    if _SOME_COUNT.search(words) and any(word in words for word in ("slur", "tongue")):
        return f"A pattern is written so: 'slur 2 tongue 2'. Write {_SAYS}."
    return meant(typed, dict.fromkeys([*map(str, Articulation), *_SETS, *SAME_ARTICULATION]), _SAYS)


def _respelled(words: str) -> str:
    """The words of a pattern, each that is none of them as the one it comes nearest; 'x2' is 2."""
    words = re.sub(r"\bx ?(?=\d)|(?<=\d) ?x\b", "", words)
    return " ".join(
        word if word.isdigit() or word in _PATTERN_WORDS else nearest(word, _PATTERN_WORDS) or word
        for word in words.split()
    )


def _articulations(node: yaml.Node) -> ArticulationChoice:
    if isinstance(node, yaml.MappingNode):
        return DifferentEveryRound(_pool_of_mapping(node))
    if isinstance(node, yaml.ScalarNode) and folded(scalar(node)) in _WHOLE_PHRASES:
        return _WHOLE_PHRASES[folded(scalar(node))]
    try:
        return InOrder(_flat(node))
    except MisreadError:
        if isinstance(node, yaml.ScalarNode):
            _refuse_misspelled_phrase(node)
        raise


def _refuse_misspelled_phrase(node: yaml.ScalarNode) -> None:
    near = nearest(folded(scalar(node)), _WHOLE_PHRASES)
    if near is not None:
        what = f"'{scalar(node)}' is not an articulation."
        raise misread(node, what, f"Did you mean '{near}'? Write {_SAYS}.") from None


def _flat(node: yaml.Node) -> tuple[AnyArticulation, ...]:
    return tuple(one for some in items(node, _some) for one in some)


def _refuse_tongue_on_air(node: yaml.Node, words: str) -> None:
    typed = set(words.split())
    if typed & {"air", "silent"} and typed & {"double", "triple", "single", "tongue", "tongued"}:
        raise misread(
            node,
            f"'{words}' is two things: air-only rounds are played without the tongue.",
            "Ask for each in a round of its own: [air-only silent, double].",
        )


def _pool_of_mapping(node: yaml.MappingNode) -> tuple[AnyArticulation, ...]:
    mend = f"Write {{{_EVERY_ROUND}: [slurred, single]}}."
    if len(node.value) != 1:
        raise misread(node, "Articulations take one field at most.", mend)
    name, pool = node.value[0]
    if folded(scalar(name)) != _EVERY_ROUND:
        raise misread(name, f"'{scalar(name)}' is not known in articulations.", mend)
    return _flat(pool)


_KIND_WRITTEN = "|".join(patterns.first_letter_free(word) for word in _KINDS)
_GROUP_WRITTEN = (
    rf"(({_KIND_WRITTEN})( in ({'|'.join(IN_GROUPS)})| (of )?({_COUNT}))"
    rf"|({_COUNT}) ({_KIND_WRITTEN}))"
)
_PATTERN_WRITTEN = patterns.whole(
    rf"(?=.*[Ss]lur)(?!.*[Ss]lur\w* (of )?(1|one)\b)"
    rf"{_GROUP_WRITTEN}((,? | and | then ){_GROUP_WRITTEN})*( {ACROSS})?"
)
_ONE_SCHEMA: dict[str, Any] = {
    "anyOf": [
        {"enum": [*map(str, Articulation), *_SETS, *SAME_ARTICULATION]},
        {"type": "string", "pattern": _PATTERN_WRITTEN},
    ]
}
_LIST_SCHEMA: dict[str, Any] = {"type": "array", "minItems": 1, "items": _ONE_SCHEMA}
_SAYS = (
    f"articulations in order, such as [slurred, single, double], out of {listed(Articulation)}; "
    "patterns such as 'slur 2 tongue 2', 'tongue 1 slur 3' or 'slur 2 across the beat'; "
    f"{listed(map(repr, _SETS))}, also '{_RANDOM}'; or '{_EVERY_ROUND}'"
)
ARTICULATIONS: Reader[ArticulationChoice] = Reader(
    _SAYS,
    _articulations,
    {
        "anyOf": [
            {"enum": list(_WHOLE_PHRASES)},
            *_ONE_SCHEMA["anyOf"],
            _LIST_SCHEMA,
            {
                "type": "object",
                "required": [_EVERY_ROUND],
                "properties": {_EVERY_ROUND: {"anyOf": [*_ONE_SCHEMA["anyOf"], _LIST_SCHEMA]}},
                "additionalProperties": False,
            },
        ]
    },
)


AS_WRITTEN = "as written"


def _passage_articulations(node: yaml.Node) -> ArticulationChoice:
    if isinstance(node, yaml.ScalarNode):
        typed = folded(scalar(node))
        if typed == AS_WRITTEN:
            return AsWritten()
        if nearest(typed, [AS_WRITTEN]) is not None:
            what = f"'{scalar(node)}' is not an articulation."
            raise misread(node, what, f"Did you mean '{AS_WRITTEN}'? Write {_SAYS}.")
    return _articulations(node)


PASSAGE_ARTICULATIONS: Reader[ArticulationChoice] = Reader(
    f"'as written', for the slurs in the notes, or {ARTICULATIONS.says}",
    _passage_articulations,
    {"anyOf": [{"const": "as written"}, *ARTICULATIONS.schema["anyOf"]]},
)
