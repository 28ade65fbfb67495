"""The partner's part in files, read back by music21 (M. S. Cuthbert and others)."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import music21
import pytest

from trainer.music.instrument import instrument_named
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.score.midi_out import midi
from trainer.score.musicxml_out import musicxml
from trainer.score.sections import Section, sections
from trainer.score.sheet import _first_bar
from trainer.score.symbols import written_bars

pytestmark = pytest.mark.filterwarnings("ignore:::music21")
FLUTE = instrument_named("alto flute")
TEXT = """
title: T
instrument: alto flute
exercises:
- {scale: alone, key: F, range: one octave}
- {scale: two, key: G, range: one octave, rhythm: eighths, partner: in thirds}
- passage: three
  key: D
  time: 6/8
  notes: quarter+eighth D4 F#4 | A4 D5
  partner: canon after a bar
"""


def day() -> list[Section]:
    routine, problems = read_routine(TEXT, "t.yaml")
    assert routine is not None, problems
    return list(sections(plan(routine, date(2026, 3, 2), 0)))


def wanted(music: list[Section]) -> list[tuple[int, Fraction, Fraction]]:
    """(written MIDI number, onset in its section, length) of every note of the partner's."""
    return [
        (
            note.pitch.midi,
            note.beat * one.round.beat_quarters,
            note.length * one.round.beat_quarters,
        )
        for one in music
        for note in one.round.second_part
    ]


def test_music21_reads_the_second_part_of_our_musicxml() -> None:
    music = day()
    score = music21.converter.parse(musicxml("T", music, FLUTE), format="musicxml")
    own, partners = score.parts
    assert partners.partName == "Partner"
    lengths = [
        [measure.barDuration.quarterLength for measure in part.getElementsByClass("Measure")]
        for part in (own, partners)
    ]
    assert lengths[0] == lengths[1]
    bars = [-(-one.round.beats // one.round.beats_per_bar) for one in music]
    begins = [sum(lengths[0][: sum(bars[:place])]) for place in range(len(music))]
    read = [
        (note.pitch.midi, Fraction(note.offset), Fraction(note.quarterLength))
        for note in partners.stripTies().flatten().notes
    ]
    due = [
        (number, Fraction(begins[place]) + onset, length)
        for place, one in enumerate(music)
        for number, onset, length in wanted([one])
    ]
    assert read == due


def test_music21_hears_the_second_part_in_our_midi() -> None:
    """At sounding pitch, an alto flute's fourth below; each section has a bar of rest after it."""
    music = day()
    score = music21.converter.parse(midi("T", music, FLUTE), format="midi", quantizePost=False)
    assert [part.partName for part in score.parts][1] == "Partner"
    heard = [(note.pitch.midi, Fraction(note.quarterLength).limit_denominator(64))
             for note in score.parts[1].stripTies().flatten().notes]  # fmt: skip
    assert heard == [(number - 5, length) for number, _, length in wanted(music)]


def test_one_part_alone_stays_one_part() -> None:
    alone = day()[:1]
    assert len(music21.converter.parse(musicxml("T", alone, FLUTE), format="musicxml").parts) == 1
    assert len(music21.converter.parse(midi("T", alone, FLUTE), format="midi").parts) == 1


def test_a_rounds_first_bar_on_the_sheet_ends_with_its_bar() -> None:
    """Neither written rests nor the partner's tail follow it."""
    for section in day():
        assert len(written_bars(_first_bar(section.round))) == 1
