from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction

import pytest

from demo.made_rounds import plain_round
from trainer.coach.advice import Topic
from trainer.coach.judge import judge
from trainer.coach.marks import Marks
from trainer.ear.heard import HeardNote, State, Take
from trainer.figures.note_figures import is_start_unsure
from trainer.figures.round_measures import RoundMeasures
from trainer.journal.log import NoteLog, RoundLog, SessionLog
from trainer.music.key import Key, Mode
from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import Interval, Pitch
from trainer.routine.round import Aims, Round, RoundKind
from trainer.session.round_log import round_log

STARTED = datetime(2026, 11, 23, 17, 5, tzinfo=UTC)
WRITTEN = [Pitch.parse(name) for name in ("D4", "E4", "F#4")]
FOURTH = Interval(3, 5)


def a_round() -> Round:
    notes = tuple(
        Note(index, pitch, Fraction(index), Fraction(1), Start.TONGUED)
        for index, pitch in enumerate(WRITTEN)
    )
    return Round(
        exercise_id="steps",
        title="Three steps",
        kind=RoundKind.TECHNIQUE,
        number=2,
        key=Key("D", Mode.MAJOR),
        articulation=Articulation.SINGLE,
        tempo_bpm=72,
        notes=notes,
        beats_per_bar=4,
        aims=Aims(cents=10),
        partner=None,
    )


def alto_take() -> Take:
    """Heard on an alto flute, which sounds a fourth (5 semitones) below what is written."""
    sounding = [pitch.transposed(-FOURTH) for pitch in WRITTEN]
    notes = (
        HeardNote(
            0,
            sounding[0],
            State.PLAYED,
            midi=57.04,
            cents=4.0,
            attack_s=0.041,
            blip=True,
            start_certainty=0.61,
        ),
        HeardNote(1, sounding[1], State.MISSED),
        HeardNote(None, None, State.EXTRA, midi=60.1, instead_of=1),
        HeardNote(
            2,
            sounding[2],
            State.PLAYED,
            midi=61.0,
            cents=0.0,
            start=Start.TONGUED,
            start_certainty=0.97,
        ),
    )
    return Take(48_000, 440.0, 1.0, notes, ((1.0, 1.5),), ("Too soft.",))


def logged(take: Take | None, topic: Topic | None = Topic.NOTES) -> RoundLog:
    return round_log(
        a_round(),
        None if take is None else (take, alto_marks(take)),
        advice_sentence="Say it again, slowly.",
        topic=topic,
        started=STARTED,
        seconds=2.5,
    )


def alto_marks(take: Take) -> Marks:
    """As judged, with a place in time for the two notes that were played."""
    marks = judge(a_round(), take)
    places = {0: 5.0, 2: -3.0}
    placed = tuple(replace(note, off_ms=places.get(note.index)) for note in marks.notes)
    return replace(marks, notes=placed)


def test_pitches_are_written_ones_extra_notes_too() -> None:
    notes = logged(alto_take()).notes
    assert [note.written for note in notes] == ["D4", "E4", "F4", "F#4"]
    assert [note.state for note in notes] == ["played", "missed", "extra", "played"]
    assert notes[2].instead_of == "E4"


def test_notes_keep_what_was_measured() -> None:
    first, missed, _, last = logged(alto_take()).notes
    assert (first.cents, first.off_ms, first.attack_ms, first.blip) == (4.0, 5.0, 41.0, True)
    assert missed == NoteLog("E4", State.MISSED)
    assert (last.off_ms, last.start, last.start_certainty) == (-3.0, Start.TONGUED, 0.97)


def test_a_start_that_was_not_judged_is_kept_as_that() -> None:
    notes = logged(alto_take()).notes
    assert (notes[0].start, notes[0].start_certainty) == (None, 0.61)
    unsure = [is_start_unsure(note.start, note.start_certainty) for note in notes]
    assert unsure == [True, False, False, False]


def test_the_round_keeps_what_was_asked() -> None:
    log = logged(alto_take())
    assert (log.exercise_id, log.key, log.number, log.tempo_bpm) == ("steps", "D major", 2, 72)
    assert log.aims == Aims(cents=10)
    assert log.topic == "notes"
    assert log.breaths_s == ((1.0, 1.5),)
    assert log.warnings == ("Too soft.",)
    assert log.measures is not None
    assert (log.measures.played, log.measures.missed, log.measures.extra) == (2, 1, 1)
    assert log.measures.cents_median == 2.0


def test_a_round_not_listened_to_has_no_notes_and_no_verdict() -> None:
    log = logged(None, topic=None)
    assert (log.notes, log.measures, log.secure, log.topic) == ((), None, None, "")
    assert log.seconds == 2.5


@pytest.mark.parametrize(
    ("topic", "secure"),
    [(Topic.SECURE, True), (Topic.NOTES, False), (Topic.SOUND, None), (Topic.UNHEARD, None)],
)
def test_what_could_not_be_judged_is_neither_secure_nor_not(
    topic: Topic, secure: bool | None
) -> None:
    assert logged(alto_take(), topic).secure is secure


def test_a_session_without_its_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="offset from UTC"):
        SessionLog(STARTED.replace(tzinfo=None))


def test_an_elapsed_time_shorter_than_the_rounds_is_not_believed() -> None:
    round_ = plain_round([], started=STARTED, seconds=90, exercise_id="x", title="x")
    log = SessionLog(STARTED, rounds=(round_, round_))
    assert log.lasted_s == 180
    assert replace(log, elapsed_s=10.0).lasted_s == 180
    assert replace(log, elapsed_s=300.0).lasted_s == 300


def test_a_plain_round_works_out_its_measures() -> None:
    notes = [NoteLog("D4", cents=4), NoteLog("E4", cents=-2), NoteLog("F4", State.MISSED)]
    measures = plain_round(
        notes, started=STARTED, seconds=1, exercise_id="x", title="x", evenness_ms=12
    ).measures
    assert measures == RoundMeasures(played=2, missed=1, extra=0, evenness_ms=12, cents_median=1)
