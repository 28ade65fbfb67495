"""Used while the routine waits: tuner, click, two sounds side by side, the teacher first."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from trainer.errors import SoundError
from trainer.music.instrument import Instrument
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning
from trainer.routine.round import Round
from trainer.session.beginning import KeepTwo
from trainer.session.free_click import FreeClick
from trainer.session.notices import Notices
from trainer.session.play_along import PlayAlong
from trainer.session.side_by_side import SideBySide
from trainer.session.tuner import Tuner
from trainer.session.view import (
    ClickChange,
    ClickView,
    DroneAbove,
    PlayAlongAsk,
    PlayAlongView,
    SideBySideView,
    TunerView,
)
from trainer.sound.port import Samples, SoundPort
from trainer.sound.soundfile_io import read_sound


class Beside:
    """One of them at a time, on the routine's own port. What can't be had of the sound is told."""

    def __init__(self, port: SoundPort, instrument: Instrument, notices: Notices) -> None:
        """None is in use."""
        self._port = port
        self._instrument = instrument
        self._notices = notices
        self._used: Tuner | FreeClick | SideBySide | PlayAlong | None = None

    @property
    def in_use(self) -> bool:
        """One of them has the port, and the routine waits."""
        return self._used is not None

    def tick(self) -> None:
        """Go on with the one in use."""
        if self._used is not None:
            self._used.tick()

    def close(self) -> None:
        """Leave the one in use, silent."""
        if self._used is not None:
            self._used.close()
        self._used = None

    def _begin(self, begin: Callable[[], Tuner | FreeClick | SideBySide | PlayAlong]) -> None:
        with self._notices.telling(SoundError):
            self._used = begin()

    # The tuner

    def begin_tuning(self, tuning: Tuning, usual_cents: Mapping[int, float]) -> None:
        """Tune by this tuning; usual_cents: each note's on this flute, by its MIDI number."""
        self._begin(lambda: Tuner(self._port, self._instrument, tuning, usual_cents))

    def sound_drone(self, written: Pitch | None, *, pure: bool, above: DroneAbove) -> None:
        """While tuning: hold this note, or none."""
        if isinstance(self._used, Tuner):
            self._used.sound_drone(written, pure=pure, above=above)

    def listen_for_a(self, given: Pitch) -> None:
        """While tuning: hear by this note where the room's A stands."""
        if isinstance(self._used, Tuner):
            self._used.listen_for_a(given)

    @property
    def tuner(self) -> TunerView | None:
        """The tuner as it stands, where it is in use."""
        return self._used.view() if isinstance(self._used, Tuner) else None

    # The click

    def begin_click(self) -> None:
        """Have the click at hand."""
        self._begin(lambda: FreeClick(self._port))

    def change_click(self, change: ClickChange) -> None:
        """Do with the click what is asked."""
        if isinstance(self._used, FreeClick):
            self._used.change(change)

    def tap(self, at_s: float) -> None:
        """Take the click's tempo from taps."""
        if isinstance(self._used, FreeClick):
            self._used.tap(at_s)

    @property
    def click(self) -> ClickView | None:
        """The click as it stands, where it is in use."""
        return self._used.view() if isinstance(self._used, FreeClick) else None

    # Two sounds side by side

    def begin_side_by_side(self, files: Sequence[Path]) -> None:
        """Have these sounds at hand to be heard one after the other."""

        def load(rate: int) -> list[Samples]:
            return [read_sound(file, rate).samples for file in files]

        self._begin(lambda: SideBySide(self._port, load))

    def play_side_by_side(self, places: Sequence[int]) -> None:
        """Hear these of them."""
        if isinstance(self._used, SideBySide):
            with self._notices.telling(SoundError):
                self._used.play(places)

    @property
    def side_by_side(self) -> SideBySideView | None:
        """The two sounds as they stand, where they are in use."""
        return self._used.view() if isinstance(self._used, SideBySide) else None

    # The teacher first

    def begin_play_along(
        self, due: Round, keep_two: KeepTwo, take_tempo: Callable[[float], object]
    ) -> None:
        """The teacher plays this round's line, and the student answers."""
        self._begin(lambda: PlayAlong(self._port, self._instrument, due, keep_two, take_tempo))

    def ask_play_along(self, asked: PlayAlongAsk) -> None:
        """Do what is asked where the teacher plays first."""
        if isinstance(self._used, PlayAlong):
            with self._notices.telling(SoundError):
                self._used.ask(asked)

    @property
    def play_along(self) -> PlayAlongView | None:
        """The teacher's line and the student's, where they are in use."""
        return self._used.view() if isinstance(self._used, PlayAlong) else None
