"""Files broken by lot: is each mistake told at its place, rightly mended, and nothing false said?

From the shipped routines, one edit each of the kinds teachers make, drawn with a seed; what was
done is known, so line and mending are too. A file that still says the same is no mistake and is
drawn again. Counted: problems at the right line, with the right mending, tracebacks, suggestions
that are not what stood there, and files that were taken and meant something else.

    python -m tests.bench.broken_files [SEED] [COUNT]
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from random import Random

from trainer.routine.fields import DEFAULTS_FIELDS, KINDS, ROUTINE_FIELDS
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.problem import Problem

ROUTINES = Path(__file__).parents[2] / "routines"
DAY = date(2026, 3, 2)
FIELDS = {
    *(field.name for field in ROUTINE_FIELDS),
    *DEFAULTS_FIELDS,
    *(field.name for kind in KINDS.values() for field in kind.fields),
}
LONG_ENOUGH = 4
"""Letters of a word that is misspelled: shorter ones may be anything."""
_FIELD = re.compile(r"^(?P<margin>\s*(?:- )?)(?P<name>[a-z][a-z ]*?):(?P<blank> +)(?P<value>\S.*)$")
_WORDED = ("articulations", "rhythm", "range", "partner", "form", "chord", "pattern", "instrument",
           "swell", "temperament", "click")  # fmt: skip


@dataclass(frozen=True)
class Broken:
    """A broken file and what should be said of it."""

    kind: str
    file: str
    text: str
    lines: tuple[int, ...]
    """Where a person would put a finger, from 1; the first is best, all are right."""
    mend: str
    """A regular expression that the mending answers to."""
    right: str
    """What stood there: a suggestion may be no other."""


@dataclass(frozen=True)
class Place:
    """A line with a field in it."""

    number: int
    name: str
    value: str
    margin: str
    lines: tuple[str, ...]
    file: str

    def broken(
        self, kind: str, line: str, mend: str, right: str = "", also: tuple[int, ...] = ()
    ) -> Broken:
        """The file with this line written otherwise."""
        text = "\n".join((*self.lines[: self.number - 1], line, *self.lines[self.number :]))
        return Broken(kind, self.file, text, (self.number, *also), mend, right)

    @property
    def ends(self) -> bool:
        """Nothing of the value goes on in the next line."""
        return self.value[0] not in "|>[{" or self.value[-1] in "]}"


def places(file: str, text: str) -> list[Place]:
    """Every line that is a field of its own, outside the teacher's texts and lines of notes."""
    found, inside = [], None
    lines = tuple(text.split("\n"))
    for number, line in enumerate(lines, 1):
        margin = len(line) - len(line.lstrip())
        if inside is not None and (not line.strip() or margin > inside):
            continue
        inside = None
        match = _FIELD.match(line.split(" #")[0].rstrip())
        if match is None:
            continue
        if match["value"][0] in "|>":
            inside = len(match["margin"])
        if match["name"] in FIELDS or match["name"] in KINDS:
            found.append(Place(number, match["name"], match["value"], match["margin"], lines, file))
    return found


def misspelled(word: str, random: Random) -> str:
    """One letter left out, doubled, exchanged with its neighbour or another: not the first."""
    at = random.randrange(1, len(word) - 1)
    match random.randrange(4):
        case 0:
            return word[:at] + word[at + 1 :]
        case 1:
            return word[:at] + word[at] + word[at:]
        case 2:
            return word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    other = random.choice([letter for letter in "aeinorst" if letter != word[at]])
    return word[:at] + other + word[at + 1 :]


# The edits: each gives a broken file, or None where this place doesn't bear it

Edit = Callable[[Place, Random], "Broken | None"]


def _colon_missing(place: Place, _: Random) -> Broken | None:
    line = f"{place.margin}{place.name} {place.value}"
    mend = re.escape(f"{place.name}: {place.value[:20]}") + r"|'tempo: 60'"
    return place.broken("colon missing", line, mend) if place.ends else None


def _blank_missing(place: Place, _: Random) -> Broken | None:
    line = f"{place.margin}{place.name}:{place.value}"
    mend = re.escape(f"{place.name}: {place.value[:20]}")
    return (
        place.broken("blank after the colon", line, mend)
        if place.value[0] not in "[{|>\"'"
        else None
    )


def _dash_glued(place: Place, _: Random) -> Broken | None:
    if not place.margin.endswith("- "):
        return None
    line = f"{place.margin[:-1]}{place.name}: {place.value}"
    return place.broken("blank after the dash", line, re.escape(f"- {place.name}"))


def _dash_missing(place: Place, _: Random) -> Broken | None:
    if not place.margin.endswith("- ") or not place.number > 12:
        return None
    line = f"{place.margin[:-2]}{place.name}: {place.value}"
    return place.broken("dash missing", line, re.escape(f"- {place.name}"))


def _name_misspelled(place: Place, random: Random) -> Broken | None:
    wrong = misspelled(place.name, random) if len(place.name) >= LONG_ENOUGH else place.name
    if wrong in FIELDS or wrong in KINDS or wrong.replace(" ", "") == place.name.replace(" ", ""):
        return None
    line = f"{place.margin}{wrong}: {place.value}"
    return place.broken("name misspelled", line, f"'{place.name}'", place.name)


def _word_misspelled(place: Place, random: Random) -> Broken | None:
    if place.name not in _WORDED:
        return None
    words = [word for word in re.findall(r"[a-z][a-z-]*", place.value) if len(word) > LONG_ENOUGH]
    if not words:
        return None
    word = random.choice(words)
    wrong = misspelled(word, random)
    value = re.sub(rf"\b{word}\b", wrong, place.value, count=1)
    line = f"{place.margin}{place.name}: {value}"
    return (
        place.broken("word misspelled", line, re.escape(word[:4]), word) if wrong != word else None
    )


def _key_misspelled(place: Place, random: Random) -> Broken | None:
    if place.name != "key" or not re.fullmatch(
        r"[A-G]( flat| sharp)?( minor| major)?", place.value
    ):
        return None
    wrong = random.choice(["H flat", "E flatt", "K", "C moll sharp", "E plat", "Q minor", "9"])
    return place.broken("no such key", f"{place.margin}key: {wrong}", r"E flat|B|key|minor")


def _number_bad(place: Place, random: Random) -> Broken | None:
    wrong = {
        "tempo": ["600", "-4", "0", "fast enough", "12.5.3"],
        "rounds": ["0", "500", "-1", "many"],
        "beats each": ["0", "-2", "long"],
        "from": ["5", "900"],
        "to": ["5", "900"],
    }.get(place.name)
    if wrong is None or place.margin.endswith("- "):
        return None
    line = f"{place.margin}{place.name}: {random.choice(wrong)}"
    return place.broken("number that can't be", line, r"\d")


def _unit_wrong(place: Place, random: Random) -> Broken | None:
    if place.name not in ("rest after", "rest", "within"):
        return None
    wrong = random.choice(["2 minuts", "2 lightyears", "soon"])
    line = f"{place.margin}{place.name}: {wrong}"
    return place.broken("unit wrong", line, r"minutes|seconds")


def _quote_open(place: Place, random: Random) -> Broken | None:
    if place.name not in ("words", "title") or not place.ends or re.search("['\"]", place.value):
        return None
    line = f"{place.margin}{place.name}: {random.choice(chr(34) + chr(39))}{place.value}"
    return place.broken("quote not closed", line, r"[Cc]lose it|quot")


def _tab(place: Place, _: Random) -> Broken | None:
    if not place.margin.startswith("  ") or place.margin.endswith("- "):
        return None
    return place.broken("tab", f"\t{place.name}: {place.value}", "spaces")


def _list_as_map(place: Place, _: Random) -> Broken | None:
    if not re.fullmatch(r"\[[^][{}]*\]", place.value):
        return None
    line = f"{place.margin}{place.name}: {{{place.value[1:-1]}}}"
    return place.broken("list in braces", line, r"\[|square|list")


def _bracket_open(place: Place, _: Random) -> Broken | None:
    if not re.fullmatch(r"[\[{][^][{}]*[\]}]", place.value):
        return None
    line = f"{place.margin}{place.name}: {place.value[:-1]}"
    return place.broken("bracket not closed", line, r"[Cc]lose|\[|\{")


def _moved_in(place: Place, random: Random) -> Broken | None:
    if place.margin.endswith("- ") or not place.margin or not place.ends:
        return None
    line = f"{place.margin}{' ' * random.choice([1, 2, 3])}{place.name}: {place.value}"
    return place.broken("moved in too far", line, r"[Ll]ine it up|same number of spaces|left")


def _moved_out(place: Place, random: Random) -> Broken | None:
    if place.margin.endswith("- ") or len(place.margin) < 4 or not place.ends:
        return None
    line = f"{place.margin[random.choice([1, 2]) :]}{place.name}: {place.value}"
    return place.broken("moved out", line, r"[Ll]ine|spaces|'- |Move")


def _twice(place: Place, _: Random) -> Broken | None:
    if place.margin.endswith("- ") or not place.ends:
        return None
    line = f"{place.margin}{place.name}: {place.value}"
    again = place.broken("said twice", f"{line}\n{line}", r"one of|[Ll]eave|once|[Tt]ake one")
    return replace(again, lines=(place.number + 1, place.number))


def _foreign_field(place: Place, random: Random) -> Broken | None:
    if place.name not in KINDS or place.name in ("rest", "read", "include"):
        return None
    own = {field.name for field in KINDS[place.name].fields}
    foreign = random.choice(sorted(FIELDS - own - {"level", "instrument", "tuning"}))
    line = f"{place.margin}{place.name}: {place.value}"
    margin = " " * len(place.margin)
    made = place.broken("field of another kind", f"{line}\n{margin}{foreign}: 4", r".")
    return replace(made, lines=(place.number + 1, place.number))


def _value_gone(place: Place, _: Random) -> Broken | None:
    if place.name not in ("key", "tempo", "range", "rhythm", "articulations"):
        return None
    line = f"{place.margin}{place.name}:"
    return place.broken("value missing", line, r"[Ww]rite|E flat|\d", also=(place.number + 1,))


def _second_colon(place: Place, _: Random) -> Broken | None:
    if place.name != "words" or not place.ends or re.search("['\":#]", place.value):
        return None
    first, _, rest = place.value.partition(" ")
    line = f"{place.margin}{place.name}: {first}: {rest}"
    return place.broken("second colon", line, re.escape(f"{first}: {rest[:10]}"))


_OF_ANOTHER_THING = {
    "tempo": "C major", "key": "60", "range": "60", "rhythm": "C", "aims": "good",
    "instrument": "violin", "articulations": "[60]", "notes": "60",
}  # fmt: skip


def _wrong_thing(place: Place, _: Random) -> Broken | None:
    wrong = _OF_ANOTHER_THING.get(place.name)
    if wrong is None or place.margin.endswith("- ") or not place.ends:
        return None
    return place.broken("another thing's value", f"{place.margin}{place.name}: {wrong}", r".")


EDITS: tuple[Edit, ...] = (
    _colon_missing, _blank_missing, _dash_glued, _dash_missing, _name_misspelled, _name_misspelled,
    _word_misspelled, _word_misspelled, _key_misspelled, _number_bad, _unit_wrong, _quote_open,
    _tab, _list_as_map, _bracket_open, _moved_in, _moved_out, _twice, _foreign_field, _value_gone,
    _second_colon, _wrong_thing,
)  # fmt: skip


def notes_broken(file: str, text: str, random: Random) -> Broken | None:
    """Something wrong in a line of notes: a name, a length, a bar that doesn't fit."""
    lines = text.split("\n")
    noted = [n for n, line in enumerate(lines)
             if re.search(r"\b(quarter|half|eighth)\b", line) and "|" in line
             and "#" not in line[:4] and ":" not in line]  # fmt: skip
    if not noted:
        return None
    at = random.choice(noted)
    line = lines[at]
    names = list(re.finditer(r"\b[A-G](?:b|#)?\d\b", line))
    name = random.choice(names)
    kind, wrong, mend = random.choice([
        ("no such note", line[: name.start()] + "H" + name[0][1:] + line[name.end() :],
         r"B|[Nn]ote"),
        ("note without octave", line[: name.start()] + name[0][:-1] + line[name.end() :],
         r"Write '[A-G][b#]?\d"),
        ("length misspelled", re.sub(r"\b(quarter|half|eighth)\b", lambda m: m[0][:2] + m[0][3:],
                                     line, count=1), r"'(quarter|half|eighth)'"),
    ])  # fmt: skip
    broken = "\n".join([*lines[:at], wrong, *lines[at + 1 :]])
    return Broken(kind, file, broken, (at + 1,), mend, "")


def drawn(seed: int, count: int) -> Iterator[Broken]:
    """So many different broken files, all kinds about as often."""
    random = Random(seed)
    texts = {
        file.name: file.read_text(encoding="utf-8") for file in sorted(ROUTINES.glob("*.yaml"))
    }
    found: dict[str, Broken] = {}
    turn = 0
    while len(found) < count:
        file = random.choice(list(texts))
        turn += 1
        if turn % (len(EDITS) + 2) == 0:
            broken = notes_broken(file, texts[file], random)
        else:
            place = random.choice(places(file, texts[file]))
            broken = EDITS[turn % len(EDITS)](place, random)
        if broken is None or broken.text in found or _means(broken.text) == _means(texts[file]):
            turn -= broken is None
            continue
        found[broken.text] = broken
    yield from found.values()


def _means(text: str) -> object:
    """What is played on a day; None where the file is refused."""
    routine, _ = read_routine(text, "m.yaml", ROUTINES)
    return None if routine is None else (routine.words, plan(routine, DAY, 0))


@dataclass(frozen=True)
class Verdict:
    """What was said of one broken file."""

    broken: Broken
    problems: tuple[Problem, ...]
    taken: bool
    at_its_place: bool
    mended: bool
    false_suggestions: tuple[str, ...]


def judged(broken: Broken) -> Verdict:
    """Raises what the reading raises."""
    routine, problems = read_routine(broken.text, broken.file, ROUTINES)
    here = [one for one in problems if one.line in broken.lines]
    suggested = [word for one in problems for word in re.findall(r"Did you mean '(.*?)'", one.mend)]
    false = [word for word in suggested if broken.right and broken.right not in word]
    mended = any(re.search(broken.mend, one.mend) for one in here)
    return Verdict(broken, problems, routine is not None, bool(here), mended, tuple(false))


def main() -> None:
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 0
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 120
    verdicts = [judged(one) for one in drawn(seed, count)]
    placed, mended = (
        sum(getattr(one, name) for one in verdicts) for name in ("at_its_place", "mended")
    )
    false = sum(bool(one.false_suggestions) for one in verdicts)
    print(f"seed {seed}: {count} files; at their place {placed} ({placed / count:.1%}), "
          f"rightly mended {mended} ({mended / count:.1%}), false suggestions {false}, "
          f"taken and meant otherwise {sum(one.taken for one in verdicts)}")  # fmt: skip
    print(dict(Counter(one.broken.kind for one in verdicts)))
    for one in verdicts:
        if not (one.at_its_place and one.mended) or one.false_suggestions or one.taken:
            line = one.broken.text.split("\n")[one.broken.lines[0] - 1]
            print(f"\n{one.broken.kind}, {one.broken.file} line {one.broken.lines}: {line!r}")
            print(
                "\n".join(f"    {problem.sentence()}" for problem in one.problems[:3])
                or "    taken"
            )


if __name__ == "__main__":
    main()
