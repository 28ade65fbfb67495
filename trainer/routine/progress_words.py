"""Reading a rule of progress: 'next key when met twice', '4 faster when met 3 times, up to 96'."""

from __future__ import annotations

import re

import yaml

from trainer.routine import patterns
from trainer.routine.model import FASTEST_BPM, SLOWEST_BPM
from trainer.routine.problem import listed
from trainer.routine.progress import Faster, NextKey, Progress
from trainer.routine.reader import (
    Reader,
    folded,
    misread,
    number,
    part,
    read_mapping,
    read_or_say,
    scalar,
    whole,
)

MOST_TIMES = 20
"""Three weeks of days: more would never come."""
_COUNTS = {"once": 1, "twice": 2, "three times": 3, "four times": 4, "five times": 5}
_STEP = re.compile(r"(?P<key>next key)|(?P<bpm>\d{1,3}) (?:bpm )?faster")
_WHEN = re.compile(r"(?:(?P<count>\d{1,3}) times|(?P<word>once|twice|(?:three|four|five) times))")
_PROGRESS = re.compile(
    r"(?P<step>.+?)(?: (?:when|after) (?:the )?(?:aims )?(?:are )?met (?P<when>.+?))?"
    r"(?:,? (?:up to|until) (?P<end>\S.*))?"
)
_STEP_SAYS = "'next key', or a tempo step such as '4 faster'"
PROGRESS_SAYS = (
    "'next key' or '4 faster', with 'when met twice' and 'up to 96' where you want them: "
    "'4 faster when met twice, up to 96'"
)
_END = number("the last tempo", SLOWEST_BPM, FASTEST_BPM, ("bpm", "beats a minute"))
_TIMES = whole("how often the aims are met", 1, MOST_TIMES, ("times", "time"))


def _step(node: yaml.Node, typed: str, says: str) -> NextKey | Faster:
    match = _STEP.fullmatch(folded(typed))
    if match is None:
        raise misread(node, f"'{typed}' is no step forward.", f"Write {says}.")
    if match["key"]:
        return NextKey()
    if not 1 <= int(match["bpm"]) <= 60:
        raise misread(node, f"A step of {match['bpm']} is no step.", "Write 1 to 60 faster.")
    return Faster(float(match["bpm"]))


def _times(node: yaml.Node, typed: str) -> int:
    match = _WHEN.fullmatch(folded(typed))
    if match is None:
        raise misread(
            node, f"'{typed}' does not say how often.", f"Write {listed(_COUNTS)}, or '6 times'."
        )
    count = _COUNTS[match["word"]] if match["word"] else int(match["count"])
    if not 1 <= count <= MOST_TIMES:
        raise misread(node, f"{count} times is no rule.", f"Write 1 to {MOST_TIMES} times.")
    return count


def _progress(node: yaml.Node) -> Progress:
    if isinstance(node, yaml.MappingNode):
        return _progress_in_full(node)
    typed = scalar(node)
    match = _PROGRESS.fullmatch(folded(typed))
    if match is None:
        raise misread(node, f"'{typed}' is no rule.")
    step = _step(node, match["step"], PROGRESS_SAYS)
    times = _times(node, match["when"]) if match["when"] else 2
    if match["end"] is None:
        return Progress(step, times)
    return Progress(_up_to(node, step, _END.read(part(node, match["end"]))), times)


def _up_to(node: yaml.Node, step: NextKey | Faster, end_bpm: float) -> Faster:
    if isinstance(step, NextKey):
        raise misread(node, "Keys have no tempo to go up to.", "Leave out 'up to'.")
    return Faster(step.step_bpm, end_bpm)


def _progress_in_full(node: yaml.MappingNode) -> Progress:
    found = read_mapping(
        node,
        {
            "then": lambda value: _step(value, scalar(value), _STEP_SAYS),
            "when met": lambda value: _times_or_number(value),
            "up to": lambda value: (value, read_or_say(_END, value)),
        },
        "progress",
    )
    if "then" not in found:
        raise misread(node, "It is not said what comes next.", f"Add 'then:' and {_STEP_SAYS}.")
    step, times = found["then"], found.get("when met", 2)
    if "up to" in found:
        step = _up_to(found["up to"][0], step, found["up to"][1])
    return Progress(step, times)


def _times_or_number(node: yaml.Node) -> int:
    typed = scalar(node)
    return read_or_say(_TIMES, node) if typed.isdecimal() else _times(node, typed)


_STEP_PATTERN = r"[Nn]ext key|([1-9]|[1-5]\d|60) (bpm )?faster"
_RULE_PATTERN = (
    rf"({_STEP_PATTERN})( (when|after) (the )?(aims )?(are )?met"
    rf" ({'|'.join(_COUNTS)}|([1-9]|1\d|20) times))?"
    rf"(,? (up to|until) {patterns.number_between(SLOWEST_BPM, FASTEST_BPM)})?"
)
PROGRESS: Reader[Progress] = Reader(
    PROGRESS_SAYS,
    _progress,
    {
        "anyOf": [
            {"type": "string", "pattern": patterns.whole(_RULE_PATTERN)},
            {
                "type": "object",
                "required": ["then"],
                "properties": {
                    "then": {
                        "type": "string",
                        "pattern": patterns.whole(_STEP_PATTERN),
                    },
                    "when met": {
                        "anyOf": [
                            {"type": "integer", "minimum": 1, "maximum": MOST_TIMES},
                            {"enum": list(_COUNTS)},
                            {"type": "string", "pattern": r"^\s*\d+ times\s*$"},
                        ]
                    },
                    "up to": _END.schema,
                },
                "additionalProperties": False,
            },
        ]
    },
)
