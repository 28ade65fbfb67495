"""Reading how loud a line is asked for."""

from __future__ import annotations

import re
from typing import Any

import yaml

from trainer.music.note import Dynamic
from trainer.routine import patterns
from trainer.routine.loudness import Loudness
from trainer.routine.other_words import SAME_DYNAMIC, SAME_SWELL
from trainer.routine.reader import Reader, folded, items, meant, misread, scalar
from trainer.routine.round import Swell

_DYNAMICS = {
    **{str(one): one for one in Dynamic},
    **{w: Dynamic(d) for w, d in SAME_DYNAMIC.items()},
}
_WORDS = {
    **{word: Loudness(dynamic) for word, dynamic in _DYNAMICS.items()},
    **{str(swell): Loudness(swell=swell) for swell in Swell},
    **{folded(word): Loudness(swell=Swell(ours)) for word, ours in SAME_SWELL.items()},
}
_FROM_TO = re.compile(rf"(?:from )?({'|'.join(_DYNAMICS)}) to ({'|'.join(_DYNAMICS)})( and back)?")
_SAYS = (
    "how loud: 'pp' to 'ff', 'louder', 'softer', 'there and back', 'p to f' or 'p to f and back'"
)


def _one(node: yaml.Node) -> Loudness:
    typed = scalar(node)
    words = folded(typed)
    if words in _WORDS:
        return _WORDS[words]
    match = _FROM_TO.fullmatch(words)
    if match is None:
        raise misread(node, f"'{typed}' is no dynamic read here.", meant(typed, _WORDS, _SAYS))
    first, last = _DYNAMICS[match[1]], _DYNAMICS[match[2]]
    order = list(Dynamic)
    if first is last:
        return Loudness(first)
    if match[3]:
        return Loudness(first, Swell.THERE_AND_BACK, last)
    grows = order.index(last) > order.index(first)
    return Loudness(first, Swell.LOUDER if grows else Swell.SOFTER, last)


_NAMES = "|".join(map(patterns.first_letter_free, _DYNAMICS))
_SCHEMA: dict[str, Any] = {
    "anyOf": [
        {"enum": [*_DYNAMICS, *map(str, Swell), *SAME_SWELL]},
        {
            "type": "string",
            "pattern": patterns.whole(rf"([Ff]rom )?({_NAMES}) to ({_NAMES})( and back)?"),
        },
    ]
}
LOUDNESSES: Reader[tuple[Loudness, ...]] = Reader(
    f"{_SAYS}; or a list of these, one for each round",
    lambda node: items(node, _one),
    {"anyOf": [*_SCHEMA["anyOf"], {"type": "array", "minItems": 1, "items": _SCHEMA}]},
)
