"""The habits of the played-in flutist: what is human, and what is a fault planted on purpose.

Every figure not credited to a publication is our own estimate, chosen so that a teacher in the
room would notice the fault at once.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

from trainer.music.pitch import Pitch

FULL_BREATH_S = 20.0
"""A phrase on one breath lasts 8 to 20 s (order of magnitude, from memory)."""

_INNOCENT = {
    "lead_ms",
    "human_timing_ms",
    "human_cents",
    "human_level_db",
    "vibrato_hz",
    "vibrato_cents",
}
"""Habits that are no fault: a trainer that scolds them is wrong."""


@dataclass(frozen=True)
class LateStep:
    """The second note of a step, up or down, comes late."""

    between: tuple[str, str]
    """Two sounding pitches, such as ('E6', 'F#6')."""
    ms: float

    def joins(self, from_midi: int, to_midi: int) -> bool:
        """True for this very step, in either direction."""
        return _same_step(self.between, from_midi, to_midi)


@dataclass(frozen=True)
class Blip:
    """A false note sounds between two slurred fingerings, in either direction.

    Fingers of one change move tens of milliseconds apart, and an unlucky order lets a transient
    pitch sound (Almeida, Chow, Smith & Wolfe 2009, JASA 126:1521).
    """

    between: tuple[str, str]
    false_note: str
    """The sounding pitch that slips in."""
    ms: float = 38.0
    """How long it sounds; it takes this from the end of the first note."""

    def joins(self, from_midi: int, to_midi: int) -> bool:
        """True for this very step, in either direction."""
        return _same_step(self.between, from_midi, to_midi)


@dataclass(frozen=True)
class WrongNote:
    """One pitch class is now and then taken for another, such as F for F#."""

    name: str
    """The expected note name, without octave."""
    played: str
    """The name of what is played, no more than two semitones away."""
    probability: float = 1.0


@dataclass(frozen=True)
class Habits:
    """How one flutist plays. The default is a clean, human player without a fault."""

    sharp_top_cents: float = 0.0
    """Offset reached at C7, growing evenly from D6. Direction: B. Garner, Flute Talk, February
    2011 (the third octave tends sharp); size our own estimate."""
    flat_low_cents: float = 0.0
    """How flat C4 is, growing evenly from D5 down. Same source (the low register tends flat)."""
    off_cents: float = 0.0
    """Constant offset of every note: a headjoint pushed in (sharp) or pulled out (flat)."""
    break_late_ms: float = 0.0
    """Lateness of the second note of any step that crosses the break between C#5 and D5, where
    seven or eight fingers move."""
    late_steps: tuple[LateStep, ...] = ()
    """Lateness at named steps."""
    uneven_ms: float = 0.0
    """Standard deviation of a lateness that belongs to each step of two notes and stays the same
    in every round, as a person's fingers do. That players deviate note by note in a way of their
    own: van Vugt, Jabusch & Altenmüller 2012, Frontiers in Psychology 3:495 (pianists)."""
    blips: tuple[Blip, ...] = ()
    """False notes between two slurred fingerings."""
    sagging_cents: float = 0.0
    """How far a note of a second or more sinks from beginning to end; a shorter one sinks in
    proportion. That softer is flatter: T. Wye, trevorwye.com; size our own estimate."""
    weak_back_db: float = 0.0
    """How much softer the back stroke is. That it is the weaker one: teachers' common report;
    no published figure."""
    late_back_ms: float = 0.0
    """How late the back stroke comes."""
    slow_to_speak: tuple[tuple[str, float], ...] = ()
    """(Sounding pitch, ms): the air is there, the tone follows by so much."""
    rush_percent_per_round: float = 0.0
    """Tempo gained from the first to the last note; negative drags."""
    wrong_notes: tuple[WrongNote, ...] = ()
    """Notes taken for others."""
    missed_note_probability: float = 0.0
    """Share of notes that do not sound: the note before lasts on in a slur, else silence."""
    pinched_top: float = 0.0
    """0 to 1: from D6 up the tone grows thin: fundamental weaker, high harmonics and hiss
    stronger."""
    thin_notes: tuple[tuple[str, float], ...] = ()
    """(Sounding pitch, 0 to 1): this note's own fingering pinched so much; played as a harmonic of
    a lower one it is free."""
    extra_breath_noise_db: float = 0.0
    """Airiness: breath noise above that of a clear tone."""
    tired_fade_db: float = 0.0
    """Level lost from the first to the last note of a round."""
    pulse_rate_share: float = 0.0
    """How much faster than asked the vibrato's pulses come as a share; negative is slower."""
    restless_cents: float = 0.0
    """Vibrato left over where a straight tone is asked for."""
    swell_cents_per_db: float = 0.0
    """How far the pitch follows the level in a swell."""
    timid_swell: float = 0.0
    """Share of a swell that is not dared, 0 to 1."""
    colour_cents: float = 0.0
    """How much sharper the brighter of two colours is, and flatter the darker."""
    short_breath: float = 0.0
    """0 to 1: a breath comes after this much less than FULL_BREATH_S, wherever that is."""
    forgotten_breaths: float = 0.0
    """Share of the marked breaths that are played through, 0 to 1."""
    late_breaths: float = 0.0
    """How many notes after its mark a breath comes."""
    lead_ms: float = 0.0
    """Constant lateness of all notes, early is negative; innocent. Taps precede the click in
    most people (Repp 2005, Psychonomic Bulletin & Review 12:969)."""
    human_timing_ms: float = 6.0
    """Standard deviation of onsets about the beat; innocent. Thirteen professional pianists in
    scales at 125 ms a note spread by 8–9 ms from note to note (Jabusch 2006, IMMM Hannover)."""
    human_cents: float = 3.0
    """Standard deviation of pitch from note to note; innocent. Compare 6.5 cents of two
    professional trumpeters (Kopiez 2003, Music Perception 20:383)."""
    human_level_db: float = 1.2
    """Standard deviation of level from note to note; innocent."""
    vibrato_hz: float = 5.5
    """Rate on notes longer than half a second: 5–7 Hz in most flutists (L. Garrison, Visualizing
    Vibrato, British Flute Society 2012)."""
    vibrato_cents: float = 7.0
    """Half the peak-to-peak extent; no published figure for the flute."""


def planted(habits: Habits) -> tuple[str, ...]:
    """Names of the fields in which these habits hold a fault, in the order of `Habits`."""
    return tuple(
        field.name
        for field in fields(Habits)
        if field.name not in _INNOCENT and getattr(habits, field.name) != field.default
    )


def practised(habits: Habits, days: float, half_life_days: float = 9.0) -> Habits:
    """The same flutist after so many days of practice: every fault shrinks by halves.

    Half-life: our own estimate, for a demonstration of several weeks.
    """
    left = float(0.5 ** (days / half_life_days))
    numbers = {
        name: getattr(habits, name) * left
        for name in planted(habits)
        if isinstance(getattr(habits, name), float)
    }
    return replace(
        habits,
        late_steps=tuple(replace(step, ms=step.ms * left) for step in habits.late_steps),
        blips=tuple(replace(blip, ms=blip.ms * left) for blip in habits.blips),
        thin_notes=tuple((name, thin * left) for name, thin in habits.thin_notes),
        slow_to_speak=tuple((name, ms * left) for name, ms in habits.slow_to_speak),
        wrong_notes=tuple(
            replace(wrong, probability=wrong.probability * left) for wrong in habits.wrong_notes
        ),
        **numbers,
    )


def _same_step(between: tuple[str, str], from_midi: int, to_midi: int) -> bool:
    return {Pitch.parse(name).midi for name in between} == {from_midi, to_midi}


EXAMPLES: dict[str, Habits] = {
    "clean": Habits(),
    "sharp top": Habits(sharp_top_cents=28.0),
    "flat low": Habits(flat_low_cents=22.0),
    "headjoint pushed in": Habits(off_cents=16.0),
    "late over the break": Habits(break_late_ms=55.0),
    "late in one step": Habits(late_steps=(LateStep(("E6", "F#6"), 60.0),)),
    "uneven fingers": Habits(uneven_ms=24.0),
    "sagging long notes": Habits(sagging_cents=20.0),
    "blip over the break": Habits(
        blips=(Blip(("C#5", "D5"), "D#5"), Blip(("C5", "D5"), "C#5", 42.0))
    ),
    "weak back stroke": Habits(weak_back_db=7.0, late_back_ms=22.0),
    "slow low notes": Habits(slow_to_speak=(("C4", 60.0), ("C#4", 55.0), ("D4", 45.0))),
    "rushing": Habits(rush_percent_per_round=9.0),
    "dragging": Habits(rush_percent_per_round=-9.0),
    "ahead of the beat": Habits(lead_ms=-25.0),
    "F for F sharp": Habits(wrong_notes=(WrongNote("F#", "F"),)),
    "drops notes": Habits(missed_note_probability=0.08),
    "pinched top": Habits(pinched_top=0.8),
    "thin beside its harmonic": Habits(thin_notes=(("G5", 1.0),)),
    "airy": Habits(extra_breath_noise_db=12.0),
    "tired": Habits(tired_fade_db=9.0),
    "slow vibrato": Habits(pulse_rate_share=-0.3),
    "vibrato that won't rest": Habits(restless_cents=9.0),
    "pitch follows level": Habits(swell_cents_per_db=2.2),
    "timid swells": Habits(timid_swell=0.8),
    "bright is sharp": Habits(colour_cents=9.0),
    "short of breath": Habits(short_breath=0.75),
    "plays through breaths": Habits(forgotten_breaths=1.0),
    "breathes late": Habits(late_breaths=2.0),
    "student": Habits(
        sharp_top_cents=24.0,
        break_late_ms=45.0,
        uneven_ms=12.0,
        weak_back_db=6.0,
        late_back_ms=18.0,
    ),
}
"""Players for demonstrations and tests; `planted` names what is in each."""
