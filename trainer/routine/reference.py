"""The reference page of the language, made from its tables; its examples are tried by the tests."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Mapping

from trainer.music.note import Dynamic
from trainer.routine.fields import (
    CLIMBED,
    KINDS,
    OTHER_DAYS,
    ROUTINE_FIELDS,
    WEEK_FIELDS,
    Field,
    Kind,
    climb_fields,
)
from trainer.routine.line_words import LENGTHS, ORNAMENT_WORDS, SHARES
from trainer.routine.phrases import AIMS_FIELDS
from trainer.routine.week_words import DAY

_ROUTINE_EXAMPLES: Mapping[str, str] = {
    "title": "title: Autumn mornings",
    "words": "words: Sound first, then speed.",
    "instrument": "instrument: C flute with B foot",
    "tuning": "tuning: A4 = 442",
    "lowest note": "lowest note: D4",
    "highest note": "highest note: A6",
    "lesson": "lesson: Thursday",
    "for the lesson": "for the lesson: C5–D5 in one breath",
    "level": "level: beginner",
}
_OPENINGS: Mapping[str, str] = {
    "scale": "scale: scale of the day",
    "arpeggio": "arpeggio: chord of the day",
    "speed climb": "speed climb: a little faster",
    "long tones": "long tones: open the sound",
    "voicing": "voicing: across the breaks",
    "passage": "passage: little walk",
    "trills": "trills: little fingers",
    "rest": "rest: 2 minutes",
    "read": "read: Stand tall and breathe low.",
    "include": "include: warm_up.yaml",
}
_EXAMPLES: Mapping[str, str] = {
    "title": "title: Slow and singing",
    "words": "words: Keep the air moving.",
    "partner": "partner: same notes",
    "partner level": "partner level: softer",
    "click": "click: brush",
    "click level": "click level: 4 dB softer",
    "subdivision": "subdivision: eighths",
    "click rests": "click rests: 1 bar in 2",
    "tempo at the end": "tempo at the end: 80",
    "temperament": "temperament: equal",
    "aims": "aims: {cents: 15, evenness: 25 ms, clean: 95 %}",
    "breaths": "breaths: [at the top, every 8 beats]",
    "rest after": "rest after: 1 minute",
    "levels": "levels: {beginner: {partner: same notes}, advanced: leave out}",
    "only": "only: [three long notes]",
    "dynamic": "dynamic: [pp, ff, p to f and back]",
    "roots": "roots: [C4]",
    "partials": "partials: 6",
    "practise": "practise: backwards",
    "until": "until: three right in a row, else back a step",
    "trouble spots": "trouble spots: 3",
    "each note": "each note: 4 times",
    "technique": "technique: flutter tongue",
    "practice rhythm": "practice rhythm: [even, dotted, reversed dotted]",
    "progress": "progress: 4 faster when met twice, up to 96",
    "settle": "settle: 1 second",
    "one breath": "one breath: yes",
    "vibrato": "vibrato: [straight, 3 a beat, 4 a beat]",
    "swell": "swell: there and back",
    "colours": "colours: [dark, bright]",
    "pairs": "pairs: [G4 A4, D#5 E5]",
    "rhythms": "rhythms: [eighths, triplets, sixteenths]",
    "way": "way: slow and goal in turns",
    "key": "key: E flat",
    "form": "form: major",
    "chord": "chord: dominant seventh",
    "range": "range: two octaves",
    "pattern": "pattern: thirds",
    "rhythm": "rhythm: triplets",
    "articulations": "articulations: [slurred, single]",
    "tempo": "tempo: 72",
    "rounds": "rounds: 3",
    "order": "order: mixed once it holds",
    "of": "of: scale",
    "from": "from: 60",
    "to": "to: 96",
    "within": "within: 5 minutes",
    "beats each": "beats each: 4",
    "beats between": "beats between: 2",
    "time": "time: 4/4",
    "notes": "notes: quarter mf (G4 A4) louder B4. D5, | f whole G4>",
}
_EXAMPLES_IN: Mapping[tuple[str, str], str] = {
    ("long tones", "notes"): "notes: [B4, A#4, A4]",
    ("voicing", "form"): "form: octaves",
    ("rest", "levels"): "levels: {beginner: {words: Lie down.}, advanced: leave out}",
    ("read", "levels"): "levels: {advanced: leave out}",
    ("include", "levels"): "levels: {beginner: leave out}",
}
_WEEK_EXAMPLES: Mapping[str, str] = {
    "monday": "monday: C",
    "tuesday": "tuesday: E flat",
    "wednesday": "wednesday: [chord of the day]",
    "thursday": "thursday: {key: D, words: Slowly today.}",
    "friday": "friday: {key: A, exercises: [scale of the day]}",
    "saturday": "saturday: all",
    "sunday": "sunday: free",
    OTHER_DAYS: "other days: G",
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


def week_example(field: Field) -> str:
    """A line that may stand under 'week'."""
    return _WEEK_EXAMPLES[field.name]


_NEEDED_INSTEAD: Mapping[str, str] = {"long tones": "notes", "voicing": "key"}
"""One of two fields is needed; this one stands in the example."""


def needed_lines(kind: Kind) -> tuple[str, ...]:
    """The lines an entry of this kind can't do without."""
    needed = [field for field in kind.fields if field.required]
    if kind.word in _NEEDED_INSTEAD:
        needed = [field for field in kind.fields if field.name == _NEEDED_INSTEAD[kind.word]]
    return (opening_example(kind), *(field_example(kind, field) for field in needed))


WIDTH = 80
"""Columns of a terminal as it opens."""


def reference() -> str:
    """The page, as Markdown no wider than a terminal: the routine, then every kind of entry."""
    parts = [_TOP, *_fields((field, routine_example(field)) for field in ROUTINE_FIELDS), _HOLDERS]
    parts += _week()
    parts += ["", *_every_exercise()]
    parts += [
        _FROM_DAY_TO_DAY.replace("LENGTH_WORDS", ", ".join(LENGTHS))
        .replace("SHARE_WORDS", ", ".join(SHARES))
        .replace("DYNAMIC_WORDS", ", ".join(Dynamic))
        .replace("ORNAMENT_WORDS", ", ".join(ORNAMENT_WORDS))
    ]
    for kind in KINDS.values():
        parts += ["", *_section(kind)]
    text = "\n".join([*parts, "", *_aims()])
    return "\n".join(_in_width(text.split("\n"))) + "\n"


def _in_width(lines: Iterable[str]) -> Iterator[str]:
    """Paragraphs and items filled anew; what stands between backquotes stays on one line."""
    written: list[str] = []
    fenced = False
    for line in [*lines, ""]:
        fence = line.startswith("```")
        begins = not line or fence or fenced or line.startswith(("- ", "#"))
        if begins and written:
            yield from _filled(" ".join(written))
            written = []
        if not line or fence or fenced or line.startswith("#"):
            yield line
        else:
            written.append(line.strip())
        fenced ^= fence


_CODE = re.compile(r"`[^`]+`")
_BOUND = "\N{NO-BREAK SPACE}"


def _filled(paragraph: str) -> list[str]:
    bound = _CODE.sub(lambda code: code[0].replace(" ", _BOUND), paragraph)
    after = "  " if paragraph.startswith("- ") else ""
    lines = textwrap.wrap(
        bound, WIDTH, subsequent_indent=after, break_on_hyphens=False, break_long_words=False
    )
    return [line.replace(_BOUND, " ") for line in lines]


_TOP = """# What may be written in a routine

A routine is a YAML file. Capitals, hyphens and the order of fields don't matter; a line that
begins with `#` is a note to yourself. `trainer check FILE` says what is wrong, and where.

## At the top
"""
_HOLDERS = """
`defaults:` holds fields marked † below, for every exercise that doesn't say otherwise.
`exercises:` is the list of entries, in order; each begins with `-` and the word of its kind.

## week

`week:` says what is different from day to day. Exercises with `key: of the week` take the day's
key; rests stay between exercises that are played, words to read stay before theirs.
"""
_FROM_DAY_TO_DAY = """
## From day to day

- `progress: next key when met twice` moves on through the exercise's keys when the aims were met in
  two sessions running, instead of every day; `progress: 4 faster when met 3 times, up to 96` raises
  the tempo. In full: `progress: {then: 4 faster, when met: 3, up to: 96}`.
- `levels: {beginner: {range: one octave}, advanced: leave out}` in an exercise changes its fields
  for one level, or leaves it out. `level: beginner` at the top says which level holds.
- `- include: warm_up.yaml` puts the exercises of another file here, with that file's own defaults;
  instrument, limits and week are those of this file. Only files in this folder can be included.

## Notes of a passage

`quarter mf (G4 A4) louder B4. D5, | f whole G4>`: a length holds until the next one; brackets make
a slur, `,` a breath, `|` a bar line that is checked; `rest` is a rest; `half+eighth` ties
two lengths, `half G4+ | eighth G4` two notes, over the bar line too.

- Lengths: LENGTH_WORDS.
- Before a length: SHARE_WORDS, or `7:4` for seven in the time of four.
- Behind a note `.` is staccato, `-` tenuto (under a slur a soft stroke), `>` an accent.
- Dynamics, before their note: DYNAMIC_WORDS; `louder` and `softer` lead to the next one.
- Before a note: ORNAMENT_WORDS; `fermata`. `grace D5 E5 quarter F5` are grace notes: `grace` stands
  in place of a length. How fast, and whether an ornament is played at all, is never judged; after
  a fermata and after `//`, a caesura, the beat waits for you.
- `upbeat quarter G4 | …` begins with an upbeat. `[5 bars rest]` are bars of rest.
- `|: … :|` repeats; `|: … |1 … :|2 … ||` has endings. `D.C. al fine`, `D.S.` with `segno`, `fine`,
  `to-coda` and `coda` go back. The notes come as they are played.
- `[tempo 84]` changes the tempo from the next note on, `[tempo primo]` goes back to the passage's
  own. What comes right after is never called late.
- `[time 3/4]` and `[key D minor]`, behind a `|`, change time and key from there on; a quarter
  stays as long as it was. Click, bar checks and signs follow.
- `[cadenza] … [in time]` is untimed: no click, no bar lines, only pitches are judged. It is a
  round of its own between two in time: begin it when you like, play it as you like.
- `8va`, `8vb` and `15ma` move what is written until `loco`.

Begin the text on a line of its own, below `notes: |`, and all of these signs are read.
"""


NOT_PLAYED = ("rest", "read", "include")


def in_every_exercise() -> tuple[Field, ...]:
    """Fields that mean the same in every kind that is played."""
    first, *others = (kind for kind in KINDS.values() if kind.word not in NOT_PLAYED)
    return tuple(field for field in first.fields if all(field in kind.fields for kind in others))


def _week() -> Iterator[str]:
    yield f"After each day write {DAY.says}."
    yield ""
    for field in WEEK_FIELDS.values():
        yield f"- `{week_example(field)}`: {field.explanation} Without it: {field.default_says}."


def _every_exercise() -> Iterator[str]:
    yield "## In every exercise"
    yield ""
    kind = KINDS["scale"]
    yield from _fields((field, field_example(kind, field)) for field in in_every_exercise())


def _section(kind: Kind) -> Iterator[str]:
    yield f"## {kind.word}"
    yield ""
    yield f"{kind.explanation} After `{kind.word}:` write {kind.opening.says}."
    yield ""
    first, *others = needed_lines(kind)
    yield from ("```yaml", f"- {first}", *(f"  {line}" for line in others), "```", "")
    common = in_every_exercise() if kind.word not in NOT_PLAYED else ()
    own = [field for field in kind.fields if field not in common]
    if own:
        yield from _fields((field, field_example(kind, field)) for field in own)
    if len(own) < len(kind.fields):
        yield from ("", "And the fields of every exercise.")
    if kind.word == "speed climb":
        yield from ("", *(_climbing_on(word) for word in CLIMBED))


def _fields(rows: Iterable[tuple[Field, str]]) -> Iterator[str]:
    for field, example in rows:
        inherits = " †" if field.inherits else ""
        yield (
            f"- `{example}`{inherits}: {field.explanation} Write {field.reader.says}. "
            f"{_without(field)}"
        )


def _without(field: Field) -> str:
    if field.required:
        return "It must be written."
    return f"Without it: {field.default_says or 'nothing'}."


def _climbing_on(word: str) -> str:
    names = ", ".join(field.name for field in climb_fields(word))
    return f"- `of: {word}` takes: {names}."


def _aims() -> Iterator[str]:
    yield "## aims"
    yield ""
    for name, aim in AIMS_FIELDS.items():
        yield f"- `{name}`: {aim.explanation} Write {aim.reader.says}."
