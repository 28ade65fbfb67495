"""A routine as the teacher wrote it, before a day has chosen keys and articulations.

Everything here is a value: loading makes it from YAML (`trainer.routine.load`), planning turns it
into rounds for one day (`trainer.routine.plan`). Pitches are written pitches throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from trainer.music.articulations import AnyArticulation
from trainer.music.bars import COMMON_TIME, Bars, Meter, SignatureChange
from trainer.music.key import Key
from trainer.music.layout import STEPWISE, End, Pattern
from trainer.music.note import Articulation, Dynamic, Hairpin, Mark, Ornament
from trainer.music.pitch import Pitch
from trainer.music.pulse import PLAIN_CLICK, ClickPart
from trainer.music.scales import ArpeggioKind, ScaleKind
from trainer.routine.lesson_day import LessonDay
from trainer.routine.loudness import Loudness
from trainer.routine.practice_until import Until
from trainer.routine.practice_way import PracticeWay
from trainer.routine.progress import Progress
from trainer.routine.round import Aims, PartnerPart, Swell, Unjudged, Vibrato

NO_AIMS = Aims()
SLOWEST_BPM = 20.0
FASTEST_BPM = 208.0
"""Long tones may be slower than a pendulum metronome's 40; 208 is the end of its scale (common
practice, no source)."""


@dataclass(frozen=True)
class ClimbAsked:
    """A speed climb as the teacher asks for it."""

    from_bpm: float
    """Tempo of the first round."""
    to_bpm: float
    """The tempo to come near; comfort decides how far it goes."""
    minutes: float
    """Time the whole climb may take."""
    in_turns: bool = False
    """True: a slow round and one at the goal in turns, instead of step by step."""


# Keys


@dataclass(frozen=True)
class FixedKey:
    """The same key every day."""

    key: Key


@dataclass(frozen=True)
class KeyByDay:
    """The next key of a cycle each day."""

    cycle: tuple[Key, ...]


@dataclass(frozen=True)
class RandomKey:
    """A key drawn each day; none comes again until all have come."""

    pool: tuple[Key, ...]


class Relation(StrEnum):
    """How a key follows from the key of an earlier exercise."""

    SAME = "same as"
    RELATIVE = "relative of"
    """The minor with the same signature, or the major of a minor."""
    PARALLEL = "parallel of"
    """The minor on the same tonic, or the major of a minor."""


@dataclass(frozen=True)
class KeyLike:
    """The key of an earlier exercise, or its relative."""

    exercise_id: str
    relation: Relation


@dataclass(frozen=True)
class KeyOfWeek:
    """The key that the routine's week names for the day."""


KeyChoice = FixedKey | KeyByDay | RandomKey | KeyLike | KeyOfWeek


@dataclass(frozen=True)
class DayAsked:
    """What one day of the week asks for."""

    key: Key | None = None
    """The key of exercises that take theirs 'of the week'."""
    exercises: tuple[str, ...] | None = None
    """Names of the exercises played; None: all."""
    words: str = ""
    """Words for the day."""
    free: bool = False
    """True: nothing is played."""


EVERYTHING = DayAsked()
WHOLE_WEEK = (EVERYTHING,) * 7
"""Every day everything."""


# Ranges, breaths, articulations, partner


@dataclass(frozen=True)
class FullRange:
    """Every note of the instrument that the scale holds, from the tonic and back to it."""

    first: End = End.TOP


@dataclass(frozen=True)
class OctaveCount:
    """A number of octaves from the lowest tonic that leaves room for them."""

    octaves: int


@dataclass(frozen=True)
class FromTo:
    """Everything from one note to another, begun and ended on the tonic."""

    low: Pitch
    high: Pitch


RangeAsked = FullRange | OctaveCount | FromTo


@dataclass(frozen=True)
class Breaths:
    """Where a breath may be taken; several may hold together."""

    as_needed: bool = False
    """As many as the tempo calls for; over the full range always one at the top."""
    at_top: bool = False
    """After the highest note, where the line turns."""
    at_bottom: bool = False
    """After the lowest note, where the line turns."""
    every_beats: int | None = None
    """After each such stretch of beats."""
    after_beats: tuple[int, ...] = ()
    """After these beats, counted from 1."""


@dataclass(frozen=True)
class InOrder:
    """These articulations, one a round, from the first again when they run out."""

    articulations: tuple[AnyArticulation, ...]


@dataclass(frozen=True)
class DifferentEveryRound:
    """One drawn for each round; none comes again until all have come."""

    pool: tuple[AnyArticulation, ...]


@dataclass(frozen=True)
class AsWritten:
    """A passage with its own slurs; notes outside them are tongued."""


ArticulationChoice = InOrder | DifferentEveryRound | AsWritten


class DroneOn(StrEnum):
    """Which note of the key the drone holds."""

    TONIC = "tonic"
    FIFTH = "fifth"
    HARMONY = "harmony"
    """The root of the chord under each bar."""


@dataclass(frozen=True)
class Partner:
    """What the trainer plays along."""

    part: PartnerPart
    drone_on: DroneOn = DroneOn.TONIC
    """Only of meaning where the part is a drone."""
    turn_bars: int = 0
    """How long each turn lasts where partner and student take turns; 0: a phrase."""
    behind_bars: int = 0
    """In canon the partner follows after so many bars ..."""
    behind_beats: int = 0
    """... and so many beats."""


# Exercises


@dataclass(frozen=True, kw_only=True)
class Entry:
    """What every line of a routine has."""

    id: str
    """Its name inside the routine; no two entries share one."""
    line: int
    """Line of the file it begins on, for telling the teacher where."""
    words: str = ""
    """The teacher's own words, shown with it."""


@dataclass(frozen=True, kw_only=True)
class Rest(Entry):
    """A rest: flute down."""

    seconds: float


@dataclass(frozen=True, kw_only=True)
class Reading(Entry):
    """Words to read before going on."""

    text: str


@dataclass(frozen=True, kw_only=True)
class Exercise(Entry):
    """What every played exercise has."""

    title: str | None = None
    """What the screen calls it; None: made from the key and the range of the day."""
    tempo_bpm: float = 60.0
    articulations: ArticulationChoice = InOrder((Articulation.SLURRED,))
    rounds: int | None = None
    """How many times through; None: once for each articulation."""
    mixes: bool = False
    """True: the rounds come in mixed order once they were all secure."""
    partner: Partner | None = None
    """None: the student plays alone."""
    partner_level_db: float = 0.0
    """The partner louder or softer than usual."""
    click: ClickPart = PLAIN_CLICK
    end_bpm: float | None = None
    """The tempo reached at the end of each round; None: it stays."""
    pure: bool = False
    """True: tuned in pure intervals above the drone note; False: equal temperament."""
    aims: Aims = NO_AIMS
    breaths: Breaths = Breaths(as_needed=True)
    rest_after_s: float = 0.0
    """Rest when the last round is done."""
    climb: ClimbAsked | None = None
    """Not None: a speed climb on this exercise."""
    settle_s: float | None = None
    """Not None: first once out of time, each note waited for until it has stood so long."""
    vibrato: tuple[Vibrato, ...] = ()
    """One for each round, from the first again when they run out; empty: as the player likes."""
    colours: tuple[str, ...] = ()
    """The teacher's words for colours, one for each round."""
    loudness: tuple[Loudness, ...] = ()
    """How loud, one for each round, from the first again; empty: as the player likes."""
    ways: tuple[PracticeWay, ...] = ()
    """How each round is practised."""
    until: Until | None = None
    """Not None: each round again until it is right, in the teacher's sense."""
    spots: int = 0
    """So many of the last trouble spots first, whether or not they are due."""
    unjudged: Unjudged | None = None
    """Asked beside the notes in every round, and never judged."""
    figures: tuple[tuple[int, ...], ...] = ()
    """Practice rhythms as relative lengths, one for each round; empty: even notes."""
    progress: Progress | None = None
    """None: the same until the teacher changes it."""


@dataclass(frozen=True, kw_only=True)
class KeyedExercise(Exercise):
    """An exercise that takes its notes from a key."""

    key: KeyChoice | None
    """None only where long tones are written out note by note."""
    range: RangeAsked = FullRange()


@dataclass(frozen=True, kw_only=True)
class Scale(KeyedExercise):
    """A scale, straight or in a pattern."""

    form: ScaleKind | None = None
    """None: major in major, melodic minor in minor."""
    pattern: Pattern = STEPWISE
    per_beat: int = 4
    """Notes to a beat: 4 for sixteenths."""
    each: int = 1
    """How often each note sounds before the next."""


@dataclass(frozen=True, kw_only=True)
class Arpeggio(KeyedExercise):
    """A broken chord over a range."""

    chord: ArpeggioKind | None = None
    """None: the major or minor chord on the tonic."""
    pattern: Pattern = STEPWISE
    per_beat: int = 3
    each: int = 1
    """How often each note sounds before the next."""


class VoicingForm(StrEnum):
    """How a voicing exercise moves."""

    OCTAVES = "octaves"
    """Each note of the scale and the same note an octave higher."""
    REGISTERS = "by registers"
    """A slow scale, register by register, with a stop at each break."""
    SAME_NAMES = "same names"
    """Each name of the scale in every octave it has: low, middle, high."""
    HARMONICS = "harmonics"
    """Over each low note its harmonics, each followed by the true note of that pitch."""


@dataclass(frozen=True, kw_only=True)
class Voicing(KeyedExercise):
    """Slow notes to match in tone across the registers."""

    form: VoicingForm = VoicingForm.REGISTERS
    roots: tuple[Pitch, ...] = ()
    """In harmonics: the notes whose fingerings are used; empty: the lowest of the key."""
    partials: int = 3
    """In harmonics: so many, the root being the first."""
    beats_each: Fraction = Fraction(2)


@dataclass(frozen=True)
class Held:
    """How long a note is held, where its beats aren't fixed; drawn anew each day between limits."""

    least: float
    most: float
    seconds: bool = False
    """False: beats."""


@dataclass(frozen=True, kw_only=True)
class LongTones(KeyedExercise):
    """Held notes with a breath after each."""

    pitches: tuple[Pitch, ...] = ()
    """The notes in order; empty: the scale of the key over the range."""
    beats_each: Fraction = Fraction(8)
    held: Held | None = None
    """Not None: the day's length comes from this."""
    beats_between: Fraction = Fraction(2)
    """Silence after each note, for the breath."""
    swell: Swell | None = None
    """What the level of each note is to do; None: nothing is asked."""


@dataclass(frozen=True, kw_only=True)
class Trills(Exercise):
    """Two notes in turns, faster from round to round, the little-finger ones too."""

    pairs: tuple[tuple[Pitch, Pitch], ...]
    """Main note and the note it is trilled with."""
    per_beat: tuple[int, ...] = (2, 3, 4)
    """Notes to a beat, one for each round."""
    beats_each: Fraction = Fraction(4)
    """How long each trill lasts, before its main note is held."""


@dataclass(frozen=True)
class WrittenNote:
    """One note of a passage in line notation."""

    pitch: Pitch
    beat: Fraction
    length: Fraction
    slurred_from_last: bool
    breath_after: bool
    dynamic: Dynamic | None = None
    """Not None: how loud, from this note on."""
    hairpin: Hairpin | None = None
    mark: Mark | None = None
    graces: tuple[Pitch, ...] = ()
    """Grace notes before it."""
    ornament: Ornament | None = None
    upper_sign: int | None = None
    """What an accidental over a trill makes of the note above, in semitones; None: as the key."""
    fermata: bool = False
    stop_after: bool = False
    """A caesura follows."""
    tempo_bpm: float | None = None
    """The tempo that holds at it, where the passage changes its own; None: the passage's."""


@dataclass(frozen=True, kw_only=True)
class Passage(Exercise):
    """Notes written out by the teacher."""

    notes: tuple[WrittenNote, ...]
    end: Fraction
    """Where it ends, rests at the end and all; in beats of its meter."""
    upbeat: Fraction = Fraction(0)
    """Beats of the upbeat it begins with; its notes stand at the end of the first bar."""
    key: Key | None = None
    """For the signature on the staff, and the note of a drone."""
    meter: Meter = COMMON_TIME
    """Note beats are counted in its beats."""
    changes: tuple[SignatureChange, ...] = ()
    """Where time or key signature change on the way."""
    cadenzas: tuple[tuple[Fraction, Fraction], ...] = ()
    """(from, to) of each stretch out of time."""

    one_breath: bool = False
    """True: the whole of it is to be played on one breath."""

    @property
    def bars(self) -> Bars:
        """Its bars, in beats of its meter."""
        return Bars(self.meter, self.key, self.changes, self.cadenzas)


@dataclass(frozen=True)
class Routine:
    """One routine file."""

    file: str
    """The file's name, for messages."""
    title: str
    words: str
    """The teacher's words for the whole routine."""
    instrument: str
    """Its name, as `trainer.music.instrument.instrument_named` knows it."""
    lowest: Pitch
    """Lowest written note to be asked for: the instrument's, or the teacher's limit."""
    highest: Pitch
    """Highest written note to be asked for: the instrument's, or the teacher's limit."""
    a4_hz: float
    entries: tuple[Entry, ...]
    """Exercises, rests and words to read, in order; those of included routines among them."""
    week: tuple[DayAsked, ...] = WHOLE_WEEK
    """Monday first."""
    level: str = ""
    """The level whose variations are in force; empty: none."""
    lesson: LessonDay | None = None
    """When the lesson is; None where the file doesn't say."""
    for_the_lesson: str = ""
    """What it is to hear, in the teacher's words."""
