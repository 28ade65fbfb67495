"""Engraved music: a round → systems of staff as SVG, through the engraving library verovio.

The library is an extra ('sheet'), not needed to practise. Glyphs come out as outlines, so no music
font is needed to show them; texts are set in the Liberation faces that come with the library.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any
from xml.etree.ElementTree import Element, SubElement

from trainer.disk.missing_library import install_words
from trainer.errors import ScoreError
from trainer.music.instrument import Instrument
from trainer.routine.round import Round
from trainer.score.musicxml_out import document, measures_of

LINE_MM = 186
"""Width of the music: A4 with margins of 12 mm."""
STAFF_MM = 7.2
"""Height of the staff: as in printed solo parts, readable at arm's length and a little more."""
TEXT_FONT = "Liberation"
_TENTHS_PER_MM = 10
"""Verovio's page is measured in tenths of a millimetre."""
_HUNDREDTHS_PER_MM = 100
"""Its drawings are measured in hundredths."""
_BETWEEN_LINES_MM = 3
_LEFT_EDGE_MM = 1.5
"""Room for a bar number of two figures before the staff."""
_RIGHT_EDGE_MM = 2
"""Room for a breath mark behind the last bar line."""
_OPTIONS = {
    "pageWidth": LINE_MM * _TENTHS_PER_MM,
    "pageHeight": 100,
    "pageMarginLeft": _LEFT_EDGE_MM * _TENTHS_PER_MM,
    "pageMarginRight": _RIGHT_EDGE_MM * _TENTHS_PER_MM,
    "pageMarginTop": 0,
    "pageMarginBottom": 0,
    "unit": STAFF_MM * _TENTHS_PER_MM / 8,
    "scale": 100,
    "adjustPageHeight": True,
    "breaks": "auto",
    "header": "none",
    "footer": "none",
    "font": "Leland",
    "lyricSize": 4.0,
    "lyricTopMinMargin": 2.5,
    "fingeringScale": 0.95,
    "xmlIdSeed": 1,
}
_SPACING, _CLOSER = 0.27, 0.2
"""Between notes, as the library counts it; closer where that saves a last line ..."""
_SHORT_LINE_MM = LINE_MM / 3
"""... that would be no longer than this: a bar or two alone. Our own choice."""
MISSING = (
    f"To engrave music, the trainer needs more: {install_words('verovio', 'weasyprint')}. "
    "Without it, --out FILE.musicxml can be opened and printed in a notation program."
)


@dataclass(frozen=True)
class EngravedSystem:
    """One line of engraved music."""

    svg: str
    """A whole 'svg' element, as wide as its music: LINE_MM at most."""
    width_mm: float
    height_mm: float


def systems(
    round_: Round,
    instrument: Instrument,
    letters: Mapping[int, str],
    syllables: Sequence[Mapping[int, str]],
    boxes: Mapping[int, str] = MappingProxyType({}),
    *,
    goes_on: bool = False,
) -> tuple[EngravedSystem, ...]:
    """The round in systems.

    `letters`: note index → letter over the note. `syllables`: for each row under the staff, note
    index → syllable. `boxes`: note index → words in a box before it. `goes_on`: without the double
    bar at the end. Raises ScoreError where the engraving library is missing.
    """
    measures = measures_of(round_, instrument, goes_on=goes_on)
    for measure in measures:
        _tempos_in_words(measure)
        for note in measure.findall("note"):
            index = int(note.get("id", "n-1").partition("n")[2])
            if index in boxes:
                _add_box(measure, note, boxes[index])
            if index in letters:
                _add_letter(note, letters[index])
            for row, texts in enumerate(syllables, start=1):
                if index in texts:
                    _add_syllable(note, row, texts[index])
    return _engraved(document("", {"": measures}))


def stacked(rounds: Sequence[Round], instrument: Instrument) -> str:
    """All systems of these rounds one below the other, as one SVG file."""
    lines = [system for round_ in rounds for system in systems(round_, instrument, {}, ())]
    placed, height_mm = [], 0.0
    for line in lines:
        sized = f'width="{line.width_mm:g}mm" height="{line.height_mm:g}mm"'
        place = f'y="{height_mm:g}" width="{line.width_mm:g}" height="{line.height_mm:g}"'
        placed.append(line.svg.replace(sized, place, 1))
        height_mm += line.height_mm + _BETWEEN_LINES_MM
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {LINE_MM} {height_mm:g}" '
        f'width="{LINE_MM}mm" height="{height_mm:g}mm">{"".join(placed)}</svg>\n'
    )


def text_font_css() -> str:
    """The faces texts are set in, as CSS with the fonts inside."""
    folder = Path(_verovio().__file__ or "").parent / "data"
    return (folder / "Liberation.css").read_text(encoding="utf-8")


def _tempos_in_words(measure: Element) -> None:
    """'tempo 84' in the texts' own face: a note value would need a music font."""
    for kind in measure.iterfind("direction/direction-type"):
        metronome = kind.find("metronome")
        if metronome is not None:
            kind.remove(metronome)
            SubElement(kind, "words").text = f"tempo {metronome.findtext('per-minute')}"


def _add_box(measure: Element, note: Element, words: str) -> None:
    direction = Element("direction", placement="above")
    SubElement(SubElement(direction, "direction-type"), "rehearsal").text = words
    measure.insert(list(measure).index(note), direction)


def _add_letter(note: Element, letter: str) -> None:
    notations = note.find("notations")
    if notations is None:
        notations = Element("notations")
        after = [child.tag for child in note]
        place = after.index("lyric") if "lyric" in after else len(after)
        note.insert(place, notations)
    technical = SubElement(notations, "technical")
    SubElement(technical, "fingering", placement="above").text = letter


def _add_syllable(note: Element, row: int, text: str) -> None:
    lyric = SubElement(note, "lyric", number=str(row))
    SubElement(lyric, "syllabic").text = "single"
    SubElement(lyric, "text").text = text


@cache
def _engraved(data: bytes) -> tuple[EngravedSystem, ...]:
    usual = _laid_out(data, _SPACING)
    if len(usual) > 1 and usual[-1].width_mm <= _SHORT_LINE_MM:
        return min(usual, _laid_out(data, _CLOSER), key=len)
    return usual


def _laid_out(data: bytes, spacing: float) -> tuple[EngravedSystem, ...]:
    toolkit = _toolkit()
    toolkit.setOptions({"spacingLinear": spacing})
    if not toolkit.loadData(data.decode()):
        raise ScoreError("The engraving library did not take the music of this exercise.")
    count = toolkit.getPageCount()
    return tuple(_system(toolkit.renderToSVG(page)) for page in range(1, count + 1))


@cache
def _toolkit() -> Any:
    library = _verovio()
    library.enableLog(library.LOG_OFF)
    toolkit = library.toolkit()
    toolkit.setOptions(_OPTIONS)
    return toolkit


def _verovio() -> Any:
    try:
        import verovio
    except ImportError as error:
        raise ScoreError(MISSING) from error
    return verovio


_VIEW_BOX = re.compile(r'viewBox="0 0 (\d+) (\d+)"')
_GLYPHS = re.compile(r"<defs>.*?</defs>", re.DOTALL)
_PLACEHOLDER = re.compile(r'<g id="[^"]*" class="[^"]*placeholder[^"]*">.*?</g>', re.DOTALL)
_ID = re.compile(r'<g id="[^"]*" class=')
_EMPTY_LINES = re.compile(r"\n\s*")
_BREATH = re.compile(r'(<g class="breath">\s*<use [^>]*translate\()(\d+), (-?\d+)(\))')
_NOTEHEAD = re.compile(r'<g class="notehead">\s*<use [^>]*translate\((\d+), (-?\d+)\)', re.DOTALL)
_STAFF_LINE = re.compile(r'<path d="M\d+ \d+ L(\d+) \d+" stroke-width="13"')
_PLACED = re.compile(r"<use [^>]*translate\(-?\d+, (-?\d+)\)")
_FOOT = 60
"""Room below the lowest mark's own place, 1/100 mm."""
_NEAR = 700
_CLEAR = 420
"""How far from a breath mark notes are looked at, and how far above them it stands; 1/100 mm."""


def _system(page: str) -> EngravedSystem:
    """The engraver's page as one plain drawing: no nested views, no styles, no hidden marks."""
    box = _VIEW_BOX.search(page)
    glyphs = _GLYPHS.search(page)
    if box is None:
        raise ScoreError("The engraving library drew nothing for this exercise.")
    height = int(box[2])
    drawing = page[page.index('<g class="page-margin"') : page.rindex("</svg>")]
    drawing = drawing[: drawing.rindex("</svg>")]
    drawing = _ID.sub("<g class=", _PLACEHOLDER.sub("", drawing))
    drawing, top = _breaths_above_notes(drawing)
    bottom = max([height, *(int(y) + _FOOT for y in _PLACED.findall(drawing))])
    ends = [int(x) for x in _STAFF_LINE.findall(drawing)]
    width = min(int(box[1]), max(ends, default=int(box[1])) + _RIGHT_EDGE_MM * _HUNDREDTHS_PER_MM)
    width_mm, height_mm = width / _HUNDREDTHS_PER_MM, (bottom - top) / _HUNDREDTHS_PER_MM
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'class="system" viewBox="0 {top} {width} {bottom - top}" width="{width_mm:g}mm" '
        f'height="{height_mm:g}mm" stroke="black" font-family="{TEXT_FONT}, serif">'
        f"{glyphs[0] if glyphs else ''}{drawing}</svg>"
    )
    return EngravedSystem(_EMPTY_LINES.sub("", svg), width_mm, height_mm)


def _breaths_above_notes(drawing: str) -> tuple[str, int]:
    """Breath marks lifted clear of high notes beside them, and the drawing's new top edge."""
    heads = [(int(x), int(y)) for x, y in _NOTEHEAD.findall(drawing)]
    tops = [0]

    def lifted(mark: re.Match[str]) -> str:
        x, y = int(mark[2]), int(mark[3])
        near = [head_y for head_x, head_y in heads if abs(head_x - x) < _NEAR]
        clear = min([y, *(head_y - _CLEAR for head_y in near)])
        tops.append(clear - _CLEAR)
        return f"{mark[1]}{x}, {clear}{mark[4]}"

    return _BREATH.sub(lifted, drawing), min(tops)
