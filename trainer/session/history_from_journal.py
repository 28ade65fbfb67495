"""What the journal remembers, in the coach's words: the way from logs to a history."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from itertools import groupby
from statistics import median

from trainer.coach.advice import Topic
from trainer.coach.history import Figures, History, OldKnot, PastDay, PastRound
from trainer.coach.last_time import figures_of
from trainer.ear.heard import State
from trainer.figures.note_figures import is_clean, is_right
from trainer.journal.log import NoteLog, RoundLog, SessionLog
from trainer.music.pitch import Pitch
from trainer.routine.round import RoundKind

_TOPICS = {topic.value: topic for topic in Topic}


def history_of(sessions: Sequence[SessionLog], today: date) -> History:
    """The history of earlier days; sessions of today and later are left out."""
    past = sorted((s for s in sessions if s.day < today), key=lambda log: log.started)
    by_day = [(day, list(logs)) for day, logs in groupby(past, key=lambda log: log.day)]
    return History(
        today=today,
        days=tuple(_past_day(day, logs) for day, logs in by_day if any(log.rounds for log in logs)),
        knots=_old_knots(by_day),
        climbed_bpm=_climbed(past),
    )


def _past_day(day: date, logs: Sequence[SessionLog]) -> PastDay:
    rounds = [round_ for log in logs for round_ in log.rounds]
    return PastDay(day, sum(log.played_s for log in logs), tuple(map(past_round, rounds)))


def past_round(log: RoundLog) -> PastRound:
    """A round of the journal as the coach remembers it."""
    return PastRound(
        log.exercise_id,
        log.kind,
        log.tempo_bpm,
        _TOPICS.get(log.topic),
        _cents(log),
        _longest_breath_s(log) if log.measures is not None else None,
        log.number,
        log.articulation,
        " ".join(note.written or "" for note in _expected(log)),
        figures=_figures(log),
        note_cents=tuple(map(_right_cents, _expected(log))),
    )


def _expected(log: RoundLog) -> list[NoteLog]:
    return [note for note in log.notes if note.state is not State.EXTRA]


def _figures(log: RoundLog) -> Figures:
    """As `coach.last_time.past_round` has them of a round of today."""
    expected = _expected(log)
    judged = [note for note in expected if note.state is not State.NOT_JUDGED]
    return figures_of(
        [is_clean(note.state, note.cents, blip=note.blip) for note in judged],
        [note.off_ms for note in expected if note.off_ms is not None],
        [cents for cents in map(_right_cents, expected) if cents is not None],
        len(expected),
    )


def _right_cents(note: NoteLog) -> float | None:
    """Of the note asked for; None of another, and where none was judged."""
    return note.cents if is_right(note.state, note.cents) else None


def _cents(log: RoundLog) -> dict[str, float]:
    found: dict[str, list[float]] = defaultdict(list)
    for note in log.notes:
        if note.written is not None and note.cents is not None:
            found[note.written].append(note.cents)
    return {written: median(cents) for written, cents in found.items()}


def _longest_breath_s(log: RoundLog) -> float:
    """The longest stretch without a breath; the round's end is one."""
    inside = [(from_s, to_s) for from_s, to_s in log.breaths_s if 0 < from_s < log.seconds]
    starts = [0.0, *(to_s for _, to_s in inside)]
    ends = [*(from_s for from_s, _ in inside), log.seconds]
    return max(end - start for start, end in zip(starts, ends, strict=True))


def _climbed(sessions: Iterable[SessionLog]) -> dict[str, float]:
    """The fastest tempo that held in the last session in which an exercise was climbed and one did:
    secure, and nothing at or below it came apart afterwards."""
    climbed: dict[str, float] = {}
    for log in sessions:
        held: dict[str, list[float]] = defaultdict(list)
        for round_ in log.rounds:
            if round_.kind is not RoundKind.CLIMB or round_.secure is None:
                continue
            before = held[round_.exercise_id]
            if round_.secure:
                before.append(round_.tempo_bpm)
            else:
                before[:] = [bpm for bpm in before if bpm < round_.tempo_bpm]
        climbed |= {name: max(tempos) for name, tempos in held.items() if tempos}
    return climbed


def _old_knots(by_day: Iterable[tuple[date, list[SessionLog]]]) -> tuple[OldKnot, ...]:
    """The knots taken out, each with the last day and how often it ended smooth."""
    knots: dict[tuple[str, tuple[Pitch, ...]], OldKnot] = {}
    for day, logs in by_day:
        for (exercise_id, pitches), smooth in _ends(logs).items():
            before = knots.get((exercise_id, pitches))
            smooth_days = (before.smooth_days if before else 0) + 1 if smooth else 0
            knots[exercise_id, pitches] = OldKnot(exercise_id, pitches, day, smooth_days)
    return tuple(knots.values())


def _ends(logs: Iterable[SessionLog]) -> dict[tuple[str, tuple[Pitch, ...]], bool]:
    """Each knot of a day, and whether its last round was smooth."""
    ends: dict[tuple[str, tuple[Pitch, ...]], bool] = {}
    for log in logs:
        for round_ in _knot_rounds(log):
            if pitches := tuple(map(Pitch.parse, round_.knot)):
                ends[round_.exercise_id, pitches] = bool(round_.secure)
    return ends


def _knot_rounds(log: SessionLog) -> Iterator[RoundLog]:
    return (round_ for round_ in log.rounds if round_.kind is RoundKind.KNOT)
