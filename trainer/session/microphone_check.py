"""The sound check before practice: silence, a soft note, a loud one, silence, two short notes
for the room; then what to do.

A flow without a screen: `tick` it often and show its `view`. Where a passage holds no note, as when
somebody talks, the note is waited for anew, and in the end nothing is concluded from talk.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import fmean

from trainer.ear.live.one_note import is_one_note
from trainer.ear.live.short_notes import room_heard
from trainer.ear.microphone_limits import CLIPPED_SHARE, NOISE_BELOW_TONE_DB, TOO_SOFT_DB
from trainer.session.view import CheckStep, SoundCheckView
from trainer.sound.level_check import (
    HEARD_ABOVE_DB,
    LOWEST_DB,
    WHAT_TO_DO,
    Finding,
    Limits,
    Passages,
    findings,
    levels_db,
    tone_db,
)
from trainer.sound.port import Samples, SoundPort

LIMITS = Limits(TOO_SOFT_DB, CLIPPED_SHARE, NOISE_BELOW_TONE_DB)
"""As what is said after a round goes by."""
ZONE_DB = (TOO_SOFT_DB, -4.0)
"""Softer is too soft; a sine whose tops are cut off has a level of -3 dB."""
PASSAGE_S = 2.5
SHORT_PASSAGE_S = 3.5
"""Two notes a second apart, and the silence after them."""
WAIT_S = 20.0
"""A note is waited for so long."""
METER_S = 0.1
LEAD_S = 0.3
"""A passage begins this long before the note was noticed."""


WORDS: dict[CheckStep, str] = {
    CheckStep.QUIET: "Hold the flute ready and be silent for a moment.",
    CheckStep.SOFT: "Now play one long soft note, in the middle register.",
    CheckStep.LOUD: "The same note again, long and loud.",
    CheckStep.AFTER: "Now silence once more.",
    CheckStep.SHORT: "Last, two short notes with a long silence after each: ta … ta …",
    CheckStep.DONE: "",
}
ALL_WELL = "The microphone is fine: soft and loud arrive as you play them."
UNHEARD = "There is no microphone to check: plug one in."
NEXT: dict[CheckStep, CheckStep] = {
    CheckStep.QUIET: CheckStep.SOFT,
    CheckStep.SOFT: CheckStep.LOUD,
    CheckStep.LOUD: CheckStep.AFTER,
    CheckStep.AFTER: CheckStep.SHORT,
    CheckStep.SHORT: CheckStep.DONE,
}
LONG_NOTES = (CheckStep.SOFT, CheckStep.LOUD)
NOTES = (*LONG_NOTES, CheckStep.SHORT)
"""Steps in which a note is waited for."""
LEVEL_STANDS = frozenset({Finding.LIVE_ROOM, Finding.NARROW})
"""Whatever else is found, something is turned or moved afterwards."""


@dataclass(frozen=True)
class CheckAsked:
    """A check that is due before the first round."""

    why: str
    """One sentence."""
    keep: Callable[[tuple[str, ...] | None], None]
    """Given what was found, or None when the student went past it; raises SoundError."""


class SoundCheck:
    """One check on a port, by its clock."""

    def __init__(self, port: SoundPort) -> None:
        """Begin with silence."""
        self._port = port
        self._rate = port.sample_rate_hz
        self._step = CheckStep.QUIET if port.listens else CheckStep.DONE
        self._step_frame = port.heard_frame()
        port.keep_from(self._step_frame)
        self._begun_frame: int | None = self._step_frame
        self._passages: dict[CheckStep, tuple[int, int]] = {}
        self._floor_db = LOWEST_DB
        self._findings: tuple[Finding, ...] = ()
        self._level_db = LOWEST_DB
        self._was_silent = False
        self.players_level_db: float | None = None
        """How loud the player is here between soft and loud, dB re full scale; None before the end,
        and where the student will now turn or move something."""

    def tick(self) -> None:
        """Move on as far as what was heard allows."""
        if self._step is CheckStep.DONE:
            return
        heard_frame = self._port.heard_frame()
        self._level_db = self._level_before(heard_frame)
        if self._begun_frame is None:
            self._wait_for_a_note(heard_frame)
        if self._begun_frame is None or heard_frame < self._end_frame:
            return
        if self._waits_for_another(heard_frame):
            self._listen_anew()
            return
        self._passages[self._step] = (self._begun_frame, self._end_frame)
        if self._step is CheckStep.QUIET:
            begin, end = self._passages[CheckStep.QUIET]
            quiet = levels_db(self._port.read(begin, end), self._rate)
            self._floor_db = float(sorted(quiet)[len(quiet) // 2])
        self._go_on(heard_frame)

    def view(self) -> SoundCheckView:
        """Where the check stands."""
        left_s = None
        if self._begun_frame is not None and self._step is not CheckStep.DONE:
            left_s = max(0, self._end_frame - self._port.heard_frame()) / self._rate
        zone_db = ZONE_DB if self._step in NOTES else None
        return SoundCheckView(
            self._step, self._words(), self._level_db, left_s, self._findings, zone_db
        )

    @property
    def _end_frame(self) -> int:
        assert self._begun_frame is not None
        lasts_s = SHORT_PASSAGE_S if self._step is CheckStep.SHORT else PASSAGE_S
        return self._begun_frame + round(lasts_s * self._rate)

    def _waits_for_another(self, heard_frame: int) -> bool:
        """What sounded was no note, and there is time left for one."""
        if self._step not in LONG_NOTES or self._waited_s(heard_frame) > WAIT_S:
            return False
        assert self._begun_frame is not None
        return not is_one_note(self._port.read(self._begun_frame, self._end_frame), self._rate)

    def _waited_s(self, heard_frame: int) -> float:
        return (heard_frame - self._step_frame) / self._rate

    def _listen_anew(self) -> None:
        self._begun_frame = None
        self._was_silent = False  # the sound before may go on

    def _wait_for_a_note(self, heard_frame: int) -> None:
        sounds = self._level_db > self._floor_db + HEARD_ABOVE_DB
        self._was_silent = self._was_silent or not sounds
        if (sounds and self._was_silent) or self._waited_s(heard_frame) > WAIT_S:
            begun_frame = heard_frame - round(LEAD_S * self._rate)
            self._begun_frame = max(self._step_frame, begun_frame)

    def _go_on(self, heard_frame: int) -> None:
        self._step = NEXT[self._step]
        self._step_frame = heard_frame
        self._listen_anew()
        if self._step not in NOTES:
            self._begun_frame = heard_frame
        if self._step is CheckStep.DONE:
            self._findings = self._found()
            self.players_level_db = self._between_soft_and_loud_db()

    def _found(self) -> tuple[Finding, ...]:
        """What is wrong, going by the notes alone; of the room only where nothing else is."""
        quiet, soft, loud, after, short = (self._port.read(*self._passages[step]) for step in NEXT)
        found = findings(
            Passages(quiet, self._note(soft), self._note(loud), after, self._rate), LIMITS
        )
        room = None if found else room_heard(short, self._rate)
        return (Finding.LIVE_ROOM,) if room is not None and room.too_live else found

    def _between_soft_and_loud_db(self) -> float | None:
        if not LEVEL_STANDS.issuperset(self._findings):
            return None
        passages = [self._port.read(*self._passages[step]) for step in LONG_NOTES]
        return fmean(tone_db(levels_db(heard, self._rate)) for heard in passages)

    def _note(self, heard: Samples) -> Samples:
        """The passage, or nothing where it holds no note."""
        return heard if is_one_note(heard, self._rate) else heard[:0]

    def _level_before(self, frame: int) -> float:
        heard = self._port.read(frame - round(METER_S * self._rate), frame)
        levels = levels_db(heard, self._rate)
        return float(levels.max()) if levels.size else LOWEST_DB

    def _words(self) -> str:
        if self._step is not CheckStep.DONE:
            return WORDS[self._step]
        if not self._passages:
            return UNHEARD
        return "\n".join(WHAT_TO_DO[found] for found in self._findings) or ALL_WELL
