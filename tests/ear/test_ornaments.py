"""A trill is a trill to the ear: ornaments played in any way are never held against the player."""

from dataclasses import replace
from datetime import date

import pytest

from tests.sweeps import mostly_slow
from trainer.coach.judge import judge
from trainer.ear.hear import hear
from trainer.ear.heard import State
from trainer.ear.live.live_ear import LiveEar
from trainer.music import ornaments
from trainer.music.pulse import timed
from trainer.music.tuning import Tuning
from trainer.player.flutist import Flutist
from trainer.routine.load import read_routine
from trainer.routine.plan import plan

LINES = (
    "quarter G4 A4 trill half B4 | quarter C5 D5 grace E5 F5 quarter E5 D5 | "
    "turn half C5 fermata half G5 | quarter E5 mordent D5 C5 B4 | grace C5 whole D5 |"
)
TUNING = Tuning()


def round_written():
    text = f"title: T\nexercises:\n- passage: p\n  key: C\n  tempo: 72\n  notes: |\n    {LINES}\n"
    routine, _ = read_routine(text, "m.yaml")
    (round_,) = plan(routine, date(2026, 3, 2), 1)[0].rounds
    return round_


def round_asked():
    """Its notes where they are due, in beats of one length."""
    round_ = round_written()
    return replace(round_, notes=timed(round_.notes, round_.pace))


def played(round_, monkeypatch, each_s: float | None):
    """By the played-in flutist, with so many seconds for each note of an ornament; None: plain."""
    notes = round_.notes
    if each_s is None:
        notes = tuple(replace(note, ornament=None, graces=()) for note in notes)
    with monkeypatch.context() as at_this_speed:
        at_this_speed.setattr(ornaments, "ORNAMENT_NOTE_S", each_s or 0.1)
        return Flutist(seed=3).play(notes, round_.tempo_bpm, TUNING)


@pytest.mark.parametrize("each_s", mostly_slow([0.06, 0.1, 0.14, None], 2))
def test_ornaments_at_any_speed_are_the_written_notes(each_s, monkeypatch):
    round_ = round_asked()
    got = played(round_, monkeypatch, each_s)
    take = hear(got.samples, got.sample_rate_hz, round_.notes, 72, TUNING, got.first_beat_s)
    assert [note.index for note in take.notes] == list(range(len(round_.notes)))
    assert {note.state for note in take.notes} <= {State.PLAYED, State.NOT_JUDGED}
    marks = judge(round_written(), take)
    assert (marks.extras, marks.stops, marks.unplanned_breaths) == (0, (), ())
    assert not any(mark.late or mark.early or mark.missed or mark.wrong for mark in marks.notes)
    free = {note.index for note in round_.notes if note.free}
    assert all(mark.off_ms is None for mark in marks.notes if mark.index in free)


def test_a_fermata_judges_no_tempo(monkeypatch):
    """Held three beats longer than asked: neither the tempo nor the notes after it are off."""
    round_ = round_asked()
    held = tuple(
        replace(note, beat=note.beat + 3 * (note.index > 8), fermata=note.index == 8)
        for note in round_.notes
    )
    longer = replace(
        round_,
        notes=tuple(replace(note, length=note.length + 3 * (note.index == 8)) for note in held),
    )
    got = played(longer, monkeypatch, 0.1)
    take = hear(got.samples, got.sample_rate_hz, round_.notes, 72, TUNING, got.first_beat_s)
    marks = judge(round_written(), take)
    assert marks.measures.tempo_bpm == pytest.approx(72, rel=0.02)
    assert not any(mark.late or mark.early for mark in marks.notes)
    assert marks.stops == ()


def test_the_quick_ear_follows_the_written_notes(monkeypatch):
    round_ = round_asked()
    got = played(round_, monkeypatch, 0.1)
    live = LiveEar(round_.notes, 72, TUNING, got.sample_rate_hz, got.first_beat_s)
    readings = live.feed(got.samples)
    met = [reading.note_index for reading in readings if reading.note_index is not None]
    assert set(met) == set(range(len(round_.notes)))
    free = {note.index for note in round_.notes if note.free}
    assert all(r.off_beat_ms is None for r in readings if r.note_index in free)
