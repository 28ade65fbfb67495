"""A round: one time through an exercise with one articulation at one tempo, ready to be played."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cached_property

from trainer.music.articulations import AnyArticulation
from trainer.music.bars import Bars, BarSpan, Meter, SignatureChange
from trainer.music.key import Key
from trainer.music.note import Note
from trainer.music.pitch import Pitch
from trainer.music.pulse import PLAIN_CLICK, ClickPart, Pace, stops_of, tempo_changes_of
from trainer.music.tuning import Tuning

A440 = Tuning()
"""Equal temperament at A4 = 440 Hz."""


@dataclass(frozen=True)
class Aims:
    """What the teacher asks for; None where nothing is asked."""

    cents: float | None = None
    """Notes should stand within this many cents."""
    evenness_ms: float | None = None
    """Onsets should spread about an even line by no more than this."""
    clean: float | None = None
    """Share of notes (0 to 1) that should be played, right and without a blip."""


class PartnerPart(StrEnum):
    """What the trainer plays along."""

    SAME_NOTES = "same notes"
    OCTAVE_BELOW = "octave below"
    DRONE = "drone"
    LEADS = "plays it first"
    """Once through alone, then the student answers."""
    CALLS = "call and answer"
    """Turn by turn alone; the student plays each one back."""
    TURNS = "in turns"
    """The first turn, the third and so on; the student has those between."""
    THIRDS_ABOVE = "in thirds above"
    """A part of its own, as the following: each note a third above the student's in the key."""
    THIRDS_BELOW = "in thirds below"
    SIXTHS_ABOVE = "in sixths above"
    SIXTHS_BELOW = "in sixths below"
    CANON = "canon"
    """The student's own line, some beats later."""


class RoundKind(StrEnum):
    """What the round is for; it decides what the coach looks at first."""

    TECHNIQUE = "technique"
    CLIMB = "speed climb"
    VOICING = "voicing"
    LONG_TONES = "long tones"
    PASSAGE = "passage"
    KNOT = "knot"
    SETTLING = "settling"
    CADENZA = "cadenza"
    VIBRATO = "vibrato"
    SWELLS = "swells"
    COLOURS = "colours"
    TRILLS = "trills"
    BREATH = "breath"


class Swell(StrEnum):
    """What the level of a held note is to do."""

    LOUDER = "louder"
    SOFTER = "softer"
    THERE_AND_BACK = "there and back"


class Unjudged(StrEnum):
    """What is asked beside the notes and marked done: the ear can't tell whether it was right."""

    FLUTTER_TONGUE = "flutter tongue"
    FINGER_VIBRATO = "finger vibrato"


class Depth(StrEnum):
    """A vibrato's depth against the round before."""

    DEEPER = "deeper"
    LIGHTER = "lighter"


@dataclass(frozen=True)
class Vibrato:
    """The vibrato asked for."""

    per_beat: int
    """Pulses to a beat; 0 is a straight tone."""
    depth: Depth | None = None


@dataclass(frozen=True)
class Manner:
    """How the notes are to sound, beyond their pitch, place and start."""

    stands_s: float | None = None
    """Not None: out of time; the next note is due when this one has stood so long."""
    vibrato: Vibrato | None = None
    """None: as the player likes."""
    swell: Swell | None = None
    colour: str = ""
    """The teacher's word for the colour, such as 'dark'; empty where none is asked for."""
    loudness: str = ""
    """How loud the line is asked for: 'p to f and back'; empty where nothing is said."""
    unjudged: Unjudged | None = None
    """Not None: the round is played and marked done, and nothing in it is judged."""

    @property
    def beside_notes(self) -> str:
        """'flutter tongue, not judged'; '' where nothing is asked beside the notes."""
        return "" if self.unjudged is None else f"{self.unjudged}, not judged"


AS_IT_COMES = Manner()
"""Nothing is asked of the sound."""


@dataclass(frozen=True)
class Round:
    """One time through an exercise."""

    exercise_id: str
    """The exercise's name inside its routine, as in `trainer listen --exercise`."""
    title: str
    """What the screen calls it: 'E flat major, full range'."""
    kind: RoundKind
    number: int
    """1 for the exercise's first round."""
    key: Key | None
    articulation: AnyArticulation
    """The same throughout; where the notes have their own, what most of them have."""
    tempo_bpm: float
    notes: tuple[Note, ...]
    """Written pitches."""
    beats_per_bar: int
    """In beats, whatever their length on paper."""
    aims: Aims
    partner: PartnerPart | None
    words: str = ""
    """The teacher's own words for this exercise."""
    count_in_beats: int = 4
    tuning: Tuning = A440
    """Where sounding pitches should stand: A4, and the drone where intervals are to be pure."""
    drone: Pitch | None = None
    """Written pitch of the drone where the partner holds one; the tonic where it moves."""
    drone_moves: tuple[tuple[Fraction, Pitch], ...] = ()
    """(beat, written pitch from there on) where the drone goes with the harmony; else empty."""
    manner: Manner = AS_IT_COMES
    beat_quarters: Fraction = Fraction(1)
    """Quarter notes in a beat, as it is written: 3/2 in 6/8, where two beats make a bar."""
    click: ClickPart = PLAIN_CLICK
    end_tempo_share: float = 1.0
    """The tempo reached at the end against the first, changing evenly: 1.25 is a quarter faster."""
    partner_level_db: float = 0.0
    """The partner louder or softer than usual."""
    partner_notes: tuple[Note, ...] = ()
    """Written pitches the partner plays while the student rests, where they take turns.

    Indices go on after those of `notes`.
    """

    second_part: tuple[Note, ...] = ()
    """Written pitches the partner plays at the same time, where it has a part of its own.

    Each has the index of the student's note it goes with, or that it repeats in canon.
    """
    second_pure: bool = False
    """The second part stands in pure intervals to the student's notes, and these as ever."""

    ends_on_beat: Fraction = Fraction(0)
    """Where rests after the last note end, as far as they are written; 0: it ends with the note."""
    upbeat_beats: Fraction = Fraction(0)
    """Of an upbeat it begins with; its notes stand at the end of the first bar."""
    changes: tuple[SignatureChange, ...] = ()
    """Where time or key signature change on the way."""
    breaths_asked: bool = False
    """The teacher has said where to breathe; False: a breath may be taken where one is marked."""
    as_written: bool = False
    """Each note begins as it is written, not all in one way."""
    knot: tuple[Pitch, ...] = ()
    """Written pitches of the knot that is taken out; empty in rounds of other kinds."""

    @cached_property
    def printed(self) -> tuple[Note, ...]:
        """All that stands on the staff, in order: the student's notes and the partner's turns."""
        return tuple(sorted((*self.notes, *self.partner_notes), key=lambda note: note.beat))

    @property
    def how(self) -> str:
        """How its notes begin, in words."""
        return "as written" if self.as_written else str(self.articulation)

    @property
    def in_time(self) -> bool:
        """False where each note is waited for, and in a cadenza."""
        return not self.waits and self.kind is not RoundKind.CADENZA

    @property
    def waits(self) -> bool:
        """Each note is waited for until it stands."""
        return self.manner.stands_s is not None

    @property
    def call_beats(self) -> int:
        """Beats in which the partner plays it all alone, to the end of its last bar, before the
        student answers; where the tempo changes or waits, as many of the first tempo."""
        if self.partner is not PartnerPart.LEADS:
            return 0
        beats = self.pace.seconds_at(float(self.last_bar.ends)) / self.beat_s
        return math.ceil(round(beats, 6))

    @property
    def last_bar(self) -> BarSpan:
        """The bar it ends in."""
        *_, last = self.bars.until(self.beats)
        return last

    @property
    def lead_in_beats(self) -> int:
        """Beats from the first click to the student's first: count-in and call."""
        return self.count_in_beats + self.call_beats

    @cached_property
    def beats(self) -> Fraction:
        """Length of the round from its first beat: whole beats, the last one filled with rest."""
        return self.bars.beat_ends(self.music_beats)

    @property
    def music_beats(self) -> Fraction:
        """Where the last note ends, or the rest that is written after it."""
        lasts = (notes[-1] for notes in (self.notes, self.partner_notes, self.second_part) if notes)
        return max([self.ends_on_beat, *(last.beat + last.length for last in lasts)])

    @property
    def beat_s(self) -> float:
        """Length of one beat in seconds, at the round's beginning."""
        return 60.0 / self.tempo_bpm

    @property
    def meter(self) -> Meter:
        """The time signature it begins in."""
        return Meter(self.beats_per_bar, self.beat_quarters)

    @cached_property
    def bars(self) -> Bars:
        """Its bars, whose places are in its beats; a cadenza is one of any length."""
        free = self.kind is RoundKind.CADENZA
        cadenzas = ((Fraction(0), self.music_beats),) if free else ()
        return Bars(self.meter, self.key, self.changes, cadenzas)

    @cached_property
    def stops(self) -> tuple[tuple[float, float], ...]:
        """(beat, beats): where time stands, at fermatas and caesuras, and how long it may."""
        return stops_of(self.printed)

    @cached_property
    def tempo_changes(self) -> tuple[tuple[float, float], ...]:
        """(beat, tempo from there on against the round's), where it changes inside."""
        return tempo_changes_of(self.printed)

    @property
    def pace(self) -> Pace:
        """How the tempo runs through the round."""
        return Pace(
            self.tempo_bpm,
            self.tempo_bpm * self.end_tempo_share,
            float(self.beats),
            self.stops,
            tuple((beat, share * self.tempo_bpm) for beat, share in self.tempo_changes),
        )

    @property
    def seconds(self) -> float:
        """Length of the round without its count-in."""
        return self.pace.seconds_at(float(self.beats))
