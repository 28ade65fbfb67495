"""Marks: what each note of a round did against what was asked of it, and the round as a whole."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from trainer.coach import thresholds
from trainer.coach.curves import Pulse, Swelling
from trainer.ear.heard import Tone
from trainer.figures.round_figures import clean_share
from trainer.figures.round_measures import RoundMeasures
from trainer.music.articulations import AnyArticulation
from trainer.music.note import Articulation, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import AS_IT_COMES, Manner, RoundKind

NO_MEASURES = RoundMeasures(0, 0, 0)


@dataclass(frozen=True)
class NoteMark:
    """What became of one expected note."""

    index: int
    written: Pitch
    asked_start: Start
    group_place: int
    """Place inside its beat, from 0; sixteenths run 0 1 2 3."""
    judged: bool
    """False: the sound was lost or unclear here; nothing below counts, but what `doubted` says."""
    missed: bool = False
    """Not heard, and nothing else in its place."""
    wrong: Pitch | None = None
    """Written pitch of the note that sounded in its place."""
    blip: bool = False
    cents: float | None = None
    out_of_tune: bool = False
    """Beyond the teacher's aim in cents; False where no aim is given."""
    off_ms: float | None = None
    """Off the beat: onset against the player's own line, late positive (`figures.onset_places`)."""
    from_lines_ms: tuple[float, ...] = ()
    """Off the line of the strokes and off that of the speaking; where the onset wasn't sure, so
    that `off_ms` is None, no later than this. Empty where it can have no place."""
    tone_late_ms: float | None = None
    """How much later its tone came than the others' (`OnsetPlaces.tone_late_ms`)."""
    late: bool = False
    early: bool = False
    seconds: float | None = None
    """How long it sounded."""
    drift_cents: float | None = None
    """Pitch at the end against the beginning."""
    level_db: float | None = None
    heard_start: Start | None = None
    attack_s: float | None = None
    speaking_s: float | None = None
    """From the stroke until its tone stands, less what the room takes to fill with it."""
    gap_over_s: float = 0.0
    """How much longer than the round's usual one the gap before its tone was, as far as known."""
    tone: Tone | None = None
    hiss_db: float | None = None
    """Noise of the air between its harmonics, dBFS."""
    pattern_place: int | None = None
    """Place in the articulation pattern, from 0; None where the round has none."""
    harmonic: bool = False
    """Asked for as a harmonic of a lower fingering."""
    waited_s: float | None = None
    """Out of time: how long it took to stand; None elsewhere, and where it never stood."""
    first_cents: float | None = None
    """Out of time: where it began, before it could be mended."""
    pulse: Pulse | None = None
    """On a held note."""
    swelling: Swelling | None = None
    """On a held note."""

    @property
    def clean(self) -> bool:
        """Played, right, and without a blip."""
        return self.judged and not self.missed and self.wrong is None and not self.blip

    @property
    def doubted(self) -> bool:
        """Not heard, and as likely lost by the ear as by the player (`lone_misses`)."""
        return self.missed and not self.judged

    @property
    def troubled(self) -> bool:
        """Something went wrong in getting to this note."""
        return self.judged and (not self.clean or self.late)


class AimName(StrEnum):
    """What a teacher may ask a figure for."""

    CLEAN = "clean notes"
    EVENNESS = "evenness"
    CENTS = "tuning"


@dataclass(frozen=True)
class AimMark:
    """One aim and what was heard of it."""

    name: AimName
    asked: float
    """Share of notes, milliseconds or cents, as the aim is given."""
    heard: float | None
    """In the same unit; None when too little was heard to judge."""
    met: bool | None
    """None: not judged."""


@dataclass(frozen=True)
class Marks:
    """A round judged. None wherever there was too little to measure."""

    exercise_id: str
    kind: RoundKind
    round_number: int
    articulation: AnyArticulation
    tempo_bpm: float
    """The tempo asked for."""
    notes: tuple[NoteMark, ...]
    aims: tuple[AimMark, ...]
    """One for each aim the teacher gave."""
    measures: RoundMeasures = NO_MEASURES
    """The round as a whole, as the journal keeps it."""
    came_in_beats: float | None = None
    """`take_measures.came_in_beats`; None for a round out of time."""
    tempo_change: float | None = None
    """Tempo of the end against the beginning as a share: 0.03 is 3 % faster."""
    tempo_error: float = 0.0
    """Standard error of the tempo, as a share."""
    tempo_change_error: float = 0.0
    spread_ms: float | None = None
    """As `measures.evenness_ms` without the outliers: what this player's ordinary notes do."""
    extras: int = 0
    """Sounded notes nobody asked for, not counting those in the place of another."""
    moved_by: int | None = None
    """Semitones by which the whole line sounded higher than asked for; None elsewhere."""
    went_back_after: tuple[int, ...] = ()
    """Notes after which some of those before were played again, and then the line went on."""
    unplanned_breaths: tuple[int, ...] = ()
    """Notes after which a breath was heard where none was planned."""
    stops: tuple[int, ...] = ()
    """Notes after which the line stood still: a breath in a room that rings, or a stumble."""
    breaths_left_out: tuple[int, ...] = ()
    """Notes after which the teacher asked for a breath, and the player went on without one."""
    warnings: tuple[str, ...] = ()
    """What was wrong with the sound itself."""
    manner: Manner = AS_IT_COMES
    """What was asked of the sound."""

    @property
    def blurred(self) -> bool:
        """Started by breath alone: each onset is too soft for its place to be judged."""
        return self.articulation is Articulation.AIR_ONLY

    @property
    def rung_over(self) -> bool:
        """So much else sounds, as in a hall, that strokes are heard late."""
        noise_db = [note.tone.noise_share_db for note in self.heard if note.tone is not None]
        return bool(noise_db) and median(noise_db) > thresholds.RUNG_OVER_DB

    @property
    def judged(self) -> tuple[NoteMark, ...]:
        """The notes that count."""
        return tuple(note for note in self.notes if note.judged)

    @property
    def heard(self) -> tuple[NoteMark, ...]:
        """The notes that were played, right or wrong."""
        return tuple(note for note in self.judged if not note.missed)

    @property
    def clean_share(self) -> float | None:
        """Clean notes among those judged, 0 to 1; None where too few were."""
        return clean_share([note.clean for note in self.judged], len(self.notes))

    @property
    def note_ms(self) -> float:
        """Length of the round's shortest notes as asked, 1000 ms for a second."""
        places = 1 + max(note.group_place for note in self.notes)
        return 60_000 / self.tempo_bpm / places

    @property
    def evenness_limit_ms(self) -> float:
        """The teacher's aim, or our own line where there is none."""
        asked = [aim.asked for aim in self.aims if aim.name is AimName.EVENNESS]
        if asked:
            return asked[0]
        return max(thresholds.UNEVEN_MS, thresholds.UNEVEN_SHARE * self.note_ms)

    @property
    def aims_met(self) -> bool | None:
        """True when every judged aim is met; None when none was judged."""
        met = [aim.met for aim in self.aims if aim.met is not None]
        return all(met) if met else None
