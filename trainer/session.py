"""One practice session as plain states and commands, without a screen: where the rooms meet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from fractions import Fraction
from queue import SimpleQueue

from trainer.coach.advice import Advice, NextStep, Proposal
from trainer.coach.care import care_due, cautions_today
from trainer.coach.history import History, load_caution
from trainer.coach.how_it_went import Felt
from trainer.coach.last_time import LastTime
from trainer.coach.settle import Standing
from trainer.course import (
    Course,
    again,
    at_other_tempo,
    enter,
)
from trainer.ear.heard import LiveReading, Take
from trainer.ear.live import ToneGate
from trainer.ear.way import Way
from trainer.errors import JournalError, SoundError
from trainer.journal.log import RoundLog
from trainer.journal.write import JournalFile
from trainer.lesson import Lesson, Outcome, with_felt
from trainer.music.instrument import Instrument, instrument_named
from trainer.music.note import Articulation, Note
from trainer.music.pitch import Pitch
from trainer.routine.model import Routine
from trainer.routine.plan import PAUSE_AFTER_ROUND_S, PlannedExercise
from trainer.routine.round import Round, RoundKind
from trainer.settling import SettlingUnderWay
from trainer.sound.partner import Voice
from trainer.sound.port import Samples, SoundPort
from trainer.sound.takes import slowed, to_hear_again
from trainer.sound_check import CheckAsked, SoundCheck, SoundCheckView
from trainer.sound_check import Step as CheckStep
from trainer.under_way import LiveNote, RoundUnderWay

__all__ = [
    "Command",
    "DoneLine",
    "LiveNote",
    "RoundBegins",
    "Session",
    "Stage",
    "TimetableLine",
    "Today",
    "View",
]

READY_S = 0.3
"""From the command to the first click of the count-in."""
REST_S = 60.0
TEMPO_STEP = 1.08
"""Slower and faster move about two marks of a metronome's scale; common practice, no source."""
SAME_NOTE_SEMITONES = 0.6
"""A round begun by playing must begin with its own first note."""
HEADPHONES = (
    "The loudspeaker comes back through the microphone louder than can be taken out, and may be "
    "taken for your playing: headphones, or a softer loudspeaker, would serve better."
)
KeepTake = Callable[[Round, Samples, int], object]
"""Given a round, its sound and the rate; raises SoundError where it can't be kept."""
HELD_BEATS = Fraction(12)
"""Out of time, a note may be held for so long; it ends when the next is due."""


class Stage(StrEnum):
    """Where the session stands."""

    TODAY = "today"
    """The routine lies open; nothing has begun."""
    SOUND_CHECK = "sound check"
    """The microphone is looked at; `advance` goes past it."""
    READY = "ready"
    """The exercise is announced; it starts by `advance` or by simply beginning to play."""
    COUNT_IN = "count-in"
    PLAYING = "playing"
    WEIGHING = "weighing"
    """The take is being worked through; well under a second."""
    AFTER = "after"
    """The one sentence is shown; the next round counts in when the pause is over."""
    REST = "rest"
    """A rest the teacher, the coach or the student asked for."""
    READING = "reading"
    """The teacher's text to read before going on."""
    ENDED = "ended"


NOTHING_SOUNDS = (
    Stage.TODAY,
    Stage.SOUND_CHECK,
    Stage.READY,
    Stage.AFTER,
    Stage.REST,
    Stage.READING,
)


@dataclass(frozen=True)
class TimetableLine:
    """One exercise of today's routine."""

    title: str
    detail: str
    """'slurred, legato tongue, single at 60', 'from 60 towards 120', 'rest'."""
    minutes: float
    first_round: Round | None = field(default=None, hash=False)
    """Its music, for who wants to look before it is played; None for a rest and for words."""


@dataclass(frozen=True)
class Today:
    """What the routine holds today."""

    title: str
    instrument: str
    a4_hz: float
    words: str
    lines: tuple[TimetableLine, ...]
    cautions: tuple[str, ...]
    from_teacher: str = ""
    """The teacher's last note to the student."""

    @property
    def minutes(self) -> float:
        """How long it takes."""
        return sum(line.minutes for line in self.lines)


@dataclass(frozen=True)
class DoneLine:
    """What was played of one entry of the routine."""

    title: str
    rounds: int


@dataclass(frozen=True)
class View:
    """Everything a screen needs at this moment; immutable."""

    stage: Stage
    today: Today
    exercise_index: int
    """Place in `today.lines`."""
    round: Round | None
    """The round under way, just played, or about to be."""
    beat: float | None
    """Beats since the round's first beat, as sounding now; negative during the count-in."""
    note_due: int | None
    live_notes: tuple[LiveNote, ...]
    """The notes of this round answered so far."""
    trail: tuple[LiveReading, ...]
    """The pitch trail of this round."""
    standing: Standing | None
    """Out of time: what the due note needs now."""
    take: Take | None
    """The whole take, from AFTER on."""
    advice: Advice | None
    proposal: Proposal | None
    tempos: tuple[float, ...]
    """Tempos of this exercise's rounds so far, for the ladder of a speed climb."""
    seconds_left: float | None
    """Of the rest or of the pause before the next count-in."""
    elapsed_s: float
    """Of the whole session."""
    listens: bool
    words: str
    """The teacher's words for this entry of the routine; for a reading, the text."""
    done: tuple[DoneLine, ...]
    """What was played so far, a line for each entry of the routine."""
    notices: tuple[str, ...]
    """Sentences about sound, rest and care, newest last."""
    journal_path: str
    sound_check: SoundCheckView | None = None
    """While the microphone is looked at."""
    why_checked: str = ""
    """Why it is looked at today, a sentence."""
    can_hear_again: bool = False
    """The round just played can be heard again: `Session.hear_again`."""
    knot: tuple[Pitch, ...] = ()
    """Written notes of the knot that is practised, or comes next."""
    last_time: LastTime | None = None
    """AFTER: the round beside the last time the same was played."""


@dataclass(frozen=True)
class RoundBegins:
    """Told to whoever asked when a round is about to sound."""

    round: Round
    sounding: tuple[Note, ...]
    """The round's notes at sounding pitch."""
    first_beat_frame: int
    """Frame of the port's clock at which the first beat sounds."""


class Command(StrEnum):
    """What the student can ask for."""

    ADVANCE = "advance"
    AGAIN = "again"
    SLOWER = "slower"
    FASTER = "faster"
    SKIP = "skip"
    REST = "rest"
    FELT = "felt"
    DISAGREE = "disagree"
    REMARK = "remark"
    HEAR_AGAIN = "hear again"
    STOP = "stop"


class Session:
    """Walks a student through a routine.

    `tick` does the work and must be called often (some hundred times a second) from one thread;
    the commands and `view` may be called from any other. The port's frame counter is the only
    clock; `now` only dates what is written down.
    """

    def __init__(
        self,
        routine: Routine,
        planned: Sequence[PlannedExercise],
        port: SoundPort,
        journal: JournalFile,
        *,
        now: Callable[[], datetime],
        pause_s: float = PAUSE_AFTER_ROUND_S,
        round_begins: Callable[[RoundBegins], None] = lambda _: None,
        notices: Sequence[str] = (),
        keep_take: KeepTake | None = None,
        history: History | None = None,
        from_teacher: str = "",
        check_asked: CheckAsked | None = None,
        voice: Voice | None = None,
    ) -> None:
        """`history`: what earlier days have left; None where nothing is known of them.

        `from_teacher`: a note to show before the first round. `check_asked`: the microphone is to
        be looked at before it. `voice`: the partner's, where it isn't its own tone.
        """
        self._planned = tuple(planned)
        self._port = port
        self._journal = journal
        self._now = now
        self._pause_s = pause_s
        self._round_begins = round_begins
        self._keep_take = keep_take
        self._check_asked = check_asked
        self._voice = voice
        self._check: SoundCheck | None = None
        self._sound: Samples | None = None
        self._replay_frame: int | None = None
        self._instrument = instrument_named(routine.instrument)
        self._history = history
        today = _today(routine, self._planned, self._instrument, history)
        self._today = replace(today, from_teacher=from_teacher)
        self._commands: SimpleQueue[tuple[Command, str]] = SimpleQueue()
        self._stage = Stage.TODAY
        self._exercise_index = 0
        self._course: Course | None = None
        self._under_way: RoundUnderWay | SettlingUnderWay | None = None
        self._partners_way: Way | None = None
        self._started = now()
        self._outcome: Outcome | None = None
        self._felt: Felt | None = None
        self._remark = ""
        self._gate: ToneGate | None = None
        self._gate_frame = self._gate_opened_frame = 0
        self._until_frame = 0
        self._lesson = Lesson(history)
        self._rounds_done: Counter[str] = Counter()
        self._played_s_since_rest = 0.0
        self._air_rounds_since_rest = 0
        self._notices = list(notices)
        self._faults_told = 0
        self._was_alive = port.alive
        self._awaits_sound = False
        self._opened_frame = port.now_frame()
        self._view = self._snapshot()

    # What the screens and the commands may call, from any thread

    def view(self) -> View:
        """The newest snapshot."""
        return self._view

    def advance(self) -> None:
        """Do the next obvious thing: begin, count in, go on, end the rest."""
        self._commands.put((Command.ADVANCE, ""))

    def again(self) -> None:
        """Play the same round once more."""
        self._commands.put((Command.AGAIN, ""))

    def slower(self) -> None:
        """Take the round due a step slower."""
        self._commands.put((Command.SLOWER, ""))

    def faster(self) -> None:
        """Take the round due a step faster."""
        self._commands.put((Command.FASTER, ""))

    def skip(self) -> None:
        """Leave this exercise for the next."""
        self._commands.put((Command.SKIP, ""))

    def hear_again(self, speed: float = 1.0) -> None:
        """Play the round just heard through the loudspeaker, slower at the same pitch."""
        self._commands.put((Command.HEAR_AGAIN, str(speed)))

    def rest(self) -> None:
        """Rest now."""
        self._commands.put((Command.REST, ""))

    def felt(self, felt: Felt) -> None:
        """Say how the last round felt; at the end, how the whole session did."""
        self._commands.put((Command.FELT, str(felt)))

    def disagree(self) -> None:
        """Say that the sentence is not right; it is written down, and not said again here today."""
        self._commands.put((Command.DISAGREE, ""))

    def remark(self, text: str) -> None:
        """Put the student's own words into the journal."""
        self._commands.put((Command.REMARK, text))

    def stop(self) -> None:
        """End the session; what was played stays in the journal."""
        self._commands.put((Command.STOP, ""))

    # The work, from one thread

    def tick(self) -> None:
        """Take commands, move on as the clock says, and publish a new view."""
        while not self._commands.empty():
            command, text = self._commands.get()
            self._obey(command, text)
        self._note_faults()
        self._mind_the_port()
        match self._stage:
            case Stage.SOUND_CHECK:
                self._follow_check()
            case Stage.READY:
                self._listen_for_a_beginning()
            case Stage.COUNT_IN | Stage.PLAYING:
                self._follow_round()
            case Stage.WEIGHING:
                self._weigh()
            case Stage.AFTER:
                if self._port.alive and self._port.now_frame() >= self._until_frame:
                    self._go_on()
            case Stage.REST:
                if self._port.now_frame() >= self._until_frame:
                    self._open_exercise(self._exercise_index, self._course)
            case _:
                pass
        self._view = self._snapshot()

    def recover(self, what: str) -> None:
        """Give the round under way up after a fault of our own, and say so; nothing is lost."""
        self._tell(what)
        self._port.hush(self._port.now_frame())
        self._under_way = None
        self._outcome = None
        if self._course is not None and self._course.due is not None:
            self._announce()
        self._view = self._snapshot()

    def _obey(self, command: Command, text: str) -> None:
        match command:
            case Command.STOP:
                self._end()
            case Command.REMARK:
                self._remark = text
                if self._stage is Stage.ENDED:
                    self._finish_journal()
            case Command.FELT:
                self._set_felt(Felt(text))
            case Command.DISAGREE:
                self._dispute()
            case Command.SKIP:
                self._skip()
            case Command.HEAR_AGAIN:
                self._hear_again(float(text))
            case Command.REST:
                self._rest(REST_S)
            case Command.AGAIN:
                self._play_again()
            case Command.SLOWER:
                self._change_tempo(1 / TEMPO_STEP)
            case Command.FASTER:
                self._change_tempo(TEMPO_STEP)
            case Command.ADVANCE:
                self._advance()

    def _advance(self) -> None:
        match self._stage:
            case Stage.TODAY if self._check_asked is not None and self._port.alive:
                self._check = SoundCheck(self._port)
                self._stage = Stage.SOUND_CHECK
            case Stage.TODAY:
                self._open_exercise(0)
            case Stage.SOUND_CHECK:
                self._leave_check()
            case Stage.READY:
                self._count_in()
            case Stage.AFTER:
                self._until_frame = self._port.now_frame()  # at once, when the sound is there
            case Stage.REST:
                self._open_exercise(self._exercise_index, self._course)
            case Stage.READING:
                self._open_exercise(self._exercise_index + 1)
            case Stage.PLAYING if isinstance(self._under_way, SettlingUnderWay):
                self._under_way.pass_note()
            case Stage.COUNT_IN | Stage.PLAYING | Stage.WEIGHING | Stage.ENDED:
                pass

    # The microphone, before the first round

    def _follow_check(self) -> None:
        """Go on by itself when all is well; what is wrong stays until the student goes on."""
        assert self._check is not None
        self._check.tick()
        view = self._check.view()
        if view.step is CheckStep.DONE and not view.findings:
            self._tell(view.words)
            self._leave_check()

    def _leave_check(self) -> None:
        assert self._check is not None
        assert self._check_asked is not None
        view, self._check = self._check.view(), None
        try:
            self._check_asked.keep(view.findings if view.step is CheckStep.DONE else None)
        except SoundError as error:
            self._tell(str(error))
        self._open_exercise(0)

    # Exercises

    def _open_exercise(self, index: int, course: Course | None = None) -> None:
        """Enter an exercise, or come back to where the course stood before a rest."""
        self._outcome = None
        if course is not None and course.due is None:
            index, course = index + 1, None
        if index >= len(self._planned):
            self._end()
            return
        self._exercise_index = index
        exercise = self._planned[index]
        self._course = course or enter(exercise, self._history)
        if self._course.due is not None:
            self._announce()
        elif exercise.rest_s > 0:
            self._rest(exercise.rest_s)
        else:
            self._stage = Stage.READING

    def _announce(self) -> None:
        self._stop_hearing_again()
        self._stage = Stage.READY
        self._awaits_sound = False
        self._gate_frame = self._gate_opened_frame = self._port.heard_frame()
        self._gate = ToneGate(self._port.sample_rate_hz)

    def _skip(self) -> None:
        if self._stage is Stage.SOUND_CHECK:
            self._leave_check()
            return
        if self._stage in (Stage.TODAY, Stage.ENDED):
            return
        self._port.hush(self._port.now_frame())
        self._open_exercise(self._exercise_index + 1)

    def _rest(self, seconds: float) -> None:
        if self._stage in (Stage.TODAY, Stage.SOUND_CHECK, Stage.ENDED):
            return
        self._leave_round()
        self._stage = Stage.REST
        self._until_frame = self._port.now_frame() + self._frames(seconds)
        self._played_s_since_rest = 0.0
        self._air_rounds_since_rest = 0

    def _leave_round(self) -> None:
        """Come out of whatever sounds; a finished round counts as played."""
        if self._outcome is not None:
            self._settle()
        self._stop_hearing_again()
        self._port.hush(self._port.now_frame())
        self._under_way = None

    def _end(self) -> None:
        if self._stage is Stage.ENDED:
            return
        self._leave_round()
        self._stage = Stage.ENDED
        self._felt = None
        self._finish_journal()

    # Rounds

    def _count_in(self) -> None:
        """Schedule the count-in, the clicks and the partner, and begin the take."""
        assert self._course is not None
        assert self._course.due is not None
        if not self._port.alive:
            self._announce()
            self._awaits_sound = True
            return
        round_ = self._course.due
        lead_in_s = round_.lead_in_beats * round_.beat_s
        first_beat_frame = self._port.now_frame() + self._frames(READY_S + lead_in_s)
        self._begin(round_, first_beat_frame, round_.lead_in_beats)
        self._stage = Stage.COUNT_IN

    def _listen_for_a_beginning(self) -> None:
        """Start the round when the student simply plays its first note."""
        assert self._course is not None
        assert self._course.due is not None
        assert self._gate is not None
        if not self._port.listens or self._course.due.partner_notes:  # the partner begins those
            return
        heard_frame = self._port.heard_frame()
        began = self._gate.feed(self._port.read(self._gate_frame, heard_frame))
        self._gate_frame = heard_frame
        if began is None:
            return
        first = self._instrument.sounding(self._course.due.notes[0].pitch)
        if abs(began.midi - first.midi) > SAME_NOTE_SEMITONES:
            self._announce()
            return
        onset_frame = self._gate_opened_frame + self._frames(began.onset_s)
        self._begin(self._course.due, onset_frame, lead_in_beats=0)
        self._stage = Stage.PLAYING

    def _mind_the_port(self) -> None:
        """Break the round off when the sound is gone, and wait for it to begin again."""
        alive, was_alive = self._port.alive, self._was_alive
        self._was_alive = alive
        if not alive and self._stage in (Stage.COUNT_IN, Stage.PLAYING):
            self._break_off()
        elif alive and self._port.slipped and self._stage in NOTHING_SOUNDS:
            self._port.restart()
        elif alive and not was_alive and self._stage is Stage.READY:
            if self._awaits_sound:
                self._count_in()
            else:
                self._announce()

    def _break_off(self) -> None:
        """Keep the round as far as it was heard, and have the same one ready."""
        assert self._course is not None
        assert self._under_way is not None
        if self._stage is Stage.PLAYING and self._port.listens and self._under_way.seconds > 0:
            self._weigh()
            self._course = again(self._course)
        self._outcome = None
        self._announce()

    def _begin(self, round_: Round, first_beat_frame: int, lead_in_beats: int) -> None:
        self._stop_hearing_again()
        self._started = self._now()
        self._outcome = None
        self._felt = None
        if not round_.in_time:
            self._under_way = SettlingUnderWay(
                self._port, self._instrument, round_, first_beat_frame, self._note_due
            )
            return
        self._under_way = RoundUnderWay(
            self._port,
            self._instrument,
            round_,
            first_beat_frame,
            lead_in_beats,
            self._partners_way,
            self._voice,
        )
        self._round_begins(RoundBegins(round_, self._under_way.sounding, first_beat_frame))

    def _note_due(self, note: Note, from_frame: int) -> None:
        """Out of time, whoever plays is told of each note as of a round of its own."""
        assert self._course is not None
        assert self._course.due is not None
        held = replace(note, beat=Fraction(0), length=HELD_BEATS)
        self._round_begins(RoundBegins(self._course.due, (held,), from_frame))

    def _follow_round(self) -> None:
        """Feed the live ear, and see whether the round is over."""
        assert self._under_way is not None
        if self._stage is Stage.COUNT_IN and self._under_way.beat >= 0:
            self._stage = Stage.PLAYING
        self._under_way.follow()
        if self._under_way.is_over():
            self._stage = Stage.WEIGHING

    def _weigh(self) -> None:
        """Work through the take, say the one thing, and put the round on disk."""
        assert self._under_way is not None
        assert self._course is not None
        round_ = self._under_way.round
        self._keep_sound()
        self._outcome = self._lesson.outcome(
            self._course,
            round_,
            self._under_way.weigh(),
            self._started,
            self._under_way.seconds,
            self._felt,
        )
        if isinstance(self._under_way, RoundUnderWay):
            self._partners_way = self._under_way.way
        self._advise_headphones(self._outcome.take)
        self._write_round(self._outcome.log)
        self._count_playing(round_, self._under_way.seconds)
        self._stage = Stage.AFTER
        self._until_frame = self._port.now_frame() + self._frames(self._pause_s)

    def _keep_sound(self) -> None:
        """Have the sound of the round at hand, and on disk where the student wants it."""
        self._sound = None
        if not self._port.listens or not isinstance(self._under_way, RoundUnderWay):
            return
        self._sound = self._under_way.sound()
        if self._keep_take is not None:
            try:
                self._keep_take(self._under_way.round, self._sound, self._port.sample_rate_hz)
            except SoundError as error:
                self._tell(str(error))

    def _advise_headphones(self, take: Take | None) -> None:
        """Say once that the partner comes back through the microphone too loud."""
        under_way = self._under_way
        if take is None or HEADPHONES in self._notices:
            return
        if isinstance(under_way, RoundUnderWay) and under_way.partner_too_loud(take):
            self._tell(HEADPHONES)

    def _hear_again(self, speed: float) -> None:
        if self._stage is not Stage.AFTER or self._sound is None or not self._port.alive:
            return
        self._stop_hearing_again()
        sound = to_hear_again(self._sound)
        if speed != 1.0:
            sound = slowed(sound, self._port.sample_rate_hz, speed)
        self._replay_frame = self._port.now_frame() + self._frames(READY_S)
        self._port.play(sound, self._replay_frame)
        self._until_frame = self._replay_frame + sound.size + self._frames(self._pause_s)

    def _stop_hearing_again(self) -> None:
        if self._replay_frame is not None:
            self._port.hush(self._replay_frame)
            self._replay_frame = None

    def _dispute(self) -> None:
        """The student disagrees: it is written down, and the next most useful thing is said."""
        if self._stage is not Stage.AFTER or self._outcome is None or self._course is None:
            return
        other = self._lesson.disputed(self._outcome, self._course)
        if other is not None:
            self._outcome = other
            self._rewrite_round(other.log)
            self._tell("Noted: you heard it otherwise. It is in the journal for the lesson.")

    def _set_felt(self, felt: Felt) -> None:
        """Note how it felt; in a climb that may change what comes next."""
        self._felt = felt
        if self._stage is Stage.ENDED:
            self._finish_journal()
        if self._stage is not Stage.AFTER or self._outcome is None or self._course is None:
            return
        self._outcome = with_felt(self._outcome, felt, self._course)
        self._rewrite_round(self._outcome.log)

    def _settle(self) -> None:
        """The round just heard is behind us; move the course on as proposed."""
        assert self._course is not None
        assert self._outcome is not None
        self._course = self._lesson.onward(self._outcome, self._course)
        self._outcome = None

    def _go_on(self) -> None:
        """From the advice to the next round, or to the next exercise."""
        assert self._course is not None
        self._settle()
        if self._course.due is not None:
            self._count_in()
        elif self._course.exercise.rest_s > 0:
            self._rest(self._course.exercise.rest_s)
        else:
            self._open_exercise(self._exercise_index + 1)

    def _play_again(self) -> None:
        """The same once more: the round from the advice or from within it, the sound check."""
        if self._stage is Stage.SOUND_CHECK:
            self._check = SoundCheck(self._port)
        if self._course is None:
            return
        if self._stage is Stage.AFTER:
            self._course = again(self._course)
            self._outcome = None
            self._count_in()
        elif self._stage in (Stage.COUNT_IN, Stage.PLAYING):
            self._port.hush(self._port.now_frame())
            self._count_in()

    def _change_tempo(self, factor: float) -> None:
        """A step slower or faster, then a new count-in."""
        if self._course is None:
            return
        if self._stage is Stage.AFTER:
            self._course = at_other_tempo(again(self._course), factor)
            self._outcome = None
            self._count_in()
        elif self._stage in (Stage.COUNT_IN, Stage.PLAYING):
            self._port.hush(self._port.now_frame())
            self._course = at_other_tempo(self._course, factor)
            self._count_in()
        elif self._stage is Stage.READY:
            self._course = at_other_tempo(self._course, factor)

    # What is written down, and what is said beside the music

    def _write_round(self, log: RoundLog) -> None:
        try:
            self._journal.add_round(log, self._elapsed_s())
        except JournalError as error:
            self._tell(str(error))

    def _rewrite_round(self, log: RoundLog) -> None:
        try:
            self._journal.amend_round(log)
        except JournalError as error:
            self._tell(str(error))

    def _finish_journal(self) -> None:
        try:
            felt = str(self._felt) if self._stage is Stage.ENDED and self._felt else ""
            self._journal.finish(self._now(), self._elapsed_s(), felt=felt, remark=self._remark)
        except JournalError as error:
            self._tell(str(error))

    def _count_playing(self, round_: Round, seconds: float) -> None:
        """Remind of rest after some time of playing."""
        self._rounds_done[round_.exercise_id] += 1
        self._played_s_since_rest += seconds
        if round_.articulation in (Articulation.AIR_ONLY, Articulation.AIR_ONLY_SILENT):
            self._air_rounds_since_rest += 1
        due = care_due(self._played_s_since_rest / 60, self._air_rounds_since_rest)
        if due is not None:
            self._tell(due)

    def _note_faults(self) -> None:
        faults = self._port.faults()
        for fault in faults[self._faults_told :]:
            self._tell(fault.what)
        self._faults_told = len(faults)

    def _tell(self, sentence: str) -> None:
        """A notice beside the music; the same one is not told twice in a row."""
        if sentence not in self._notices[-1:]:
            self._notices.append(sentence)

    def _frames(self, seconds: float) -> int:
        return round(seconds * self._port.sample_rate_hz)

    def _elapsed_s(self) -> float:
        return (self._port.now_frame() - self._opened_frame) / self._port.sample_rate_hz

    # The snapshot

    def _snapshot(self) -> View:
        under_way, out = self._under_way, self._outcome
        beat = None
        if self._stage in (Stage.COUNT_IN, Stage.PLAYING) and under_way is not None:
            beat = under_way.beat
        return View(
            stage=self._stage,
            today=self._today,
            exercise_index=self._exercise_index,
            round=self._round_shown(),
            beat=beat,
            note_due=None if beat is None or under_way is None else _due(under_way.round, beat),
            live_notes=() if under_way is None else under_way.answers(),
            trail=() if under_way is None else tuple(under_way.trail),
            standing=self._standing(),
            take=None if out is None else out.take,
            advice=None if out is None else out.advice,
            proposal=None if out is None else out.proposal,
            tempos=() if self._course is None else self._course.tempos,
            seconds_left=self._seconds_left(),
            elapsed_s=self._elapsed_s(),
            listens=self._port.listens,
            words=self._planned[self._exercise_index].words if self._planned else "",
            done=self._done(),
            notices=tuple(self._notices),
            journal_path=str(self._journal.path),
            sound_check=None if self._check is None else self._check.view(),
            why_checked="" if self._check_asked is None else self._check_asked.why,
            can_hear_again=self._stage is Stage.AFTER and self._sound is not None,
            last_time=None if out is None else out.last_time,
            knot=self._knot_shown(),
        )

    def _standing(self) -> Standing | None:
        """What the due note needs, where the round under way is out of time."""
        match self._under_way:
            case SettlingUnderWay() as settling if self._stage is Stage.PLAYING:
                return settling.standing
        return None

    def _done(self) -> tuple[DoneLine, ...]:
        return tuple(
            DoneLine(exercise.title, self._rounds_done.get(exercise.id, 0))
            for exercise in self._planned
        )

    def _round_shown(self) -> Round | None:
        if self._outcome is not None:
            return self._outcome.round
        if self._stage in (Stage.COUNT_IN, Stage.PLAYING, Stage.WEIGHING) and self._under_way:
            return self._under_way.round
        return None if self._course is None else self._course.due

    def _knot_shown(self) -> tuple[Pitch, ...]:
        out, round_ = self._outcome, self._round_shown()
        if out is not None and out.knot is not None and out.proposal.step is NextStep.TAKE_OUT:
            return out.knot.pitches
        if round_ is not None and round_.kind is RoundKind.KNOT:
            return tuple(dict.fromkeys(note.pitch for note in round_.notes))
        return ()

    def _seconds_left(self) -> float | None:
        if self._stage not in (Stage.AFTER, Stage.REST):
            return None
        frames = self._until_frame - self._port.now_frame()
        return max(0.0, frames / self._port.sample_rate_hz)


def _due(round_: Round, beat: float) -> int | None:
    """The note sounding at this beat, the first one during the count-in.

    While the partner has its turn it is the student's next one.
    """
    if round_.partner_notes:
        ahead = (note.index for note in round_.notes if note.beat + note.length > beat)
        return next(ahead, round_.notes[-1].index)
    due = 0
    for note in round_.notes:
        if note.beat > beat:
            break
        due = note.index
    return due


def _today(
    routine: Routine,
    planned: Sequence[PlannedExercise],
    instrument: Instrument,
    history: History | None,
) -> Today:
    has_air_only = any(
        round_.articulation in (Articulation.AIR_ONLY, Articulation.AIR_ONLY_SILENT)
        for exercise in planned
        for round_ in exercise.rounds
    )
    minutes = sum(exercise.minutes for exercise in planned)
    load = load_caution(history, minutes) if history is not None else None
    return Today(
        title=routine.title,
        instrument=instrument.name,
        a4_hz=routine.a4_hz,
        words=routine.words,
        lines=tuple(_timetable_line(exercise) for exercise in planned),
        cautions=((load,) if load else ()) + cautions_today(has_air_only),
    )


def _timetable_line(exercise: PlannedExercise) -> TimetableLine:
    first = exercise.rounds[0] if exercise.rounds else None
    return TimetableLine(exercise.title, exercise.detail, exercise.minutes, first)
