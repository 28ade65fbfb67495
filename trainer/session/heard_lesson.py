"""A recording of a lesson or of practice: which rounds of a routine are in it, and where.

The recording is heard twice: told nothing, for where each line of the day is played from beginning
to end; and each such place once more, told the line. Lines that share their notes are told apart by
their lengths, rounds of one exercise by how the notes start; where neither tells, all are named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from fractions import Fraction

import numpy as np

from trainer.coach.judge import judge
from trainer.coach.lone_misses import with_doubt
from trainer.coach.marks import Marks
from trainer.ear.alignment.line_fit import fits, wrong_share
from trainer.ear.alignment.line_places import (
    FEWEST_NOTES,
    Line,
    LinePlace,
    line_of,
    places_of,
    runs_of,
)
from trainer.ear.analysis.stretches import spans
from trainer.ear.hear import hear
from trainer.ear.heard import Take
from trainer.ear.long_take import Progress, sounds_in
from trainer.ear.segments.note_segment import NoteSegment
from trainer.figures.own_line import own_line
from trainer.journal.log import RoundLog
from trainer.music.instrument import Instrument
from trainer.music.note import Note, Start
from trainer.music.pulse import timed
from trainer.music.tuning import Tuning
from trainer.routine.plan import PlannedExercise, at_tempo
from trainer.routine.round import Round
from trainer.session.accompaniment import as_sounding
from trainer.session.round_log import round_log
from trainer.sound.port import Samples

BEFORE_S, AFTER_S = 0.5, 0.8
"""So much around a round is heard with it, where nothing else sounds there."""
RIVAL_SHARE = 0.9
"""A line that answers for so much of the sounds another one answers for is weighed beside it."""
AS_GOOD = 0.05
"""Lines whose faults differ by less, as a share of the notes, can't be told apart."""
STARTS_FIT, STARTS_TELL = 0.7, 0.15
"""An articulation is named where so many of the judged starts are its own, and so many more than
another's. Our own estimates."""
FEWEST_STARTS = 6
"""Fewer judged starts name no articulation."""


@dataclass(frozen=True)
class FoundRound:
    """A round of the routine that is in the recording."""

    begins_s: float
    """Its first note, from the recording's beginning."""
    ends_s: float
    rounds: tuple[Round, ...]
    """Written, at the tempo played: every one it may be, by exercise and articulation."""
    take: Take
    """Its notes; times from a moment before the first."""

    @property
    def exercise_ids(self) -> tuple[str, ...]:
        """More than one where they share their notes."""
        return tuple(dict.fromkeys(round_.exercise_id for round_ in self.rounds))


@dataclass(frozen=True)
class _Asked:
    """Rounds of the day with the same notes in the same lengths."""

    notes: tuple[Note, ...]
    """As they sound, evenly timed."""
    line: Line
    rounds: tuple[Round, ...]

    @property
    def tuning(self) -> Tuning:
        return self.rounds[0].tuning


@dataclass(frozen=True)
class _Place:
    asked: _Asked
    place: LinePlace

    @property
    def answered(self) -> float:
        """How many notes of its line the sounds answer."""
        return self.asked.line.midi.size * (1 - 2 * self.place.wrong)


def too_short(planned: Sequence[PlannedExercise]) -> tuple[str, ...]:
    """Exercises with so few notes that they are never looked for."""
    return tuple(
        exercise.id
        for exercise in planned
        if exercise.rounds
        and not any(
            round_.in_time and line_of(round_.notes).midi.size >= FEWEST_NOTES
            for round_ in exercise.rounds
        )
    )


def find_rounds(
    planned: Sequence[PlannedExercise],
    instrument: Instrument,
    read: Callable[[], Iterable[Samples]],
    sample_rate_hz: int,
    progress: Progress,
) -> tuple[FoundRound, ...]:
    """The rounds in a recording, in order.

    read: the sound from its beginning, in blocks of shape (samples,).
    """
    asked = _asked(planned, instrument)
    if not asked:
        return ()
    runs = runs_of(sounds_in(read(), sample_rate_hz, asked[0].tuning, progress))
    contests = _contests(
        [_Place(one, place) for one in asked for place in places_of(runs, one.line)]
    )
    wanted_s = [_around(runs, contest[0].place) for contest in contests]
    found = []
    for contest, (from_s, _), sound in zip(
        contests, wanted_s, spans(read(), sample_rate_hz, wanted_s), strict=True
    ):
        place = contest[0].place
        begins_s, ends_s = runs[place.first].from_s, runs[place.last].to_s
        weighed = _weighed(contest, runs, sound, sample_rate_hz)
        if weighed is not None:
            found.append(FoundRound(begins_s, ends_s, *weighed))
        progress(from_s)
    return tuple(found)


def _asked(planned: Sequence[PlannedExercise], instrument: Instrument) -> list[_Asked]:
    """The lines of the day that are long enough to be known again."""
    by_notes: dict[tuple[tuple[int, Fraction], ...], list[tuple[Round, tuple[Note, ...]]]] = {}
    for exercise in planned:
        for round_ in exercise.rounds:
            if not round_.in_time:
                continue
            notes = timed(as_sounding(round_.notes, round_, instrument), round_.pace)
            unit = notes[-1].beat - notes[0].beat or Fraction(1)
            key = tuple((note.pitch.midi, (note.beat - notes[0].beat) / unit) for note in notes)
            by_notes.setdefault(key, []).append((round_, notes))
    lines = (
        _Asked(same[0][1], line_of(same[0][1]), tuple(round_ for round_, _ in same))
        for same in by_notes.values()
    )
    return [one for one in lines if one.line.midi.size >= FEWEST_NOTES]


def _contests(places: Sequence[_Place]) -> list[list[_Place]]:
    """For each stretch of sounds the lines it may be, the likeliest first; in order of time."""
    contests: list[list[_Place]] = []
    for place in sorted(places, key=lambda one: -one.answered):
        over = next((one for one in contests if _overlap(one[0].place, place.place)), None)
        if over is None:
            contests.append([place])
        elif place.answered >= RIVAL_SHARE * over[0].answered:
            over.append(place)
    return sorted(contests, key=lambda one: one[0].place.first)


def _overlap(one: LinePlace, other: LinePlace) -> bool:
    return one.first <= other.last and other.first <= one.last


def _around(runs: Sequence[NoteSegment], place: LinePlace) -> tuple[float, float]:
    """The round with what is quiet around it, from and to in seconds."""
    from_s, to_s = runs[place.first].from_s - BEFORE_S, runs[place.last].to_s + AFTER_S
    if place.first > 0:
        from_s = max(from_s, runs[place.first - 1].to_s)
    if place.last + 1 < len(runs):
        to_s = min(to_s, runs[place.last + 1].from_s)
    return max(0.0, from_s), to_s


def _weighed(
    contest: Sequence[_Place], runs: Sequence[NoteSegment], sound: Samples, sample_rate_hz: int
) -> tuple[tuple[Round, ...], Take] | None:
    """The rounds that fit about as well as the best one, at the tempo played, and its take; None
    where none fits."""
    heard = []
    for one in contest:
        bpm = _tempo(one, runs)
        take = hear(sound, sample_rate_hz, one.asked.notes, bpm, one.asked.tuning, None)
        if fits(one.asked.notes, take):
            heard.append((_misfit(one.asked.notes, take), bpm, one.asked, take))
    if not heard:
        return None
    least, _, _, best_take = min(heard, key=lambda each: each[0])
    rounds = (
        at_tempo(round_, float(round(bpm)), round_.number)
        for misfit, bpm, asked, take in heard
        if misfit <= least + AS_GOOD
        for round_ in _as_started(asked.rounds, take)
    )
    return tuple(rounds), best_take


def _tempo(one: _Place, runs: Sequence[NoteSegment]) -> float:
    """Beats a minute from the first to the last note of the line."""
    seconds = runs[one.place.last].from_s - runs[one.place.first].from_s
    return 60.0 * float(one.asked.line.beats[-1]) / max(seconds, 0.1)


def _misfit(notes: Sequence[Note], take: Take) -> float:
    """Faults and unevenness against the line, each as a share of a note."""
    placed = [
        (float(notes[note.index].beat), note.onset_s)
        for note in take.expected_notes
        if note.index is not None and note.onset_s is not None
    ]
    line = own_line([beat for beat, _ in placed], [onset_s for _, onset_s in placed])
    length = float(np.median([float(note.length) for note in notes]))
    uneven = 1.0 if line is None else line.spread_s / (length * line.beat_s)
    return wrong_share(notes, take) + uneven


def _as_started(rounds: Sequence[Round], take: Take) -> list[Round]:
    """Of each exercise the rounds whose notes start as they were heard to; all where that is not
    clear."""
    fits = [_starts_fit(round_, take) for round_ in rounds]
    kept = []
    for round_, fit in zip(rounds, fits, strict=True):
        rivals = [
            other
            for one, other in zip(rounds, fits, strict=True)
            if one.exercise_id == round_.exercise_id and other is not None
        ]
        best = max(rivals, default=0.0)
        if fit is None or best < STARTS_FIT or fit > best - STARTS_TELL:
            kept.append(round_)
    return kept


def _starts_fit(round_: Round, take: Take) -> float | None:
    """The share of judged starts that are as the round asks; None where too few were judged."""
    judged = [
        _by_sound(note.start) is _by_sound(round_.notes[note.index].start)
        for note in take.expected_notes
        if note.index is not None and note.start is not None and note.index > 0
    ]
    return sum(judged) / len(judged) if len(judged) >= FEWEST_STARTS else None


def _by_sound(start: Start) -> Start:
    """By sound alone a back stroke is a stroke."""
    return Start.TONGUED if start is Start.BACK_TONGUED else start


def heard_logs(
    found: Sequence[FoundRound], first_moment: datetime, file_name: str
) -> Iterator[RoundLog]:
    """The rounds for the journal where the exercise is certain, as heard from a file; of
    articulations that can't be told apart the first. They are judged one after the other, as the
    rounds of a session are.

    first_moment: when the recording began. The colour of the tone is left out: it is comparable
    only within one microphone.
    """
    judged: list[Marks] = []
    for one in found:
        if len(one.exercise_ids) > 1:
            continue
        round_ = one.rounds[0]
        take = replace(one.take, notes=tuple(replace(note, tone=None) for note in one.take.notes))
        judged.append(judge(round_, take))
        take, (*_, marks) = with_doubt(take, judged)
        log = round_log(
            round_,
            (take, marks),
            advice_sentence="",
            topic=None,
            started=first_moment + timedelta(seconds=one.begins_s),
            seconds=one.ends_s - one.begins_s,
        )
        yield replace(log, heard_from=file_name)
