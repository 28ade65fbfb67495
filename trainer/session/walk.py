"""The walk through a routine as a state machine: where the rooms meet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

from trainer.coach.advice import Felt
from trainer.coach.next_step import to_mind
from trainer.ear.echo.echo_path import EchoPath
from trainer.errors import SoundError
from trainer.journal.write import JournalFile
from trainer.music.instrument import instrument_named
from trainer.music.tuning import Tuning
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round
from trainer.session.beginning import Beginning
from trainer.session.beside import Beside
from trainer.session.cadenza_recorder import CadenzaRecorder
from trainer.session.clock import Clock
from trainer.session.closing import RoundClosed, closing_words, round_closed
from trainer.session.current_exercise import CurrentExercise
from trainer.session.first_look import FirstLook
from trainer.session.first_note import FirstNote
from trainer.session.hearing_again import HearingAgain
from trainer.session.logbook import Logbook
from trainer.session.next_door import is_as_loud_as_usual, softest_db
from trainer.session.notices import Notices
from trainer.session.port_watch import PortState, PortWatch
from trainer.session.reminders import Reminders
from trainer.session.round_begins import RoundBegins, each_note_told
from trainer.session.round_recorder import RoundRecorder
from trainer.session.round_review import Outcome
from trainer.session.shown import (
    beat_now,
    climb_shown,
    follows,
    knot_ahead,
    note_due,
    off_beat_ms,
    other_colour,
    pulses,
    round_shown,
    standing_now,
    starts_unsure,
)
from trainer.session.signal_loss import DEAD_WORDS
from trainer.session.today import done_lines
from trainer.session.untimed_round import UntimedRound
from trainer.session.view import (
    NOTHING_SOUNDS,
    SOUNDING,
    Stage,
    Today,
    View,
)
from trainer.sound.port import SoundPort
from trainer.wording.sentence_list import say

READY_S = 0.3
"""From the command to the first click of the count-in."""
KEEPING = (Stage.SOUND_CHECK, *SOUNDING, Stage.WEIGHING)
"""In these what the microphone heard is still wanted; else it is forgotten within seconds."""


class Walk:
    """Leads a student through a routine, all from one thread.

    The port's frame counter is the only clock; `now` only dates what is written down.
    """

    def __init__(
        self,
        routine: Routine,
        planned: Sequence[PlannedExercise],
        today: Today,
        port: SoundPort,
        journal: JournalFile,
        beginning: Beginning,
    ) -> None:
        """Nothing has begun; what it begins with is kept.

        `beside` is for whoever uses what stands beside the routine, once it is in use.
        """
        self._planned = tuple(planned)
        self._port = port
        self._now = beginning.now
        self._clock = Clock(port)
        self._notices = Notices(beginning.notices)
        self._logbook = Logbook(journal, self._clock, beginning.now, self._notices)
        self._pause_s = beginning.pause_s
        self._round_begins = beginning.round_begins
        self._keep_take = beginning.keep_take
        self._keep_two = beginning.keep_two
        self._voice = beginning.voice
        self._first_look = FirstLook(port, beginning.check_asked)
        self._hearing_again = HearingAgain(port)
        self._instrument = instrument_named(routine.instrument)
        self._today = today
        self._stage = Stage.TODAY
        self._exercise_index = 0
        self._place = CurrentExercise(beginning.history)
        self._under_way: RoundRecorder | UntimedRound | None = None
        self._last_note_cents: tuple[float | None, ...] = ()
        self._partners_way: EchoPath | None = None
        self._level_before_db = beginning.level_before_db
        self._started = beginning.now()
        self._felt: Felt | None = None
        self._first_note: FirstNote | None = None
        self._rounds_done: Counter[str] = Counter()
        self._closed: tuple[RoundClosed, ...] = ()
        self._reminders = Reminders(self._notices)
        self._port_watch = PortWatch(port)
        self._awaits_sound = False
        self._held = False
        self._tuning = Tuning(routine.a4_hz)
        self._usual_cents = beginning.usual_cents
        self.beside = Beside(port, self._instrument, self._notices)

    def move_on(self) -> None:
        """Go as far as the clock and what was heard allow."""
        for fault in self._port_watch.new_faults():
            self._notices.tell(fault)
        self._mind_the_port()
        if self.beside.in_use:
            self.beside.tick()
            return
        match self._stage:
            case Stage.SOUND_CHECK:
                self._follow_look()
            case Stage.READY:
                self._listen_for_a_beginning()
            case Stage.COUNT_IN | Stage.PLAYING:
                self._follow_round()
            case Stage.WEIGHING:
                self._weigh()
            case Stage.AFTER:
                if self._port.alive and self._clock.waited and not self._held:
                    self._go_on()
            case Stage.REST:
                if self._clock.waited:
                    self._come_back()
            case _:
                pass
        if self._stage not in KEEPING:
            self._port.keep_from(None)

    def advance(self) -> None:
        """Do the next obvious thing."""
        match self._stage:
            case Stage.TODAY:
                self._begin_at(0)
            case Stage.SOUND_CHECK:
                self._leave_look()
            case Stage.READY | Stage.PAUSED:
                self._count_in()
            case Stage.AFTER:
                self._clock.wait(0)  # at once, when the sound is there
            case Stage.REST:
                self._come_back()
            case Stage.READING:
                self._open_exercise(self._exercise_index + 1)
            case Stage.PLAYING if isinstance(self._under_way, UntimedRound):
                self._under_way.pass_note()
            case Stage.PLAYING if isinstance(self._under_way, CadenzaRecorder):
                self._stage = Stage.WEIGHING
            case Stage.COUNT_IN | Stage.PLAYING | Stage.WEIGHING | Stage.ENDED:
                pass

    def hold(self, held: bool) -> None:
        """While the student reads something else no round counts in by itself; the pause after
        one begins anew when they are back.
        """
        waits = self._stage is Stage.AFTER and not self._clock.stands_still
        if self._held and not held and waits:
            self._clock.wait(self._pause_s)
        self._held = held

    def pause(self) -> None:
        """Stand still until the student goes on, asked once more or by `advance`.

        A round that sounds breaks off, and counts in anew.
        """
        if self._stage in SOUNDING:
            self._leave_round()
            self._stage = Stage.PAUSED
        elif self._stage is Stage.PAUSED:
            self._count_in()
        elif self._stage in (Stage.AFTER, Stage.REST) and self._clock.stands_still:
            self._clock.go_on()
        elif self._stage in (Stage.AFTER, Stage.REST):
            self._clock.stand_still()

    def _begin_at(self, index: int) -> None:
        """Begin with this entry, after the look at the microphone where it is due."""
        self._exercise_index = index
        if self._first_look.is_due:
            self._first_look.begin()
            self._stage = Stage.SOUND_CHECK
        else:
            self._open_exercise(index)

    # Beside the routine: tuner, click, two sounds side by side, the teacher first

    def tune(self, wanted: bool) -> None:
        """Tune where nothing sounds, the routine waiting; or go back to where it stands."""
        self._use_beside(wanted, lambda: self.beside.begin_tuning(self._tuning, self._usual_cents))

    def use_click(self, wanted: bool) -> None:
        """Use the click where nothing sounds, the routine waiting; or go back to it."""
        self._use_beside(wanted, self.beside.begin_click)

    def set_side_by_side(self, files: Sequence[Path]) -> None:
        """Have these sounds at hand to be heard one after the other; none: go back."""
        self._use_beside(bool(files), lambda: self.beside.begin_side_by_side(files))

    def play_along(self, wanted: bool) -> None:
        """The teacher plays the line that is due, and the student answers; or go back."""
        due = self._place.due

        def begin() -> None:
            assert due is not None
            self.beside.begin_play_along(due, self._keep_two, self._take_tempo)

        stands = due is not None and self._stage in (Stage.READY, Stage.PAUSED)
        if stands or not wanted:
            self._use_beside(wanted, begin)

    def _take_tempo(self, tempo_bpm: float) -> None:
        """Have the round due at this tempo."""
        if self._place.due is not None:
            self._place.change_tempo(tempo_bpm / self._place.due.tempo_bpm)

    def _use_beside(self, wanted: bool, begin: Callable[[], None]) -> None:
        if wanted and not self.beside.in_use and self._stage in (*NOTHING_SOUNDS, Stage.ENDED):
            self._hearing_again.stop()
            begin()
        elif not wanted and self.beside.in_use:
            self.beside.close()
            if self._stage is Stage.READY:
                self._announce()  # what was played meanwhile begins no round

    # The microphone, before the first round

    def _follow_look(self) -> None:
        """Go on by itself when all is well; what is wrong stays until the student goes on."""
        all_well = self._first_look.follow()
        if all_well is not None:
            self._notices.tell(all_well)
            self._leave_look()

    def _leave_look(self) -> None:
        self._level_before_db = self._first_look.players_level_db or self._level_before_db
        with self._notices.telling(SoundError):
            self._first_look.leave()
        self._open_exercise(self._exercise_index)

    # Exercises

    def _open_exercise(self, index: int) -> None:
        """Enter an exercise; behind the last one the walk is at its end."""
        self._place.outcome = None
        if index >= len(self._planned):
            self.end()
            return
        self._exercise_index = index
        exercise = self._planned[index]
        self._place.enter(exercise)
        if self._place.due is not None:
            self._announce()
        elif exercise.rest_s > 0:
            self._begin_rest(exercise.rest_s)
        else:
            self._stage = Stage.READING

    def _come_back(self) -> None:
        """From a rest to where the student stood before it."""
        if self._place.due is not None:
            self._announce()
        else:
            self._open_exercise(self._exercise_index + 1)

    def _announce(self) -> None:
        round_ = self._place.due
        assert round_ is not None
        self._hearing_again.let_go()
        self._last_note_cents = ()
        self._stage = Stage.READY
        self._awaits_sound = False
        first = self._instrument.sounding(round_.notes[0].pitch)
        softest = softest_db(self._level_before(round_))
        self._first_note = FirstNote(self._port, round_.tuning.hz(first), softest)

    def skip(self) -> None:
        """Leave this exercise, or the look at the microphone, for what comes next."""
        if self._stage is Stage.SOUND_CHECK:
            self._leave_look()
            return
        if self._stage in (Stage.TODAY, Stage.ENDED):
            return
        self._leave_round()
        self._open_exercise(self._exercise_index + 1)

    def go_back(self) -> None:
        """To the exercise before this one; from a rest after an exercise, to that."""
        if self._stage in (Stage.TODAY, Stage.SOUND_CHECK, Stage.ENDED):
            return
        behind = self._stage is Stage.REST and self._place.due is None
        self._leave_round()
        here = self._exercise_index + behind
        before = [place for place, one in enumerate(self._planned[:here]) if one.rounds]
        self._open_exercise(before[-1] if before else self._exercise_index)

    def go_to(self, index: int) -> None:
        """To an entry of the routine, where it was left or at its beginning."""
        if self._stage in (Stage.SOUND_CHECK, Stage.ENDED) or not 0 <= index < len(self._planned):
            return
        if self._stage is Stage.TODAY:
            self._begin_at(index)
            return
        self._leave_round()
        self._open_exercise(index)

    def rest(self, seconds: float) -> None:
        """Rest so long from now, then go on where the student stands."""
        if self._stage in (Stage.TODAY, Stage.SOUND_CHECK, Stage.ENDED):
            return
        self._leave_round()
        self._begin_rest(seconds)

    def _begin_rest(self, seconds: float) -> None:
        self._hearing_again.let_go()
        self._stage = Stage.REST
        self._clock.wait(seconds)
        self._reminders.rested()

    def end(self) -> None:
        """End the walk; what was played stays in the journal."""
        if self._stage is Stage.ENDED:
            return
        self._fall_silent()
        self._stage = Stage.ENDED
        self._logbook.finish()

    def _leave_round(self) -> None:
        """Come out of whatever sounds: a finished round counts as played, one under way is kept as
        far as it was heard.
        """
        if self._stage is Stage.PLAYING:
            self._keep_as_heard()
        self._fall_silent()

    def _fall_silent(self) -> None:
        self._place.go_on()
        self._hearing_again.let_go()
        self._port.hush(self._port.now_frame())
        self._under_way = None

    def _keep_as_heard(self) -> None:
        """Put the round under way on disk where something of it was heard; it stays due."""
        assert self._under_way is not None
        if self._port.listens and self._under_way.answers():
            self._weigh()
            self._place.broken_off()

    # A round, from its beginning to its last note

    def _count_in(self) -> None:
        """Schedule the count-in, the clicks and the partner, and begin the take."""
        round_ = self._place.due
        assert round_ is not None
        if not self._port.alive:
            self._announce()
            self._awaits_sound = True
            return
        lead_in_s = round_.lead_in_beats * round_.beat_s
        first_beat_frame = self._port.now_frame() + self._clock.frames(READY_S + lead_in_s)
        self._begin(round_, first_beat_frame, round_.lead_in_beats)
        self._stage = Stage.COUNT_IN

    def _listen_for_a_beginning(self) -> None:
        """Start the round when the student simply plays its first note."""
        round_ = self._place.due
        assert round_ is not None
        assert self._first_note is not None
        if not self._port.listens or round_.partner_notes:  # the partner begins those
            return
        onset_frame = self._first_note.onset_frame()
        if onset_frame is not None:
            self._begin(round_, onset_frame, lead_in_beats=0)
            self._stage = Stage.PLAYING

    def _begin(self, round_: Round, first_beat_frame: int, lead_in_beats: int) -> None:
        self._hearing_again.let_go()
        self._started = self._now()
        self._place.outcome = None
        self._last_note_cents = self._place.last_note_cents()
        self._felt = None
        if round_.waits:
            told = each_note_told(round_, self._round_begins)
            softest = softest_db(self._level_before(round_))
            self._under_way = UntimedRound(
                self._port, self._instrument, round_, first_beat_frame, told, softest
            )
            return
        recorder = RoundRecorder if round_.in_time else CadenzaRecorder
        self._under_way = recorder(
            self._port,
            self._instrument,
            round_,
            first_beat_frame,
            lead_in_beats,
            self._partners_way,
            self._voice,
            self._level_before(round_),
        )
        self._round_begins(RoundBegins(round_, self._under_way.sounding, first_beat_frame))

    def _level_before(self, round_: Round) -> float | None:
        """What a round's loudness can be set beside."""
        return self._level_before_db if is_as_loud_as_usual(round_) else None

    def _follow_round(self) -> None:
        """Feed the live ear, and see whether the round is over."""
        assert self._under_way is not None
        if self._stage is Stage.COUNT_IN and self._under_way.beat >= 0:
            self._stage = Stage.PLAYING
        self._under_way.follow()
        if isinstance(self._under_way, RoundRecorder) and self._under_way.microphone_died:
            self._notices.tell(DEAD_WORDS)
            self._break_off()
            self._port.restart()  # the system may have another one by now
        elif self._under_way.is_over():
            self._stage = Stage.WEIGHING

    def _mind_the_port(self) -> None:
        """Break the round off when the sound is gone, and wait for it to begin again."""
        match self._port_watch.look():
            case PortState.GONE if self._stage in SOUNDING:
                self._break_off()
            case PortState.SLIPPED if self._stage in NOTHING_SOUNDS:
                self._port.restart()
            case PortState.BACK if self._stage is Stage.READY and self._awaits_sound:
                self._count_in()
            case PortState.BACK if self._stage is Stage.READY:
                self._announce()
            case _:
                pass

    def _break_off(self) -> None:
        """Keep the round as far as it was heard, and have the same one ready."""
        if self._stage is Stage.PLAYING:
            self._keep_as_heard()
        self._announce()

    def give_up_round(self, why: str) -> None:
        """Leave the round under way unheard, say why, and have the one due ready."""
        self._notices.tell(why)
        self._port.hush(self._port.now_frame())
        self._under_way = None
        self._place.outcome = None
        if self._place.due is not None:
            self._announce()

    # What came of it

    def _weigh(self) -> None:
        """Work through the take, say the one thing, and put the round on disk."""
        assert self._under_way is not None
        round_ = self._under_way.round
        self._keep_sound()
        heard = self._under_way.weigh()
        seconds = self._under_way.seconds
        outcome = self._place.played(round_, heard, self._started, seconds, self._felt)
        if isinstance(self._under_way, RoundRecorder):
            self._partners_way = self._under_way.way
            if outcome.take is not None:
                if is_as_loud_as_usual(round_):
                    self._level_before_db = self._under_way.level_after_db
                if self._under_way.partner_too_loud(outcome.take):
                    self._reminders.of_headphones()
            self._reminders.of_the_room(outcome.log.measures)
        self._logbook.add(outcome.log)
        self._close(outcome)
        self._rounds_done[round_.exercise_id] += 1
        self._reminders.of_rest(round_, seconds)
        self._stage = Stage.AFTER
        self._clock.wait(self._pause_s)

    def _close(self, outcome: Outcome) -> None:
        """Remember the round for the session's end."""
        mind = to_mind(outcome.marks, outcome.advice)
        closed = round_closed(outcome.round, outcome.advice.topic, mind, outcome.last_time)
        self._closed = (*self._closed, closed)

    def _keep_sound(self) -> None:
        """Have the sound of the round at hand, and on disk where the student wants it."""
        self._hearing_again.take_up(None)
        if not self._port.listens or not isinstance(self._under_way, RoundRecorder):
            return
        sound = self._under_way.sound()
        self._hearing_again.take_up(sound)
        if self._keep_take is not None:
            with self._notices.telling(SoundError):
                self._keep_take(self._under_way.round, sound, self._port.sample_rate_hz)

    def hear_again(self, speed: float) -> None:
        """Play the round just heard, slower at the same pitch; the pause begins anew after it."""
        if self._stage is Stage.AFTER and self._hearing_again.at_hand and self._port.alive:
            over_frame = self._hearing_again.begin(speed, READY_S)
            self._clock.wait_after(over_frame, self._pause_s)

    def dispute(self) -> None:
        """The student disagrees: it is written down, and the next most useful thing is said."""
        other = self._place.dispute() if self._stage is Stage.AFTER else None
        if other is not None:
            self._logbook.amend(other.log)
            self._closed = self._closed[:-1]
            self._close(other)
            self._notices.tell(say("heard differently"))

    def set_felt(self, felt: Felt) -> None:
        """Note how it felt; in a climb that may change what comes next."""
        self._felt = felt
        if self._stage is Stage.ENDED:
            self._logbook.take_felt(felt)
        told = self._place.feel(felt) if self._stage is Stage.AFTER else None
        if told is not None:
            self._logbook.amend(told.log)

    def set_remark(self, text: str) -> None:
        """Take the student's own words for the journal."""
        self._logbook.take_remark(text)

    # From one round to the next

    def _go_on(self) -> None:
        """From the advice to the next round, or to the next exercise."""
        self._place.go_on()
        rest_s = self._planned[self._exercise_index].rest_s
        if self._place.due is not None:
            self._count_in()
        elif rest_s > 0:
            self._begin_rest(rest_s)
        else:
            self._open_exercise(self._exercise_index + 1)

    def play_again(self) -> None:
        """The same once more: the round from the advice or from within it, the sound check."""
        if self._stage is Stage.SOUND_CHECK:
            self._first_look.begin()
        elif self._stage is Stage.AFTER:
            self._place.again()
            self._count_in()
        elif self._stage in SOUNDING:
            self._port.hush(self._port.now_frame())
            self._count_in()

    def change_tempo(self, factor: float) -> None:
        """A step slower or faster, then a new count-in."""
        if self._stage is Stage.AFTER:
            self._place.again()
            self._place.change_tempo(factor)
            self._count_in()
        elif self._stage in SOUNDING:
            self._port.hush(self._port.now_frame())
            self._place.change_tempo(factor)
            self._count_in()
        elif self._stage is Stage.READY:
            self._place.change_tempo(factor)

    # The snapshot

    def view(self) -> View:
        """Where the walk stands now."""
        stage, under_way = self._stage, self._under_way
        course, out = self._place.course, self._place.outcome
        round_ = round_shown(stage, under_way, out, self._place.due)
        beat = beat_now(stage, under_way)
        waits = stage in (Stage.AFTER, Stage.REST)
        return View(
            stage=stage,
            today=self._today,
            exercise_index=self._exercise_index,
            round=round_,
            beat=beat,
            note_due=None if round_ is None or beat is None else note_due(round_, beat),
            live_notes=() if under_way is None else under_way.answers(),
            trail=() if under_way is None else tuple(under_way.trail),
            standing=standing_now(stage, under_way),
            take=None if out is None else out.take,
            off_beat_ms=() if out is None else off_beat_ms(out),
            advice=None if out is None else out.advice,
            proposal=None if out is None else out.proposal,
            follows=""
            if out is None
            else follows(course, self._planned[self._exercise_index + 1 :]),
            tempos=() if course is None else course.tempos,
            seconds_left=self._clock.left_s if waits else None,
            stands_still=waits and self._clock.stands_still,
            elapsed_s=self._clock.elapsed_s,
            listens=self._port.listens,
            words=self._planned[self._exercise_index].words if self._planned else "",
            closing=closing_words(self._closed) if stage is Stage.ENDED else (),
            done=done_lines(self._planned, self._rounds_done),
            notices=self._notices.told,
            journal_path=self._logbook.path,
            sound_check=self._first_look.view(),
            why_checked=self._first_look.why,
            can_hear_again=stage is Stage.AFTER and self._hearing_again.at_hand,
            starts_unsure=frozenset() if out is None else starts_unsure(out),
            last_time=None if out is None else out.last_time,
            last_note_cents=self._last_note_cents,
            knot=knot_ahead(out, round_),
            tuner=self.beside.tuner,
            play_along=self.beside.play_along,
            side_by_side=self.beside.side_by_side,
            click=self.beside.click,
            climb=None if course is None else climb_shown(course.climb),
            first_beat_s=None if under_way is None else under_way.first_beat_s,
            readings=() if out is None or under_way is None else under_way.readings,
            pulses=() if out is None else pulses(out),
            other_colour=None if out is None else other_colour(out),
        )
