"""Whatever the ear says, the coach has an answer: no take makes it fall over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trainer.coach.advice import Topic
from trainer.coach.breakdown import breakdown
from trainer.coach.climb import after_round, begin
from trainer.coach.judge import judge
from trainer.coach.knots import knots_in
from trainer.coach.ladder import TempoLadder
from trainer.coach.marks import Marks
from trainer.coach.next_step import propose
from trainer.coach.words import advise
from trainer.ear.heard import HeardNote, State, Take, Tone
from trainer.music.note import Articulation, Start
from trainer.routine.round import Aims, Round, RoundKind

LENGTHS = (1, 2, 5, 12, 40)
MAYBE_MS = st.none() | st.floats(-60, 60)
QUICKLY = settings(
    max_examples=25,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@st.composite
def rounds_of(draw: st.DrawFn, whole: Round) -> Round:
    """Some notes of a round, of any kind and articulation, with any aims."""
    length = min(draw(st.sampled_from(LENGTHS)), len(whole.notes))
    aims = Aims(
        draw(st.none() | st.just(12.0)),
        draw(st.none() | st.just(25.0)),
        draw(st.none() | st.just(0.9)),
    )
    return replace(
        whole,
        kind=draw(st.sampled_from(RoundKind)),
        articulation=draw(st.sampled_from(Articulation)),
        number=draw(st.integers(1, 4)),
        notes=whole.notes[:length],
        aims=aims,
    )


@st.composite
def takes_of(draw: st.DrawFn, round_: Round) -> Take:
    """Any take of a round: every field of a note may be missing, in any state or none."""
    notes: list[HeardNote] = []
    kinds = draw(st.sampled_from([list(State), *([state] for state in State)]))
    tone = draw(st.none() | st.just(Tone(0.0, -20.0, 2.0)))
    for note in round_.notes:
        state = draw(st.sampled_from(kinds))
        if state is State.EXTRA:
            instead = draw(st.none() | st.just(note.index))
            notes.append(HeardNote(None, None, state, 70.0, 0.1, 0.2, instead_of=instead))
            continue
        off_ms = draw(MAYBE_MS)
        onset_s = None if off_ms is None else float(note.beat) * round_.beat_s + off_ms / 1000
        notes.append(
            HeardNote(
                note.index,
                note.pitch,
                state,
                draw(st.none() | st.just(float(note.pitch.midi))),
                onset_s,
                None if onset_s is None else onset_s + draw(st.floats(0, 2)),
                draw(st.none() | st.floats(-90, 90)),
                drift_cents=draw(st.none() | st.floats(-30, 30)),
                level_db=draw(st.none() | st.floats(-60, 0)),
                start=draw(st.none() | st.sampled_from(Start)),
                tone=tone,
                blip=draw(st.booleans()),
            )
        )
    warnings = draw(st.sampled_from([(), ("The sound was clipped",)]))
    return Take(48000, 440.0, 0.0, tuple(notes), warnings=warnings)


@QUICKLY
@given(data=st.data())
def test_the_coach_answers_any_take(data: st.DataObject, rounds: Callable[..., Round]) -> None:
    whole = rounds("D")
    earlier: list[Marks] = []
    for _ in range(data.draw(st.integers(1, 3))):
        round_ = data.draw(rounds_of(whole))
        take = data.draw(takes_of(round_))
        marks = judge(round_, take)
        advice = advise(round_, take, marks, earlier)
        assert advice.sentence.endswith((".", "?"))
        assert "nan" not in advice.sentence
        assert set(advice.note_indices) <= {note.index for note in round_.notes}
        assert propose(round_, marks, advice, earlier).step
        after_round(begin(TempoLadder(60, 90, 5)), marks, None, 20.0)
        earlier.append(marks)
    for knot in knots_in(earlier):
        assert breakdown(knot, round_)


@QUICKLY
@given(data=st.data())
def test_nothing_is_praised_that_was_not_heard(
    data: st.DataObject, rounds: Callable[..., Round]
) -> None:
    round_ = data.draw(rounds_of(rounds("D")))
    take = data.draw(takes_of(round_))
    marks = judge(round_, take)
    if advise(round_, take, marks).topic is Topic.SECURE:
        assert len(marks.judged) >= 0.75 * len(round_.notes)
        assert marks.heard
