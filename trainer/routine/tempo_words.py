"""Reading a tempo: '60', '60 bpm', 'quarter = 60', 'MM 60'."""

from __future__ import annotations

import re

import yaml

from trainer.music.bars import Meter
from trainer.routine.model import FASTEST_BPM, SLOWEST_BPM
from trainer.routine.reader import Fault, Reader, number, part, scalar

_BPM = number("a tempo in beats a minute", SLOWEST_BPM, FASTEST_BPM, ("bpm", "beats a minute"))
_BEATS = {
    "eighth": "1/2", "quaver": "1/2", "quarter": "1", "crotchet": "1", "\N{QUARTER NOTE}": "1",
    "half": "2", "minim": "2",
    "dotted eighth": "3/4", "dotted quaver": "3/4",
    "dotted quarter": "3/2", "dotted crotchet": "3/2", "dotted half": "3", "dotted minim": "3",
}  # fmt: skip
"""Note value → quarters."""
_MARK = re.compile(
    rf"(?:(?P<beat>{'|'.join(_BEATS)})s?(?: notes?)?\s*[=:]|m\.?\s?m\.?\s*[=:]?)"
    r"\s*(?:c\.|ca\.)?\s*(?P<bpm>\d.*)",
    re.IGNORECASE,
)


def _tempo(node: yaml.Node) -> float:
    mark = _MARK.fullmatch(scalar(node))
    return _BPM.read(part(node, mark["bpm"]) if mark is not None else node)


TEMPO: Reader[float] = Reader(_BPM.says, _tempo, _BPM.schema)


def fault_of_beat(node: yaml.Node, meter: Meter) -> Fault | None:
    """Where a tempo names its beat, and the time signature counts another; None: all is well."""
    mark = _MARK.fullmatch(scalar(node))
    named = mark["beat"] if mark is not None else None
    if named is None:
        return None
    named = " ".join(named.lower().split())
    ours = {quarters: name for name, quarters in reversed(list(_BEATS.items()))}
    if _BEATS[named] == str(meter.beat_quarters):
        return None
    beat = ours[str(meter.beat_quarters)]
    return Fault(
        node,
        f"In {meter} the tempo counts {beat}s, not {named}s.",
        f"Write how many {beat}s a minute: '{beat} = 60'.",
    )
