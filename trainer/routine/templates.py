"""Routines to begin from, by level: what `trainer new` writes."""

from __future__ import annotations

from collections.abc import Mapping

from trainer.routine.problem import listed

_HEAD = """# Change any word or number, then run: trainer check FILE
# For help while you type, in editors that read it: run 'trainer schema > routine.schema.json',
# and put this on the first line: # yaml-language-server: $schema=routine.schema.json

"""
_BEGINNER = """title: First steps
# week: {monday: [three long notes], sunday: free}   # without the '#' before it, a plan of the week
instrument: C flute
tuning: A4 = 440
lowest note: D4
highest note: D6
words: Three good minutes are worth more than ten tired ones.

defaults:
  key: [G, F, D]
  tempo: 60
  rhythm: eighths
  range: one octave

exercises:
  - long tones: three long notes
    notes: [B4, A4, G4]
    beats each: 4
    beats between: 4
    partner: same notes
  - scale: scale of the day
    articulations: [slurred, single]
  - rest: 1 minute
    words: Flute down, shoulders down.
  - arpeggio: chord of the day
    key: same as scale of the day
    rhythm: triplets
"""
_INTERMEDIATE = """title: Every key in twelve days
instrument: C flute
tuning: A4 = 440

defaults:
  key: by day through the circle of fifths
  tempo: 60
  range: two octaves
  aims: {cents: 20, evenness: 35 ms, clean: 90 %}

exercises:
  - long tones: open the sound
    notes: [B4, A#4, A4, G#4]
    beats each: 8
  - scale: scale of the day
    articulations: [slurred, legato tongue, single]
    progress: 4 faster when met twice, up to 88
  - scale: thirds
    key: same as scale of the day
    pattern: thirds
    rhythm: eighths
    practice rhythm: [dotted, even]
  - rest: 2 minutes
  - arpeggio: chord of the day
    key: same as scale of the day
    rhythm: triplets
    articulations: [slurred, single]
"""
_ADVANCED = """title: The whole range
instrument: C flute
tuning: A4 = 440

defaults:
  key: by day through the circle of fifths
  tempo: 60
  range: full
  aims: {cents: 15, evenness: 25 ms, clean: 95 %}

exercises:
  - voicing: across the breaks
    form: by registers
    range: two octaves
  - scale: scale of the day
    articulations: all six
    breaths: at the top
  - rest: 2 minutes
  - speed climb: faster as comfort allows
    key: same as scale of the day
    from: 60
    to: 120
    within: 10 minutes
  - rest: 3 minutes
  - arpeggio: minor chord
    key: relative of scale of the day
    articulations: a different one every round
    rounds: 3
"""
TEMPLATES: Mapping[str, str] = {
    "beginner": _HEAD + _BEGINNER,
    "intermediate": _HEAD + _INTERMEDIATE,
    "advanced": _HEAD + _ADVANCED,
}
"""Level → the text of a routine file."""


def new_routine(kind: str) -> str:
    """The text of a new routine file for a level. Raises ValueError naming the levels there are."""
    if kind not in TEMPLATES:
        raise ValueError(f"'{kind}' is not a level. Write {listed(TEMPLATES)}.")
    return TEMPLATES[kind]
