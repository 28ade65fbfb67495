"""An independent reader of a staff in pixels, by templates of another font.

Its shapes are Bravura's (SMuFL, OFL), as verovio carries them; what is read is Leland's. It knows
how large a staff space is, that lines are fainter than signs and signs than notes, and the rules of
common notation; where anything stands it finds in the picture.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from importlib.resources import files

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage  # type: ignore[import-untyped]

from trainer.music.pitch import LETTERS, Pitch

Grey = NDArray[np.float64]
E4 = 7 * 4 + LETTERS.index("E")
UNITS_A_SPACE = 250
"""A SMuFL font's em, 1000 units here, is four staff spaces."""
FINER = 6
"""Glyphs are drawn so many times larger, then averaged."""
HEADS = {"E0A4": Fraction(1), "E0A3": Fraction(2), "E0A2": Fraction(4)}
"""Quarters of a filled head without flag or beam, a half note's and a whole note's."""
ACCIDENTALS = {"E262": 1, "E260": -1, "E261": 0, "E263": 2, "E264": -2}
RESTS = {
    "E4E5": Fraction(1),
    "E4E6": Fraction(1, 2),
    "E4E7": Fraction(1, 4),
    "E4E8": Fraction(1, 8),
    "E4E9": Fraction(1, 16),
    "E4E4": Fraction(2),
    "E4E3": Fraction(4),
}
HANGS = "E4E3"
"""A whole rest hangs from the fourth line; the others stand about the third."""
FIGURES = {f"E08{figure}": figure for figure in range(10)}
CLEF_SPACES = 2.5
ALIKE_REST, ALIKE_SIGN, ALIKE_KEY = 0.62, 0.5, 0.55
"""How well a shape must match (correlation, 1 is the same)."""


@dataclass(frozen=True)
class Template:
    """A glyph's coverage, and where its origin lies in it, in pixels."""

    grey: Grey
    x: float
    y: float


@dataclass
class ReadHead:
    """A head as read."""

    x: int
    step: int
    quarters: Fraction
    """By the head alone."""
    sign: int | None = None
    dots: int = 0
    ledgers: int = 0
    pitch: Pitch | None = None


@dataclass
class ReadRest:
    """A rest as read."""

    x: int
    quarters: Fraction
    dots: int = 0


@lru_cache(maxsize=64)
def template(code: str, space: int) -> Template:
    """A glyph at a size."""
    text = files("verovio").joinpath("data", "Bravura", f"{code}.xml").read_text()
    outlines = list(_outlines(re.findall(r' d="([^"]+)"', text)[0]))
    points = np.concatenate(outlines)
    left, low = points.min(axis=0)
    scale = space / UNITS_A_SPACE
    width, height = (int(np.ceil(side * scale)) + 2 for side in np.ptp(points, axis=0))
    filled = np.zeros((height * FINER, width * FINER), dtype=bool)
    for outline in outlines:  # overlapping outlines are holes
        mask = Image.new("1", (width * FINER, height * FINER))
        at = (outline - (left, low)) * scale + 1
        at[:, 1] = height - at[:, 1]
        ImageDraw.Draw(mask).polygon([tuple(p) for p in at * FINER], fill=1)
        filled ^= np.asarray(mask)
    grey = filled.reshape(height, FINER, width, FINER).mean(axis=(1, 3))
    return Template(grey, 1 - left * scale, height - 1 + low * scale)


def _outlines(path: str) -> Iterator[Grey]:
    """The polygons of an SVG path (W3C SVG 1.1, 'Path data') of lines and cubic curves."""
    at = start = np.zeros(2)
    control = at
    polygon: list[Grey] = []
    for command, told in re.findall(r"([MmLlHhVvCcSsZz])([^MmLlHhVvCcSsZz]*)", path):
        numbers = [float(n) for n in re.findall(r"-?\d*\.?\d+(?:e-?\d+)?", told)]
        kind, relative = command.upper(), command.islower()
        if kind == "Z":
            yield np.array(polygon)
            polygon, at = [], start
            continue
        size = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4}[kind]
        for first in range(0, len(numbers), size):
            base = at if relative else np.zeros(2)
            some = numbers[first : first + size]
            if kind in "HV":
                to = at.copy()
                axis = "HV".index(kind)
                to[axis] = some[0] + (at[axis] if relative else 0)
                polygon.append(to)
            else:
                points = [base + some[place : place + 2] for place in range(0, size, 2)]
                to = points[-1]
                if kind == "S":
                    points.insert(0, 2 * at - control)
                if kind in "CS":
                    polygon += list(_curve(at, *points))
                    control = points[1]
                else:
                    polygon.append(to)
                if kind == "M" and first == 0:
                    start = to
            if kind not in "CS":
                control = to
            at = to
    if polygon:
        yield np.array(polygon)


def _curve(a: Grey, b: Grey, c: Grey, d: Grey) -> Iterator[Grey]:
    for t in np.linspace(0, 1, 9)[1:]:
        yield (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d


class PixelReader:
    """Reads one staff; `inks`: grey of paper, lines, signs and notes."""

    def __init__(self, image: object, space: int, inks: tuple[int, int, int, int]) -> None:
        self.grey = np.asarray(image).astype(float)
        self.space = space
        paper, line, sign, note = inks
        self.cover = np.clip((self.grey - line) / (note - line), 0, 1)
        """Ink stronger than a line's, 0 to 1."""
        self.notes = self.grey > (sign + note) / 2 - (note - sign) / 4
        self.signs = ndimage.binary_opening(
            np.abs(self.grey - sign) <= 2,
            np.ones((3, 3)),
        )
        """Flat ink of beams and stems."""
        self.line = np.abs(self.grey - line) < (line - paper) / 4
        self.lines = self._lines()

    def _lines(self) -> list[float]:
        rows = np.flatnonzero(self.line[:, : self.space // 4].all(axis=1))
        groups = np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)
        found = [float(group.mean()) for group in groups]
        assert len(found) == 5, found
        return found

    def y_of(self, step: int) -> float:
        """The row of a staff step's middle."""
        return self.lines[-1] - (step - E4) * (self.lines[-1] - self.lines[0]) / 8

    def step_at(self, y: float) -> int:
        """The step whose place is nearest."""
        return round((self.lines[-1] - y) / ((self.lines[-1] - self.lines[0]) / 8)) + E4

    def likeness(self, shape: Template, columns: range, y: float) -> Grey:
        """Correlation with the glyph whose origin stands at each of these columns, in this row; 0
        where it would reach over the picture's edge."""
        height, width = shape.grey.shape
        found = np.zeros(len(columns))
        left, top = round(columns.start - shape.x), round(y - shape.y)
        first = min(max(0, -left), len(columns))
        end = min(len(columns), self.cover.shape[1] - width + 1 - left)
        if top < 0 or top + height > self.cover.shape[0] or end <= first:
            return found
        seen = self.cover[top : top + height, left + first : left + end - 1 + width]
        found[first:end] = _correlations(seen, shape.grey)
        return found

    @cached_property
    def signature(self) -> dict[str, int]:
        """Letters by where the signs after the clef stand."""
        found: dict[str, int] = {}
        x = round(CLEF_SPACES * self.space)
        while True:
            columns = range(x, x + self.space)
            read = [
                (likeness, at, step, alter)
                for code, alter in (("E262", 1), ("E260", -1))
                for step in range(E4 - 1, E4 + 10)
                for at, likeness in zip(
                    columns,
                    self.likeness(template(code, self.space), columns, self.y_of(step)),
                    strict=True,
                )
            ]
            first = min((at for likeness, at, _, _ in read if likeness > ALIKE_KEY), default=None)
            if first is None:
                return found
            near = [one for one in read if one[1] <= first + self.space // 4]
            _, at, step, alter = max(near)
            if not set(found.values()) <= {alter}:
                return found
            found[LETTERS[step % 7]] = alter
            x = at + round(0.6 * self.space)

    def metre(self) -> tuple[int, int]:
        """The figures about the fourth line and the second, before the first head or rest."""
        ends = [one.x for one in (*self.heads, *self.rests)]
        columns = range(round(CLEF_SPACES * self.space), min(ends) - self.space // 2)
        upper, lower = (
            max(
                (self.likeness(template(code, self.space), columns, self.y_of(step)).max(), figure)
                for code, figure in FIGURES.items()
            )[1]
            for step in (E4 + 6, E4 + 2)
        )
        return upper, lower

    @cached_property
    def heads(self) -> list[ReadHead]:
        """Every head from left to right, with its own accidental and dots."""
        labels, _ = ndimage.label(self.notes, structure=np.ones((3, 3)))
        found = []
        for rows, columns in ndimage.find_objects(labels):
            height, width = rows.stop - rows.start, columns.stop - columns.start
            if not (0.65 <= height / self.space <= 1.35 and 0.8 <= width / self.space <= 1.95):
                continue
            step = self.step_at((rows.start + rows.stop - 1) / 2)
            shapes = {
                code: self._best(template(code, self.space), columns.start, self.y_of(step))
                for code in (*HEADS, "E263")
            }
            code = max(shapes, key=lambda each: shapes[each])
            if code in HEADS:
                found.append(ReadHead(columns.start, step, HEADS[code]))
        found.sort(key=lambda head: head.x)
        for head in found:
            head.sign = self._accidental(head)
            head.dots = self._dots(head.x, self._width(head), head.step)
            head.ledgers = self._ledgers(head)
        return found

    def _width(self, head: ReadHead) -> float:
        return (1.69 if head.quarters == 4 else 1.18) * self.space

    def _best(self, shape: Template, x: int, y: float) -> float:
        columns = range(x - 2, x + 3)
        return max(float(self.likeness(shape, columns, y + dy).max()) for dy in (-1, 0, 1))

    def _accidental(self, head: ReadHead) -> int | None:
        """The shape that stands right before the head, at its height."""
        y = self.y_of(head.step)
        best = (ALIKE_SIGN, None)
        for code, alter in ACCIDENTALS.items():
            shape = template(code, self.space)
            nearest = round(head.x - shape.grey.shape[1] + shape.x)
            columns = range(nearest - self.space // 2 + 1, nearest + 1)
            likeness = max(float(self.likeness(shape, columns, y + dy).max()) for dy in (-1, 0, 1))
            best = max(best, (likeness, alter), key=lambda each: each[0])
        return -2 if best[1] == -1 and self._another_flat(head, y) else best[1]

    def _another_flat(self, head: ReadHead, y: float) -> bool:
        """A second flat left of the first."""
        shape = template("E260", self.space)
        lefts = range(round(head.x - 2.2 * self.space), round(head.x - 1.5 * self.space))
        return bool(self.likeness(shape, lefts, y).max() > ALIKE_SIGN)

    def _dots(self, x: int, width: float, step: int) -> int:
        """Round spots in the space at or above the place, right behind it."""
        y = self.y_of(step + 1 - (step - E4) % 2)
        reach = self.space // 4
        found, at = 0, x + width
        rows = self.cover[round(y) - reach : round(y) + reach + 1]
        while True:
            window = rows[:, round(at) : round(at + 0.8 * self.space)]
            spots, count = ndimage.label(window > 0.5)
            sizes = [s for s in ndimage.find_objects(spots) if self._is_dot(s)]
            if count == 0 or not sizes:
                return found
            found += 1
            at = round(at) + sizes[0][1].stop + 1

    def _is_dot(self, spot: tuple[slice, slice]) -> bool:
        return all(0.2 <= (side.stop - side.start) / self.space <= 0.5 for side in spot)

    def _ledgers(self, head: ReadHead) -> int:
        """Short lines that show just left of a head outside the staff, or just right of it."""
        beside = 0.15 * self.space
        columns = [round(head.x - beside), round(head.x + self._width(head) + beside)]
        beyond = [*range(E4 - 2, head.step - 1, -2), *range(E4 + 10, head.step + 1, 2)]
        return sum(
            bool(self.line[round(self.y_of(step)) - 1 : round(self.y_of(step)) + 2, columns].any())
            for step in beyond
        )

    @cached_property
    def rests(self) -> list[ReadRest]:
        """Every rest from left to right: the likeliest shape about the middle line."""
        scores = self._rest_scores()
        near = round(0.9 * self.space)
        for head in self.heads:
            scores[:, max(0, head.x - 2 * near) : head.x + near] = 0
        scores[:, : round(CLEF_SPACES * self.space)] = 0
        found = []
        while scores.max() > ALIKE_REST:
            kind, x = np.unravel_index(scores.argmax(), scores.shape)
            quarters = list(RESTS.values())[int(kind)]
            wide = template(list(RESTS)[int(kind)], self.space).grey.shape[1]
            dots = self._dots(int(x), wide, E4 + 4)
            found.append(ReadRest(int(x), quarters, dots))
            scores[:, max(0, int(x) - near) : int(x) + near] = 0
        return sorted(found, key=lambda rest: rest.x)

    def _rest_scores(self) -> Grey:
        """Likeness of each rest's shape at every column, in a window that all of them fit into."""
        above, below, wide = (round(n * self.space) for n in (2.2, 3.2, 1.6))
        middle = round(self.y_of(E4 + 4))
        inked = np.where(self.notes | ~self.signs, self.cover, 0)  # no beams: rests are notes' ink
        rows = np.pad(inked[middle - above : middle + below], ((0, 0), (0, wide)))
        shapes = [self._rest_shape(code, above, below, wide) for code in RESTS]
        scores = np.stack([_correlations(rows, shape) for shape in shapes])
        return scores[:, : inked.shape[1]]

    def _rest_shape(self, code: str, above: int, below: int, wide: int) -> Grey:
        """The shape in its window, which begins so many rows above the middle line."""
        shape = template(code, self.space)
        y = self.y_of(E4 + (6 if code == HANGS else 4))
        canvas = np.zeros((above + below, wide))
        top = round(y - shape.y) - round(self.y_of(E4 + 4)) + above
        left = round(shape.x) + 1
        height = shape.grey.shape[0]
        canvas[top : top + height, left : left + shape.grey.shape[1]] = shape.grey[:, : wide - left]
        return canvas

    def pitches(self, bars: Sequence[int] = ()) -> list[Pitch]:
        """Every head's pitch: signature, accidentals for their bar. bars: columns of bar lines."""
        in_force: dict[int, int] = {}
        bar, found = 0, []
        for head in self.heads:
            at = sum(line < head.x for line in bars)
            if at != bar:
                bar, in_force = at, {}
            octave, letter = divmod(head.step, 7)
            usual = self.signature.get(LETTERS[letter], 0)
            alter = in_force.get(head.step, usual) if head.sign is None else head.sign
            in_force[head.step] = alter
            found.append(Pitch(LETTERS[letter], alter, octave))
        return found


def _correlations(seen: Grey, shape: Grey) -> Grey:
    """Of a shape with what is seen at each place, as high as it, shape (places,); 1 is the same."""
    pattern = shape - shape.mean()
    pattern /= np.linalg.norm(pattern)
    windows = sliding_window_view(seen, shape.shape[1], axis=1)
    alike = np.einsum("rpc,rc->p", windows, pattern)
    sums, squares = (
        np.convolve(column, np.ones(shape.shape[1]), "valid")
        for column in (seen.sum(axis=0), np.einsum("rc,rc->c", seen, seen))
    )
    sizes = np.sqrt(np.maximum(squares - sums**2 / shape.size, 0))
    return np.asarray(np.where(sizes > 1e-6, alike / np.maximum(sizes, 1e-6), 0.0))
