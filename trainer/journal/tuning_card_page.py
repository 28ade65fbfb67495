"""The tuning card to read in a terminal, and to print: one sheet for the orchestra's stand.

A row a note name and a column an octave, so that the eye finds a note without searching. Nothing in
the page comes from elsewhere and nothing in it runs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict

from trainer.journal.plain_data import plain
from trainer.journal.tuning_card import ENOUGH_DAYS, NoteHabit, TuningCard
from trainer.journal.week_text import times_words
from trainer.paper.page_words import escape
from trainer.paper.parts import head
from trainer.wording.days import date_words

NAMES = ("C", "C♯ D♭", "D", "D♯ E♭", "E", "F", "F♯ G♭", "G", "G♯ A♭", "A", "A♯ B♭", "B")
"""By pitch class, both spellings where there are two."""
SHARP, FLAT, NEAR, WANDERS, UNKNOWN = "▲", "▼", "○", "↕", "·"
SIGNS = (
    f"{SHARP} sharp: aim lower   {FLAT} flat: aim higher   {NEAR} in tune   "
    f"{WANDERS} now sharp, now flat   {UNKNOWN} not heard on {ENOUGH_DAYS} days yet"
)
NOTHING = "No note was heard in these months: practise with the microphone, and come again."
_NAME, _CELL = 8, 12
"""Columns of a note's name, and of one octave."""
_STYLE = """
@page { size: A4; margin: 12mm; }
* { box-sizing: border-box; }
body { max-width: 186mm; margin: 6mm auto; padding: 0 2mm; color: #111; background: #fff;
  font: 11pt/1.3 "Noto Sans", "DejaVu Sans", Helvetica, Arial, sans-serif; }
section { break-after: page; } section:last-of-type { break-after: auto; }
h1 { font-size: 17pt; margin: 0; overflow-wrap: anywhere; } p { margin: 1mm 0 3mm; }
table { border-collapse: collapse; width: 100%; table-layout: fixed; }
th, td { border-bottom: 0.3mm solid #111; height: 17.5mm; text-align: center; padding: 0; }
thead th { height: 9mm; font-size: 11pt; font-weight: 600; border-bottom-width: 0.6mm; }
tbody th { font-size: 19pt; text-align: left; white-space: nowrap; }
tbody th + td, td + td { border-left: 0.2mm solid #999; }
td { font-size: 21pt; white-space: nowrap; }
.signs { display: flex; flex-wrap: wrap; gap: 0 6mm; margin-top: 2mm; }
td.out { font-weight: 700; } td.unknown { color: #999; }
@media print { body { margin: 0; padding: 0; max-width: none; } }
"""


def card_json(cards: Sequence[TuningCard]) -> list[object]:
    """The cards as JSON-ready data; numbers unrounded."""
    return [plain(asdict(card)) for card in cards]


def card_text(cards: Sequence[TuningCard]) -> str:
    """The cards to read in a terminal."""
    return "\n\n".join("\n".join(_text_lines(card)) for card in cards) + "\n" if cards else NOTHING


def _text_lines(card: TuningCard) -> Iterator[str]:
    yield _title(card)
    yield from _explained(card)
    octaves = _octaves(card)
    yield ""
    heads = "".join(f"{_octave_name(each):>{_CELL}}" for each in octaves)
    yield f"{'':<{_NAME}}{heads}"
    for place, name in enumerate(NAMES):
        cells = "".join(f"{_cell(_note(card, place, each)):>{_CELL}}" for each in octaves)
        yield f"{name:<{_NAME}}{cells}"
    yield ""
    yield from (f"  {sign}" for sign in SIGNS.split("   "))


def card_page(cards: Sequence[TuningCard]) -> str:
    """The cards as one self-contained HTML document, a sheet of A4 for each."""
    body = "\n".join(map(_sheet, cards)) or f"<p>{escape(NOTHING)}</p>"
    return f"{head('Tuning card', _STYLE)}\n{body}\n</body>\n</html>\n"


def _sheet(card: TuningCard) -> str:
    octaves = _octaves(card)
    heads = "".join(f"<th>{escape(_octave_name(each))}</th>" for each in octaves)
    rows = "\n".join(
        f"<tr><th>{escape(name)}</th>"
        + "".join(_html_cell(_note(card, place, each)) for each in octaves)
        + "</tr>"
        for place, name in enumerate(NAMES)
    )
    signs = "".join(f"<span>{escape(sign)}</span>" for sign in SIGNS.split("   "))
    return (
        f"<section><h1>{escape(_title(card))}</h1>\n<p>{escape(' '.join(_explained(card)))}</p>\n"
        f"<table><thead><tr><th></th>{heads}</tr></thead><tbody>\n{rows}\n</tbody></table>\n"
        f'<p class="signs">{signs}</p></section>'
    )


def _html_cell(note: NoteHabit | None) -> str:
    kind = "unknown" if note is None else "out" if note.out else "near"
    return f'<td class="{kind}">{escape(_cell(note))}</td>'


def _title(card: TuningCard) -> str:
    return f"Tuning card of the {card.instrument}"


def _explained(card: TuningCard) -> tuple[str, ...]:
    year = f" {card.first_day.year}" * (card.first_day.year != card.last_day.year)
    days = f"{date_words(card.first_day)}{year} to {date_words(card.last_day)} {card.last_day.year}"
    times = times_words(card.sessions, "session")
    middle = round(card.middle_cents)
    cents = times_words(abs(middle), "cent")
    side = "in tune" if not middle else f"{cents} {'sharp' if middle > 0 else 'flat'}"
    return (
        "Each note against your own middle, in cents.",
        f"{times}, {days}. The middle was {side}.",
    )


def _octaves(card: TuningCard) -> range:
    """The octaves that hold a note, without a gap."""
    found = [note.midi // 12 - 1 for note in card.notes]
    return range(min(found), max(found) + 1) if found else range(4, 7)


def _octave_name(octave: int) -> str:
    return f"C{octave} to B{octave}"


def _note(card: TuningCard, place: int, octave: int) -> NoteHabit | None:
    midi = 12 * (octave + 1) + place
    return next((note for note in card.notes if note.midi == midi), None)


def _cell(note: NoteHabit | None) -> str:
    if note is None:
        return UNKNOWN
    if note.out:
        cents = note.cents.median
        return f"{SHARP if cents > 0 else FLAT} {abs(cents):.0f}"
    return WANDERS if note.wanders else NEAR
