"""Kinds of lines in a session's file: how each is written, read, described and remembered.

`read` raises ValueError with a sentence that says what should stand there.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from enum import StrEnum
from typing import Any, ClassVar

from trainer.music.articulations import ARTICULATION_NAME, AnyArticulation, articulation_named
from trainer.music.note import Articulation
from trainer.music.pitch import Pitch

WIDEST = (-1_000_000.0, 1_000_000.0)
"""For every number without limits of its own."""
FIRST_YEAR, LAST_YEAR = 1900, 2199
"""Of every time: clocks that were never set begin with 1970, and nothing overflows near these."""
PITCH_PATTERN = r"[A-G](?:##?|bb?)?-?\d"
TIME_PATTERN = r"^\d{4}-\d{2}-\d{2}[ T]\d{2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d{2}:\d{2})?$"
NUMBER_PATTERN = r"-?\d{1,5}(?:\.\d{1,4})?"

Schema = dict[str, Any]


@dataclass(frozen=True)
class KeptKind:
    """What stands after a key; here, whatever needs no change on any way."""

    sql: ClassVar[str] = "TEXT"
    """Its column in the index."""

    def plain(self, value: Any) -> Any:
        """As it is written; None where there is nothing to write."""
        return value

    def read(self, key: str, value: object) -> Any:
        """From what is written."""
        raise NotImplementedError

    def schema(self) -> Schema:
        """As JSON Schema, without its description."""
        raise NotImplementedError

    def pattern(self) -> str:
        """A regular expression for it inside a note's line."""
        raise NotImplementedError

    def kept(self, value: Any) -> Any:
        """As the index keeps it."""
        return value

    def back(self, value: Any) -> Any:
        """From what the index keeps."""
        return value


@dataclass(frozen=True)
class Text(KeptKind):
    """Words."""

    def plain(self, value: Any) -> str:
        """Fit for UTF-8."""
        return str(value).encode("utf-8", "replace").decode("utf-8")

    kept = plain
    """No database takes half characters."""

    def read(self, key: str, value: object) -> str:
        """Whatever is one value.

        Raises ValueError for anything else, saying what should stand there.
        """
        if isinstance(value, (list, dict)):
            raise ValueError(f"'{key}' should be words; put them in quotes")
        return value if isinstance(value, str) else str(value)

    def schema(self) -> Schema:
        """Any text."""
        return {"type": "string"}


@dataclass(frozen=True)
class Texts(KeptKind):
    """A list of words."""

    def plain(self, value: Any) -> list[str]:
        """Without empty ones."""
        return [Text().plain(words) for words in value if words]

    def read(self, key: str, value: object) -> tuple[str, ...]:
        """Each as words."""
        return tuple(Text().read(key, item) for item in listed(key, value))

    def schema(self) -> Schema:
        """Texts."""
        return {"type": "array", "items": {"type": "string"}}


@dataclass(frozen=True)
class Number(KeptKind):
    """A number."""

    decimals: int = 1
    """As fine as it is written."""
    least: float = WIDEST[0]
    greatest: float = WIDEST[1]
    """Limits of what can be meant."""
    sql: ClassVar[str] = "REAL"

    def plain(self, value: Any) -> float | int | None:
        """No finer than it could be measured; 72 and not 72.0; None for what is no number."""
        if value is None or not math.isfinite(value):
            return None
        return rounded(float(value), self.decimals)

    def read(self, key: str, value: object) -> float:
        """A number within the limits.

        Raises ValueError for anything else, saying what should stand there.
        """
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise ValueError(f"'{key}' should be a number, not {shown(value)}")
        if not self.least <= value <= self.greatest:  # also false for NaN
            raise ValueError(
                f"'{key}: {shown(value)}' should lie from {self.least:g} to {self.greatest:g}"
            )
        return float(value)

    def schema(self) -> Schema:
        """With its limits."""
        return {"type": "number", "minimum": self.least, "maximum": self.greatest}

    def pattern(self) -> str:
        """Digits as the trainer writes them."""
        return NUMBER_PATTERN


@dataclass(frozen=True)
class Whole(Number):
    """A whole number."""

    sql: ClassVar[str] = "INTEGER"

    def plain(self, value: Any) -> int:
        """Python's own kind of it."""
        return int(value)

    def read(self, key: str, value: object) -> int:
        """No fraction is taken.

        Raises ValueError for anything else, saying what should stand there.
        """
        number = super().read(key, value)
        if number != math.floor(number):
            raise ValueError(f"'{key}' should be a whole number, not {shown(value)}")
        return int(number)

    def schema(self) -> Schema:
        """With its limits."""
        return super().schema() | {"type": "integer"}


@dataclass(frozen=True)
class Form(KeptKind):
    """The number of the file's form."""

    present: int
    sql: ClassVar[str] = "INTEGER"

    def read(self, key: str, value: object) -> int:
        """The present form; a later one is told of.

        Raises ValueError for anything else, saying what should stand there.
        """
        form = Whole().read(key, value)
        if form > self.present:
            raise ValueError(
                f"a newer trainer wrote this file (form {form}, this trainer reads up to "
                f"{self.present}); update the trainer to read it"
            )
        if form < self.present:
            raise ValueError(f"'{key}: {form}' never was; write '{key}: {self.present}'")
        return form

    def schema(self) -> Schema:
        """Nothing else will do."""
        return {"const": self.present}


@dataclass(frozen=True)
class Truth(KeptKind):
    """True or false."""

    sql: ClassVar[str] = "INTEGER"

    def plain(self, value: Any) -> bool | None:
        """Python's own kind of it."""
        return None if value is None else bool(value)

    def read(self, key: str, value: object) -> bool:
        """No other word is taken.

        Raises ValueError for anything else, saying what should stand there.
        """
        if not isinstance(value, bool):
            raise ValueError(f"'{key}' should be true or false, not {shown(value)}")
        return value

    def schema(self) -> Schema:
        """True or false."""
        return {"type": "boolean"}

    def pattern(self) -> str:
        """It is only written where it is true."""
        return "true"

    def back(self, value: Any) -> bool | None:
        """The database knows 0 and 1."""
        return None if value is None else bool(value)


@dataclass(frozen=True)
class Word(KeptKind):
    """One of a few words."""

    words: type[StrEnum]

    def plain(self, value: Any) -> str | None:
        """The word itself."""
        return None if value is None else str(value.value)

    def read(self, key: str, value: object) -> StrEnum:
        """One of the words, spelled so.

        Raises ValueError for anything else, saying what should stand there.
        """
        try:
            return self.words(str(value))
        except ValueError:
            choices = ", ".join(item.value for item in self.words)
            raise ValueError(f"'{key}: {shown(value)}' should be one of: {choices}") from None

    def schema(self) -> Schema:
        """Every word."""
        return {"enum": [word.value for word in self.words]}

    def pattern(self) -> str:
        """Every word."""
        return f"(?:{'|'.join(self.words)})"

    kept = plain

    def back(self, value: Any) -> StrEnum | None:
        """The word again."""
        return None if value is None else self.words(value)


@dataclass(frozen=True)
class ArticulationName(KeptKind):
    """'slurred', 'slur 2 tongue 2'."""

    def plain(self, value: Any) -> str:
        """Its name."""
        return str(value)

    def read(self, key: str, value: object) -> AnyArticulation:
        """What is called so.

        Raises ValueError for anything else, saying what should stand there.
        """
        try:
            return articulation_named(str(value))
        except ValueError:
            choices = ", ".join(Articulation)
            raise ValueError(
                f"'{key}: {shown(value)}' should be one of: {choices}; "
                "or a pattern such as 'slur 2 tongue 2'"
            ) from None

    def schema(self) -> Schema:
        """Every name."""
        return {"type": "string", "pattern": f"^{ARTICULATION_NAME}$"}

    def pattern(self) -> str:
        """Every name."""
        return ARTICULATION_NAME

    kept = plain

    def back(self, value: Any) -> AnyArticulation:
        """The articulation again."""
        return articulation_named(str(value))


@dataclass(frozen=True)
class PitchName(KeptKind):
    """A written pitch: 'F#5'."""

    def read(self, _key: str, value: object) -> str:
        """Spelled as we spell it."""
        return str(Pitch.parse(str(value)))

    def schema(self) -> Schema:
        """Letter, accidental, octave."""
        return {"type": "string", "pattern": f"^{PITCH_PATTERN}$"}

    def pattern(self) -> str:
        """Letter, accidental, octave."""
        return PITCH_PATTERN


@dataclass(frozen=True)
class PitchNames(KeptKind):
    """Several written pitches in order."""

    def plain(self, value: Any) -> list[str]:
        """A list."""
        return list(value)

    def read(self, key: str, value: object) -> tuple[str, ...]:
        """Each spelled as we spell it."""
        return tuple(PitchName().read(key, item) for item in listed(key, value))

    def schema(self) -> Schema:
        """Pitches."""
        return {"type": "array", "items": PitchName().schema()}

    def kept(self, value: Any) -> str:
        """One line."""
        return " ".join(value)

    def back(self, value: Any) -> tuple[str, ...]:
        """Each again."""
        return tuple(value.split())


@dataclass(frozen=True)
class Time(KeptKind):
    """A moment, with its offset from UTC."""

    def plain(self, value: Any) -> datetime | None:
        """To the second, with an offset of whole minutes: all that YAML's time can hold."""
        if value is None:
            return None
        offset = value.utcoffset() or timedelta(0)
        minutes = round(offset / timedelta(minutes=1))
        moment: datetime = value.astimezone(timezone(timedelta(minutes=minutes)))
        return moment.replace(microsecond=0)

    def read(self, key: str, value: object) -> datetime:
        """ISO 8601; without an offset it is taken to be UTC.

        Raises ValueError for anything else, saying what should stand there.
        """
        try:
            moment = datetime.fromisoformat(str(value))
        except ValueError:
            raise ValueError(
                f"'{key}: {shown(value)}' is no time; write it as 2026-11-23 17:05:12+01:00"
            ) from None
        if not FIRST_YEAR <= moment.year <= LAST_YEAR:
            raise ValueError(
                f"'{key}: {shown(value)}' should lie in a year from {FIRST_YEAR} to {LAST_YEAR}"
            )
        return moment if moment.tzinfo else moment.replace(tzinfo=UTC)

    def schema(self) -> Schema:
        """Text, as YAML and JSON write it."""
        return {"type": "string", "pattern": TIME_PATTERN}

    def kept(self, value: Any) -> str | None:
        """ISO 8601."""
        return None if value is None else str(value.isoformat())

    def back(self, value: Any) -> datetime | None:
        """The moment again."""
        return None if value is None else datetime.fromisoformat(value)


@dataclass(frozen=True)
class Spans(KeptKind):
    """Pairs of seconds: from, to."""

    def plain(self, value: Any) -> list[list[Any]]:
        """Lists of two."""
        return [[Number().plain(at) for at in span] for span in value]

    def read(self, key: str, value: object) -> tuple[tuple[float, float], ...]:
        """Two numbers each.

        Raises ValueError for anything else, saying what should stand there.
        """
        spans = []
        for item in listed(key, value):
            if not isinstance(item, list) or len(item) != 2:
                raise ValueError(f"'{key}' should be pairs of seconds: [[8.1, 8.5]]")
            spans.append((Number().read(key, item[0]), Number().read(key, item[1])))
        return tuple(spans)

    def schema(self) -> Schema:
        """Two numbers each."""
        pair = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
        return {"type": "array", "items": pair}


# Lines within lines


@dataclass(frozen=True)
class Kept:
    """One line of the file, and the field of `journal.log` it becomes."""

    key: str
    """In the file."""
    kind: KeptKind
    says: str
    """What it is, a sentence for readers of the schema."""
    name: str = ""
    """The field in `journal.log`; empty where it is called as in the file."""
    required: bool = False
    """Where it is missing or wrong, what it stands in is left out."""
    strict: bool = False
    """Where it is wrong, what it stands in is left out; it may be missing."""
    required_unless: tuple[str, str] | None = None
    """Required, unless the line of this key says this."""
    absent: Any = None
    """What stands for it where it is missing."""
    tacit: bool = False
    """What `absent` says is not written."""
    if_wrong: Any = None
    """What stands for it where it can't be understood; None: as where it is missing."""
    indexed: bool = False
    """The index keeps it: it is at hand for years of sessions at once."""

    @property
    def attribute(self) -> str:
        """The field in `journal.log`."""
        return self.name or self.key


KeptFields = tuple[Kept, ...]


@dataclass(frozen=True)
class Record(KeptKind):
    """A mapping of its own, on one line."""

    fields: KeptFields
    make: Callable[..., Any]


@dataclass(frozen=True)
class Inline(KeptKind):
    """Several lines that make one thing, all or none, without a key of their own in the file."""

    fields: KeptFields
    make: Callable[..., Any]


@dataclass(frozen=True)
class Records(KeptKind):
    """A list of mappings."""

    fields: KeptFields
    make: Callable[..., Any]
    each_counts: bool = False
    """Where one can't be read, what the list stands in is left out, not only the one."""

    def kept(self, value: Any) -> list[list[Any]]:
        """Values in the order of the fields."""
        return [
            [field.kind.kept(getattr(item, field.attribute)) for field in self.fields]
            for item in value
        ]

    def back(self, value: Any) -> tuple[Any, ...]:
        """Each again."""
        return tuple(
            self.make(
                **{
                    field.attribute: field.kind.back(one)
                    for field, one in zip(self.fields, item, strict=True)
                }
            )
            for item in value
        )


def flat(fields: KeptFields) -> KeptFields:
    """The fields as they stand in the file, those without a key of their own taken apart."""
    found: list[Kept] = []
    for field in fields:
        found += flat(field.kind.fields) if isinstance(field.kind, Inline) else (field,)
    return tuple(found)


def rounded(value: float, decimals: int) -> float | int:
    """So fine and no finer; a whole number without a point."""
    figure = round(value, decimals)
    return int(figure) if figure == int(figure) else figure


def listed(key: str, value: object) -> list[object]:
    """The value as a list.

    Raises ValueError for anything else.
    """
    if not isinstance(value, list):
        raise ValueError(f"'{key}' should be a list, one line each beginning with '-'")
    return value


def mapped(key: str, value: object) -> dict[object, object]:
    """The value as a mapping.

    Raises ValueError for anything else.
    """
    if not isinstance(value, dict):
        raise ValueError(f"'{key}' should be lines of 'name: value', not {shown(value)}")
    return value


def shown(value: object) -> str:
    """A value short enough for a sentence."""
    if isinstance(value, (list, dict)):
        return "a list" if isinstance(value, list) else "more lines"
    text = str(value)
    return text if len(text) <= 40 else text[:39] + "…"
