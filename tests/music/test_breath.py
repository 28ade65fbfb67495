"""Where a breath is offered; common practice, no source, unless said."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.articulations import articulated
from trainer.music.breath import (
    COMFORTABLE_PHRASE_S,
    breaths_at_turns,
    breaths_before_beats,
    breaths_every,
    breaths_for_tempo,
)
from trainer.music.layout import End, full_range, ladder
from trainer.music.note import Articulation, Start
from trainer.music.pitch import Pitch, sharp_name
from trainer.music.rhythm import laid_out
from trainer.music.scales import ScaleKind, scale_within

E_FLAT = laid_out(
    full_range(
        ladder(scale_within("Eb", ScaleKind.MAJOR, Pitch.parse("C4"), Pitch.parse("C7"))),
    )
)


def breathing(notes):
    return [str(note.pitch) for note in notes if note.breath_after]


def phrase_seconds(notes, tempo_bpm):
    edges = [-1, *(note.index for note in notes if note.breath_after), len(notes) - 1]
    return [
        float(notes[last].beat + notes[last].length - notes[before + 1].beat) * 60 / tempo_bpm
        for before, last in pairwise(edges)
    ]


def test_a_breath_at_the_turns():
    assert breathing(breaths_at_turns(E_FLAT)) == ["C7", "C4"]
    assert breathing(breaths_at_turns(E_FLAT, [End.TOP])) == ["C7"]


def test_a_breath_every_four_beats_but_not_before_the_last_note():
    notes = breaths_every(E_FLAT, 4)
    after = [notes[n.index + 1].beat for n in notes if n.breath_after]
    assert after == [4, 8]
    assert breathing(breaths_every(E_FLAT, 11)) == []


def test_a_breath_at_the_beats_given():
    notes = breaths_before_beats(E_FLAT, [2, 5])
    assert [notes[n.index + 1].beat for n in notes if n.breath_after] == [2, Fraction(21, 4)]
    assert breathing(breaths_before_beats(E_FLAT, [0, 99])) == []


def test_breaths_add_up():
    notes = breaths_every(breaths_at_turns(E_FLAT), 4)
    assert len(breathing(notes)) == 4


@pytest.mark.parametrize(
    ("tempo_bpm", "expected"),
    [(120, []), (81, []), (60, ["C7"]), (45, ["C7"])],
)
def test_a_slow_tempo_offers_the_top_note(tempo_bpm, expected):
    # 43 sixteenths last 10.75 s at 60, with the last note held a beat 12 s
    assert breathing(breaths_for_tempo(E_FLAT, tempo_bpm)) == expected


def test_a_slower_tempo_offers_more_breaths_on_beats():
    notes = breaths_for_tempo(E_FLAT, 30)
    assert len(breathing(notes)) == 3
    assert "C7" in breathing(notes)
    assert max(phrase_seconds(notes, 30)) <= COMFORTABLE_PHRASE_S


def test_a_breath_the_teacher_gave_is_counted():
    given_at_top = breaths_at_turns(E_FLAT, [End.TOP])
    assert breaths_for_tempo(given_at_top, 60) == given_at_top


@given(
    st.lists(st.integers(59, 98), min_size=1, max_size=80),
    st.integers(1, 8),
    st.floats(30, 208),
    st.floats(3, 20),
)
def test_every_phrase_fits_the_breath_unless_a_beat_itself_does_not(
    midis, per_beat, tempo_bpm, longest_s
):
    even = laid_out([Pitch.parse(sharp_name(midi)) for midi in midis], per_beat)
    notes = breaths_for_tempo(even, tempo_bpm, longest_s)
    longest_note_s = float(max(note.length for note in even)) * 60 / tempo_bpm
    assert max(phrase_seconds(notes, tempo_bpm)) <= longest_s + longest_note_s + 60 / tempo_bpm
    assert not notes[-1].breath_after
    if sum(phrase_seconds(even, tempo_bpm)) <= longest_s:
        assert notes == even


def test_after_a_breath_a_slur_begins_anew():
    notes = articulated(breaths_at_turns(E_FLAT, [End.TOP]), Articulation.SLURRED)
    assert [note.index for note in notes if note.start is Start.TONGUED] == [0, 20]


def test_a_breath_every_no_beats_is_refused():
    with pytest.raises(ValueError, match="write 1 or more"):
        breaths_every(E_FLAT, 0)
