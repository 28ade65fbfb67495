"""Where things stand on Today."""

from __future__ import annotations

from tests.screens.rounds import round_of
from trainer.music.names import NoteNames
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.screens.today_screen import timetable
from trainer.session.view import TimetableLine, Today

ROUND = round_of([Note(0, Pitch.parse("G4"), 0, 1, Start.TONGUED)])
LINES = (
    TimetableLine("C major", "slurred, double at 72", 2.0, ROUND, last_bpm=72.0),
    TimetableLine("G major", "slurred at 60", 2.0, ROUND, last_bpm=60.0),
)


def test_the_last_tempo_stands_beside_what_is_asked() -> None:
    today = Today("Morning", "C flute", 440.0, "", LINES, ())
    wide = timetable(today, 110, NoteNames(), roomy=False).plain.splitlines()
    assert wide[0].endswith("slurred, double at 72   last 72")
    assert wide[1].index("last 60") == wide[0].index("last 72")
    narrow = timetable(today, 80, NoteNames(), roomy=False).plain.splitlines()
    assert narrow[1].endswith("slurred at 60, last 60")
