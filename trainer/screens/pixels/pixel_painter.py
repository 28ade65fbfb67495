"""Painting a staff in pixels, out of Leland's glyphs (SMuFL, carried whole under its licence).

Only this module knows Pillow, and only who wants pixels loads it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from trainer.screens.drawing.canvas import Ink
from trainer.screens.drawing.staff_items import (
    BarLine,
    Beam,
    Bow,
    Figure,
    Placed,
    StaffItems,
    StaffSign,
    Stem,
    TieEnd,
    Tuplet,
    Wedge,
    Words,
)
from trainer.screens.drawing.staff_rows import Frame
from trainer.screens.pixels.palette import FULL, shade_of

FONT_FILE = Path(__file__).with_name("leland.otf")
CODE_POINTS = {
    StaffSign.CLEF: 0xE050,
    StaffSign.HEAD_BLACK: 0xE0A4,
    StaffSign.HEAD_HALF: 0xE0A3,
    StaffSign.HEAD_WHOLE: 0xE0A2,
    StaffSign.SHARP: 0xE262,
    StaffSign.FLAT: 0xE260,
    StaffSign.NATURAL: 0xE261,
    StaffSign.DOUBLE_SHARP: 0xE263,
    StaffSign.DOUBLE_FLAT: 0xE264,
    StaffSign.REST_WHOLE: 0xE4E3,
    StaffSign.REST_HALF: 0xE4E4,
    StaffSign.REST_QUARTER: 0xE4E5,
    StaffSign.REST_8TH: 0xE4E6,
    StaffSign.REST_16TH: 0xE4E7,
    StaffSign.REST_32ND: 0xE4E8,
    StaffSign.REST_64TH: 0xE4E9,
    StaffSign.DOT: 0xE1E7,
    StaffSign.STACCATO: 0xE4A2,
    StaffSign.TENUTO: 0xE4A4,
    StaffSign.ACCENT: 0xE4A0,
    StaffSign.BREATH: 0xE4CE,
    StaffSign.HARMONIC: 0xE614,
    StaffSign.TRILL: 0xE566,
    StaffSign.TURN: 0xE567,
    StaffSign.INVERTED_TURN: 0xE568,
    StaffSign.MORDENT: 0xE56D,
    StaffSign.INVERTED_MORDENT: 0xE56C,
    StaffSign.FERMATA: 0xE4C0,
    StaffSign.CAESURA: 0xE4D1,
}
"""SMuFL 1.4 (W3C), the glyph tables."""
CENTRED = (
    StaffSign.STACCATO,
    StaffSign.TENUTO,
    StaffSign.ACCENT,
    StaffSign.HARMONIC,
    StaffSign.TRILL,
    StaffSign.TURN,
    StaffSign.INVERTED_TURN,
    StaffSign.MORDENT,
    StaffSign.INVERTED_MORDENT,
    StaffSign.FERMATA,
)
"""Over the middle of their heads."""
METRE_DIGITS, TUPLET_DIGITS, OCTAVE_SIGN = 0xE080, 0xE880, 0xE511
"""Code points of the figure nought of each kind, and of 8va."""
LEVELS = {"p": 0xE520, "m": 0xE521, "f": 0xE522, "r": 0xE523, "s": 0xE524, "z": 0xE525}
"""Code points of the letters of dynamics."""
FLAGS_UP = {1: 0xE240, 2: 0xE242, 3: 0xE244, 4: 0xE246}
"""Code points by the number of flags, at stems that go up."""
FLAGS_DOWN = {1: 0xE241, 2: 0xE243, 3: 0xE245, 4: 0xE247}
"""The same at stems that go down."""
STAFF_LINE, STEM, LEDGER, BEAM, BEAM_STEP = 0.11, 0.1, 0.16, 0.5, 0.75
"""Thicknesses in staff spaces: engravingDefaults of Leland's metadata, rounded."""
THIN_BAR, THICK_BAR, BAR_GAP, HAIRPIN, BOW = 0.18, 0.5, 0.3, 0.13, 0.22
"""Likewise."""
HEAD_WIDTH = 1.18
"""Of Leland's filled head, in staff spaces."""
LEDGER_BEYOND = 0.35
"""A ledger line reaches so far beyond its head on either side; our choice."""
ACCIDENTAL_GAP = 0.2
"""From an accidental to its head; our choice."""
BOW_HEIGHT, TIE_HEIGHT = 0.5, 0.45
"""Of a slur and of a tie; our choice."""
HALF_BOW = 1.4
"""What is seen of a bow from an earlier system before its note; our choice."""
STEEPEST_BOW = 0.25
"""A short bow is no higher than this share of its length; our choice."""
LEVEL_OVERHANG = 0.4
"""By which a letter of dynamics reaches left of its place; rounded from Leland's f."""
HAIRPIN_HALF = 0.45
"""From the middle of a hairpin to its open ends; our choice."""
MOST_BOW_POINTS = 24
"""Corners of each edge of a bow; our choice."""
FINE = 4
"""Parts of a pixel's height that bows and hairpins are drawn in first; our choice."""
LIFT = 0.2
"""Rows by which all stands higher: the clef reaches so far below the lowest row."""
TUPLET_DIGIT, TUPLET_GAP = (1.15, 1.45), 0.3
"""Width and height of a tuplet's figure in Leland; how far it stands from a beam or bracket, our
choice."""
LETTER_SPACES = 1.3
"""Height of letters over notes."""
LINE, SIGN = shade_of(Ink.LINE), shade_of(Ink.SIGN)
EM_SPACES = 4
"""A SMuFL font's em is four staff spaces."""


def painted_in_pixels(
    items: StaffItems, frame: Frame, width: int, cell: tuple[int, int]
) -> Image.Image:
    """A picture as large as so many columns and the frame's rows, in shades ("L", 0 for paper);
    `cell`: its width and height.
    """
    image = Image.new("L", (width * cell[0], frame.height * cell[1]))
    _PixelPainter(image, frame, cell).paint(items)
    return image


@lru_cache(maxsize=8)
def _music_font(size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(FONT_FILE, size)


@lru_cache(maxsize=256)
def _glyph(code: int, size: int, anchor: str) -> tuple[Image.Image, int, int]:
    """A glyph's coverage, and where it lies from its place: each is drawn once a size."""
    font, text = _music_font(size), chr(code)
    left, top, right, bottom = (round(edge) for edge in font.getbbox(text, anchor=anchor))
    mask = Image.new("L", (right - left, bottom - top))
    ImageDraw.Draw(mask).text((-left, -top), text, font=font, fill=FULL, anchor=anchor)
    return mask, left, top


class _PixelPainter:
    """Puts signs on an image; staff spaces become pixels here."""

    def __init__(self, image: Image.Image, frame: Frame, cell: tuple[int, int]) -> None:
        self._image = image
        self._draw = ImageDraw.Draw(image)
        self._frame = frame
        self._cell = cell
        self._space = frame.scale.rows_a_space * cell[1]
        self._top = frame.scale.marker_rows * cell[1]
        self._font = _music_font(EM_SPACES * self._space)
        self._letters = ImageFont.load_default(round(LETTER_SPACES * self._space * 0.8))

    def paint(self, items: StaffItems) -> None:
        """Lines first, then what lies on them."""
        for line in range(5):
            self._bar(0, line, self._staff_end(items), line, STAFF_LINE, LINE)
        for ledger in items.ledgers:
            left = ledger.x - LEDGER_BEYOND * self._stretch
            right = ledger.x + (HEAD_WIDTH + LEDGER_BEYOND) * self._stretch
            self._bar(left, ledger.y, right, ledger.y, LEDGER, LINE)
        for bar in items.bar_lines:
            self._bar_line(bar)
        for bow in items.bows:
            self._bow(bow)
        for tie in items.ties:
            self._tie(tie)
        for stem in items.stems:
            self._stem(stem)
        for beam in items.beams:
            self._beam(beam)
        for sign in items.signs:
            self._sign(sign)
        for figure in items.figures:
            self._figure(figure)
        for hairpin in items.hairpins:
            self._hairpin(hairpin)
        for tuplet in items.tuplets:
            self._tuplet(tuplet)
        for words in items.words:
            self._words(words)

    def _staff_end(self, items: StaffItems) -> float:
        """At the last bar line, where the system ends with one."""
        last = items.bar_lines[-1] if items.bar_lines else None
        if last is None or last.x < items.right - 1:
            return items.right
        return last.x + (THICK_BAR if last.final else THIN_BAR) * self._stretch

    @property
    def _stretch(self) -> float:
        """Staff spaces from left to right for one from top to bottom: cells are not all alike."""
        return self._space / (self._frame.scale.columns_a_space * self._cell[0])

    def _x(self, x: float) -> float:
        return x * self._frame.scale.columns_a_space * self._cell[0]

    def _y(self, y: float) -> float:
        return (self._frame.row(y) + 0.5 - LIFT) * self._cell[1]

    def _glyph(self, code: int, x: float, y: float, shade: int, anchor: str = "ls") -> None:
        """A glyph in its place, or as near to it as leaves it whole above."""
        mask, left, top = _glyph(code, EM_SPACES * self._space, anchor)
        above = max(self._top, round(self._y(y)) + top)
        self._image.paste(shade, (round(self._x(x)) + left, above), mask)

    def _bar(
        self, x: float, y: float, end: float, end_y: float, thickness: float, shade: int
    ) -> None:
        """An upright or level line as thick as so many staff spaces, at least a pixel."""
        thick = max(1, round(thickness * self._space))
        left, top = round(self._x(min(x, end))), round(self._y(max(y, end_y)))
        right, bottom = round(self._x(max(x, end))), round(self._y(min(y, end_y)))
        if y == end_y:
            top -= thick // 2
            bottom = top + thick - 1
        else:
            right = left + thick - 1
        self._draw.rectangle((left, top, right, bottom), fill=shade)

    def _bar_line(self, bar: BarLine) -> None:
        shade = LINE
        if bar.final:
            gap = (THIN_BAR + BAR_GAP) * self._stretch
            self._bar(bar.x - gap, 0, bar.x - gap, 4, THIN_BAR, shade)
        self._bar(bar.x, 0, bar.x, 4, THICK_BAR if bar.final else THIN_BAR, shade)

    def _sign(self, placed: Placed) -> None:
        anchor = "rs" if placed.right_aligned else "ls"
        x = placed.x - (ACCIDENTAL_GAP * self._stretch if placed.right_aligned else 0)
        centred = placed.sign in CENTRED
        if centred:
            x, anchor = x + HEAD_WIDTH / 2 * self._stretch, "ms"
        if placed.sign is StaffSign.DOT:
            x += 0.35 * self._stretch
        self._glyph(CODE_POINTS[placed.sign], x, placed.y, shade_of(placed.ink), anchor)

    def _figure(self, figure: Figure) -> None:
        for place, digit in enumerate(figure.text):
            x = figure.x + place * 0.9
            self._glyph(METRE_DIGITS + int(digit), x, figure.y, SIGN)

    def _stem_x(self, stem: Stem) -> float:
        beyond = (HEAD_WIDTH - STEM) if stem.up else 0
        return stem.x + beyond * self._stretch

    def _stem(self, stem: Stem) -> None:
        x = self._stem_x(stem)
        self._bar(x, stem.base, x, stem.end, STEM, SIGN)
        if stem.flags:
            flags = FLAGS_UP if stem.up else FLAGS_DOWN
            self._glyph(flags[min(stem.flags, 4)], x, stem.end, SIGN)

    def _beam(self, beam: Beam) -> None:
        xs = [self._stem_x(stem) for stem in beam.stems]
        towards = -1 if beam.stems[0].up else 1
        for level in range(max(beam.counts)):
            y = beam.stems[0].end + towards * (level * BEAM_STEP + BEAM / 2)
            for place, shared in enumerate(beam.shared):
                if shared > level:
                    end = xs[place + 1] + STEM * self._stretch
                    self._bar(xs[place], y, end, y, BEAM, SIGN)
            for place, hooks in enumerate(beam.hooks):
                if beam.counts[place] - hooks <= level < beam.counts[place]:
                    side = -1.0 if place else 1.0
                    self._bar(xs[place], y, xs[place] + side, y, BEAM, SIGN)

    def _bow(self, bow: Bow) -> None:
        begin = bow.x + (-HALF_BOW if bow.from_before else HEAD_WIDTH / 2)
        end = bow.end + (0 if bow.leads_on else HEAD_WIDTH / 2)
        row_ends = bow.y + (0.5 - LIFT) / self._frame.scale.rows_a_space
        height = min(BOW_HEIGHT, STEEPEST_BOW * (end - begin))
        self._arc(begin, end, row_ends - BOW / 2 - height, height)

    def _tie(self, tie: TieEnd) -> None:
        """The whole bow from its first note; only what comes from an earlier system at the next."""
        if not tie.from_before:
            self._arc(tie.x, tie.until - ACCIDENTAL_GAP, tie.y - 0.6, -TIE_HEIGHT)
        elif tie.over_break:
            begin, end = tie.until - HALF_BOW, tie.until - ACCIDENTAL_GAP
            self._arc(begin, end, tie.y - 0.6, -STEEPEST_BOW * (end - begin))

    def _arc(self, begin: float, end: float, y: float, height: float) -> None:
        """Thick in its middle, thin at its ends."""
        above, below = [], []
        for point in range(MOST_BOW_POINTS + 1):
            along = point / MOST_BOW_POINTS
            rise = 4 * along * (1 - along)
            x = self._x(begin + along * (end - begin))
            middle = self._y(y + height * rise * (2 - rise))
            half = max(0.5, BOW / 2 * self._space * rise)
            above.append((x, middle - half))
            below.append((x, middle + half))
        self._shape([*above, *reversed(below)])

    def _hairpin(self, hairpin: Wedge) -> None:
        wide, tip = hairpin.end, hairpin.x
        if not hairpin.louder:
            wide, tip = tip, wide
        thick = max(1, round(HAIRPIN * self._space))
        middle = min(self._y(hairpin.y), self._image.height - HAIRPIN_HALF * self._space - thick)
        for side in (-HAIRPIN_HALF, HAIRPIN_HALF):
            ends = (self._x(tip), middle), (self._x(wide), middle + side * self._space)
            edges = [[(x, y + half) for x, y in ends] for half in (-thick / 2, thick / 2)]
            self._shape([*edges[0], *reversed(edges[1])])

    def _shape(self, corners: Sequence[tuple[float, float]]) -> None:
        """A shape that lies rather level: its edges are smoothed from top to bottom."""
        left, right = (round(edge(x for x, _ in corners)) for edge in (min, max))
        top, bottom = math.floor(min(y for _, y in corners)), math.ceil(max(y for _, y in corners))
        fine = Image.new("L", (right - left + 1, (bottom - top + 1) * FINE))
        within = [(x - left, (y - top + 0.5) * FINE - 0.5) for x, y in corners]
        ImageDraw.Draw(fine).polygon(within, fill=FULL)
        self._image.paste(SIGN, (left, top), fine.reduce((1, FINE)))

    def _tuplet(self, tuplet: Tuplet) -> None:
        """The figure outside the beam; over the heads where there is no room below it."""
        wide = TUPLET_DIGIT[0] * len(tuplet.figure)
        end = tuplet.end + HEAD_WIDTH * self._stretch
        left = (tuplet.x + end - wide * self._stretch) / 2
        y = tuplet.y + TUPLET_GAP
        if tuplet.bracket:
            y = tuplet.y - TUPLET_DIGIT[1] / 2
            self._bracket(tuplet, left - TUPLET_GAP, end)
        elif not tuplet.up:
            y = tuplet.y - TUPLET_GAP - TUPLET_DIGIT[1]
            if self._y(y) > self._image.height:
                y = tuplet.highest + 0.5 + TUPLET_GAP
        for place, digit in enumerate(tuplet.figure):
            x = left + place * TUPLET_DIGIT[0] * self._stretch
            self._glyph(TUPLET_DIGITS + int(digit), x, y, SIGN)

    def _bracket(self, tuplet: Tuplet, until: float, end: float) -> None:
        """Two level lines beside the figure, with hooks towards the notes."""
        y, hook = tuplet.y, -TUPLET_GAP if tuplet.up else TUPLET_GAP
        for outer, inner in ((tuplet.x, until), (end, tuplet.x + end - until)):
            self._bar(outer, y, inner, y, STEM, SIGN)
            self._bar(outer, y, outer, y + hook, STEM, SIGN)

    def _words(self, words: Words) -> None:
        shade = shade_of(words.ink)
        if set(words.text) <= set(LEVELS):
            text = "".join(chr(LEVELS[letter]) for letter in words.text)
            below = math.ceil(self._font.getbbox(text, anchor="ls")[3])
            y = min(round(self._y(words.y - 0.25)), self._image.height - below)
            self._draw.text(
                (round(self._x(words.x + LEVEL_OVERHANG * self._stretch)), y),
                text,
                font=self._font,
                fill=shade,
                anchor="ls",
            )
        elif words.dashed_to is not None:
            self._glyph(OCTAVE_SIGN, words.x, words.y, shade)
            self._bar(words.x + 2, words.y, words.dashed_to, words.y, STEM, shade)
        else:
            middle = self._x(words.x), self._y(words.y)
            self._draw.text(middle, words.text, font=self._letters, fill=shade, anchor="lm")
