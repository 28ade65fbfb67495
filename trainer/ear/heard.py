"""What the ear says it heard: the face between hearing and everything that uses it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from trainer.music.note import Start
from trainer.music.pitch import Pitch

WRONG_SEMITONES = 0.65
"""Further from the pitch asked for than this, another note was sounding: beyond the quarter tone
where the next note is as near, since a beginner's whole flute may stand half a semitone off. Our
own estimate."""
DOUBTED = 0.85
"""A start that is in doubt is no surer."""
FEWEST_ENDS = 2
"""One note's end alone says little: its measure varies by half from note to note."""
LEAST_OF_PULSES = 0.6
"""So much of a vibrato's depth at least is left where its depth is told. Of recorded notes in rooms
that leave that the depth was read at 0.71 and more of what it was, in those that leave less at 0.24
to 0.95 (our own measurement)."""
BLURRED_AFTER_S = 0.3
BLURRED_DB = -20.0
"""Where a room rings no softer than this so long after a tone, too many starts can't be judged.
Two short recorded notes in rooms of three makers ring so in 0 of 90 rooms of 0.25 to 0.7 s, 3 of 30
of 0.8 s (ringing as loud as the flute itself), 9 of 20 of 1.2 s, 13 of 19 of 1.5 s and 15 of 17 of
2 s; of the starts of tongued lines 3 to 15, 24, 42 and 72 % (1.5 s) were not judged there by an
earlier network, 3 % at 0.8 s by this one (our own measurement, notes and rooms of
tests.bench.ear.recorded)."""


class State(StrEnum):
    """What became of an expected note, or that a sound was not expected at all."""

    PLAYED = "played"
    MISSED = "missed"
    EXTRA = "extra"
    NOT_JUDGED = "not judged"
    """The sound was lost or too unclear there; never counts against the player."""


@dataclass(frozen=True)
class Tone:
    """Colour of one note, comparable only within one player, microphone and place."""

    harmonic_balance_db: float
    """Level of harmonics 2 and up against the fundamental."""
    noise_share_db: float
    """Level of what is not harmonic against what is."""
    brightness: float
    """Centre of gravity of the harmonics, as a harmonic number."""


@dataclass(frozen=True)
class HeardNote:
    """One note as heard; times in seconds from the start of the take's samples."""

    index: int | None
    """The expected note's place; None for an extra note."""
    expected: Pitch | None
    """The expected sounding pitch; None for an extra note."""
    state: State
    midi: float | None = None
    """Fractional MIDI number of what sounded; None when nothing did (silent air too)."""
    onset_s: float | None = None
    """The stroke: where tongue, air or fingers begin the note."""
    onset_sure: bool = True
    """False where the note before rings over the stroke, so that the onset is only where this one
    wins through: up to a tenth of a second late, in a live room. Its place counts for nothing."""
    speaks_s: float | None = None
    """Where its tone stands; not before the stroke."""
    end_s: float | None = None
    cents: float | None = None
    """Mean over whole vibrato cycles against the tuning in force; sharp is positive. None where
    what rings into the note leaves it unknown."""
    cents_spread: float | None = None
    """Standard deviation of the pitch inside the note, change-overs left out."""
    drift_cents: float | None = None
    """Pitch at the end against the beginning, straight line fitted, in cents."""
    level_db: float | None = None
    """Level re full scale (dBFS); never a sound pressure level."""
    start: Start | None = None
    """SLURRED, LEGATO_TONGUE, TONGUED, BREATH or SILENT_AIR; the tongue's front and back
    strokes are not told apart by sound alone. None where that isn't sure, or nothing sounded."""
    start_certainty: float | None = None
    """Chance from 0 to 1 that the likeliest start is right, a soft stroke and a hard one taken as
    one; what was asked has no part in it. None where no start was looked for."""
    attack_s: float | None = None
    """From the onset to 3 dB below the note's steady level."""
    gap_s: float | None = None
    """From where the note before has fallen to where its own tone stands, by the harmonics that
    each has for itself: comparable only within one take. None under a slur, and where that isn't
    known."""
    risen_s: float | None = None
    """Where its own tone has risen, by the harmonics that it has for itself beside the note before,
    whatever rings: comparable only within one take. None likewise."""
    vibrato_hz: float | None = None
    vibrato_cents: float | None = None
    """Half the peak-to-peak extent. None where the room takes too much of it, or isn't known."""
    tone: Tone | None = None
    hiss_db: float | None = None
    """Noise of the air, from 1 to 6 kHz between the harmonics, re full scale (dBFS); None where too
    little was heard."""
    blip: bool = False
    """A false note of up to about 50 ms between two fingerings came just before this note."""
    instead_of: int | None = None
    """For an extra note: the expected note in whose place it sounded, when it replaced one."""

    @property
    def sounds_s(self) -> float | None:
        """Where its tone stands, or the stroke where the two are not told apart."""
        return self.onset_s if self.speaks_s is None else self.speaks_s


@dataclass(frozen=True)
class Room:
    """How a room rings on after a tone, as this microphone hears it from this place."""

    decay_s: float
    """Time for 60 dB, at the slope at which the sound falls after notes end."""
    ring_db: float
    """The ringing at the moment a tone stops, against the tone; 0 or less."""
    ends: int
    """How many note ends it was measured at."""

    def left_db(self, since_s: float) -> float:
        """The ringing so long after a tone stops, against the tone."""
        return self.ring_db - 60.0 * since_s / self.decay_s

    @property
    def fills_s(self) -> float:
        """How much later a tone grows here in the mean than it is played: what the room adds grows
        as it decays, by 1/e in T/13.8 (the exponential of 60 dB in T; Sabine's diffuse field), the
        rest is there at once, and each is taken for half of it: how loud the room is, is hardly
        known from a note's end or two. All of T/13.8 hid notes 100 ms slow to speak in a room of
        0.4 s, none of it called a low note slow that wasn't, twice in 637 lines (our own
        measurement)."""
        return self.decay_s / 13.8 / 2

    def pulses_left(self, hz: float) -> float:
        """How much of the depth of pulses at a rate is left here at least, 0 to 1: of what goes up
        and down so often a field that decays by 60 dB in T leaves
        1 / sqrt(1 + (2 pi hz T / 13.8)^2) (the modulation transfer function; Houtgast & Steeneken
        1985, JASA 77:1069); the player's own sound has all of it."""
        return 1 / math.hypot(1.0, 2 * math.pi * hz * self.decay_s / 13.8)

    @property
    def blurs(self) -> bool:
        """Whether, as far as is known, it fills the gaps between strokes."""
        return self.left_db(BLURRED_AFTER_S) > BLURRED_DB

    @property
    def too_live(self) -> bool:
        """Whether many starts can't be judged here; not said of one note's end alone."""
        return self.ends >= FEWEST_ENDS and self.blurs


@dataclass(frozen=True)
class Take:
    """What was heard in one round."""

    sample_rate_hz: int
    a4_hz: float
    first_beat_s: float
    """Where the round's first beat falls in the take's samples."""
    notes: tuple[HeardNote, ...]
    """Expected notes in order, played or missed, with extra notes between them by onset."""
    breaths_s: tuple[tuple[float, float], ...] = ()
    """Start and end of each silence long enough to be a breath."""
    warnings: tuple[str, ...] = ()
    """What was wrong with the sound itself, each a sentence: clipping, noise, too soft."""
    room: Room | None = None
    """How the place rings on; None where no note of the take ended in silence."""

    @property
    def expected_notes(self) -> tuple[HeardNote, ...]:
        """The heard notes that answer an expected one, in the round's order."""
        return tuple(note for note in self.notes if note.index is not None)

    def count(self, state: State) -> int:
        """How many of the notes are in this state."""
        return sum(note.state is state for note in self.notes)


@dataclass(frozen=True)
class LiveReading:
    """One quick answer while the round sounds."""

    time_s: float
    """From the start of the take's samples."""
    midi: float | None
    """Fractional MIDI number of the sound; None for silence or noise."""
    cents: float | None
    """Against the note it believes is sounding, in the tuning in force; None of another pitch, and
    where something else rings with it."""
    level_db: float
    note_index: int | None
    """The expected note the ear believes is sounding."""
    off_beat_ms: float | None
    """For the first reading of a note: its onset minus its beat; negative is early."""
    settled_cents: float | None = None
    """Where the note has stood of late, once it has settled and surely sounds alone; None
    elsewhere: of its tuning nothing is said yet."""


@dataclass(frozen=True)
class LiveNote:
    """The quick answer for one expected note."""

    index: int
    midi: float | None
    cents: float | None
    off_beat_ms: float | None
    stands_out: bool = False
    """Further off the beat than the notes of this round usually are."""
