"""Wrong notes, missed notes and blips."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.finger_changes import why_hard
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.observation import Observation, by_pair, names, recent
from trainer.figures.left_out import LEFT_OUT_NOTES, left_out
from trainer.music.pitch import Pitch


def in_notes(marks: Marks, earlier: Sequence[Marks]) -> Iterator[Observation]:
    """Notes that keep coming out wrong or not at all, and false notes between two fingerings."""
    rounds = recent(marks, earlier)
    habits = list(_wrong_habits(marks, rounds))
    yield from habits
    if not habits:
        yield from _stopped(marks)
        yield from _left_out(marks)
        yield from _went_back(marks)
        yield from _scattered(marks)
    yield from _blips(marks, rounds)


def _wrong_habits(marks: Marks, rounds: Sequence[Marks]) -> Iterator[Observation]:
    """The same named note taken for the same other one, in each octave in which it was so."""
    met = Counter(note.written.midi for other in rounds for note in other.judged)
    taken: dict[tuple[str, int], list[NoteMark]] = defaultdict(list)
    for other in rounds:
        for note in other.judged:
            if note.wrong is not None:
                taken[note.written.name, note.wrong.midi - note.written.midi].append(note)
    for (name, shift), notes in taken.items():
        here = [note for note in _wrong(marks) if _shift(note) == shift]
        here = [note for note in here if note.written.name == name]
        times, chances = len(notes), sum(met[midi] for midi in {n.written.midi for n in notes})
        if here and times >= thresholds.HABIT_TIMES and times >= thresholds.HABIT_RATE * chances:
            yield Observation(
                Topic.NOTES,
                times / thresholds.HABIT_TIMES,
                (f"{_where(here)}: {times} of {chances} times another note, {shift:+d} semitones",),
                tuple(note.index for note in here),
                frm=here[0].written,
                to=here[0].wrong,
                times=times,
                chances=chances,
            )


def _stopped(marks: Marks) -> Iterator[Observation]:
    """Nothing more was heard from some note on: a fact, not a fault."""
    last = max((note.index for note in marks.heard), default=-1)
    rest = [note for note in marks.judged if note.index > last]
    if last >= 0 and len(rest) >= LEFT_OUT_NOTES:
        yield Observation(
            Topic.NOTES,
            len(rest) / LEFT_OUT_NOTES,
            (f"the last {len(rest)} of {len(marks.judged)} notes were not heard",),
            tuple(note.index for note in rest),
            frm=marks.notes[last].written,
            times=len(rest),
            chances=len(marks.judged),
            detail="stopped",
        )


def _left_out(marks: Marks) -> Iterator[Observation]:
    """Nothing was heard for some notes, and then the line went on: a fact, not a fault."""
    for run in _runs_left_out(marks):
        yield Observation(
            Topic.NOTES,
            len(run) / LEFT_OUT_NOTES,
            (f"{len(run)} of {len(marks.notes)} notes in a row were not heard",),
            tuple(marks.notes[place].index for place in run),
            frm=marks.notes[run.start - 1].written if run.start else None,
            to=marks.notes[run.stop].written,
            times=len(run),
            chances=len(marks.notes),
            detail="left out",
        )


def _runs_left_out(marks: Marks) -> list[range]:
    """Stretches left out, most of whose notes are surely not the ear's."""
    heard = {note.index for note in marks.heard}
    runs = left_out([note.index in heard for note in marks.notes])
    return [
        run
        for run in runs
        if sum(marks.notes[place].judged for place in run) >= max(LEFT_OUT_NOTES, len(run) / 2)
    ]


def _went_back(marks: Marks) -> Iterator[Observation]:
    """Some of the line was played again before it went on: a fact, not a fault."""
    if after := marks.went_back_after:
        yield Observation(
            Topic.NOTES,
            float(len(after)),
            tuple(f"played again up to {marks.notes[index].written}" for index in after),
            after,
            frm=marks.notes[after[0]].written,
            times=len(after),
            detail="went back",
        )


def _scattered(marks: Marks) -> Iterator[Observation]:
    last = max((note.index for note in marks.heard), default=-1)
    lost = [note for note in marks.judged if note.missed or note.wrong is not None]
    skipped = {marks.notes[place].index for run in _runs_left_out(marks) for place in run}
    lost = [note for note in lost if note.index < last and note.index not in skipped]
    enough = max(thresholds.LOST_TIMES, thresholds.LOST_NOTES_SHARE * len(marks.notes))
    if len(lost) >= enough:
        missed = sum(note.missed for note in lost)
        yield Observation(
            Topic.NOTES,
            len(lost) / enough,
            (f"{missed} not heard, {len(lost) - missed} wrong, of {len(marks.judged)}",),
            tuple(note.index for note in lost),
            times=len(lost),
            chances=len(marks.judged),
            detail=names(note.written for note in lost),
        )


def _blips(marks: Marks, rounds: Sequence[Marks]) -> Iterator[Observation]:
    found = False
    for steps in by_pair(rounds).values():
        blips = [step for step in steps if step.to.blip]
        now = [step for step in blips if step.now]
        times, chances = len(blips), len(steps)
        if now and times >= thresholds.HABIT_TIMES and times >= thresholds.HABIT_RATE * chances:
            found = True
            frm, to = now[0].frm.written, now[0].to.written
            yield Observation(
                Topic.BLIP,
                times / thresholds.HABIT_TIMES,
                (f"{frm}–{to}: a false note between them {times} of {chances} times",),
                tuple(sorted({index for step in now for index in (step.frm.index, step.to.index)})),
                frm=frm,
                to=to,
                times=times,
                chances=chances,
                detail=why_hard(frm, to) or "",
            )
    here = [note for note in marks.judged if note.blip]
    if not found and len(here) >= thresholds.SCATTERED_TIMES:
        yield _many_blips(marks, here)


def _many_blips(marks: Marks, notes: Sequence[NoteMark]) -> Observation:
    return Observation(
        Topic.BLIP,
        len(notes) / thresholds.SCATTERED_TIMES,
        (f"false notes before {len(notes)} of {len(marks.judged)} notes",),
        tuple(note.index for note in notes),
        times=len(notes),
        chances=len(marks.judged),
        detail=names(note.written for note in notes),
    )


def _wrong(marks: Marks) -> list[NoteMark]:
    return [note for note in marks.judged if note.wrong is not None]


def _shift(note: NoteMark) -> int:
    wrong: Pitch = note.wrong or note.written
    return wrong.midi - note.written.midi


def _where(notes: Sequence[NoteMark]) -> str:
    return names(note.written for note in notes)
