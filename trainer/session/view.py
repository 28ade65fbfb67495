"""What a screen sees of a session at one moment."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from trainer.coach.advice import Advice, LastTime, Proposal, Standing
from trainer.ear.heard import LiveNote, LiveReading, Take
from trainer.music.pitch import Pitch
from trainer.routine.round import Round


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
    PAUSED = "paused"
    """The student has broken the round off; it counts in anew."""
    REST = "rest"
    """A rest the teacher, the coach or the student asked for."""
    READING = "reading"
    """The teacher's text to read before going on."""
    ENDED = "ended"


SOUNDING = (Stage.COUNT_IN, Stage.PLAYING)
NOTHING_SOUNDS = (
    Stage.TODAY,
    Stage.SOUND_CHECK,
    Stage.READY,
    Stage.AFTER,
    Stage.PAUSED,
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
    news: str = ""
    """'new', 'new key': what is other than when the routine was practised last."""
    last_bpm: float | None = None
    """The tempo it was left at then."""
    after_minutes: float | None = None
    """Of a rest: so long is played since the one before."""

    @property
    def minutes_words(self) -> str:
        """'40 s', '5 min'."""
        return f"{60 * self.minutes:.0f} s" if self.minutes < 1 else f"{self.minutes:.0f} min"


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
    lesson: str = ""
    """'Lesson in 3 days: C5–D5, one breath.'; empty where no lesson is known."""
    takes_minutes: tuple[float, float] = (0.0, 0.0)
    """From how long to how long it usually takes this student."""
    who_plays: str = ""
    """Said on every screen where it isn't the student."""
    hears_then_and_now: bool = False
    """It is Sunday, and takes are kept: the end offers to hear an old one."""

    @property
    def minutes_words(self) -> str:
        """'12 to 18 minutes'."""
        low, high = (max(1, round(each)) for each in self.takes_minutes)
        if low == high:
            return f"about {low} minute{'s' * (low > 1)}"
        return f"{low} to {high} minutes"


class CheckStep(StrEnum):
    """What the player is asked to do."""

    QUIET = "quiet"
    SOFT = "soft"
    LOUD = "loud"
    AFTER = "after"
    SHORT = "short"
    DONE = "done"


@dataclass(frozen=True)
class SoundCheckView:
    """What a screen needs at this moment."""

    step: CheckStep
    words: str
    """What to do now; at the end what was found, a sentence a line."""
    level_db: float
    """The level of the last 0.1 s, dB re full scale."""
    seconds_left: float | None
    """Of this step once it runs; None while a note is waited for."""
    findings: tuple[str, ...]
    """At the end: a word for each thing that is wrong; empty when all is well."""
    zone_db: tuple[float, float] | None = None
    """While a note is asked for: between too soft and cut off, dB re full scale."""


class DroneAbove(StrEnum):
    """What is held above the drone's own note."""

    NOTHING = "nothing"
    FIFTH = "fifth"
    OCTAVE = "octave"
    FIFTH_AND_OCTAVE = "fifth and octave"

    @property
    def next(self) -> DroneAbove:
        """What a key that goes round them brings."""
        held = list(DroneAbove)
        return held[(held.index(self) + 1) % len(held)]


@dataclass(frozen=True)
class TunerView:
    """What sounds while nothing is asked, and how it stands in tune."""

    written: Pitch | None
    """The note as the student reads it: the one sounding, or the last; None before the first."""
    cents: float
    """Off its place in the routine's tuning or above the drone, sharp positive; averaged."""
    stands_s: float
    """How long it has stood; 0 when it sounds no more."""
    usual_cents: float | None
    """Where this player's flute usually has it, by the journal."""
    trail: tuple[float | None, ...]
    """Cents of the last seconds, TRAIL_STEP_S apart, the newest last; None in silence."""
    a4_hz: float
    drone: Pitch | None
    """Written; what the trainer holds."""
    pure: bool
    """The places are pure above the drone, not tempered; so is its fifth."""
    given: Pitch
    """The note, as it sounds, by which the room's A is heard."""
    above: DroneAbove = DroneAbove.NOTHING
    a_seconds_left: float | None = None
    """Somebody else's A is listened to so long."""
    heard_a4_hz: float | None = None
    """Where that A stands."""
    words: str = ""
    """A sentence on what to do, or on what came of it."""


class ClickChange(StrEnum):
    """What may be asked of the click beside the routine."""

    START_OR_STOP = "start or stop"
    SLOWER = "slower"
    FASTER = "faster"
    BEATS = "beats"
    """Another number of beats in a bar."""
    SILENCE = "silence"
    """Bars in which it is silent, or none."""
    GROWTH = "growth"
    """A tempo that grows, or a steady one."""


@dataclass(frozen=True)
class ClickView:
    """The click beside the routine."""

    tempo_bpm: float
    """As sounding now."""
    groups: tuple[int, ...]
    """Beats of each group of a bar."""
    beat: int | None
    """Of the bar, from 0, as sounding now; None before the first."""
    sounds: bool
    silent_bars: int
    goal_bpm: float | None
    """Where a growing tempo goes to."""


@dataclass(frozen=True)
class SideBySideView:
    """Two sounds to be heard one after the other, beside the routine."""

    sounding: int | None
    """Which of them sounds now; None in silence."""
    seconds: tuple[float, ...]
    """How long each lasts."""


class PlayAlongStep(StrEnum):
    """Whose turn it is where the teacher plays first."""

    TEACHER = "teacher"
    STUDENT = "student"
    COMPARED = "compared"
    """Both have played."""


class PlayAlongAsk(StrEnum):
    """What may be asked where the teacher plays first."""

    NEXT = "next"
    """Whoever plays has played; when both have, hear both."""
    AGAIN = "again"
    TEACHER = "teacher"
    """Hear the teacher's take."""
    STUDENT = "student"
    """Hear one's own."""
    TAKE_TEMPO = "take tempo"
    """Have the round due at the teacher's tempo."""
    KEEP = "keep"
    """Keep both sounds."""


@dataclass(frozen=True)
class PlayAlongView:
    """The teacher plays first, the student answers."""

    title: str
    step: PlayAlongStep
    seconds: float
    """How long whoever plays is listened to."""
    words: tuple[str, ...]
    """What differs, a sentence each, or what went wrong."""
    teacher_bpm: float | None
    """The teacher's tempo, once it is known."""
    asked_bpm: float
    side: SideBySideView | None
    """With both takes at hand."""


@dataclass(frozen=True)
class ShelvedSpot:
    """A trouble spot with its story."""

    exercise_id: str
    """The exercise it was taken out of."""
    pitches: tuple[Pitch, ...]
    """Written, in the order they are played."""
    begin_bpm: float
    best_bpm: float | None
    """The fastest tempo at which it was clean twice; None before that."""
    met_days: int
    """How many days ago it was met first."""
    last_days: int
    """How many days ago it was practised last."""
    due_days: int
    """In how many days it is due again; 0 and less: now."""
    healed: bool
    """It ended smooth when it was last practised."""

    @property
    def name(self) -> str:
        """'C5–D5'."""
        return "–".join(map(str, self.pitches))


@dataclass(frozen=True)
class DoneLine:
    """What was played of one entry of the routine."""

    title: str
    rounds: int


@dataclass(frozen=True)
class HeldPulse:
    """The vibrato of one held note."""

    index: int
    per_beat: float


@dataclass(frozen=True)
class OtherColour:
    """The phrase as it was last played in another colour; for each note, None where not heard."""

    colour: str
    cents: tuple[float | None, ...]
    balance_db: tuple[float | None, ...]
    """As `ear.heard.Tone.harmonic_balance_db`."""


@dataclass(frozen=True)
class ClimbShown:
    """The ladder of a speed climb."""

    from_bpm: float
    to_bpm: float
    best_bpm: float | None
    """The fastest tempo that held so far today; None before there is one."""


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
    """The note sounding by the beat, in the partner's turns the partner's: its index in
    `round.printed`."""
    live_notes: tuple[LiveNote, ...]
    """The notes of this round answered so far."""
    trail: tuple[LiveReading, ...]
    """The pitch trail of this round."""
    standing: Standing | None
    """Untimed: what the due note needs now."""
    take: Take | None
    """The whole take, from AFTER on."""
    off_beat_ms: tuple[float | None, ...]
    """With the take: each note of the round off the player's own line, late positive; None where
    it has no place, as after a breath."""
    advice: Advice | None
    proposal: Proposal | None
    follows: str
    """AFTER: the name of the round or exercise that comes when this one is behind us; empty at the
    end."""
    tempos: tuple[float, ...]
    """Tempos of this exercise's rounds so far, for the ladder of a speed climb."""
    seconds_left: float | None
    """Of the rest or of the pause before the next count-in."""
    stands_still: bool
    """AFTER, REST: the student has stopped those seconds."""
    elapsed_s: float
    """Of the whole session."""
    listens: bool
    words: str
    """The teacher's words for this entry of the routine; for a reading, the text."""
    closing: tuple[str, ...]
    """ENDED: the best thing, tomorrow's thing, what changed, a sentence each."""
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
    """Written notes of the trouble spot that is practised, or comes next."""
    awaits_sound: bool = False
    """TODAY: practice was begun, and goes on as soon as the sound is open."""
    starts_unsure: frozenset[int] = frozenset()
    """AFTER: the notes whose start was not heard clearly enough to be judged."""
    last_time: LastTime | None = None
    """AFTER: the round beside the last time the same was played."""
    last_note_cents: tuple[float | None, ...] = ()
    """Once the round has begun: where each note stood the last time the same was played at this
    tempo, None where it wasn't judged; empty where it never was."""
    tuner: TunerView | None = None
    """While the student tunes, beside the routine."""
    side_by_side: SideBySideView | None = None
    """While two takes are heard one after the other."""
    play_along: PlayAlongView | None = None
    """While the teacher plays first."""
    click: ClickView | None = None
    """While the click is used beside the routine."""
    climb: ClimbShown | None = None
    first_beat_s: float | None = None
    """Where the round's first beat falls in the time of the readings; None out of time."""
    readings: tuple[LiveReading, ...] = ()
    """AFTER: the quick readings of the whole round, in order."""
    pulses: tuple[HeldPulse, ...] = ()
    """AFTER: of held notes, where vibrato was asked for."""
    other_colour: OtherColour | None = None
    """AFTER: where two colours are asked for."""
