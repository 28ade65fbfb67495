"""From what was heard to marks: what each note did against what was asked of it.

Only what could be judged counts: a note the ear calls NOT_JUDGED, and every figure that is None,
stays out of each sum. Places in time are measured from the player's own line, never from the click,
so that neither a constant lead (Repp 2005, Psychon Bull Rev 12:969) nor the delay of the sound card
is ever called an error.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from types import MappingProxyType

import numpy as np

from trainer.coach import thresholds
from trainer.coach.breaths import breaths_left_out, stops, unplanned_breaths
from trainer.coach.curves import Curve
from trainer.coach.heard_spelling import written
from trainer.coach.marks import AimMark, AimName, Marks, NoteMark
from trainer.coach.tempo_line import OwnLine, own_line
from trainer.ear.heard import HeardNote, State, Take
from trainer.music.note import Articulation, Note, Start
from trainer.routine.round import Round

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
    stopped = tuple(stops(round_, take, unplanned))
    placed, line = _placed(round_, notes, heard, (*unplanned, *stopped))
    placed = tuple(
        replace(mark, late=True) if mark.index - 1 in stopped and mark.judged else mark
        for mark in placed
    )
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
        stops=stopped,
        breaths_left_out=tuple(breaths_left_out(round_, take)),
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
    spoken of as a breath. Nor has one that the louder note before it drowns: in a room that one
    rings on, and the softer one is heard only when it has died away.
    """
    after_breath = {note.index + 1 for note in round_.notes if note.breath_after}
    after_breath |= {index + 1 for index in unplanned}
    drowned = {mark.index for before, mark in pairwise(notes) if _drowned(before, mark)}
    placed = [
        heard[mark.index]
        for mark in notes
        if mark.judged and mark.wrong is None and mark.index not in after_breath | drowned
        if heard[mark.index].onset_s is not None
    ]
    beats = {note.index: float(note.beat) for note in round_.notes}
    line = _evener_line(
        [beats[note.index] for note in placed if note.index is not None],
        placed,
        [beats[index] for index in sorted(after_breath) if index in beats],
    )
    if line is None:
        return tuple(notes), None
    indices = [note.index for note in placed]
    off_ms = dict(zip(indices, (1000 * line.off_s).tolist(), strict=True))
    limit = max(thresholds.LATE_MS, thresholds.LATE_SPREADS * 1000 * line.spread_s)
    return tuple(_at(mark, off_ms.get(mark.index), limit) for mark in notes), line


def _evener_line(
    beats: Sequence[float], placed: Sequence[HeardNote], after_breath: Sequence[float]
) -> OwnLine | None:
    """The player's own line through the strokes or through the places where the notes speak,
    whichever is the more even: who lays either in time plays evenly, and how long a note takes from
    one to the other is another matter."""
    strokes = own_line(beats, [note.onset_s or 0.0 for note in placed], after_breath)
    speaking = own_line(beats, [note.sounds_s or 0.0 for note in placed], after_breath)
    if strokes is None or speaking is None:
        return strokes
    return min(strokes, speaking, key=lambda line: line.spread_s)


def _drowned(before: NoteMark, mark: NoteMark) -> bool:
    if before.level_db is None or mark.level_db is None:
        return False
    return before.level_db - mark.level_db >= thresholds.DROWNED_DB


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
