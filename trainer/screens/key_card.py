"""Every key on one page, for the stand: the same table that Help shows, screen by screen."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import wrap

from trainer.paper.page_words import escape
from trainer.paper.parts import head
from trainer.paper.style import STYLE
from trainer.screens.after_screen import AfterScreen
from trainer.screens.choice_screen import ChoiceScreen
from trainer.screens.end_screen import EndScreen
from trainer.screens.first_run_screen import FirstMorningScreen
from trainer.screens.help_screen import ON_THE_MUSIC, SIGNS, table
from trainer.screens.key_names import EVERY_APPS, KEY_WORDS, Keys, keys_of_class
from trainer.screens.lines import HELP as IN_LINES
from trainer.screens.microphone_screen import SoundCheckScreen
from trainer.screens.pause_screen import PauseScreen
from trainer.screens.playing_screen import PlayingScreen
from trainer.screens.preview_screen import PreviewScreen
from trainer.screens.settings_screen import SettingsScreen
from trainer.screens.stage_screen import StageScreen
from trainer.screens.today_screen import TodayScreen
from trainer.screens.week_screen import WeekScreen

TITLE = "Keys"
CARD_COLUMNS = 78
PEDAL = (
    "PageDown alone leads through a whole routine, and a page-turn pedal sends it. On keyboards it "
    "is also called PgDn, Bild ↓, Page ↓ or Av Pág; on a Mac hold fn and press ↓."
)
"""What keyboards of other countries print on it: common use, from memory."""
SECTIONS = (
    ("Before the routine", TodayScreen),
    ("While the microphone is looked at", SoundCheckScreen),
    ("While a round is ready, counted in or sounding", PlayingScreen),
    ("After a round", AfterScreen),
    ("At the end", EndScreen),
    ("Today's music", PreviewScreen),
    ("Week and help", WeekScreen),
    ("In a rest and in a pause", PauseScreen),
    ("A list of exercises or routines", ChoiceScreen),
    ("Settings", SettingsScreen),
    ("The first morning", FirstMorningScreen),
)
SPOKEN = "Told in lines (--lines)"
DRAWN = (
    "The music is drawn in pixels where the terminal shows pictures (kitty's protocol, sixel) and "
    "Pillow is installed, else in characters; the setting 'drawing' keeps it in characters."
)
_EVERY_APPS = [(KEY_WORDS[key], EVERY_APPS[key]) for key in ("ctrl+p", "ctrl+z")]
CARD_STYLE = """
.card { columns: 2; column-gap: 8mm; font-size: 7.9pt; line-height: 1.13; }
.card td { padding: 0.15mm 2mm 0.15mm 0; }
.card h2 { margin: 1.8mm 0 0.5mm; }
.card section { break-inside: avoid; }
.card td:first-child { font-weight: 600; width: 34%; }
"""


@dataclass(frozen=True)
class KeySection:
    """The keys of one place."""

    title: str
    keys: Keys


def key_card() -> tuple[KeySection, ...]:
    """The keys that hold everywhere, what each screen adds or changes, and the signs."""
    everywhere = keys_of_class(StageScreen)
    screens = (
        KeySection(title, [each for each in keys_of_class(screen) if each not in everywhere])
        for title, screen in SECTIONS
    )
    return (
        KeySection("Everywhere", [*everywhere, *_EVERY_APPS]),
        *screens,
        KeySection(SPOKEN, list(IN_LINES)),
        KeySection(ON_THE_MUSIC, list(SIGNS)),
    )


def card_text() -> str:
    """The card for a terminal or a plain printer."""
    rows = [TITLE, "", *wrap(PEDAL, CARD_COLUMNS), "", *wrap(DRAWN, CARD_COLUMNS)]
    for section in key_card():
        rows += ["", section.title, *table(section.keys)]
    return "\n".join(rows)


def card_page() -> str:
    """The card as a page of HTML, one sheet of A4 when printed."""
    sections = "\n".join(map(_section, key_card()))
    return (
        f"{head(TITLE, STYLE + CARD_STYLE)}\n<h1>{TITLE}</h1>\n<p>{escape(PEDAL)}</p>\n"
        f"<p>{escape(DRAWN)}</p>\n"
        f'<div class="card">\n{sections}\n'
        "</div>\n</body>\n</html>\n"
    )


def _section(section: KeySection) -> str:
    rows = "".join(
        f"<tr><td>{escape(key)}</td><td>{escape(meaning)}</td></tr>"
        for key, meaning in section.keys
    )
    return f"<section><h2>{escape(section.title)}</h2>\n<table>{rows}</table></section>"
