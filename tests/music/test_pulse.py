"""The tempo through a round: closed forms against small steps, and back again."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.music.pulse import ClickPart, Pace, timed

BPM = st.floats(30, 240)


@given(from_bpm=BPM, to_bpm=BPM, beats=st.floats(1, 200), beat=st.floats(-8, 220))
def test_beats_and_seconds_are_inverse(
    from_bpm: float, to_bpm: float, beats: float, beat: float
) -> None:
    pace = Pace(from_bpm, to_bpm, beats)
    assert pace.beat_at(pace.seconds_at(beat)) == pytest.approx(beat, abs=1e-6)


@given(from_bpm=BPM, to_bpm=BPM, beats=st.floats(1, 200), beat=st.floats(0, 200))
def test_time_passes_by_the_tempo_of_the_moment(
    from_bpm: float, to_bpm: float, beats: float, beat: float
) -> None:
    pace, step = Pace(from_bpm, to_bpm, beats), 1e-4
    passed_s = pace.seconds_at(beat + step) - pace.seconds_at(beat)
    assert passed_s == pytest.approx(step * 60 / pace.bpm_at(beat + step / 2), rel=1e-3)


def test_a_steady_tempo_leaves_the_notes_alone() -> None:
    note = Note(0, Pitch.parse("D5"), Fraction(1, 3), Fraction(1), Start.TONGUED)
    assert timed([note], Pace(90.0, 90.0, 8)) == (note,)


def test_notes_at_a_changing_tempo_begin_and_end_when_they_should() -> None:
    pitch = Pitch.parse("D5")
    notes = [Note(n, pitch, Fraction(n, 2), Fraction(1, 2), Start.TONGUED) for n in range(16)]
    pace = Pace(60.0, 120.0, 8)
    even = timed(notes, pace)
    for note, moved in zip(notes, even, strict=True):
        assert float(moved.beat) == pytest.approx(pace.seconds_at(float(note.beat)), abs=1e-6)
        end = float(moved.beat + moved.length)
        assert end == pytest.approx(pace.seconds_at(float(note.beat + note.length)), abs=1e-6)


def test_bars_without_click_come_round_again() -> None:
    part = ClickPart(sounding_bars=1, silent_bars=2)
    bars = [part.sounds_in(bar) for bar in range(-1, 6)]
    assert bars == [True, True, False, False, True, False, False]
