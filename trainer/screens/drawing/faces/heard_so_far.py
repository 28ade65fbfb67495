"""What was heard of the round so far, as the faces in the lane draw it."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import fmean

from trainer.coach.advice import Standing
from trainer.ear.heard import LiveNote, LiveReading
from trainer.music.note import Note
from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Canvas, Row, joined
from trainer.screens.drawing.systems import System
from trainer.screens.drawing.trail import Trail

STEADY_S = 0.3
"""A large figure is the mean over this: more than a cycle of the vibrato (5 to 8 Hz: L. Garrison,
Visualizing Vibrato, British Flute Society 2012), and slow enough to be read."""
FRESH_S = 0.15
"""After a longer silence nothing is said of what sounds now; our own estimate."""


@dataclass(frozen=True)
class HeardSoFar:
    """Readings by their columns on the system that is played, and the newest of them."""

    beat: float = 0.0
    """As sounding now."""
    cents: Trail | None = None
    """By column."""
    level_db: Trail | None = None
    """By column."""
    newest: tuple[LiveReading, ...] = ()
    first_beat_s: float | None = None
    """Where the first beat falls in the readings' time."""
    answers: tuple[LiveNote, ...] = ()
    standing: Standing | None = None
    turned: int | None = None
    """Up to which column the staff shows the next system already."""
    before: Trail | None = None
    """The cents of the last time the same was played, by column; None where they aren't shown."""
    settled: Trail | None = None
    """As `TrailPen.settled`."""

    def under_music(self, rows: tuple[Row, ...], system: System) -> tuple[Row, ...]:
        """Rows whose columns are those of the music: blank where the staff is turned; the labels
        on their left stay."""
        if self.turned is None:
            return rows
        blank = Canvas(len(rows[0].text), len(rows)).rows()
        return joined(rows, joined(blank, rows, self.turned), system.left)

    def steady_cents(self, note: Note) -> float | None:
        """The note's cents as it sounds now; None where it doesn't or only just began."""
        if not self.newest:
            return None
        now_s = self.newest[-1].time_s
        last = [
            reading
            for reading in self.newest
            if reading.time_s > now_s - STEADY_S
            and reading.note_index == note.index
            and reading.cents is not None
        ]
        if not last or now_s - last[-1].time_s > FRESH_S or now_s - last[0].time_s < STEADY_S / 2:
            return None
        return fmean(reading.cents for reading in last if reading.cents is not None)


def note_at(round_: Round, beat: float) -> Note | None:
    """The note that fills this beat, the partner's too; None in a rest."""
    return next(
        (note for note in round_.printed if note.beat <= beat < note.beat + note.length), None
    )


def is_held(note: Note) -> bool:
    """Longer than a beat: there is time to hear where it stands."""
    return note.length > 1


def is_mostly_held(round_: Round) -> bool:
    """Whether at least half of the time passes in notes longer than a beat."""
    held = sum(note.length for note in round_.notes if is_held(note))
    return 2 * held >= round_.music_beats
