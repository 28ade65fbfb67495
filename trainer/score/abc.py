"""ABC notation → the parts of a score: each voice of each tune is a part.

After the ABC standard 2.1 (abcnotation.com/wiki/abc:standard:v2.1), section 4. What a tune holds
besides its notes is named by bar.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from trainer.errors import ScoreError
from trainer.music.key import Key
from trainer.music.note import Dynamic, Hairpin, Mark, Ornament
from trainer.music.pitch import ACCIDENTALS, Pitch
from trainer.music.repeats import NO_SIGNS, BarSigns, Jump
from trainer.routine.notation import MOST_GRACES, MOST_NOTES
from trainer.score.abc_fields import (
    AbcKey,
    read_key,
    read_length,
    read_meter,
    read_tempo,
    unit_of,
)
from trainer.score.part import MOST_BARS, Bar, BarNote, Part, Score

MODAL = "Its mode is neither major nor minor: the major key of its signature is written."
MOST_TUNES = 500
"""A book of tunes."""
MOST_LENGTH = 64
"""No note is so many units long, or so small a part of one."""
_FIELD = re.compile(r"([A-Za-z+]):(.*)")
_LENGTH = r"(\d{0,4})(/*)(\d{0,4})"
_TOKEN = re.compile(
    r"(?P<inline>\[[A-Za-z]:[^][]{0,200}\])"
    r"|(?P<bar>:*\|[\]|]?:*(?:\s*\[?\d[\d,.-]*)?|\[\|:*|::+|\[\d[\d,.-]*|:\|?)"
    r"|(?P<text>\"[^\"]{0,200}\")"
    r"|(?P<decoration>!(?P<name>[^!\s]{1,40})!|\+(?P<old>[^+\s]{1,40})\+)"
    r"|(?P<grace>\{/?[^}{]{0,200}\})"
    r"|(?P<tuplet>\(\d(?::\d?){0,2})"
    rf"|(?P<chord>\[[^][|]{{0,200}}\])(?P<chord_length>{_LENGTH})"
    rf"|(?P<note>(?P<sign>\^\^|\^|__|_|=)?(?P<letter>[A-Ga-g])(?P<octave>[',]*)(?P<length>{_LENGTH}))"
    rf"|(?P<rest>[zx](?P<rest_length>{_LENGTH}))"
    r"|(?P<bars>[ZX](?P<count>\d{0,3}))"
    r"|(?P<broken>[<>]{1,3})"
    r"|(?P<slur>[()])"
    r"|(?P<tie>-)"
    r"|(?P<short>[.~HLMOPSTuv])"
    r"|(?P<overlay>&)"
    r"|(?P<space>[\s`\\y*\d]+)"
    r"|(?P<other>.)",
    re.DOTALL,
)
"""A sign of a tune; what is opened and not closed soon is no sign, or each would be looked for to
the end of its line."""
_NOTE = re.compile(r"(\^\^|\^|__|_|=)?([A-Ga-g])([',]*)")
_ALTERS = {"^^": 2, "^": 1, "__": -2, "_": -1, "=": 0}
_SHORT = {".": "staccato", "~": "roll", "H": "fermata", "L": "accent", "M": "lowermordent",
          "O": "coda", "P": "uppermordent", "S": "segno", "T": "trill",
          "u": "upbow", "v": "downbow"}  # fmt: skip
"""Decorations of one sign (section 4.14)."""
_SIGNS: dict[str, dict[str, Any]] = {
    "trill": {"ornament": Ornament.TRILL},
    "turn": {"ornament": Ornament.TURN},
    "invertedturn": {"ornament": Ornament.INVERTED_TURN},
    "mordent": {"ornament": Ornament.MORDENT},
    "lowermordent": {"ornament": Ornament.MORDENT},
    "uppermordent": {"ornament": Ornament.INVERTED_MORDENT},
    "pralltriller": {"ornament": Ornament.INVERTED_MORDENT},
    "fermata": {"fermata": True},
    "staccato": {"mark": Mark.STACCATO},
    "tenuto": {"mark": Mark.TENUTO},
    "accent": {"mark": Mark.ACCENT},
    "emphasis": {"mark": Mark.ACCENT},
    ">": {"mark": Mark.ACCENT},
    **{str(dynamic): {"dynamic": dynamic} for dynamic in Dynamic},
    **dict.fromkeys(("crescendo(", "<("), {"hairpin": Hairpin.LOUDER}),  # noqa: RUF024 never changed
    **dict.fromkeys(("diminuendo(", ">("), {"hairpin": Hairpin.SOFTER}),  # noqa: RUF024 never changed
}
"""Decoration → what it says of the note behind it."""
_ORDER: dict[str, dict[str, Any]] = {
    "segno": {"segno": True},
    "coda": {"coda": True},
    "fine": {"fine": True},
    "dacoda": {"to_coda": True},
    "D.C.": {"jump": Jump.DA_CAPO},
    "dacapo": {"jump": Jump.DA_CAPO},
    "D.S.": {"jump": Jump.DAL_SEGNO},
}
_SILENT = frozenset({"crescendo)", "<)", "diminuendo)", ">)"})
_IN_TIME_OF = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
"""Notes of a tuplet → in the time of how many; five, seven and nine go by the metre."""
_UNHEARD = frozenset("ABCDFGHNORSZrs")
"""Fields that say nothing of the notes."""


def is_abc(text: str) -> bool:
    """Whether a text is ABC: its first line says so, or a tune with number and key is in it."""
    return text.startswith("%abc") or bool(
        re.search(r"^X:\s*\d", text, re.M) and re.search(r"^K:", text, re.M)
    )


def read_abc(path: Path, data: bytes) -> Score:
    """The tunes of an ABC file. Raises ScoreError with what to do."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    tunes = re.split(r"^(?=X:)", text.replace("\r\n", "\n").replace("\r", "\n"), flags=re.M)
    found = [tune for tune in tunes if re.search(r"^K:", tune, re.M)]
    if not found:
        raise ScoreError(f"{path}: no tune is in it: a tune has a line 'X:1' and a line 'K:'.")
    if len(found) > MOST_TUNES:
        raise ScoreError(f"{path}: it has {len(found)} tunes. Put the one you want in a file.")
    parts = [part for tune in found for part in _Tune(path, tune).parts()]
    parts = [part for part in parts if part.bars]
    if not parts:
        raise ScoreError(f"{path}: there is no music in it.")
    return Score(_title(found[0]) if len(found) == 1 else "", tuple(parts))


def _title(tune: str) -> str:
    match = re.search(r"^T:(.*)$", tune, re.M)
    return " ".join(match[1].split("%")[0].split()) if match else ""


@dataclass
class _AbcVoice:
    """What holds from bar to bar in one voice."""

    name: str
    meter: tuple[int, int] | None = (4, 4)
    unit: Fraction = Fraction(1, 2)
    key: AbcKey = field(default_factory=AbcKey)
    tempo_bpm: float | None = None
    bars: list[Bar] = field(default_factory=list)
    # of the open bar
    beat: Fraction = Fraction(0)
    notes: list[BarNote] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    order: BarSigns = NO_SIGNS
    section_begins: bool = False
    sharps: dict[tuple[str, int | None], int] = field(default_factory=dict)
    """(letter, octave or None) → alteration by a sign earlier in the bar."""
    modal: bool = False
    """A key of it is in another mode."""
    by_octave: bool = False
    """A sign holds in its own octave alone (section 11.3)."""
    skipping: bool = False
    """Another voice is laid over this one, up to the bar line."""
    # waiting
    signs: dict[str, Any] = field(default_factory=dict)
    graces: list[Pitch] = field(default_factory=list)
    slurs: int = 0
    slur_began: bool = False
    """A note has been read under the open slurs."""
    share: Fraction = Fraction(1)
    """Of a broken rhythm, for the next note."""
    tuplet: tuple[int, Fraction] = (0, Fraction(1))
    """Notes that are left of it, and their share."""

    @property
    def this_key(self) -> Key | None:
        return self.key.key


class _Tune:
    """One tune while it is read."""

    def __init__(self, path: Path, text: str) -> None:
        self._path = path
        self._title = _title(text) or "Tune"
        self._head = _AbcVoice("")
        self._head_unit: Fraction | None = None
        self._voices: dict[str, _AbcVoice] = {}
        self._voice: _AbcVoice | None = None
        in_body = False
        for raw in text.split("\n"):
            line = re.sub(r"(?<!\\)%.*", "", raw)
            match = _FIELD.fullmatch(line.strip()) if re.match(r"[A-Za-z+]:", line) else None
            if match is not None and not (in_body and line.startswith(("|:", ":"))):
                in_body = self._read_field(match[1], match[2], in_body)
            elif in_body and line.strip():
                self._music(line)
        for voice in self._voices.values():
            self._close(voice)

    def parts(self) -> list[Part]:
        """The voices as parts."""
        several = len(self._voices) > 1
        return [
            Part(
                f"{self._title}, {voice.name}" if several and voice.name else self._title,
                _numbered(voice.bars),
                left_out=(MODAL,) if voice.modal else (),
            )
            for voice in self._voices.values()
        ]

    def _current(self) -> _AbcVoice:
        if self._voice is None:
            self._voice = self._begun("")
        return self._voice

    def _begun(self, name: str) -> _AbcVoice:
        if name not in self._voices:
            head = self._head
            unit = self._head_unit or unit_of(head.meter)
            self._voices[name] = _AbcVoice(
                name, head.meter, unit, head.key, head.tempo_bpm, by_octave=head.by_octave
            )
            self._voices[name].names += head.key.left_out
            self._voices[name].modal = head.modal
        return self._voices[name]

    def _read_field(self, name: str, text: str, in_body: bool) -> bool:
        """Take in a field; True once the body has begun."""
        voice = self._current() if in_body else self._head
        match name:
            case "V":
                word = text.split()[0] if text.split() else ""
                if in_body:
                    self._voice = self._begun(word)
            case "L":
                length = read_length(text)
                if length is not None:
                    voice.unit = length
                    self._head_unit = self._head_unit if in_body else length
            case "M":
                voice.meter = read_meter(text)
            case "Q":
                unit = self._head_unit or unit_of(voice.meter)
                voice.tempo_bpm = read_tempo(text, voice.unit if in_body else unit)
            case "K":
                voice.key = read_key(text)
                voice.modal |= voice.key.modal
                voice.names += voice.key.left_out if in_body else ()
                return True
            case "I" if "propagate-accidentals" in text:
                voice.by_octave = "octave" in text
            case "P":
                if in_body:
                    voice.section_begins = True
                elif len(text.strip()) > 1:
                    voice.names.append("the order of the parts (P:)")
            case "w" | "W":
                pass
            case "U" | "m":
                voice.names.append("signs of the tune's own (U: or m:)")
            case _ if name not in _UNHEARD:
                pass
        return in_body

    def _music(self, line: str) -> None:
        for match in _TOKEN.finditer(line):
            found = {name: text for name, text in match.groupdict().items() if text is not None}
            voice = self._current()
            if voice.skipping and "bar" not in found:
                continue
            if "inline" in found:
                self._read_field(found["inline"][1], found["inline"][3:-1], in_body=True)
            elif "bar" in found:
                self._bar(voice, found["bar"])
            else:
                _read(voice, found)
                if len(voice.notes) > MOST_NOTES:
                    raise ScoreError(
                        f"{self._path}: it has more than {MOST_NOTES} notes in one bar. Put bar "
                        "lines between them."
                    )

    def _bar(self, voice: _AbcVoice, sign: str) -> None:
        """A bar line: what ends with it and what begins."""
        times = re.search(r"\d[\d,.-]*", sign)
        body = re.sub(r"[\s\d,.\-]", "", sign)
        ends = body.startswith(":")
        double = body in ("||", "|]", "[|") or "||" in body
        if ends and (voice.notes or voice.beat or voice.bars):
            if voice.beat:
                voice.order = replace(voice.order, plays=2)
            elif voice.bars:
                last = voice.bars[-1]
                voice.bars[-1] = replace(last, signs=replace(last.signs, plays=2))
        ending = voice.order.ending
        self._close(voice, section_ends=double)
        if times is not None:
            ending = frozenset(_times(times[0]))
        elif ends or double or (body.endswith(":") and len(body) > 1):
            ending = frozenset()
        starts = body in ("::", ":|:", "|:", "[|:", "||:") or body.endswith("|:")
        starts = starts or re.fullmatch(r":{2,}", body) is not None
        voice.order = BarSigns(repeat_starts=starts or voice.order.repeat_starts, ending=ending)

    def _close(self, voice: _AbcVoice, *, section_ends: bool = False) -> None:
        """End the open bar; two bar lines with nothing between them are one."""
        if not voice.beat:
            if section_ends and voice.bars:
                voice.bars[-1] = replace(voice.bars[-1], section_ends=True)
            voice.skipping = False
            return
        if len(voice.bars) >= MOST_BARS:
            raise ScoreError(f"{self._path}: it has more than {MOST_BARS} bars. Keep fewer.")
        voice.bars.append(
            Bar(
                number="",
                length=voice.beat,
                meter=voice.meter,
                key=voice.this_key,
                tempo_bpm=voice.tempo_bpm,
                notes=tuple(voice.notes),
                left_out=tuple(dict.fromkeys(voice.names)),
                signs=voice.order,
                section_begins=voice.section_begins,
                section_ends=section_ends,
            )
        )
        voice.beat, voice.notes, voice.names = Fraction(0), [], []
        voice.sharps, voice.section_begins, voice.skipping = {}, False, False
        voice.order = BarSigns(ending=voice.order.ending)


def _times(text: str) -> list[int]:
    """'1', '1,3', '1-3'."""
    found: list[int] = []
    for piece in text.split(","):
        first, _, last = piece.partition("-")
        digits = [int(one[:1]) for one in (first, last or first) if one[:1].isdigit()]
        if len(digits) == 2:
            found += range(digits[0], digits[1] + 1)
    return found or [1]


def _numbered(bars: list[Bar]) -> tuple[Bar, ...]:
    """Bars with their numbers: 0 for an upbeat."""
    first = 0 if bars and bars[0].length < bars[0].full_length else 1
    return tuple(replace(bar, number=str(first + place)) for place, bar in enumerate(bars))


def _read(voice: _AbcVoice, found: dict[str, str]) -> None:
    """One sign inside a bar."""
    if "decoration" in found:
        _decorate(voice, found.get("name") or found["old"])
    elif "short" in found:
        _decorate(voice, _SHORT[found["short"]])
    elif "grace" in found:
        for sign, letter, octave in _NOTE.findall(found["grace"]):
            pitch = _pitch(voice, sign, letter, octave)
            voice.graces += [pitch] if pitch is not None else []
    elif "tuplet" in found:
        _begin_tuplet(voice, found["tuplet"])
    elif "chord" in found:
        _chord(voice, found["chord"], found.get("chord_length", ""))
    elif "note" in found:
        pitch = _pitch(voice, found.get("sign", ""), found["letter"], found["octave"])
        _add(voice, pitch, _length(found["length"]))
    elif "rest" in found:
        _add(voice, None, _length(found["rest_length"]))
    elif "bars" in found:
        bar = Fraction(4 * voice.meter[0], voice.meter[1]) if voice.meter else Fraction(4)
        voice.beat += bar * (int(found["count"]) if found["count"] else 1)
    elif "broken" in found:
        _break_rhythm(voice, found["broken"])
    elif "slur" in found:
        voice.slurs = max(0, voice.slurs + (1 if found["slur"] == "(" else -1))
        voice.slur_began = voice.slur_began and voice.slurs > 0
    elif "tie" in found and voice.notes:
        voice.notes[-1] = replace(voice.notes[-1], tied_on=True)
    elif "text" in found:
        place = found["text"][1:2]
        words = place in "^_<>@"
        voice.names.append(f"the words {found['text']}" if words else "chord symbols")
    elif "overlay" in found:
        voice.names.append("other voices")
        voice.skipping = True
    elif "other" in found:
        voice.names.append(f"the sign '{found['other']}'")


def _decorate(voice: _AbcVoice, name: str) -> None:
    if name in _ORDER:
        voice.order = replace(voice.order, **_ORDER[name])
    elif name in _SIGNS:
        voice.signs |= _SIGNS[name]
    elif name == "breath" and voice.notes:
        voice.notes[-1] = replace(voice.notes[-1], breath_after=True)
    elif name not in _SILENT:
        voice.names.append(name)


def _pitch(voice: _AbcVoice, sign: str, letter: str, octave: str) -> Pitch | None:
    """The pitch of a note, with the key's signs and those earlier in the bar."""
    name = letter.upper()
    number = 4 + letter.islower() + octave.count("'") - octave.count(",")
    place = (name, number if voice.by_octave else None)
    if sign:
        voice.sharps[place] = _ALTERS[sign]
    alter = voice.sharps.get(place, voice.key.alters.get(name, 0))
    if not 0 <= number <= 9 or alter not in ACCIDENTALS:
        voice.names.append("notes whose pitch can't be read")
        return None
    return Pitch(name, alter, number)


def _length(text: str) -> Fraction:
    """'2', '/', '3/2', '//' in units of length."""
    over, slashes, under = re.fullmatch(_LENGTH, text).groups()  # type: ignore[union-attr]
    length = Fraction(int(over) if over else 1)
    if under:
        length /= int(under) or 1
    elif slashes:
        length /= 2 ** min(len(slashes), 6)
    return min(max(length, Fraction(1, MOST_LENGTH)), Fraction(MOST_LENGTH))


def _begin_tuplet(voice: _AbcVoice, text: str) -> None:
    numbers = [int(one) if one else 0 for one in text[1:].split(":")]
    count, normal, notes = (*numbers, 0, 0)[:3]
    if not count:
        return
    compound = voice.meter is not None and voice.meter[1] == 8 and voice.meter[0] % 3 == 0
    normal = normal or _IN_TIME_OF.get(count, 3 if compound else 2)
    voice.tuplet = (notes or count, Fraction(normal, count))


def _break_rhythm(voice: _AbcVoice, signs: str) -> None:
    """'a>b': the first dotted, the second cut short; '<' the other way round."""
    if not voice.notes or voice.notes[-1].beat + voice.notes[-1].length != voice.beat:
        return
    short = Fraction(1, 2 ** len(signs))
    first, second = (2 - short, short) if signs[0] == ">" else (short, 2 - short)
    last = voice.notes[-1]
    voice.beat += last.length * (first - 1)
    voice.notes[-1] = replace(last, length=last.length * first)
    voice.share = second


def _chord(voice: _AbcVoice, text: str, length: str) -> None:
    """The highest note of a chord; its length is that of its first note."""
    notes = re.findall(rf"(\^\^|\^|__|_|=)?([A-Ga-g])([',]*)({_LENGTH})", text)
    pitches = [_pitch(voice, sign, letter, octave) for sign, letter, octave, *_ in notes]
    found = [pitch for pitch in pitches if pitch is not None]
    if not found:
        voice.names.append(f"the sign '{text}'")
        return
    if len(found) > 1:
        voice.names.append("the lower notes of chords")
    inner = _length(notes[0][3])
    _add(voice, max(found, key=lambda pitch: pitch.midi), inner * _length(length))


def _add(voice: _AbcVoice, pitch: Pitch | None, units: Fraction) -> None:
    """A note or a rest of so many units, with all that waits for it."""
    left, share = voice.tuplet
    length = units * voice.unit * voice.share
    voice.share = Fraction(1)
    if left:
        length *= share
        voice.tuplet = (left - 1, share)
    if pitch is not None:
        slurred = voice.slurs > 0 and voice.slur_began
        graces = tuple(voice.graces[:MOST_GRACES])
        voice.notes.append(
            BarNote(pitch, voice.beat, length, False, slurred, graces=graces, **voice.signs)
        )
        voice.slur_began = voice.slurs > 0
    elif voice.graces or voice.signs:
        voice.names.append("signs over a rest")
    voice.signs, voice.graces = {}, []
    voice.beat += length
