"""The information fields of ABC notation: key, metre, unit of length and tempo.

After the ABC standard 2.1 (abcnotation.com/wiki/abc:standard:v2.1), section 3.1.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from trainer.music.key import Key, Mode, major_keys, minor_keys
from trainer.score.numbers import integer

_MODES = {"": 0, "maj": 0, "ion": 0, "m": -3, "min": -3, "aeo": -3, "mix": -1, "dor": -2,
          "phr": -4, "lyd": 1, "loc": -5}  # fmt: skip
"""Mode → fifths from the major key on the same tonic."""
_KEY = re.compile(r"\s*([A-G])([#b]?)\s*([A-Za-z]*)(.*)")
_SIGN = re.compile(r"(\^\^|\^|__|_|=)([a-gA-G])")
_ALTERS = {"^^": 2, "^": 1, "__": -2, "_": -1, "=": 0}
_FIFTHS = {letter: fifths for fifths, letter in enumerate("FCGDAEB", start=-1)}
_TEMPO = re.compile(
    r"((?:\d{1,3}/\d{1,3}\s{1,9}){0,3}\d{1,3}/\d{1,3})\s{0,9}=\s{0,9}(\d{1,4}(?:\.\d{1,4})?)"
)
"""Up to four notes and a number (section 3.1.8); how much may stand there is bounded, or a field
without end would be tried in every way."""
SHORT_METER = Fraction(3, 4)
"""A shorter bar has sixteenths for its unit, a longer one eighths (section 3.1.7)."""


@dataclass(frozen=True)
class AbcKey:
    """A key field: the signature as letters with their signs, and the key it is nearest to."""

    alters: dict[str, int] = field(default_factory=dict)
    key: Key | None = None
    left_out: tuple[str, ...] = ()
    modal: bool = False
    """Neither major nor minor: the major key of the signature stands for it."""


def read_key(text: str) -> AbcKey:
    """'D', 'Ador', 'F#m', 'D exp ^f', 'none'; signs behind the key change its signature."""
    if text.strip().lower() in ("", "none") or text.strip().startswith("exp"):
        return AbcKey(alters=_signs(text))
    if text.strip().startswith(("HP", "Hp")):
        return AbcKey(alters={"F": 1, "C": 1}, key=_key(2, Mode.MAJOR))
    match = _KEY.match(text)
    if match is None:
        return AbcKey(left_out=("a key that can't be read",))
    letter, sign, mode, rest = match.groups()
    word = mode.lower()[:3]
    if word == "exp" or (word and word not in _MODES):
        rest, word = mode + rest, ""
    fifths = _FIFTHS[letter] + 7 * {"": 0, "#": 1, "b": -1}[sign] + _MODES[word]
    if abs(fifths) > 7:
        return AbcKey(left_out=("a key that can't be read",))
    order = "FCGDAEB"
    alters = dict.fromkeys(order[: max(0, fifths)], 1)
    alters |= dict.fromkeys(order[7 + min(0, fifths) :], -1)
    if "exp" in (mode + rest).lower():
        alters = {}
    alters |= _signs(rest)
    names = ["an octave or transposition of the key field"] * bool(
        re.search(r"octave|transpose|clef=\S{0,20}[+-]8|[+-]8", rest)
    )
    minor = word in ("m", "min", "aeo")
    key = _key(fifths, Mode.MINOR if minor else Mode.MAJOR)
    modal = word not in ("", "maj", "ion") and not minor
    return AbcKey(alters, key, tuple(names), modal)


def _signs(text: str) -> dict[str, int]:
    return {letter.upper(): _ALTERS[sign] for sign, letter in _SIGN.findall(text)}


def _key(fifths: int, mode: Mode) -> Key | None:
    keys = minor_keys() if mode is Mode.MINOR else major_keys()
    return next((key for key in keys if key.signature == fifths), None)


def read_meter(text: str) -> tuple[int, int] | None:
    """'6/8', 'C', 'C|', '2+3/8'; None in free time."""
    words = text.strip()
    if words in ("C", "C|"):
        return (4, 4) if words == "C" else (2, 2)
    match = re.match(r"\(?([\d+\s]{1,40})\)?\s{0,9}/\s{0,9}(\d{1,3})", words)
    if match is None:
        return None
    beats = sum(integer(part, 0) for part in match[1].split("+"))
    unit = integer(match[2], 0)
    return (beats, unit) if unit in (1, 2, 4, 8, 16, 32) and 0 < beats <= 64 else None


def read_length(text: str) -> Fraction | None:
    """'1/8' as quarters."""
    match = re.match(r"\s*(\d{1,3})(?:/(\d{1,3}))?", text)
    if match is None or not int(match[2] or 1) or not int(match[1]):
        return None
    return 4 * Fraction(int(match[1]), int(match[2] or 1))


def unit_of(meter: tuple[int, int] | None) -> Fraction:
    """The unit of length, in quarters, where no field says it."""
    bar = Fraction(*meter) if meter is not None else Fraction(1)
    return Fraction(1, 4) if bar < SHORT_METER else Fraction(1, 2)


def read_tempo(text: str, unit: Fraction) -> float | None:
    """Quarters a minute: '1/4=120', '3/8 = 60', or a bare number of units."""
    plain = re.sub(r'"[^"]*"', "", text).strip()
    match = _TEMPO.search(plain)
    if match is not None:
        beats = [read_length(part) or Fraction(0) for part in match[1].split()]
        return float(sum(beats) * Fraction(match[2])) or None
    number = re.fullmatch(r"(?:C\d*\s*=\s*)?(\d{1,4}(?:\.\d{1,4})?)", plain)
    return float(unit * Fraction(number[1])) or None if number else None
