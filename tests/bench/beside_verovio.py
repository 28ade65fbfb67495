"""Twenty bars as the screen paints them in pixels, and the same bars as verovio engraves them.

    python -m tests.bench.beside_verovio FOLDER

Writes a page, `beside.html`, with a pair a bar: open it in a browser and look. The bars are random
ones in every key and four metres, with rests, dots, accidentals and up to eight ledger lines; both
are given the same round, verovio by way of our MusicXML.
"""

from __future__ import annotations

import argparse
import random
from base64 import b64encode
from io import BytesIO
from pathlib import Path

import verovio

from tests.screens.test_pixels import CELL, random_bar
from trainer.music.instrument import instrument_named
from trainer.routine.round import Round
from trainer.score.musicxml_out import document, measures_of
from trainer.screens.drawing.engrave import engraved
from trainer.screens.drawing.scale import PIXELS
from trainer.screens.drawing.staff_rows import frame, sheet
from trainer.screens.drawing.systems import systems
from trainer.screens.pixels.palette import Palette
from trainer.screens.pixels.picture_codes import coloured
from trainer.screens.pixels.pixel_painter import painted_in_pixels

BARS = 20
WIDTH = 200
"""Columns; enough for any of the bars in one system."""
PAPER = Palette(paper=(255, 255, 255), ink=(0, 0, 0))
FLUTE = instrument_named("C flute")


def ours(round_: Round) -> str:
    """The bar in pixels, as a data URL."""
    (system,) = systems(round_, WIDTH, PIXELS)
    music = sheet(round_)
    rows = frame(round_.notes, music, PIXELS)
    items = engraved(system, music, rows)
    image = painted_in_pixels(items, rows, system.right + 2, CELL)
    file = BytesIO()
    coloured(image, PAPER).save(file, "PNG")
    return "data:image/png;base64," + b64encode(file.getvalue()).decode()


def verovios(round_: Round) -> str:
    """The bar as SVG."""
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        {"adjustPageHeight": True, "adjustPageWidth": True, "header": "none", "footer": "none"}
    )
    toolkit.loadData(document("bar", {"Flute": measures_of(round_, FLUTE)}).decode())
    return str(toolkit.renderToSVG(1))


def main() -> None:
    """Write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    folder: Path = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    rows = []
    for seed in range(BARS):
        round_ = random_bar(random.Random(f"beside {seed}"))
        told = " ".join(str(note.pitch) for note in round_.notes)
        pair = f'<img src="{ours(round_)}"><div>{verovios(round_)}</div>'
        rows.append(f"<h4>{seed + 1}: {told}</h4><section>{pair}</section>")
    style = "section{display:flex;gap:2em;align-items:center}svg{height:150px;width:auto}"
    page = f"<!doctype html><meta charset=utf-8><style>{style}</style>{''.join(rows)}"
    (folder / "beside.html").write_text(page)


if __name__ == "__main__":
    main()
