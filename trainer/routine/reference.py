"""The reference page of the language, made from its tables; its examples are tried by the tests."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from trainer.routine.fields import CLIMBED, KINDS, ROUTINE_FIELDS, Field, Kind, climb_fields
from trainer.routine.phrases import AIMS_FIELDS

_ROUTINE_EXAMPLES: Mapping[str, str] = {
    "title": "title: Autumn mornings",
    "words": "words: Sound first, then speed.",
    "instrument": "instrument: C flute with B foot",
    "tuning": "tuning: A4 = 442",
    "lowest note": "lowest note: D4",
    "highest note": "highest note: A6",
}
_OPENINGS: Mapping[str, str] = {
    "scale": "scale: scale of the day",
    "arpeggio": "arpeggio: chord of the day",
    "speed climb": "speed climb: a little faster",
    "long tones": "long tones: open the sound",
    "voicing": "voicing: across the breaks",
    "passage": "passage: little walk",
    "rest": "rest: 2 minutes",
    "read": "read: Stand tall and breathe low.",
}
_EXAMPLES: Mapping[str, str] = {
    "title": "title: Slow and singing",
    "words": "words: Keep the air moving.",
    "partner": "partner: same notes",
    "temperament": "temperament: equal",
    "aims": "aims: {cents: 15, evenness: 25 ms, clean: 95 %}",
    "breaths": "breaths: [at the top, every 8 beats]",
    "rest after": "rest after: 1 minute",
    "key": "key: E flat",
    "form": "form: major",
    "chord": "chord: dominant seventh",
    "range": "range: two octaves",
    "pattern": "pattern: thirds",
    "rhythm": "rhythm: triplets",
    "articulations": "articulations: [slurred, single]",
    "tempo": "tempo: 72",
    "rounds": "rounds: 3",
    "of": "of: scale",
    "from": "from: 60",
    "to": "to: 96",
    "within": "within: 5 minutes",
    "beats each": "beats each: 4",
    "beats between": "beats between: 2",
    "time": "time: 4/4",
    "notes": "notes: quarter (G4 A4) B4 D5, | whole G4",
}
_EXAMPLES_IN: Mapping[tuple[str, str], str] = {
    ("long tones", "notes"): "notes: [B4, A#4, A4]",
    ("voicing", "form"): "form: octaves",
}


def opening_example(kind: Kind) -> str:
    """How an entry of this kind begins: 'rest: 2 minutes'."""
    return _OPENINGS[kind.word]


def field_example(kind: Kind, field: Field) -> str:
    """A line that may stand in an entry of this kind."""
    return _EXAMPLES_IN.get((kind.word, field.name), _EXAMPLES[field.name])


def routine_example(field: Field) -> str:
    """A line that may stand at the top of a routine."""
    return _ROUTINE_EXAMPLES[field.name]


def needed_lines(kind: Kind) -> tuple[str, ...]:
    """The lines an entry of this kind can't do without."""
    needed = [field for field in kind.fields if field.required]
    if kind.word == "long tones":
        needed = [field for field in kind.fields if field.name == "notes"]
    return (opening_example(kind), *(field_example(kind, field) for field in needed))


def reference() -> str:
    """The page, as Markdown: the routine, then every kind of entry with all its fields."""
    parts = [_TOP, *_table((field, routine_example(field)) for field in ROUTINE_FIELDS), _HOLDERS]
    for kind in KINDS.values():
        parts += ["", *_section(kind)]
    return "\n".join([*parts, "", *_aims()]) + "\n"


_TOP = """# What may be written in a routine

A routine is a YAML file. Capitals, hyphens and the order of fields don't matter; a line that
begins with `#` is a note to yourself. `trainer check FILE` says what is wrong, and where.

## At the top
"""
_HOLDERS = """
`defaults:` holds fields marked † below, for every exercise that doesn't say otherwise.
`exercises:` is the list of entries, in order; each begins with `-` and the word of its kind.
"""


def _section(kind: Kind) -> Iterator[str]:
    yield f"## {kind.word}"
    yield ""
    yield f"{kind.explanation} After `{kind.word}:` write {kind.opening.says}."
    yield ""
    first, *others = needed_lines(kind)
    yield from ("```yaml", f"- {first}", *(f"  {line}" for line in others), "```", "")
    if kind.fields:
        yield from _table((field, field_example(kind, field)) for field in kind.fields)
    if kind.word == "speed climb":
        yield from ("", *(_climbing_on(word) for word in CLIMBED))


def _table(rows: Iterable[tuple[Field, str]]) -> Iterator[str]:
    yield "| Field | What it says | Write | Without it | Example |"
    yield "|---|---|---|---|---|"
    for field, example in rows:
        name = f"{field.name}{' †' if field.inherits else ''}"
        cells = (name, field.explanation, field.reader.says, _without(field), f"`{example}`")
        yield f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |"


def _without(field: Field) -> str:
    return "must be written" if field.required else field.default_says or "nothing"


def _climbing_on(word: str) -> str:
    names = ", ".join(field.name for field in climb_fields(word))
    return f"- `of: {word}` takes: {names}."


def _aims() -> Iterator[str]:
    yield "## aims"
    yield ""
    for name, aim in AIMS_FIELDS.items():
        yield f"- `{name}`: {aim.explanation} Write {aim.reader.says}."
