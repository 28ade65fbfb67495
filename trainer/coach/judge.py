"""From what was heard to marks: what each note did against what was asked of it.

Only what could be judged counts: a note the ear calls NOT_JUDGED, and every figure that is None,
stays out of each sum. The figures themselves are counted in `trainer.figures`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import log2
from statistics import median
from types import MappingProxyType

from trainer.coach import thresholds
from trainer.coach.curves import Curve
from trainer.coach.heard_spelling import NamesByKey, names_by_key, written
from trainer.coach.line_played import moved_by, went_back_after
from trainer.coach.marks import AimMark, AimName, Marks, NoteMark
from trainer.ear.heard import HeardNote, State, Take
from trainer.figures.breaths import breaths_left_out
from trainer.figures.note_figures import is_far_off, late_limit_ms
from trainer.figures.onset_places import OnsetPlaces, onset_places
from trainer.figures.own_line import OwnLine
from trainer.figures.round_figures import clean_share, within_cents
from trainer.figures.round_measures import RoundMeasures
from trainer.figures.take_measures import came_in_beats, take_measures
from trainer.music.articulations import ArticulationPattern, pattern_places
from trainer.music.note import Articulation, Note, Start
from trainer.music.pulse import timed
from trainer.routine.round import Round

NO_CURVES: Mapping[int, Curve] = MappingProxyType({})


def judge(round_: Round, take: Take, curves: Mapping[int, Curve] = NO_CURVES) -> Marks:
    """Mark every expected note of a round, as it is written, and the round as a whole.

    What is measured in time knows one tempo: there its notes stand where they are due.
    curves: what the held notes did inside, by index, where it was followed.
    """
    heard = {note.index: note for note in take.expected_notes}
    instead = {note.instead_of: note for note in take.notes if note.instead_of is not None}
    fills_s = 0.0 if take.room is None else take.room.fills_s
    names = names_by_key(round_)
    due = replace(round_, notes=timed(round_.notes, round_.pace))
    notes = tuple(
        replace(
            _with_curve(
                _note_mark(
                    round_, note, heard.get(note.index), instead.get(note.index), fills_s, names
                ),
                curves.get(note.index),
            ),
            pattern_place=place,
        )
        for note, place in zip(round_.notes, _pattern_places(round_), strict=True)
    )
    places = onset_places(due.notes, take, in_time=round_.in_time)
    measures = take_measures(due.notes, take, round_.beat_s, places)
    placed = tuple(
        replace(mark, late=True) if mark.index - 1 in places.stops and mark.judged else mark
        for mark in _with_gaps(_placed(notes, places), heard)
    )
    line = places.line
    blur = _blur(round_, line)
    return Marks(
        exercise_id=round_.exercise_id,
        kind=round_.kind,
        round_number=round_.number,
        articulation=round_.articulation,
        tempo_bpm=round_.tempo_bpm,
        notes=placed,
        aims=tuple(_aims(round_, placed, measures)),
        measures=measures,
        came_in_beats=came_in_beats(due.notes, take, round_.beat_s) if round_.in_time else None,
        tempo_change=places.tempo_change,
        tempo_error=blur * line.tempo_error if line else 0.0,
        tempo_change_error=blur * places.tempo_change_error,
        spread_ms=1000 * line.spread_s if line else None,
        extras=sum(note.index is None and note.instead_of is None for note in take.notes),
        moved_by=moved_by(take),
        went_back_after=went_back_after(take),
        unplanned_breaths=places.unplanned_breaths,
        stops=places.stops,
        breaths_left_out=tuple(breaths_left_out(due, take)),
        warnings=take.warnings,
        manner=round_.manner,
    )


def _pattern_places(round_: Round) -> Sequence[int | None]:
    if isinstance(round_.articulation, ArticulationPattern):
        return pattern_places(round_.notes, round_.articulation)
    return [None] * len(round_.notes)


def _with_curve(mark: NoteMark, curve: Curve | None) -> NoteMark:
    """The mark with what the held note did inside; a wrong or lost note has no curve."""
    if curve is None or not mark.clean:
        return mark
    return replace(mark, pulse=curve.pulse, swelling=curve.swelling)


def _note_mark(
    round_: Round,
    note: Note,
    heard: HeardNote | None,
    instead: HeardNote | None,
    fills_s: float,
    names: NamesByKey,
) -> NoteMark:
    """fills_s: how much later the room lets a tone grow; that is not the player's delay."""
    bar = round_.bars.at(note.beat)
    in_beat = (note.beat - bar.begins) % bar.beat
    place = int(in_beat / min(other.length for other in round_.notes))
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
        return replace(mark, wrong=written(round(sounded_midi) - transposed, bar.key, names))
    if heard.state is State.MISSED:
        return replace(mark, missed=True)
    aim, cents = round_.aims.cents, _cents(note, heard)
    return replace(
        mark,
        blip=heard.blip,
        cents=cents,
        out_of_tune=aim is not None and cents is not None and abs(cents) > aim,
        seconds=_seconds(heard),
        drift_cents=heard.drift_cents,
        level_db=heard.level_db,
        heard_start=heard.start,
        attack_s=heard.attack_s,
        speaking_s=_speaking_s(heard, fills_s),
        tone=heard.tone,
        hiss_db=heard.hiss_db,
    )


def _cents(note: Note, heard: HeardNote) -> float | None:
    """Against where it should stand: for a harmonic its place in the harmonic series, which the
    fifth leaves tempered notes by 14 cents (1200 log2 of the partial)."""
    if heard.cents is None or note.harmonic_of is None:
        return heard.cents
    semitones = note.pitch.midi - note.harmonic_of.midi
    partial = round(2 ** (semitones / 12))
    return heard.cents - (1200 * log2(partial) - 100 * semitones)


def _sounded_instead(heard: HeardNote, instead: HeardNote | None) -> float | None:
    """Fractional MIDI number of another note in this one's place; None where there was none."""
    if heard.state is State.MISSED:
        return instead.midi if instead is not None else None
    return heard.midi if is_far_off(heard.cents) else None


def _seconds(heard: HeardNote) -> float | None:
    if heard.onset_s is None or heard.end_s is None:
        return None
    return heard.end_s - heard.onset_s


def _speaking_s(heard: HeardNote, fills_s: float) -> float | None:
    if heard.onset_s is None or heard.speaks_s is None or not heard.onset_sure:
        return None
    return max(0.0, heard.speaks_s - heard.onset_s - fills_s)


def _placed(notes: Sequence[NoteMark], places: OnsetPlaces) -> tuple[NoteMark, ...]:
    """The marks with their places in time, and which of these are late or early."""
    if places.line is None:
        return tuple(notes)
    limit = late_limit_ms(1000 * places.line.spread_s)
    return tuple(
        replace(
            _at(mark, places.off_ms.get(mark.index), limit),
            from_lines_ms=places.from_lines_ms.get(mark.index, ()),
            tone_late_ms=places.tone_late_ms.get(mark.index),
        )
        for mark in notes
    )


def _with_gaps(notes: Sequence[NoteMark], heard: Mapping[int | None, HeardNote]) -> list[NoteMark]:
    """The marks with how much longer than usual the gaps before them were."""
    gaps_s = {index: note.gap_s for index, note in heard.items() if note.gap_s is not None}
    usual_s = median(gaps_s.values()) if gaps_s else 0.0
    return [
        replace(mark, gap_over_s=gaps_s[mark.index] - usual_s) if mark.index in gaps_s else mark
        for mark in notes
    ]


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


def _aims(round_: Round, notes: Sequence[NoteMark], measures: RoundMeasures) -> Iterator[AimMark]:
    asked = round_.aims
    if asked.clean is not None:
        yield clean_aim(asked.clean, notes)
    if asked.evenness_ms is not None:
        blurred = round_.articulation is Articulation.AIR_ONLY
        evenness = None if blurred else measures.evenness_ms
        yield AimMark(
            AimName.EVENNESS, asked.evenness_ms, evenness, _at_most(evenness, asked.evenness_ms)
        )
    if asked.cents is not None:
        within = within_cents([note.cents for note in notes if note.cents is not None])
        yield AimMark(AimName.CENTS, asked.cents, within, _at_most(within, asked.cents))


def clean_aim(asked: float, notes: Sequence[NoteMark]) -> AimMark:
    """How the notes stand to the share that should be clean."""
    share = clean_share([note.clean for note in notes if note.judged], len(notes))
    return AimMark(AimName.CLEAN, asked, share, _at_least(share, asked))


def _at_least(heard: float | None, asked: float) -> bool | None:
    return None if heard is None else heard >= asked


def _at_most(heard: float | None, asked: float) -> bool | None:
    return None if heard is None else heard <= asked
