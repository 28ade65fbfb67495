"""Painting a staff in cells: text, lines and quarters of cells."""

from __future__ import annotations

from trainer.screens.drawing.canvas import QUARTERS, Canvas, Ink, Row
from trainer.screens.drawing.large_figures import figure_rows
from trainer.screens.drawing.scale import COMPACT
from trainer.screens.drawing.sprites import SPRITES
from trainer.screens.drawing.staff_items import (
    BarLine,
    Beam,
    Bow,
    Figure,
    Ledger,
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

LINES = range(5)
"""The staff's lines in spaces from the lowest."""
AS_TEXT = {
    StaffSign.STACCATO: "•",
    StaffSign.TENUTO: "–",
    StaffSign.ACCENT: ">",
    StaffSign.BREATH: "’",
    StaffSign.HARMONIC: "○",
    StaffSign.TRILL: "tr",
    StaffSign.TURN: "~",
    StaffSign.INVERTED_TURN: "~",
    StaffSign.MORDENT: "m",
    StaffSign.INVERTED_MORDENT: "m",
    StaffSign.FERMATA: "hold",
    StaffSign.CAESURA: "//",
}
HOLLOW_ON_LINE, HOLLOW_IN_SPACE = ("⢎⡱",), ("⡠⢄", "⠑⠊")
"""Where a line has one row: a ring of dots as wide and as high as a filled head, the same on a line
and in a space."""
TIE = "‿"
CORNERS = {True: ("┍┯┑", "╒╤╕"), False: ("┕┷┙", "╘╧╛")}
"""Where a beam meets its stems, first, middle and last: stems up or not, one beam or more."""
INNER = ("┝┿┥", "╞╪╡")
"""The same for the third beam alone, and for the third and the fourth."""
ONE, TWO = "━", "═"
BRACKET = {True: ("┌", "┐"), False: ("└", "┘")}
"""Ends of a tuplet's bracket over its notes, and under them."""
BEAM_DOTS, BEAM_PITCH_DOTS = 2, 3
"""Half rows of a beam, and from one to the next, at the larger scale."""
FLAG_COLUMNS = 3
"""Of a note that no beam joins, at the larger scale."""
_OF_A_NOTE = (Ink.NOTE, Ink.CARE)


def painted_in_cells(items: StaffItems, frame: Frame, width: int) -> tuple[Row, ...]:
    """The staff drawn into rows of cells."""
    painter = _CellPainter(Canvas(width, frame.height), frame)
    painter.paint(items)
    return painter.canvas.rows()


class _CellPainter:
    """Puts signs on a canvas, in the scale of the frame."""

    def __init__(self, canvas: Canvas, frame: Frame) -> None:
        self.canvas = canvas
        self._frame = frame
        self._columns = frame.scale.columns_a_space
        self._sprites = SPRITES[frame.scale]
        self._small = frame.scale == COMPACT
        self._gap = self._columns // COMPACT.columns_a_space  # half columns before a head

    def paint(self, items: StaffItems) -> None:
        """Lines first, then what lies on them."""
        for line in LINES:
            self.canvas.put(0, self._row(line), "─" * self._column(items.right), Ink.LINE)
        for bar in items.bar_lines:
            self._bar_line(bar)
        for ledger in items.ledgers:
            self._ledger(ledger)
        for bow in items.bows:
            self._bow(bow)
        for sign in items.signs:
            self._sign(sign)
        for figure in items.figures:
            self._figure(figure)
        for tie in items.ties:
            self._tie(tie)
        for stem in items.stems:
            self._stem(stem)
        for beam in items.beams:
            self._beam(beam)
        for hairpin in items.hairpins:
            self._hairpin(hairpin)
        stems = {self._stem_column(stem) for stem in items.stems}
        for tuplet in items.tuplets:
            self._tuplet(tuplet, stems)
        for words in items.words:
            self._words(words)

    def _row(self, y: float) -> int:
        return round(self._frame.row(y))

    def _column(self, x: float) -> int:
        return round(x * self._columns)

    # Staff

    def _bar_line(self, bar: BarLine) -> None:
        for row in range(self._row(LINES[-1]), self._row(LINES[0]) + 1):
            self.canvas.put(self._column(bar.x), row, "║" if bar.final else "│", Ink.LINE)

    def _ledger(self, ledger: Ledger) -> None:
        x, head = self._column(ledger.x), self._columns
        self.canvas.put(x - 1, self._row(ledger.y), f"╶{'─' * head}╴", Ink.LINE)

    def _figure(self, figure: Figure) -> None:
        x, row = self._column(figure.x), self._row(figure.y)
        if self._small:
            self.canvas.put(x, row, figure.text, Ink.SIGN)
            return
        for place, text in enumerate(figure_rows(figure.text), row - 1):
            for column, character in enumerate(text, x):
                if character != " ":
                    self.canvas.put(column, place, character, Ink.SIGN)

    # Signs

    def _sign(self, placed: Placed) -> None:
        if placed.sign in AS_TEXT:
            text = AS_TEXT[placed.sign]
            self.canvas.put(self._column(placed.x), self._row(placed.y), text, placed.ink)
        elif self._small and placed.sign in (StaffSign.HEAD_HALF, StaffSign.HEAD_WHOLE):
            self._hollow(placed)
        else:
            self._sprite(placed)

    def _sprite(self, placed: Placed) -> None:
        sprite = self._sprites[placed.sign]
        left = round(placed.x * self._columns * 2)
        left -= sprite.width + self._gap if placed.right_aligned else 0
        top = round(self._frame.row(placed.y) * 2) + 1 - sprite.above
        for y, row in enumerate(sprite.rows, top):
            for x, dot in enumerate(row, left):
                if dot == "#":
                    self.canvas.dot(x, y, placed.ink)

    def _hollow(self, placed: Placed) -> None:
        row = self._frame.row(placed.y)
        head = HOLLOW_ON_LINE if row == int(row) else HOLLOW_IN_SPACE
        for place, text in enumerate(head, int(row)):
            self.canvas.put(self._column(placed.x), place, text, placed.ink)

    def _tie(self, tie: TieEnd) -> None:
        self.canvas.put(self._column(tie.x), int(self._frame.row(tie.y)), TIE, Ink.SIGN)

    # Stems and beams

    def _stem_column(self, stem: Stem) -> int:
        """The last column of the head where it goes up, else the first."""
        return self._column(stem.x) + (self._columns - 1 if stem.up else 0)

    def _stem(self, stem: Stem) -> None:
        if self._small:
            self._thin_stem(stem)
        else:
            self._stem_of_dots(stem)
        if stem.flags and self._small:
            x = self._stem_column(stem)
            self._beam_rows({x + 1: stem.flags}, [x], stem)
        elif stem.flags:
            x = self._stem_column(stem)
            self._beam_of_dots(x, x + FLAG_COLUMNS, stem, range(stem.flags))

    def _thin_stem(self, stem: Stem) -> None:
        x, end = self._stem_column(stem), self._row(stem.end)
        base = self._frame.row(stem.base)
        joint = int(base) if stem.up else int(base + 0.5)
        for row in range(end, joint) if stem.up else range(joint + 1, end + 1):
            self.canvas.put(x, row, "│", Ink.SIGN)
        ink = self.canvas.ink_at(x, joint)
        if base != joint and self.canvas.at(x, joint) in QUARTERS and ink in _OF_A_NOTE:
            self.canvas.dot(2 * x + stem.up, 2 * joint + (not stem.up), ink)

    def _stem_of_dots(self, stem: Stem) -> None:
        x = 2 * self._stem_column(stem) + stem.up
        base, end = (round(2 * self._frame.row(y)) + 1 for y in (stem.base, stem.end))
        for y in range(end - 1, base) if stem.up else range(base, end + 1):
            if self.canvas.ink_at(x // 2, y // 2) not in _OF_A_NOTE:
                self.canvas.dot(x, y, Ink.SIGN)

    def _beam(self, beam: Beam) -> None:
        columns = [self._stem_column(stem) for stem in beam.stems]
        between = list(zip(columns, columns[1:], beam.shared, strict=False))
        if not self._small:
            for x, after, shared in between:
                self._beam_of_dots(x, after + 1, beam.stems[0], range(shared))
            for place, hooks in enumerate(beam.hooks):
                levels = range(beam.counts[place] - hooks, beam.counts[place])
                x, half = columns[place], self._half(columns, place)
                self._beam_of_dots(min(x, x + half), max(x, x + half) + 1, beam.stems[0], levels)
            return
        counts = {x: shared for left, after, shared in between for x in range(left + 1, after)}
        for place, hooks in enumerate(beam.hooks):
            if hooks:
                x, half = columns[place], self._half(columns, place)
                step = 1 if half > 0 else -1
                counts |= dict.fromkeys(range(x + step, x + half + step, step), beam.counts[place])
        self._beam_rows(counts, columns, beam.stems[0])

    def _half(self, columns: list[int], place: int) -> int:
        """Half the way to the neighbour a half beam points to."""
        neighbour = columns[place - 1] if place else columns[1]
        return int((neighbour - columns[place]) / 2)

    def _beam_rows(self, counts: dict[int, int], columns: list[int], stem: Stem) -> None:
        """One row for the first two beams, the next for two more."""
        outer = self._row(stem.end)
        self._beam_row(counts, columns, outer, CORNERS[stem.up])
        inner = {x: count - 2 for x, count in counts.items() if count > 2}
        if inner:
            self._beam_row(inner, columns, outer + (1 if stem.up else -1), INNER)

    def _beam_row(
        self, counts: dict[int, int], columns: list[int], row: int, corners: tuple[str, str]
    ) -> None:
        cells = {x: ONE if count == 1 else TWO for x, count in counts.items()}
        for x in columns:
            sides = cells.get(x - 1), cells.get(x + 1)
            if any(sides):
                side = 0 if x == columns[0] else 2 if x == columns[-1] else 1
                cells[x] = corners[TWO in sides][side]
        for x, mark in cells.items():
            if self.canvas.ink_at(x, row) not in _OF_A_NOTE:  # a leap may reach into this row
                self.canvas.put(x, row, mark, Ink.SIGN)

    def _beam_of_dots(self, x: int, after: int, stem: Stem, levels: range) -> None:
        end = round(2 * self._frame.row(stem.end))
        for level in levels:
            away = BEAM_PITCH_DOTS * level
            for y in range(BEAM_DOTS):
                row = end + away + y if stem.up else end + 1 - away - y
                for column in range(2 * x, 2 * after):
                    if self.canvas.ink_at(column // 2, row // 2) not in _OF_A_NOTE:
                        self.canvas.dot(column, row, Ink.SIGN)

    # Above and below

    def _bow(self, bow: Bow) -> None:
        x, end, row = self._column(bow.x), self._column(bow.end), self._row(bow.y)
        last = end - 1 if bow.leads_on else end + 1
        self.canvas.put(x, row, "─" * (last - x + 1), Ink.SIGN)
        if not bow.from_before:
            self.canvas.put(x, row, "╭", Ink.SIGN)
        if not bow.leads_on:
            self.canvas.put(last, row, "╮", Ink.SIGN)

    def _hairpin(self, hairpin: Wedge) -> None:
        """Pointed where it is softest."""
        x, row = self._column(hairpin.x), self._row(hairpin.y)
        line = "─" * (self._column(hairpin.end) - x - 1)
        self.canvas.put(x, row, f"<{line}" if hairpin.louder else f"{line}>", Ink.SIGN)

    def _tuplet(self, tuplet: Tuplet, stems: set[int]) -> None:
        x, row = self._column((tuplet.x + tuplet.end) / 2) + self._columns // 2, self._row(tuplet.y)
        if tuplet.bracket:
            first, last = self._column(tuplet.x), self._column(tuplet.end) + self._columns - 1
            left, right = BRACKET[tuplet.up]
            line = f"{left}{'─' * (last - first - 1)}{right}"
            for column, mark in enumerate(line, first):
                self._beside_notes(column, row, mark)
        x -= x in stems  # beside a stem, whose beam is read there
        self._beside_notes(x, row, tuplet.figure)

    def _beside_notes(self, x: int, row: int, mark: str) -> None:
        """Draw it where neither a head nor a stem stands."""
        if self.canvas.ink_at(x, row) not in _OF_A_NOTE and self.canvas.at(x, row) != "│":
            self.canvas.put(x, row, mark, Ink.SIGN)

    def _words(self, words: Words) -> None:
        x, row = self._column(words.x), self._row(words.y)
        self.canvas.put(x, row, words.text, words.ink)
        if words.dashed_to is not None:
            end = self._column(words.dashed_to)
            after = x + len(words.text)
            self.canvas.put(after, row, "╌" * (end - after) + "┐", words.ink)
