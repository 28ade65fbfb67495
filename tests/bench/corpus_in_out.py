"""The music21 corpus in and out: how many notes of its scores a passage can hold, what is lost.

Every part of every MusicXML score that a flute's range can hold is parted into sections, written
as a routine and read again; what was left out is counted by its kind, and what was refused by its
reason. The first argument is how many seconds it may take; the scores come in an order drawn by
lot, so that a part of them stands for all.

    tests/run --bench corpus_in_out [SECONDS]
"""

from __future__ import annotations

import re
import sys
import time
import warnings
from collections import Counter
from pathlib import Path
from random import Random

import music21

from trainer.errors import ScoreError
from trainer.routine.load import read_routine
from trainer.routine.model import Passage
from trainer.score.excerpt import Excerpt, read_score, sections_of
from trainer.score.exercise import routine_text
from trainer.score.part import Part, Score

CORPUS = Path(music21.__file__).parent / "corpus"
SUFFIXES = (".mxl", ".xml", ".musicxml")
SECONDS = 120.0
FLUTE_MIDI = range(60, 99)


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS
    warnings.simplefilter("ignore")
    paths = [path for path in sorted(CORPUS.rglob("*")) if path.suffix in SUFFIXES]
    Random(1).shuffle(paths)
    counts, lost, refused = Counter[str](), Counter[str](), Counter[str]()
    began_s = time.monotonic()
    for path in paths:
        if time.monotonic() - began_s > seconds:
            break
        counts["scores"] += 1
        try:
            score = read_score(path)
        except ScoreError as error:
            refused[_kind(str(error).split(": ", 1)[-1])] += 1
            continue
        for part in score.parts:
            _in_and_out(score, part, counts, lost, refused)
    print(f"{counts['scores']} of {len(paths)} scores, {counts['parts']} parts in a flute's range, "
          f"{counts['sections']} sections, {counts['notes']} notes")  # fmt: skip
    print(f"notes that came back otherwise: {counts['changed']}")
    for name, table in (("left out, bars", lost), ("refused, parts or scores", refused)):
        print(name)
        for what, count in table.most_common():
            print(f"{count:7d}  {what}")


def _in_and_out(
    score: Score, part: Part, counts: Counter[str], lost: Counter[str], refused: Counter[str]
) -> None:
    midis = {note.pitch.midi for bar in part.bars for note in bar.notes}
    if not midis or min(midis) < FLUTE_MIDI.start or max(midis) >= FLUTE_MIDI.stop:
        return
    counts["parts"] += 1
    try:
        found = sections_of(score, part)
    except ScoreError as error:
        refused[_kind(str(error))] += 1
        return
    for one in found:
        counts["sections"] += 1
        counts["notes"] += len(one.notes)
        counts["changed"] += _changed(one)
        for what, bars in one.left_out:
            lost[_kind(what)] += len(bars)


def _changed(found: Excerpt) -> int:
    """Notes that are not the same when the routine is read."""
    routine, problems = read_routine(routine_text([found], "x", "x"), "x")
    if routine is None:
        print(problems[0])
        return len(found.notes)
    passage = next(entry for entry in routine.entries if isinstance(entry, Passage))
    beat = found.meter.beat_quarters
    return sum(
        (one.pitch, one.beat * beat, one.length * beat, one.slurred_from_last, one.graces,
         one.ornament, one.fermata, one.dynamic, one.mark)
        != (other.pitch, other.beat, other.length, other.slurred_from_last, other.graces,
            other.ornament, other.fermata, other.dynamic, other.mark)
        for one, other in zip(passage.notes, found.notes, strict=True)
    )  # fmt: skip


def _kind(what: str) -> str:
    """Without what is particular to one score."""
    return re.sub(r"the words '.*'", "words", re.sub(r"\d+(-\d+)?", "N", what))[:100]


if __name__ == "__main__":
    main()
