"""The teacher plays first, the student answers: two takes of one line, heard and set side by side.

Both are heard as a student is, without click and partner. Nothing goes into the journal, and both
sounds are gone when the student goes back, unless they are kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from trainer.coach.beside_teacher import beside_teacher, heard_share, tempo_of
from trainer.ear.heard import Take
from trainer.ear.take_listener import TakeListener
from trainer.errors import SoundError
from trainer.figures.enough import ENOUGH_SHARE
from trainer.music.instrument import Instrument
from trainer.music.pulse import timed
from trainer.routine.round import Round
from trainer.session.accompaniment import as_sounding
from trainer.session.beginning import KeepTwo
from trainer.session.side_by_side import SideBySide
from trainer.session.tuner import NO_MICROPHONE
from trainer.session.view import PlayAlongAsk, PlayAlongStep, PlayAlongView
from trainer.sound.port import Samples, SoundPort
from trainer.wording.sentence_list import say

LONGEST_S = 180.0
"""A take is over after so long."""
LATEST_S = 5.0
"""Of what was heard while nobody read, only so much is taken up."""
KEPT = "Both are kept among your takes."
CHANGED = "The sound device changed: play once more to compare."


@dataclass(frozen=True)
class Played:
    """One of the two takes."""

    sound: Samples
    take: Take


class PlayAlong:
    """Listens at a port to one and then the other; `tick` often."""

    def __init__(
        self,
        port: SoundPort,
        instrument: Instrument,
        round_: Round,
        keep: KeepTwo,
        take_tempo: Callable[[float], object],
    ) -> None:
        """round_: the line both play. take_tempo: given the teacher's, in beats a minute."""
        self._port = port
        self._round = round_
        self._written = timed(round_.notes, round_.pace)
        self._sounding = as_sounding(round_.notes, round_, instrument)
        self._keep = keep
        self._take_tempo = take_tempo
        self._teacher: Played | None = None
        self._student: Played | None = None
        self.teacher_bpm: float | None = None
        """The teacher's tempo; None before it is known, and where too few notes were heard."""
        self._side: SideBySide | None = None
        self._said: tuple[str, ...] = () if port.listens else (NO_MICROPHONE,)
        self._listen()

    def _listen(self) -> None:
        """To whoever plays next, from now on."""
        self._rate = self._port.sample_rate_hz
        self._pieces: list[Samples] = []
        self._seconds = 0.0
        self._read_to_frame = self._port.heard_frame()
        self._listening: TakeListener | None = TakeListener(
            self._rate,
            self._sounding,
            self._round.tempo_bpm,
            self._round.tuning,
            timed=False,
        )

    def ask(self, asked: PlayAlongAsk) -> None:
        """Do what is asked, where it makes sense now."""
        match asked:
            case PlayAlongAsk.NEXT if self._listening is not None:
                self._finish()
            case PlayAlongAsk.NEXT:
                self._hear(0, 1)
            case PlayAlongAsk.AGAIN:
                self._again()
            case PlayAlongAsk.TEACHER:
                self._hear(0)
            case PlayAlongAsk.STUDENT:
                self._hear(1)
            case PlayAlongAsk.TAKE_TEMPO if self.teacher_bpm is not None:
                self._take_tempo(self.teacher_bpm)
                self._add(say("tempo taken over"))
            case PlayAlongAsk.KEEP if self._teacher is not None and self._student is not None:
                self._keep(self._round, self._teacher.sound, self._student.sound, self._rate)
                self._add(KEPT)
            case _:
                pass

    def _add(self, sentence: str) -> None:
        if sentence not in self._said:
            self._said = (*self._said, sentence)

    def tick(self) -> None:
        """Read on; at another rate, as another device has it, both play once more."""
        if not self._port.alive:
            return
        if self._side is not None:
            self._side.tick()
        if self._listening is None or not self._port.listens:
            return
        if self._port.sample_rate_hz != self._rate:
            self._said = () if self._teacher is None else (CHANGED,)
            self._teacher = self.teacher_bpm = None
            self._listen()
        heard_frame = self._port.heard_frame()
        begin = max(self._read_to_frame, heard_frame - round(LATEST_S * self._rate))
        piece = self._port.read(begin, heard_frame)
        self._read_to_frame = heard_frame
        self._pieces.append(piece)
        self._seconds += piece.size / self._rate
        self._listening.feed(piece)
        if self._seconds > LONGEST_S:
            self._finish()

    def _finish(self) -> None:
        """The one who played is done: the student's turn, or both are set side by side."""
        if self._listening is None or not self._pieces:
            return
        take = self._listening.take(None)
        played = Played(np.concatenate(self._pieces), take)
        self._listening = None
        if self._teacher is None:
            self._hear_out_the_teacher(played)
        else:
            self._student = played
            self._side = SideBySide(self._port, self._both)
            self._said = beside_teacher(self._written, self._teacher.take, played.take)

    def _hear_out_the_teacher(self, played: Played) -> None:
        if heard_share(self._written, played.take) < ENOUGH_SHARE:
            self._said = (say("too little of the teacher"),)
        else:
            self._teacher, self._said = played, ()
            self.teacher_bpm = tempo_of(self._written, played.take)
        self._listen()

    def _again(self) -> None:
        """The student once more, beside the same teacher's take; before that, the teacher."""
        if self._side is not None:
            self._side.close()
        self._side = self._student = None
        self._said = ()
        self._listen()

    def _hear(self, *places: int) -> None:
        if self._side is not None:
            self._side.play(places)

    def _both(self, rate: int) -> tuple[Samples, Samples]:
        """The two sounds; they are of this rate alone."""
        assert self._teacher is not None
        assert self._student is not None
        if rate != self._rate:
            raise SoundError(CHANGED)
        return self._teacher.sound, self._student.sound

    def close(self) -> None:
        """Fall silent; both sounds are gone with it."""
        if self._side is not None:
            self._side.close()

    def view(self) -> PlayAlongView:
        """How it stands now."""
        step = PlayAlongStep.COMPARED
        if self._listening is not None:
            step = PlayAlongStep.TEACHER if self._teacher is None else PlayAlongStep.STUDENT
        return PlayAlongView(
            title=self._round.title,
            step=step,
            seconds=self._seconds,
            words=self._said,
            teacher_bpm=self.teacher_bpm,
            asked_bpm=self._round.tempo_bpm,
            side=None if self._side is None else self._side.view(),
        )
