"""Reading how a line is practised, and until when."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import yaml

from trainer.routine import patterns
from trainer.routine.number_words import COUNTS
from trainer.routine.practice_until import Until
from trainer.routine.practice_way import (
    Backwards,
    EachStretch,
    Growing,
    HardAndEasy,
    Loop,
    PracticeWay,
    SlowThenInTime,
    Stretch,
)
from trainer.routine.reader import Reader, folded, items, meant, misread, scalar

MOST_TIMES = 12
"""Times a group or a loop is repeated; more is likely a slip of the pen."""
MOST_BAR = 200
"""No passage is so long."""
WAYS: Mapping[str, PracticeWay] = {
    "backwards": Backwards(),
    "add a note": Growing(Stretch.NOTE),
    "add a beat": Growing(Stretch.BEAT),
    "add a bar": Growing(Stretch.BAR),
    "slow then in time": SlowThenInTime(),
    "alternate hard and easy": HardAndEasy(),
}
_SAME: Mapping[str, str] = {
    "from the end": "backwards", "backward": "backwards", "rückwärts": "backwards",
    "à rebours": "backwards", "all'indietro": "backwards", "hacia atrás": "backwards",
    "add a note each time": "add a note", "note by note": "add a note",
    "add one note": "add a note", "bar by bar": "add a bar", "add a measure": "add a bar",
    "slow, then in time": "slow then in time", "slowly then in time": "slow then in time",
    "slow then fast": "slow then in time", "hard and easy": "alternate hard and easy",
    "alternate easy and hard": "alternate hard and easy",
}  # fmt: skip
_TIMES = rf"(?P<times>{'|'.join(COUNTS)}|\d{{1,3}})(?: times|x)?"
_LOOP = re.compile(
    rf"loop bars? (?P<first>\d{{1,3}})(?: (?:to|and|until) (?P<last>\d{{1,3}}))?,? {_TIMES}"
)
_EACH = re.compile(rf"each (?P<what>group|beat|bar|measure),? {_TIMES}")
_SAYS = (
    "how it is practised: 'backwards', 'add a note' (or 'a beat', 'a bar'), 'loop bars 3 to 4 four "
    "times', 'each group three times' (or 'each bar'), 'slow then in time' or 'alternate hard and "
    "easy'; or a list of these, one laid over the other"
)


def _one_way(node: yaml.Node) -> PracticeWay:
    typed = scalar(node)
    words = folded(typed)
    words = _SAME.get(words, words)
    if words in WAYS:
        return WAYS[words]
    loop, each = _LOOP.fullmatch(words), _EACH.fullmatch(words)
    match = loop or each
    if match is None:
        known = dict.fromkeys([*WAYS, "loop bars 3 to 4 four times", "each group three times"])
        raise misread(node, f"'{typed}' is no way to practise.", meant(typed, known, _SAYS))
    times = COUNTS.get(match["times"]) or int(match["times"])
    if not 1 <= times <= MOST_TIMES:
        raise misread(node, f"{times} times is no number to practise with.",
                      f"Write 1 to {MOST_TIMES} times.")  # fmt: skip
    if each is not None:
        of = Stretch.BAR if each["what"] in ("bar", "measure") else Stretch.BEAT
        return EachStretch(of, times)
    first, last = int(match["first"]), int(match["last"] or match["first"])
    if not 1 <= first <= last <= MOST_BAR:
        raise misread(node, f"'{typed}' can't be played.", "Write the earlier bar first, from 1.")
    return Loop(first, last, times)


_COUNTS_WRITTEN = "|".join(map(patterns.first_letter_free, COUNTS))
_COUNT_WRITTEN = rf"({'|'.join(COUNTS)}|1[0-2]|[1-9])( times|x)?"
_BAR_WRITTEN = r"([1-9]\d?|1\d\d|200)"
_SCHEMA: dict[str, Any] = {
    "anyOf": [
        {"enum": [*WAYS, *_SAME]},
        {
            "type": "string",
            "pattern": patterns.whole(
                rf"[Ll]oop bars? {_BAR_WRITTEN}( (to|and|until) {_BAR_WRITTEN})?,? {_COUNT_WRITTEN}"
                rf"|[Ee]ach (group|beat|bar|measure),? {_COUNT_WRITTEN}"
            ),
        },
    ]
}
PRACTISE: Reader[tuple[PracticeWay, ...]] = Reader(
    _SAYS,
    lambda node: items(node, _one_way),
    {"anyOf": [*_SCHEMA["anyOf"], {"type": "array", "minItems": 1, "items": _SCHEMA}]},
)

# Until when

MOST_TRIES = 20
USUAL_TRIES = 8
"""Where the teacher names no limit: after that it comes back another day. Our own choice."""
_AT_MOST = rf"(?:,? (?:but )?at most (?P<most>{'|'.join(COUNTS)}|\d{{1,3}})(?: rounds| times)?)?"
_MET = re.compile(rf"(?:until )?(?:the )?aims are met{_AT_MOST}")
_IN_A_ROW = re.compile(
    rf"(?:until )?(?P<right>{'|'.join(COUNTS)}|\d{{1,2}}) (?:times )?right in a row"
    rf"(?P<back>,? (?:or )?else (?:go )?(?:back )?(?:a|one) step(?: back)?)?{_AT_MOST}"
)
_UNTIL_SAYS = (
    "when a round is done: 'the aims are met, at most 6 rounds', 'three right in a row', or "
    "'three right in a row, else back a step'"
)


def _until(node: yaml.Node) -> Until:
    typed = scalar(node)
    words = folded(typed)
    met, row = _MET.fullmatch(words), _IN_A_ROW.fullmatch(words)
    match = met or row
    if match is None:
        known = dict.fromkeys(["the aims are met, at most 6 rounds", "three right in a row",
                               "three right in a row, else back a step"])  # fmt: skip
        raise misread(node, f"'{typed}' is no end to wait for.", meant(typed, known, _UNTIL_SAYS))
    most = _count(match["most"], USUAL_TRIES)
    right = 1 if row is None else _count(row["right"], 1)
    if not 1 <= right <= most <= MOST_TRIES:
        mend = f"Write {right} to {MOST_TRIES} rounds at most." if right <= MOST_TRIES else ""
        raise misread(node, f"'{typed}' can't be reached.", mend)
    return Until(right, most, steps_back=bool(row and row["back"]))


def _count(words: str | None, otherwise: int) -> int:
    return otherwise if words is None else COUNTS.get(words) or int(words)


_MOST_WRITTEN = rf"(,? (but )?at most ({'|'.join(COUNTS)}|20|1\d|[1-9])( rounds| times)?)?"
UNTIL: Reader[Until] = Reader(
    _UNTIL_SAYS,
    _until,
    {
        "type": "string",
        "pattern": patterns.whole(
            rf"([Uu]ntil )?(([Tt]he )?[Aa]ims are met|({_COUNTS_WRITTEN}"
            r"|\d{1,2}) (times )?right in a row(,? (or )?else (go )?(back )?(a|one) step( back)?)?)"
            + _MOST_WRITTEN
        ),
    },
)
