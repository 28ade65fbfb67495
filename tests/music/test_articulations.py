"""Patterns of slurs and strokes (kinds as in studies for fours and threes; common practice)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from trainer.music.articulations import (
    FOURS,
    SIXES,
    THREES,
    articulated,
    articulation_named,
    articulation_order,
    pattern_of,
)
from trainer.music.instrument import instrument_named
from trainer.music.layout import full_range, ladder, octaves
from trainer.music.note import Articulation, Mark, Note, Start
from trainer.music.pitch import Pitch
from trainer.music.rhythm import laid_out
from trainer.music.scales import ScaleKind, scale_within

FLUTE = instrument_named("C flute")


def scale(tonic: str, per_beat: int, whole: bool = True) -> tuple[Note, ...]:
    steps = ladder(scale_within(tonic, ScaleKind.MAJOR, FLUTE.lowest, FLUTE.highest))
    return laid_out(full_range(steps) if whole else octaves(steps, 2), per_beat)


def said(notes: tuple[Note, ...]) -> str:
    """'T' for a stroke, '-' for a note slurred to the one before."""
    letters = {Start.TONGUED: "T", Start.SLURRED: "-", Start.BACK_TONGUED: "K"}
    return "".join(letters[note.start] for note in notes)


@pytest.mark.parametrize(
    ("name", "fours"),
    [
        ("slur 4", "T---T---"),
        ("slur 2", "T-T-T-T-"),
        ("slur 2 tongue 2", "T-TTT-TT"),
        ("tongue 2 slur 2", "TTT-TTT-"),
        ("slur 3 tongue 1", "T--TT--T"),
        ("tongue 1 slur 3", "TT--TT--"),
        ("tongue 1 slur 2 tongue 1", "TT-TTT-T"),
        ("slur 2 across the beat", "TT-T-T-T"),
        ("slur 4 across the beat", "TT---T--"),
        ("slur 2 double 2", "T-TKT-TK"),
        ("slur 3", "T--T--T-"),
        ("slur 2 tongue 1", "T-TT-TT-"),
    ],
)
def test_two_groups_of_four(name: str, fours: str) -> None:
    eight = scale("C", 4, whole=False)[:8]
    assert said(articulated(eight, pattern_of(name))) == fours


@pytest.mark.parametrize("pattern", FOURS, ids=str)
def test_a_pattern_for_fours_stays_with_the_beats_over_the_whole_flute(pattern) -> None:
    """43 sixteenths from D flat hold the turning notes as eighths: the fours go on at the beat."""
    notes = articulated(scale("Db", 4), pattern)
    beats: dict[int, list[Note]] = {}
    for note in notes:
        beats.setdefault(int(note.beat), []).append(note)
    fours = [tuple(beat) for beat in beats.values() if len(beat) == 4]
    assert len(fours) >= 9
    length = pattern.notes
    expected = [start for start, _ in pattern.places] * (4 // length)
    for four in fours:
        assert [note.start for note in four[1:]] == expected[1:]


def test_slurs_across_the_beat_lead_over_it() -> None:
    notes = articulated(scale("C", 4, whole=False), pattern_of("slur 2 across the beat"))
    first, *others = [note for note in notes if note.beat % 1 == 0][:5]
    assert first.start is Start.TONGUED
    assert {note.start for note in others} == {Start.SLURRED}


def test_it_begins_again_after_a_rest_and_where_the_rhythm_changes() -> None:
    pitches = [Pitch.parse(name) for name in ("C5", "D5", "E5", "F5", "G5", "A5", "G5")]
    beats = [Fraction(b) for b in ("0", "1", "5/4", "3/2", "7/4", "3", "4")]
    lengths = [Fraction(n) for n in ("1", "1/4", "1/4", "1/4", "1/4", "1", "1")]
    notes = tuple(
        Note(i, *each, Start.SLURRED)
        for i, each in enumerate(zip(pitches, beats, lengths, strict=True))
    )
    assert said(articulated(notes, pattern_of("slur 2 tongue 2"))) == "TT-TTT-"


def test_a_breath_breaks_the_slur_and_not_the_pattern() -> None:
    notes = [replace(note, breath_after=note.index == 4) for note in scale("C", 4, whole=False)[:8]]
    assert said(articulated(notes, pattern_of("slur 4"))) == "T---TT--"


@pytest.mark.parametrize("per_beat", [3, 4, 6])
@pytest.mark.parametrize(
    ("articulation", "strokes"),
    [(Articulation.TRIPLE, "TKT"), (Articulation.TRIPLE_TTK, "TTK"), (Articulation.DOUBLE, "TK")],
)
def test_multiple_tonguing_goes_round_its_syllables(articulation, strokes, per_beat) -> None:
    """T K T and T T K (fluteline.com, 'Double_tonguing')."""
    pitches = [note.pitch for note in scale("C", 4, whole=False)[:13]]
    notes = articulated(laid_out(pitches, per_beat), articulation)[:12]
    assert said(notes) == strokes * (12 // len(strokes))


def test_detached_scales_carry_their_sign() -> None:
    marks = {
        Articulation.STACCATO: Mark.STACCATO,
        Articulation.TENUTO: Mark.TENUTO,
        Articulation.ACCENTED: Mark.ACCENT,
    }
    for articulation, mark in marks.items():
        notes = articulated(scale("C", 4, whole=False), articulation)
        assert {(note.start, note.mark) for note in notes} == {(Start.TONGUED, mark)}
    dotted = articulated(scale("C", 4, whole=False)[:4], pattern_of("slur 2 staccato 2"))
    assert [note.mark for note in dotted] == [None, None, Mark.STACCATO, Mark.STACCATO]


@pytest.mark.parametrize("asked", [*Articulation, *FOURS, *THREES, *SIXES], ids=str)
def test_each_is_known_by_its_name(asked) -> None:
    assert articulation_named(str(asked)) == asked


def test_patterns_stand_after_plain_articulations() -> None:
    order = sorted([*FOURS, *Articulation], key=articulation_order)
    assert order[: len(Articulation)] == list(Articulation)


@pytest.mark.parametrize("name", ["tongue 4", "slur 1 tongue 1", "slur 20 slur 20", "slur", "slow"])
def test_what_is_no_pattern(name: str) -> None:
    with pytest.raises(ValueError, match=r"a slur|a pattern|no pattern"):
        articulation_named(name)
