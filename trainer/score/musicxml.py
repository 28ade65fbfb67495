"""MusicXML 4.0 (W3C Music Notation Community Group) → the parts of a score.

Read are pitches, lengths, ties, slurs, marks, dynamics, breath marks, repeats, key, time, tempo and
transposition of the main voice of each part. All else that stands in the music is named by bar.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

from trainer.errors import ScoreError
from trainer.music.key import Key, Mode, major_keys, minor_keys
from trainer.music.note import Hairpin
from trainer.music.pitch import Interval
from trainer.music.repeats import NO_SIGNS, BarSigns, Jump
from trainer.score.container import parse_xml
from trainer.score.numbers import integer, number
from trainer.score.part import MOST_BARS, UNISON, Bar, Part, Score
from trainer.score.voice import Level, RawBar, Sign, bars_of_main_voice, dynamics_of

MOST_PARTS = 200
"""More than any orchestra has."""
MOST_DIVISIONS = 1_000_000
MOST_PLAYS = 8
"""A repeat asking for more is played so often."""
LONGEST_QUARTERS = 400
"""A longer note is a fault of the file."""
_PLAIN_NUMBER = re.compile(r"[0-9]{1,9}(\.[0-9]{1,6})?")
_STEPS_OF_SEMITONES = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Letter steps of a transposition that names only its semitones."""
_BEAT_UNITS = {
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8),
}
_HAIRPINS = {"crescendo": Hairpin.LOUDER, "diminuendo": Hairpin.SOFTER}
_SECTION_ENDS = ("light-light", "light-heavy", "heavy-heavy")
_ORDER_TEXTS: tuple[tuple[re.Pattern[str], dict[str, Any]], ...] = (
    (re.compile(r"(d\.? ?c\.?|da capo)( al (fine|coda))?\.?", re.I), {"jump": Jump.DA_CAPO}),
    (re.compile(r"(d\.? ?s\.?|dal segno)( al (fine|coda))?\.?", re.I), {"jump": Jump.DAL_SEGNO}),
    (re.compile(r"fine\.?", re.I), {"fine": True}),
    (re.compile(r"to coda", re.I), {"to_coda": True}),
)
"""Words in a score → what they say of the order."""
_LONGEST_WORDS = 40
"""Characters of a direction that are read."""


@dataclass
class _Reading:
    """What holds from bar to bar while a part is read."""

    name: str
    divisions: int = 1
    meter: tuple[int, int] | None = (4, 4)
    key: Key | None = None
    tempo_bpm: float | None = None
    transposition: Interval = UNISON
    remarks: list[str] = field(default_factory=list)
    ending: frozenset[int] = frozenset()


def read_musicxml(path: Path, data: bytes) -> Score:
    """The score in a MusicXML document. Raises ScoreError with what to do."""
    root = parse_xml(path, data)
    if root.tag not in ("score-partwise", "score-timewise"):
        raise ScoreError(
            f"{path}: this is XML, but no MusicXML. Export the score as MusicXML from the program "
            "it was written with."
        )
    names = {
        one.get("id", ""): " ".join((one.findtext("part-name") or "").split())
        for one in root.iterfind("part-list/score-part")
    }
    parts = [
        _part(path, names.get(id_) or id_, measures) for id_, measures in _measures(root).items()
    ]
    if not any(part.bars for part in parts):
        raise ScoreError(f"{path}: there is no music in this score.")
    if len(parts) > MOST_PARTS:
        raise ScoreError(f"{path}: it has {len(parts)} parts. Export only the flute's part.")
    title = root.findtext("work/work-title") or root.findtext("movement-title") or ""
    return Score(" ".join(title.split()), tuple(parts))


def _measures(root: Element) -> dict[str, list[Element]]:
    """Part id → its measures, in both of MusicXML's arrangements."""
    found: dict[str, list[Element]] = {}
    if root.tag == "score-partwise":
        for part in root.iterfind("part"):
            found.setdefault(part.get("id", ""), []).extend(part.iterfind("measure"))
        return found
    for measure in root.iterfind("measure"):
        for part in measure.iterfind("part"):
            part.attrib.update({"number": measure.get("number", ""), **_implicit(measure)})
            found.setdefault(part.get("id", ""), []).append(part)
    return found


def _implicit(measure: Element) -> dict[str, str]:
    return {"implicit": measure.get("implicit", "no")}


def _part(path: Path, name: str, measures: Sequence[Element]) -> Part:
    if len(measures) > MOST_BARS:
        raise ScoreError(f"{path}: {name} has {len(measures)} bars; export {MOST_BARS} at most.")
    reading = _Reading(name)
    raw = [_raw_bar(path, reading, measure, index) for index, measure in enumerate(measures)]
    bars = bars_of_main_voice(raw)
    return Part(name, bars, reading.transposition, tuple(dict.fromkeys(reading.remarks)))


# Bars


@dataclass
class _Measure:
    """What was found so far in one measure."""

    number: str
    cursor: Fraction = Fraction(0)
    onset: Fraction = Fraction(0)
    """Of the last note that is not a further note of a chord."""
    longest: Fraction = Fraction(0)
    signs: list[Sign] = field(default_factory=list)
    levels: list[Level] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    order: BarSigns = NO_SIGNS
    closes_ending: bool = False
    section_begins: bool = False
    section_ends: bool = False


def _raw_bar(path: Path, reading: _Reading, element: Element, index: int) -> RawBar:
    number = " ".join(element.get("number", "").split()) or str(index + 1)
    measure = _Measure(number)
    for child in element:
        _read(path, reading, measure, child)
        measure.longest = max(measure.longest, measure.cursor)
    full = Fraction(reading.meter[0] * 4, reading.meter[1]) if reading.meter else Fraction(4)
    bar = Bar(
        number=number,
        length=measure.longest or full,
        meter=reading.meter,
        key=reading.key,
        tempo_bpm=reading.tempo_bpm,
        left_out=tuple(dict.fromkeys(measure.names)),
        signs=replace(measure.order, ending=reading.ending),
        section_begins=measure.section_begins,
        section_ends=measure.section_ends,
    )
    if measure.closes_ending:
        reading.ending = frozenset()
    return RawBar(bar, tuple(measure.signs), tuple(measure.levels))


def _read(path: Path, reading: _Reading, measure: _Measure, element: Element) -> None:
    match element.tag:
        case "attributes":
            _attributes(path, reading, element, measure.number)
        case "note":
            _note(measure, element, _duration(path, reading, element, measure.number))
        case "backup":
            back = _duration(path, reading, element, measure.number)
            measure.cursor = max(Fraction(0), measure.cursor - back)
        case "forward":
            measure.cursor += _duration(path, reading, element, measure.number)
        case "direction":
            _direction(reading, measure, element)
        case "sound":
            _sound(reading, measure, element)
        case "harmony":
            measure.names.append("chord symbols")
        case "barline":
            _barline(reading, measure, element)


def _note(measure: _Measure, element: Element, length: Fraction) -> None:
    chord = element.find("chord") is not None
    if not chord:
        measure.onset = measure.cursor
        measure.cursor += length
    staff, voice = element.findtext("staff") or "1", element.findtext("voice") or "1"
    measure.signs.append(Sign(element, staff, voice, measure.onset, length))


def _barline(reading: _Reading, measure: _Measure, barline: Element) -> None:
    if _repeat(barline, "forward") is not None:
        measure.order = replace(measure.order, repeat_starts=True)
    backward = _repeat(barline, "backward")
    if backward is not None:
        plays = min(max(2, integer(backward.get("times"), 2)), MOST_PLAYS)
        measure.order = replace(measure.order, plays=plays)
    style = (barline.findtext("bar-style") or "").strip()
    if barline.get("location", "right") == "right" and style in _SECTION_ENDS:
        measure.section_ends = True
    measure.closes_ending |= _ending(reading, barline)


def _duration(path: Path, reading: _Reading, element: Element, number: str) -> Fraction:
    """Quarters; a grace note has none."""
    if element.find("grace") is not None:
        return Fraction(0)
    text = (element.findtext("duration") or "").strip()
    length = Fraction(text) / reading.divisions if _PLAIN_NUMBER.fullmatch(text) else None
    if length is None or length > LONGEST_QUARTERS:
        raise ScoreError(
            f"{path}: bar {number} of {reading.name} has a note without a length that can be read. "
            "Export it again, or choose other bars in another file."
        )
    return length


def _attributes(path: Path, reading: _Reading, attributes: Element, number: str) -> None:
    divisions = attributes.findtext("divisions")
    if divisions is not None:
        reading.divisions = integer(divisions, 0)
        if not 1 <= reading.divisions <= MOST_DIVISIONS:
            raise ScoreError(
                f"{path}: bar {number} of {reading.name} counts its lengths in '{divisions}'. "
                "Export it again."
            )
    key = attributes.find("key")
    if key is not None:
        reading.key = _key(reading, key, number)
    time = attributes.find("time")
    if time is not None:
        reading.meter = _meter(time)
    transpose = attributes.find("transpose")
    if transpose is not None:
        _transpose(reading, transpose, number)


def _key(reading: _Reading, element: Element, number: str) -> Key | None:
    signature = integer(element.findtext("fifths"), 99)
    mode = (element.findtext("mode") or "").strip().lower()
    if mode not in tuple(Mode):
        reading.remarks.append(
            f"Bar {number} has a signature but names neither major nor minor: major is written."
        )
    keys = minor_keys() if mode == Mode.MINOR else major_keys()
    return next((key for key in keys if key.signature == signature), None)


def _meter(element: Element) -> tuple[int, int] | None:
    """Beats and beat type; '3+2' over 8 is 5/8. None in free time."""
    beats = [integer(part, 0) for part in (element.findtext("beats") or "").split("+")]
    beat_type = integer(element.findtext("beat-type"), 0)
    usable = beat_type in (1, 2, 4, 8, 16, 32) and all(0 < beat <= 64 for beat in beats)
    return (sum(beats), beat_type) if usable else None


def _transpose(reading: _Reading, element: Element, number: str) -> None:
    octaves = integer(element.findtext("octave-change"), 0)
    chromatic = integer(element.findtext("chromatic"), 0)
    sign = -1 if chromatic < 0 else 1
    turns, rest = divmod(abs(chromatic), 12)
    steps = sign * (7 * turns + _STEPS_OF_SEMITONES[rest])
    steps = integer(element.findtext("diatonic"), steps)
    found = Interval(steps + 7 * octaves, chromatic + 12 * octaves)
    if abs(found.semitones) > 60 or abs(found.steps) > 40:
        found = UNISON
    if reading.transposition not in (UNISON, found):
        reading.remarks.append(f"The instrument changes in bar {number}: it is read as before.")
        return
    reading.transposition = found


def _direction(reading: _Reading, measure: _Measure, element: Element) -> None:
    for sound in element.iterfind("sound"):
        _sound(reading, measure, sound)
    for kind in element.iterfind("direction-type/*"):
        match kind.tag:
            case "dynamics":
                found = dynamics_of(kind, measure.names)
                measure.levels += [Level(measure.cursor, one) for one in found]
            case "wedge" if kind.get("type") in _HAIRPINS:
                measure.levels.append(Level(measure.cursor, _HAIRPINS[kind.get("type", "")]))
            case "rehearsal":
                measure.section_begins = True
            case "words":
                words = " ".join((kind.text or "").split())[:_LONGEST_WORDS]
                _words(measure, words)
            case "metronome":
                _metronome(reading, kind)
            case "segno":
                measure.order = replace(measure.order, segno=True)
            case "coda" if element.find("sound[@tocoda]") is None:
                measure.order = replace(measure.order, coda=True)


def _words(measure: _Measure, words: str) -> None:
    """Words that lead back or end are taken as such, others named."""
    for pattern, signs in _ORDER_TEXTS:
        if pattern.fullmatch(words):
            measure.order = replace(measure.order, **signs)
            return
    measure.names += [f"the words '{words}'"] if words else []


def _sound(reading: _Reading, measure: _Measure, sound: Element) -> None:
    tempo = number(sound.get("tempo"))
    if tempo is not None and tempo > 0:
        reading.tempo_bpm = tempo
    signs = measure.order
    if sound.get("dacapo") == "yes":
        signs = replace(signs, jump=Jump.DA_CAPO)
    if sound.get("dalsegno"):
        signs = replace(signs, jump=Jump.DAL_SEGNO)
    measure.order = replace(
        signs,
        to_coda=signs.to_coda or bool(sound.get("tocoda")),
        fine=signs.fine or bool(sound.get("fine")),
    )


def _metronome(reading: _Reading, element: Element) -> None:
    unit = _BEAT_UNITS.get((element.findtext("beat-unit") or "").strip())
    per_minute = number(element.findtext("per-minute"))
    if unit is not None and per_minute is not None and per_minute > 0:
        if element.find("beat-unit-dot") is not None:
            unit *= Fraction(3, 2)
        reading.tempo_bpm = per_minute * float(unit)


def _repeat(barline: Element, direction: str) -> Element | None:
    repeat = barline.find("repeat")
    return repeat if repeat is not None and repeat.get("direction") == direction else None


def _ending(reading: _Reading, barline: Element) -> bool:
    """Take in where a first or second ending begins; True where one ends with this bar."""
    ending = barline.find("ending")
    if ending is None:
        return False
    if ending.get("type") == "start":
        numbers = (ending.get("number") or "").replace(",", " ").split()
        reading.ending = frozenset(
            value for number in numbers if 0 < (value := integer(number, 0)) <= MOST_PLAYS
        )
        return False
    return True
