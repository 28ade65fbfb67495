"""The written parts of a round add up to its notes, in any metre, with any lengths and silences."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from tests.screens.rounds import round_of
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.routine.round import Round
from trainer.screens.drawing.note_values import groups, written

METRES = [(4, Fraction(1)), (3, Fraction(1)), (2, Fraction(2)), (2, Fraction(3, 2))]
LENGTHS = [Fraction(n, 4) for n in (1, 2, 3, 4, 5, 6, 8, 10)] + [Fraction(1, 3), Fraction(2, 3)]


@st.composite
def rounds(draw: st.DrawFn) -> Round:
    """Notes one after the other, some after a silence; lengths in quarters."""
    beats, beat = draw(st.sampled_from(METRES))
    at, notes = Fraction(0), []
    for index in range(draw(st.integers(1, 12))):
        at += draw(st.sampled_from([Fraction(0), Fraction(0), Fraction(1, 2), Fraction(1)]))
        length = draw(st.sampled_from(LENGTHS))
        pitch = Pitch("D", 0, 5)
        notes.append(Note(index, pitch, at / beat, length / beat, Start.TONGUED))
        at += length
    return round_of(notes, 0, beats, beat)


@given(rounds())
def test_the_parts_of_each_note_add_up_to_it(round_: Round) -> None:
    parts = written(round_).parts
    for note in round_.notes:
        own = [part for part in parts if part.note.index == note.index]
        assert own[0].beat == note.beat
        assert sum(part.symbol.length for part in own) == note.length * round_.beat_quarters
        assert not own[0].symbol.tied_back
        assert not own[-1].symbol.tied_on
        for before, part in pairwise(own):
            assert before.symbol.tied_on
            assert part.symbol.tied_back


@given(rounds())
def test_no_part_crosses_a_bar_line(round_: Round) -> None:
    bar = round_.beats_per_bar * round_.beat_quarters
    for part in written(round_).parts:
        assert part.symbol.onset % bar + part.symbol.length <= bar


@given(rounds())
def test_every_part_is_in_one_beam_group_and_at_most_one_tuplet(round_: Round) -> None:
    parts = written(round_).parts
    assert [part for group in groups(parts) for part in group] == list(parts)
    in_tuplets = [part for tuplet in written(round_).tuplets for part in tuplet]
    assert in_tuplets == [part for part in parts if part.symbol.ratio != (1, 1)]


@given(rounds())
def test_rests_stand_where_nothing_sounds(round_: Round) -> None:
    for rest in written(round_).rests:
        for note in round_.notes:
            assert rest.beat + rest.length <= note.beat or note.beat + note.length <= rest.beat
