"""Rounds → MusicXML 4.0 (W3C Music Notation Community Group), as written for their instrument."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from trainer.music.instrument import Instrument
from trainer.music.key import Key
from trainer.music.note import Hairpin, Mark, Note, Ornament, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import Round, Swell
from trainer.routine.second_part import as_round
from trainer.score.sections import PARTNER, Section
from trainer.score.symbols import Symbol, WrittenBar, written_bars

_TYPES = {
    Fraction(4): "whole", Fraction(2): "half", Fraction(1): "quarter", Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th", Fraction(1, 8): "32nd", Fraction(1, 16): "64th",
    Fraction(1, 32): "128th", Fraction(1, 64): "256th", Fraction(1, 128): "512th",
    Fraction(1, 256): "1024th",
}  # fmt: skip
_SIGNS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_MARKS = {Mark.STACCATO: "staccato", Mark.TENUTO: "tenuto", Mark.ACCENT: "accent"}
_ORNAMENTS = {
    Ornament.TRILL: "trill-mark",
    Ornament.TURN: "turn",
    Ornament.INVERTED_TURN: "inverted-turn",
    Ornament.MORDENT: "mordent",
    Ornament.INVERTED_MORDENT: "inverted-mordent",
}
_HAIRPINS = {Hairpin.LOUDER: "crescendo", Hairpin.SOFTER: "diminuendo"}
_JOINED = (Start.SLURRED, Start.LEGATO_TONGUE)
_HEADER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)


def musicxml(title: str, sections: Sequence[Section], instrument: Instrument) -> bytes:
    """All sections one after the other, each on a new line under its title.

    Where the partner has a part of its own anywhere, that is a second part.
    """
    own: list[Element] = []
    partners: list[Element] = []
    second = any(section.round.second_part for section in sections)
    for section in sections:
        round_, first = section.round, len(own) + 1
        measures = measures_of(round_, instrument, first)
        if second:
            partners += measures_of(as_round(round_), instrument, first)
        _add_heading(measures[0], section)
        own += measures
    return document(title, {instrument.name: own} | ({PARTNER: partners} if second else {}))


def document(title: str, parts: Mapping[str, Iterable[Element]]) -> bytes:
    """A whole MusicXML file: the name of each part and its measures."""
    score = Element("score-partwise", version="4.0")
    _add(SubElement(score, "work"), "work-title", title)
    part_list = SubElement(score, "part-list")
    for number, (name, measures) in enumerate(parts.items(), start=1):
        _add(SubElement(part_list, "score-part", id=f"P{number}"), "part-name", name)
        SubElement(score, "part", id=f"P{number}").extend(measures)
    indent(score)
    return f"{_HEADER}{tostring(score, encoding='unicode')}\n".encode()


def measures_of(
    round_: Round, instrument: Instrument, first_number: int = 1, *, goes_on: bool = False
) -> list[Element]:
    """The round's bars; a note's element has the id 'b3n12': its bar, and its index.

    `goes_on`: they are only the beginning, and end with a plain bar line.
    """
    bars = written_bars(round_)
    divisions = _divisions(bars)
    slurs = _slurs(round_.notes)
    measures: list[Element] = []
    hairpin_open, share, meter = False, 1.0, round_.meter
    for number, bar in enumerate(bars, start=first_number - 1 + bars[0].number):
        measure = Element("measure", number=str(number))
        if bar.number == 0:
            measure.set("implicit", "yes")
        measures.append(measure)
        if len(measures) == 1:
            if first_number > 1:
                SubElement(measure, "print", {"new-system": "yes"})
            _opening(measure, bar, divisions, instrument if first_number == 1 else None)
        elif bar.time is not None or bar.key_changes or bar.free:
            _signatures(SubElement(measure, "attributes"), bar)
        meter = bar.time or meter
        accidentals = dict[tuple[str, int], int]()
        for symbol in bar.symbols:
            if symbol.note is not None and not symbol.tied_back:
                if symbol.note.tempo_share != share:
                    share = symbol.note.tempo_share
                    direction = SubElement(measure, "direction", placement="above")
                    bpm = share * round_.tempo_bpm * float(round_.beat_quarters)
                    _add_tempo(direction, meter.beat_quarters, bpm)
                hairpin_open = _levels(measure, symbol.note, hairpin_open)
                _graces(measure, symbol.note)
            _swell_begins(measure, symbol, round_, divisions)
            element = _note(measure, symbol, bar.key, accidentals, slurs, divisions, bar)
            if symbol.note is not None and not symbol.tied_back:
                element.set("id", f"b{number}n{symbol.note.index}")
            if symbol.note is not None and not symbol.tied_on and round_.manner.swell is not None:
                _wedge(measure, "stop")
    if hairpin_open:
        _wedge(measures[-1], "stop")
    if not goes_on:
        _add(SubElement(measures[-1], "barline", location="right"), "bar-style", "light-heavy")
    return measures


def _divisions(bars: Iterable[WrittenBar]) -> int:
    lengths = [symbol.length for bar in bars for symbol in bar.symbols]
    return math.lcm(*(length.denominator for length in lengths))


def _opening(
    measure: Element, bar: WrittenBar, divisions: int, instrument: Instrument | None
) -> None:
    """What stands at the beginning; with the clef and the instrument's pitch where one is given."""
    attributes = SubElement(measure, "attributes")
    _add(attributes, "divisions", divisions)
    _signatures(attributes, bar)
    if instrument is not None:
        clef = SubElement(attributes, "clef")
        _add(clef, "sign", "G")
        _add(clef, "line", 2)
        if instrument.transposition.semitones:
            _transpose(attributes, instrument)


def _signatures(attributes: Element, bar: WrittenBar) -> None:
    """Key and time signature where the bar begins with them."""
    if bar.key_changes:
        key = SubElement(attributes, "key")
        _add(key, "fifths", bar.key.signature if bar.key else 0)
        if bar.key is not None:
            _add(key, "mode", bar.key.mode)
    if bar.free:
        _add(SubElement(attributes, "time"), "senza-misura", "")
    elif bar.time is not None:
        time = SubElement(attributes, "time")
        for tag, figure in zip(("beats", "beat-type"), bar.time.printed, strict=True):
            _add(time, tag, figure)


def _transpose(attributes: Element, instrument: Instrument) -> None:
    steps, semitones = instrument.transposition.steps, instrument.transposition.semitones
    octaves = int(semitones / 12)
    transpose = SubElement(attributes, "transpose")
    _add(transpose, "diatonic", steps - 7 * octaves)
    _add(transpose, "chromatic", semitones - 12 * octaves)
    if octaves:
        _add(transpose, "octave-change", octaves)


def _add_heading(measure: Element, section: Section) -> None:
    """The title and the tempo over the first bar, behind its attributes."""
    round_ = section.round
    title = Element("direction", placement="above")
    words = SubElement(SubElement(title, "direction-type"), "words", {"font-weight": "bold"})
    words.text = section.title
    tempo = Element("direction", placement="above")
    quarters_bpm = round_.tempo_bpm * float(round_.beat_quarters)
    _add_tempo(tempo, round_.beat_quarters, quarters_bpm)
    place = [child.tag for child in measure].index("attributes") + 1
    measure[place:place] = [title, tempo]


def _add_tempo(direction: Element, beat: Fraction, quarters_bpm: float) -> None:
    """So many quarters a minute, said in these beats."""
    metronome = SubElement(SubElement(direction, "direction-type"), "metronome")
    dotted = beat.numerator == 3
    _add(metronome, "beat-unit", _TYPES[beat * 2 / 3 if dotted else beat])
    if dotted:
        SubElement(metronome, "beat-unit-dot")
    _add(metronome, "per-minute", f"{quarters_bpm / float(beat):.6g}")
    SubElement(direction, "sound", tempo=f"{quarters_bpm:.6g}")


def _levels(measure: Element, note: Note, hairpin_open: bool) -> bool:
    """Dynamics and hairpins before their note; True while a hairpin is open."""
    if hairpin_open and (note.dynamic is not None or note.hairpin is not None):
        _wedge(measure, "stop")
        hairpin_open = False
    if note.dynamic is not None:
        direction = SubElement(measure, "direction", placement="below")
        dynamics = SubElement(SubElement(direction, "direction-type"), "dynamics")
        SubElement(dynamics, str(note.dynamic))
    if note.hairpin is not None:
        _wedge(measure, _HAIRPINS[note.hairpin])
        return True
    return hairpin_open


def _graces(measure: Element, note: Note) -> None:
    for pitch in note.graces:
        element = SubElement(measure, "note")
        SubElement(element, "grace", slash="yes")
        _pitch(element, pitch)
        _add(element, "voice", 1)
        _add(element, "type", "eighth")


def _wedge(measure: Element, kind: str, offset: Fraction | None = None) -> None:
    """A hairpin's beginning or end, here or so many divisions further on."""
    direction = SubElement(measure, "direction", placement="below")
    SubElement(SubElement(direction, "direction-type"), "wedge", type=kind)
    if offset:
        _add(direction, "offset", f"{float(offset):g}")


def _swell_begins(measure: Element, symbol: Symbol, round_: Round, divisions: int) -> None:
    """The hairpin under a held note; there and back it turns in the middle of the note."""
    note, swell = symbol.note, round_.manner.swell
    if note is None or swell is None:
        return
    if not symbol.tied_back:
        _wedge(measure, "diminuendo" if swell is Swell.SOFTER else "crescendo")
    middle = (note.beat + note.length / 2) * round_.beat_quarters
    if swell is Swell.THERE_AND_BACK and 0 <= middle - symbol.onset < symbol.length:
        offset = (middle - symbol.onset) * divisions
        _wedge(measure, "stop", offset)
        _wedge(measure, "diminuendo", offset)


def _note(
    measure: Element,
    symbol: Symbol,
    key: Key | None,
    accidentals: dict[tuple[str, int], int],
    slurs: dict[int, tuple[str, ...]],
    divisions: int,
    bar: WrittenBar,
) -> Element:
    element = SubElement(measure, "note")
    note = symbol.note
    if note is None:
        SubElement(element, "rest", {"measure": "yes"} if bar.silent else {})
    else:
        _pitch(element, note.pitch)
    _add(element, "duration", int(symbol.length * divisions))
    for tie, kind in ((symbol.tied_back, "stop"), (symbol.tied_on, "start")):
        if tie:
            SubElement(element, "tie", type=kind)
    _add(element, "voice", 1)
    if not (note is None and bar.silent):
        _add(element, "type", _TYPES[symbol.value])
        for _ in range(symbol.dots):
            SubElement(element, "dot")
    if note is not None:
        sign = _accidental(note.pitch, key, accidentals, symbol)
        if sign is not None:
            _add(element, "accidental", sign)
    if symbol.ratio != (1, 1):
        modification = SubElement(element, "time-modification")
        _add(modification, "actual-notes", symbol.ratio[0])
        _add(modification, "normal-notes", symbol.ratio[1])
    if note is not None and note.start is Start.SILENT_AIR:
        _add(element, "notehead", "x")
    if note is not None and note.harmonic_of is not None:
        _add(element, "notehead", "diamond")
    for level, beam in enumerate(symbol.beams, start=1):
        _add(element, "beam", beam).set("number", str(level))
    _notations(element, symbol, slurs, key)
    return element


def _pitch(element: Element, pitch: Pitch) -> None:
    place = SubElement(element, "pitch")
    _add(place, "step", pitch.letter)
    if pitch.alter:
        _add(place, "alter", pitch.alter)
    _add(place, "octave", pitch.octave)


def _accidental(
    pitch: Pitch, key: Key | None, seen: dict[tuple[str, int], int], symbol: Symbol
) -> str | None:
    """The sign before a note: where it differs from the signature and the bar so far."""
    place = (pitch.letter, pitch.octave)
    expected = seen.get(place, _in_signature(pitch.letter, key))
    if symbol.tied_back:
        return None
    seen[place] = pitch.alter
    return _SIGNS[pitch.alter] if pitch.alter != expected else None


def _in_signature(letter: str, key: Key | None) -> int:
    signature = key.signature if key is not None else 0
    order = "FCGDAEB"
    if signature >= 0:
        return 1 if letter in order[:signature] else 0
    return -1 if letter in order[signature:] else 0


def _slurs(notes: Sequence[Note]) -> dict[int, tuple[str, ...]]:
    """Note index → 'start' or 'stop' of a slur over notes that are joined to the one before."""
    found: dict[int, tuple[str, ...]] = {}
    for place, note in enumerate(notes):
        joined = place > 0 and note.start in _JOINED
        after = notes[place + 1] if place + 1 < len(notes) else None
        goes_on = after is not None and after.start in _JOINED
        if joined and not goes_on:
            found[note.index] = ("stop",)
        if goes_on and not joined:
            found[note.index] = ("start",)
    return found


def _notations(
    element: Element, symbol: Symbol, slurs: dict[int, tuple[str, ...]], key: Key | None
) -> None:
    notations = Element("notations")
    note = symbol.note
    for tie, kind in ((symbol.tied_back, "stop"), (symbol.tied_on, "start")):
        if tie:
            SubElement(notations, "tied", type=kind)
    if note is not None:
        for kind in slurs.get(note.index, ()):
            if (kind == "start" and not symbol.tied_back) or (
                kind == "stop" and not symbol.tied_on
            ):
                SubElement(notations, "slur", type=kind, number="1")
    if symbol.tuplet_begins:
        SubElement(notations, "tuplet", {"type": "start", "bracket": _bracket(symbol)})
    if symbol.tuplet_ends:
        SubElement(notations, "tuplet", type="stop")
    if note is not None:
        _ornament(notations, note, symbol, key)
        _articulations(notations, note, symbol)
        if note.fermata and not symbol.tied_on:
            SubElement(notations, "fermata")
    if len(notations):
        element.append(notations)


def _ornament(notations: Element, note: Note, symbol: Symbol, key: Key | None) -> None:
    """The sign over the note; its accidental where the note above is not that of the key."""
    if note.ornament is None or symbol.tied_back:
        return
    ornaments = SubElement(notations, "ornaments")
    SubElement(ornaments, _ORNAMENTS[note.ornament])
    above = note.neighbours[0] if note.neighbours else None
    if above is not None and above.alter != _in_signature(above.letter, key):
        _add(ornaments, "accidental-mark", _SIGNS[above.alter])


def _bracket(symbol: Symbol) -> str:
    return "no" if symbol.beams else "yes"


def _articulations(notations: Element, note: Note, symbol: Symbol) -> None:
    marks: list[str] = []
    if not symbol.tied_back:
        if note.start is Start.LEGATO_TONGUE and note.mark is None:
            marks.append("tenuto")
        if note.mark is not None:
            marks.append(_MARKS[note.mark])
    if note.breath_after and not symbol.tied_on:
        marks.append("caesura" if note.stop_after else "breath-mark")
    if marks:
        articulations = SubElement(notations, "articulations")
        for mark in marks:
            SubElement(articulations, mark)


def _add(parent: Element, tag: str, text: object) -> Element:
    element = SubElement(parent, tag)
    element.text = str(text)
    return element
