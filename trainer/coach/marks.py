"""From what was heard to marks: what each note did against what was asked of it.

Only what could be judged counts: a note the ear calls NOT_JUDGED, and every figure that is None,
stays out of each sum. Places in time are measured from the player's own line, never from the click,
so that neither a constant lead (Repp 2005, Psychon Bull Rev 12:969) nor the delay of the sound card
is ever called an error.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType

import numpy as np

from trainer.coach import thresholds
from trainer.coach.breaths import unplanned_breaths
from trainer.coach.curves import Curve, Pulse, Swelling
from trainer.coach.line import OwnLine, own_line
from trainer.coach.spelling import written
from trainer.ear.heard import HeardNote, State, Take, Tone
from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import AS_IT_COMES, Manner, Round, RoundKind


@dataclass(frozen=True)
class NoteMark:
    """What became of one expected note."""

    index: int
    written: Pitch
    asked_start: Start
    group_place: int
    """Place inside its beat, from 0; sixteenths run 0 1 2 3."""
    judged: bool
    """False: the sound was lost or unclear here; nothing below counts."""
    missed: bool = False
    """Not heard, and nothing else in its place."""
    wrong: Pitch | None = None
    """Written pitch of the note that sounded in its place."""
    blip: bool = False
    cents: float | None = None
    out_of_tune: bool = False
    """Beyond the teacher's aim in cents; False where no aim is given."""
    off_ms: float | None = None
    """Onset against the player's own line; late is positive."""
    late: bool = False
    early: bool = False
    seconds: float | None = None
    """How long it sounded."""
    drift_cents: float | None = None
    """Pitch at the end against the beginning."""
    level_db: float | None = None
    heard_start: Start | None = None
    attack_s: float | None = None
    tone: Tone | None = None
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
    articulation: Articulation
    tempo_bpm: float
    """The tempo asked for."""
    notes: tuple[NoteMark, ...]
    aims: tuple[AimMark, ...]
    """One for each aim the teacher gave."""
    lead_ms: float | None = None
    """Median of onset minus beat, early negative; shown, never judged."""
    played_bpm: float | None = None
    """Tempo actually played, at the middle of the round."""
    tempo_change: float | None = None
    """Tempo of the end against the beginning as a share: 0.03 is 3 % faster."""
    tempo_error: float = 0.0
    """Standard error of the tempo, as a share."""
    tempo_change_error: float = 0.0
    evenness_ms: float | None = None
    """Standard deviation of the onsets about the player's own line."""
    spread_ms: float | None = None
    """The same without the outliers: what this player's ordinary notes do."""
    cents_median: float | None = None
    extras: int = 0
    """Sounded notes nobody asked for, not counting those in the place of another."""
    unplanned_breaths: tuple[int, ...] = ()
    """Notes after which a breath was heard where none was planned."""
    warnings: tuple[str, ...] = ()
    """What was wrong with the sound itself."""
    manner: Manner = AS_IT_COMES
    """What was asked of the sound."""

    @property
    def blurred(self) -> bool:
        """Started by breath alone: each onset is too soft for its place to be judged."""
        return self.articulation is Articulation.AIR_ONLY

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
        """Clean notes among those judged, 0 to 1."""
        judged = self.judged
        return sum(note.clean for note in judged) / len(judged) if judged else None

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


NO_CURVES: Mapping[int, Curve] = MappingProxyType({})


def judge(round_: Round, take: Take, curves: Mapping[int, Curve] = NO_CURVES) -> Marks:
    """Mark every expected note of a round, and the round as a whole.

    curves: what the held notes did inside, by index, where it was followed.
    """
    heard = {note.index: note for note in take.expected_notes}
    instead = {note.instead_of: note for note in take.notes if note.instead_of is not None}
    notes = tuple(
        _with_curve(
            _note_mark(round_, note, heard.get(note.index), instead.get(note.index)),
            curves.get(note.index),
        )
        for note in round_.notes
    )
    unplanned = tuple(unplanned_breaths(round_, take))
    placed, line = _placed(round_, notes, heard, unplanned)
    blur = _blur(round_, line)
    return Marks(
        exercise_id=round_.exercise_id,
        kind=round_.kind,
        round_number=round_.number,
        articulation=round_.articulation,
        tempo_bpm=round_.tempo_bpm,
        notes=placed,
        aims=tuple(_aims(round_, placed)),
        lead_ms=_lead_ms(round_, take),
        played_bpm=60.0 / line.beat_s if line else None,
        tempo_change=line.tempo_change if line else None,
        tempo_error=blur * line.tempo_error if line else 0.0,
        tempo_change_error=blur * line.tempo_change_error if line else 0.0,
        evenness_ms=_evenness_ms(placed),
        spread_ms=1000 * line.spread_s if line else None,
        cents_median=_median([note.cents for note in placed if note.cents is not None]),
        extras=sum(note.index is None and note.instead_of is None for note in take.notes),
        unplanned_breaths=unplanned,
        warnings=take.warnings,
        manner=round_.manner,
    )


def _with_curve(mark: NoteMark, curve: Curve | None) -> NoteMark:
    """The mark with what the held note did inside; a wrong or lost note has no curve."""
    if curve is None or not mark.clean:
        return mark
    return replace(mark, pulse=curve.pulse, swelling=curve.swelling)


def _note_mark(
    round_: Round, note: Note, heard: HeardNote | None, instead: HeardNote | None
) -> NoteMark:
    place = int(note.beat % 1 / min(other.length for other in round_.notes))
    mark = NoteMark(
        note.index,
        note.pitch,
        note.start,
        place,
        judged=heard is not None,
        harmonic=note.harmonic_of is not None,
    )
    if heard is None or heard.state is State.NOT_JUDGED:
        return replace(mark, judged=False)
    if (sounded_midi := _sounded_instead(heard, instead)) is not None:
        transposed = heard.expected.midi - note.pitch.midi if heard.expected is not None else 0
        return replace(mark, wrong=written(round_, sounded_midi, transposed))
    if heard.state is State.MISSED:
        return replace(mark, missed=True)
    aim = round_.aims.cents
    return replace(
        mark,
        blip=heard.blip,
        cents=heard.cents,
        out_of_tune=aim is not None and heard.cents is not None and abs(heard.cents) > aim,
        seconds=_seconds(heard),
        drift_cents=heard.drift_cents,
        level_db=heard.level_db,
        heard_start=heard.start,
        attack_s=heard.attack_s,
        tone=heard.tone,
    )


def _sounded_instead(heard: HeardNote, instead: HeardNote | None) -> float | None:
    """Fractional MIDI number of another note in this one's place; None where there was none."""
    if heard.state is State.MISSED:
        return instead.midi if instead is not None else None
    far = heard.cents is not None and abs(heard.cents) > 100 * thresholds.WRONG_SEMITONES
    return heard.midi if far else None


def _seconds(heard: HeardNote) -> float | None:
    if heard.onset_s is None or heard.end_s is None:
        return None
    return heard.end_s - heard.onset_s


def _placed(
    round_: Round,
    notes: Sequence[NoteMark],
    heard: dict[int | None, HeardNote],
    unplanned: Sequence[int],
) -> tuple[tuple[NoteMark, ...], OwnLine | None]:
    """The marks with each onset's place against the player's own line.

    A note right after a breath, planned or not, has no place: a breath may cost time, and is
    spoken of as a breath.
    """
    after_breath = {note.index + 1 for note in round_.notes if note.breath_after}
    after_breath |= {index + 1 for index in unplanned}
    onsets = {
        mark.index: onset
        for mark in notes
        if mark.judged and mark.wrong is None and mark.index not in after_breath
        if (onset := heard[mark.index].onset_s) is not None
    }
    beats = {note.index: float(note.beat) for note in round_.notes}
    line = own_line(
        [beats[index] for index in onsets],
        list(onsets.values()),
        [beats[index] for index in sorted(after_breath) if index in beats],
    )
    if line is None:
        return tuple(notes), None
    off_ms = dict(zip(onsets, (1000 * line.off_s).tolist(), strict=True))
    limit = max(thresholds.LATE_MS, thresholds.LATE_SPREADS * 1000 * line.spread_s)
    return tuple(_at(mark, off_ms.get(mark.index), limit) for mark in notes), line


def _blur(round_: Round, line: OwnLine | None) -> float:
    """How much wider the errors of the line are where notes start by breath alone."""
    if line is None or round_.articulation is not Articulation.AIR_ONLY:
        return 1.0
    return max(1.0, thresholds.BREATH_BLUR_MS / max(1.0, 1000 * line.spread_s))


def _at(mark: NoteMark, off_ms: float | None, limit_ms: float) -> NoteMark:
    if off_ms is None:
        return mark
    placed = replace(mark, off_ms=off_ms)
    if mark.asked_start is Start.BREATH:
        return placed
    return replace(placed, late=off_ms > limit_ms, early=off_ms < -limit_ms)


def _lead_ms(round_: Round, take: Take) -> float | None:
    beats = {note.index: float(note.beat) * round_.beat_s for note in round_.notes}
    return _median(
        [
            1000 * (note.onset_s - take.first_beat_s - beats[note.index])
            for note in take.expected_notes
            if note.index in beats and note.onset_s is not None
        ]
    )


def _evenness_ms(notes: Sequence[NoteMark]) -> float | None:
    off = [note.off_ms for note in notes if note.off_ms is not None]
    return float(np.std(off)) if len(off) >= thresholds.FIGURE_NOTES else None


def _aims(round_: Round, notes: Sequence[NoteMark]) -> Iterator[AimMark]:
    asked, judged = round_.aims, [note for note in notes if note.judged]
    enough = len(judged) >= thresholds.ENOUGH_SHARE * len(notes)
    if asked.clean is not None:
        share = sum(note.clean for note in judged) / len(judged) if enough and judged else None
        yield AimMark(AimName.CLEAN, asked.clean, share, _at_least(share, asked.clean))
    if asked.evenness_ms is not None:
        blurred = round_.articulation is Articulation.AIR_ONLY
        evenness = None if blurred else _evenness_ms(notes)
        yield AimMark(
            AimName.EVENNESS, asked.evenness_ms, evenness, _at_most(evenness, asked.evenness_ms)
        )
    if asked.cents is not None:
        off = [abs(note.cents) for note in notes if note.cents is not None]
        within = float(np.quantile(off, thresholds.AIM_SHARE)) if off else None
        yield AimMark(AimName.CENTS, asked.cents, within, _at_most(within, asked.cents))


def _at_least(heard: float | None, asked: float) -> bool | None:
    return None if heard is None else heard >= asked


def _at_most(heard: float | None, asked: float) -> bool | None:
    return None if heard is None else heard <= asked


def _median(values: Sequence[float]) -> float | None:
    return float(np.median(values)) if values else None
