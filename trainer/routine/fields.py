"""The language of routines as tables: what may stand where, how it is read, what it means.

The reference page and the JSON Schema come from these tables, so nothing is said twice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import yaml

from trainer.music.bars import COMMON_TIME
from trainer.music.layout import STEPWISE
from trainer.music.note import Articulation
from trainer.music.pulse import Timbre
from trainer.music.scales import ArpeggioKind, ScaleKind
from trainer.routine import notation
from trainer.routine.along_words import CLICK, CLICK_RESTS, LOUDNESS, PARTNER, SUBDIVISION
from trainer.routine.articulation_words import ARTICULATIONS, PASSAGE_ARTICULATIONS
from trainer.routine.key_words import KEY, ONE_KEY, PITCH
from trainer.routine.lesson_words import LESSON
from trainer.routine.level_words import FILE, LEVEL, LEVELS
from trainer.routine.loudness_words import LOUDNESSES
from trainer.routine.manner_words import (
    COLOURS,
    EACH,
    ORDER,
    PAIRS,
    RHYTHMS,
    SETTLE,
    SWELL,
    UNJUDGED,
    VIBRATO,
    WAY,
    YES,
)
from trainer.routine.model import (
    AsWritten,
    Breaths,
    FullRange,
    InOrder,
    VoicingForm,
)
from trainer.routine.note_words import (
    BEATS_BETWEEN,
    BEATS_EACH,
    FIGURES,
    HELD,
    INSTRUMENT,
    PARTIALS,
    PATTERN,
    PITCHES,
    RANGE,
    RHYTHM,
    TEMPERAMENT,
    TIME,
    TUNING,
)
from trainer.routine.other_words import SAME_CHORD, SAME_FORM
from trainer.routine.phrases import AIMS, BREATHS
from trainer.routine.practice_words import PRACTISE, UNTIL
from trainer.routine.progress_words import PROGRESS
from trainer.routine.reader import Reader, choice, duration, number, text, times
from trainer.routine.round import Aims
from trainer.routine.tempo_words import TEMPO
from trainer.routine.week_words import DAY, DAYS, NAMES


@dataclass(frozen=True)
class Field:
    """One line a teacher may write."""

    name: str
    reader: Reader[Any]
    explanation: str
    """One sentence for the reference page."""
    default: Any = None
    """The value where nothing is written."""
    default_says: str = ""
    """The default in words; empty where there is nothing to say."""
    required: bool = False
    inherits: bool = False
    """It may stand under 'defaults' and is taken from there."""


@dataclass(frozen=True)
class Kind:
    """A kind of entry, named by the word that begins it."""

    word: str
    opening: Reader[Any]
    """Reads what follows the word: the entry's name, a length of time, a text."""
    explanation: str
    fields: tuple[Field, ...]


MOST_ROUNDS = 40
"""More of one exercise is likely a slip of the pen."""
LONGEST_CLIMB_MINUTES = 60
"""Longer is likely a slip of the pen."""
LONGEST_NAME = 60
"""Characters that fit beside the minutes on an 80-column screen."""
LONGEST_TEXT = 4000
"""Characters: two screens full."""

NAME = text("a short name for it, such as 'scale of the day'", LONGEST_NAME)
TEXT = text("a text", LONGEST_TEXT)
MINUTES = number("a time in minutes", 0.5, LONGEST_CLIMB_MINUTES, ("minutes", "minute", "min"))
REST = duration("a rest")
SCALE_FORM = choice("a form of the scale", {str(kind): kind for kind in ScaleKind}, SAME_FORM)
CHORD = choice("a chord", {str(kind): kind for kind in ArpeggioKind}, SAME_CHORD)
VOICING_FORM = choice("a form of voicing", {str(form): form for form in VoicingForm})
_LINES: Reader[yaml.Node] = Reader(notation.SAYS, lambda node: node, notation.SCHEMA)

ROUTINE_FIELDS = (
    Field("title", TEXT, "What the routine is called.", required=True),
    Field("words", TEXT, "The teacher's words for the whole routine.", ""),
    Field("instrument", INSTRUMENT, "What is played.", "C flute", "C flute"),
    Field("tuning", TUNING, "The A4 everything is tuned to.", 440.0, "A4 = 440"),
    Field("lowest note", PITCH, "No exercise made from a key goes lower.",
          default_says="the lowest of the instrument"),
    Field("highest note", PITCH, "No exercise made from a key goes higher.",
          default_says="C7"),
    Field("lesson", LESSON, "When the lesson is: a day of every week, or a date."),
    Field("for the lesson", TEXT, "What the lesson is to hear, said on the days before it.", ""),
    Field("level", LEVEL, "Whose variations hold, where exercises have levels.", "", "none"),
)  # fmt: skip
"""Beside 'defaults', 'week' and 'exercises', which hold fields and entries of their own."""

OTHER_DAYS = "other days"
WEEK_FIELDS = {
    day: Field(day, DAY, f"What is played on {day.capitalize()}s.", default_says="as on other days")
    for day in DAYS
} | {OTHER_DAYS: Field(OTHER_DAYS, DAY, "What is played on days that have no line.",
                       default_says="all")}  # fmt: skip
"""What may stand under 'week'."""

_SLURRED = InOrder((Articulation.SLURRED,))
_WORDS = Field("words", TEXT, "The teacher's words for this exercise.", "")
_KEY = Field("key", KEY, "The key, or how it changes from day to day.",
             required=True, inherits=True)  # fmt: skip
_RANGE = Field("range", RANGE, "How far it goes.", FullRange(), "full", inherits=True)
_PATTERN = Field("pattern", PATTERN, "How it moves from note to note.", STEPWISE, "straight")
_ARTICULATIONS = Field(
    "articulations", ARTICULATIONS, "One for each round, in this order.", _SLURRED, "slurred",
    inherits=True,
)  # fmt: skip
_ORDER = Field("order", ORDER, "Whether the rounds are mixed once they were all well for two "
               "days; it may help them last.", False, "as written", inherits=True)  # fmt: skip
_OWN_ARTICULATIONS = replace(_ARTICULATIONS, inherits=False)
_TEMPO = Field("tempo", TEMPO, "Beats a minute.", 60.0, "60", inherits=True)
_END_TEMPO = Field("tempo at the end", TEMPO, "The tempo changes evenly through each round, up to "
                   "this one.", default_says="it stays")  # fmt: skip
_ROUNDS = Field("rounds", times("a number of rounds", MOST_ROUNDS),
                "How many times through.", default_says="one for each articulation",
                inherits=True)  # fmt: skip
_EVERY_EXERCISE = (
    Field("title", NAME, "What the screen calls it.", default_says="made from key and range"),
    _WORDS,
    Field("partner", PARTNER, "What the trainer plays along; in call and answer you play each "
          "turn back, in turns you have every second one; in thirds, in sixths and in canon its "
          "part is its own.", None, "off", inherits=True),
    Field("partner level", LOUDNESS, "How loud the partner is.", 0.0, "as usual", inherits=True),
    Field("click", CLICK, "What the click sounds like; a knock is low and wants headphones; "
          "off, it only counts in.",
          Timbre.TICK, "tick", inherits=True),
    Field("click level", LOUDNESS, "How loud the click is.", 0.0, "as usual", inherits=True),
    Field("subdivision", SUBDIVISION, "Softer taps between the beats.", 1, "quarters",
          inherits=True),
    Field("click rests", CLICK_RESTS, "Bars in which you keep the beat alone.", (0, 0), "never",
          inherits=True),
    Field("temperament", TEMPERAMENT, "How intervals are tuned; pure needs a drone, or a partner "
          "in thirds or sixths.",
          False, "equal", inherits=True),
    Field("aims", AIMS, "What is to be reached.", Aims(), "none", inherits=True),
    Field("breaths", BREATHS, "Where a breath may be taken.",
          Breaths(as_needed=True), "as needed", inherits=True),
    Field("rest after", REST, "Rest when the last round is done.", 0.0, "none", inherits=True),
    Field("levels", LEVELS, "What is different for another level.", default_says="the same"),
    Field("settle", SETTLE, "First once untimed: the trainer waits until each note settles.",
          default_says="always in time"),
)  # fmt: skip


_PROGRESS = Field("progress", PROGRESS, "What comes next once the aims have been met.",
                  default_says="it stays as it is", inherits=True)  # fmt: skip
_FIGURES = Field("practice rhythm", FIGURES, "A rhythm laid over the even notes, round by round.",
                 (), "even")  # fmt: skip


_DYNAMIC = Field("dynamic", LOUDNESSES, "How loud, round by round; it is drawn, and your ears "
                 "judge it.", (), "as you like")  # fmt: skip
_PRACTISE = Field("practise", PRACTISE, "How the line is practised; note by note up to 32 notes, a "
                  "longer one by beats.", (), "from beginning to end")  # fmt: skip
_UNTIL = Field("until", UNTIL, "Each round is played again until then; the aims say what is right.",
               default_says="once each", inherits=True)  # fmt: skip
_SPOTS = Field("trouble spots", times("how many of the last trouble spots come first", 5, 0),
               "The last places that went wrong, slowly and in tempo, before the whole.",
               0, "those that are due")  # fmt: skip
_WAYS = (_PRACTISE, _UNTIL, _SPOTS)
_EACH = Field("each note", EACH, "How often each note sounds before the next, for the tongue.",
              1, "once")  # fmt: skip
_TECHNIQUE = Field("technique", UNJUDGED, "What is asked beside the notes; it is marked done, and "
                   "nothing in such a round is judged.", default_says="nothing more")  # fmt: skip


def _rhythm(per_beat: int, word: str) -> Field:
    return Field("rhythm", RHYTHM, "Notes to a beat.", per_beat, word, inherits=True)


_SCALE_NOTES = (
    _KEY,
    Field("form", SCALE_FORM, "Which scale on the key's tonic.",
          default_says="major, or melodic minor in a minor key"),
    _RANGE,
    _PATTERN,
    _rhythm(4, "sixteenths"),
    _EACH,
    _FIGURES,
)  # fmt: skip
_ARPEGGIO_NOTES = (
    _KEY,
    Field("chord", CHORD, "Which chord of the key; sevenths stand where the key has them.",
          default_says="the chord on the tonic"),
    _RANGE,
    _PATTERN,
    _rhythm(3, "triplets"),
    _EACH,
    _FIGURES,
)  # fmt: skip
_VOICING_NOTES = (
    replace(_KEY, required=False),
    Field("form", VOICING_FORM, "Octave by octave; register by register with a stop at each "
          "break; each name low, middle and high; or harmonics and then the true note.",
          VoicingForm.REGISTERS, "by registers"),
    _RANGE,
    Field("roots", PITCHES, "In harmonics: the low notes whose fingerings are used, instead of a "
          "key.", (), "the lowest of the key"),
    Field("partials", PARTIALS, "In harmonics: how far up from each root.", 3, "3"),
    Field("beats each", BEATS_EACH, "How long each note is held.", Fraction(2), "2"),
)  # fmt: skip
_PASSAGE_NOTES = (
    Field("notes", _LINES, "The notes in line notation.", required=True),
    Field(
        "time",
        TIME,
        "The time signature; in 6/8, 9/8 and 12/8 the tempo counts dotted quarters.",
        COMMON_TIME,
        "4/4",
    ),
    Field("key", ONE_KEY, "A fixed key, for the signature and the drone."),
    Field("one breath", YES, "Whether all of it belongs on one breath.", False, "no"),
    _FIGURES,
)
_VIBRATO = Field("vibrato", VIBRATO, "The vibrato of each round.",
                 (), "as the player likes")  # fmt: skip
_COLOURS = Field("colours", COLOURS, "The colour of each round; the tuning stays.", (), "free")
_TRILL_NOTES = (
    Field("pairs", PAIRS, "What is trilled.", required=True),
    Field("rhythms", RHYTHMS, "Notes to a beat, round by round.", (2, 3, 4),
          "eighths, triplets, sixteenths"),
    Field("beats each", BEATS_EACH, "How long each trill lasts.", Fraction(4), "4"),
)  # fmt: skip
_LEVELS = next(field for field in _EVERY_EXERCISE if field.name == "levels")
_PLAIN_BREATHS = tuple(field for field in _EVERY_EXERCISE if field.name not in ("breaths",))

CLIMBED: dict[str, tuple[Field, ...]] = {
    "scale": _SCALE_NOTES,
    "arpeggio": _ARPEGGIO_NOTES,
    "voicing": _VOICING_NOTES,
    "passage": _PASSAGE_NOTES,
}
"""What a speed climb may climb on → the fields that say its notes."""

OF = Field("of", choice("what to climb on", {word: word for word in CLIMBED}),
           "What is played; the fields of that kind say its notes.", "scale", "scale")  # fmt: skip
_CLIMB = (
    OF,
    Field("from", TEMPO, "Tempo of the first round.", 60.0, "60"),
    Field("to", TEMPO, "The tempo to come near, as comfort allows.", 120.0, "120"),
    Field("within", MINUTES, "How long the climb may take.", 10.0, "10 minutes"),
    Field(
        "way",
        WAY,
        "Faster step by step, or a slow round and one at the goal in turns.",
        False,
        "step by step",
    ),
)


def climb_fields(climbed: str) -> tuple[Field, ...]:
    """The fields of a speed climb on a kind of exercise."""
    return (*_CLIMB, *CLIMBED[climbed], _OWN_ARTICULATIONS, *_EVERY_EXERCISE)


KINDS: dict[str, Kind] = {
    kind.word: kind
    for kind in (
        Kind("scale", NAME, "A scale of the key.",
             (*_SCALE_NOTES, _DYNAMIC, *_WAYS, _TECHNIQUE, _ARTICULATIONS, _ORDER,
              _TEMPO, _END_TEMPO, _ROUNDS, _PROGRESS,
              *_EVERY_EXERCISE)),
        Kind("arpeggio", NAME, "A broken chord of the key.",
             (*_ARPEGGIO_NOTES, _DYNAMIC, *_WAYS, _TECHNIQUE, _ARTICULATIONS, _ORDER,
              _TEMPO, _END_TEMPO, _ROUNDS, _PROGRESS,
              *_EVERY_EXERCISE)),
        Kind("speed climb", NAME, "The same notes, faster step by step as comfort allows.",
             climb_fields("scale")),
        Kind("long tones", NAME, "Held notes with a breath after each.",
             (Field("notes", PITCHES, "The notes in order, instead of a key and a range."),
              replace(_KEY, required=False), _RANGE,
              Field("beats each", HELD, "How long each note is held; between two limits it is "
                    "drawn each day.", Fraction(8), "8"),
              Field("beats between", BEATS_BETWEEN, "Silence after each, for the breath.",
                    Fraction(2), "2"),
              replace(_OWN_ARTICULATIONS, default=InOrder((Articulation.SINGLE,)),
                      default_says="single"),
              _VIBRATO, Field("swell", SWELL, "What the level of each note does.",
                              default_says="nothing is asked"),
              _DYNAMIC, _COLOURS, _TECHNIQUE,
              _TEMPO, replace(_ROUNDS, inherits=False), _PROGRESS, *_EVERY_EXERCISE)),
        Kind("trills", NAME, "Two notes in turns, faster from round to round.",
             (*_TRILL_NOTES, _TEMPO, _END_TEMPO, _PROGRESS, *_PLAIN_BREATHS)),
        Kind("voicing", NAME, "Slow notes to match in tone across the registers.",
             (*_VOICING_NOTES, _DYNAMIC, _OWN_ARTICULATIONS, _TEMPO,
              replace(_ROUNDS, inherits=False), _PROGRESS, *_EVERY_EXERCISE)),
        Kind("passage", NAME, "Notes written out by the teacher.",
             (*_PASSAGE_NOTES,
              Field("articulations", PASSAGE_ARTICULATIONS, "One for each round, in this order.",
                    AsWritten(), "as written"),
              *_WAYS, _VIBRATO, _COLOURS, _TECHNIQUE, _TEMPO, _END_TEMPO,
              replace(_ROUNDS, inherits=False), _PROGRESS, *_EVERY_EXERCISE)),
        Kind("rest", REST, "A rest; the flute is put down.", (_WORDS, _LEVELS)),
        Kind("read", TEXT, "Words to read before going on.", (_LEVELS,)),
        Kind("include", FILE, "The exercises of another routine in the same folder.",
             (Field("only", NAMES, "Which of its exercises.", default_says="all"), _LEVELS)),
    )
}  # fmt: skip
"""The word that begins an entry → what may follow."""

DEFAULTS_FIELDS: dict[str, Field] = {
    field.name: replace(field, required=False)
    for kind in KINDS.values()
    for field in kind.fields
    if field.inherits
}
"""What may stand under 'defaults'."""
