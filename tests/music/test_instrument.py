"""The flute family against handbooks, and finger changes against a table computed apart."""

from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.instrument import INSTRUMENT_NAMES, FingerChange, family, instrument_named
from trainer.music.pitch import Pitch, sharp_name

CHANGES = Path(__file__).parent / "data" / "finger_changes.csv"
B_FOOT = instrument_named("C flute with B foot").reaching(Pitch.parse("D7"))


def p(name):
    return Pitch.parse(name)


def finger_changes():
    with CHANGES.open(encoding="utf-8") as table:
        yield from csv.DictReader(line for line in table if not line.startswith("#"))


def test_finger_changes_are_as_tabled():
    rows = list(finger_changes())
    assert len(rows) == 246
    for row in rows:
        change = B_FOOT.finger_change(p(row["frm"]), p(row["to"]))
        assert p(row["to"]).midi - p(row["frm"]).midi == int(row["semitones"])
        assert (len(change.fingers), change.down, change.up, change.slide) == (
            int(row["n_fingers"]),
            tuple(row["down"].split()),
            tuple(row["up"].split()),
            tuple(row["slide"].split()),
        ), row
        assert str(change.contrary) == row["contrary"], row
        assert str(change.both_hands) == row["both_hands"], row


def test_a_change_back_lets_go_what_was_pressed():
    for row in finger_changes():
        there = B_FOOT.finger_change(p(row["frm"]), p(row["to"]))
        back = B_FOOT.finger_change(p(row["to"]), p(row["frm"]))
        assert (back.down, back.up, back.slide) == (there.up, there.down, there.slide)
        assert back.difficulty == there.difficulty


@pytest.mark.parametrize(
    ("name", "lowest", "lowest_sounds", "highest", "highest_sounds"),
    [
        # A. Blatter, Instrumentation & Orchestration, 2nd ed. 1997, pp. 88-97: the piccolo sounds
        # an octave higher, the alto a fourth lower, the bass an octave lower; piccolo from low D:
        # H. M. Fitzgibbon, The Story of the Flute, 1914; B foot: UNSW Music Acoustics, 'Modern
        # flute, B foot'. The tops of alto and bass are from memory.
        ("C flute", "C4", "C4", "C7", "C7"),
        ("C flute with B foot", "B3", "B3", "C7", "C7"),
        ("piccolo", "D4", "D5", "C7", "C8"),
        ("alto flute", "C4", "G3", "C7", "G6"),
        ("bass flute", "C4", "C3", "C7", "C6"),
    ],
)
def test_ranges_written_and_sounding(name, lowest, lowest_sounds, highest, highest_sounds):
    flute = instrument_named(name)
    assert (str(flute.lowest), str(flute.highest)) == (lowest, highest)
    assert str(flute.sounding(flute.lowest)) == lowest_sounds
    assert str(flute.sounding(flute.highest)) == highest_sounds


@given(
    st.sampled_from(INSTRUMENT_NAMES),
    st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-1, 1), st.integers(3, 7)),
)
def test_written_and_sounding_there_and_back(name, pitch):
    flute = instrument_named(name)
    assert flute.written(flute.sounding(pitch)) == pitch
    assert flute.sounding(pitch).midi - pitch.midi == flute.transposition.semitones


@pytest.mark.parametrize("name", INSTRUMENT_NAMES)
def test_every_written_note_has_one_register_and_a_fingering(name):
    flute = instrument_named(name)
    for midi in range(flute.lowest.midi, flute.furthest.midi + 1):
        pitch = p(sharp_name(midi))
        assert flute.fingering(pitch)
        here = [r for r in flute.registers if r.lowest.midi <= midi <= r.highest.midi]
        assert here == [flute.register(pitch)]
    assert all(
        below.highest.midi + 1 == above.lowest.midi for below, above in pairwise(flute.registers)
    )


def test_the_breaks_lie_where_the_fingers_change_most():
    # low register to C#5, middle from D5, high from D6: UNSW Music Acoustics fingering pages
    assert [(str(a), str(b)) for a, b in B_FOOT.breaks] == [("C#5", "D5"), ("C#6", "D6")]
    assert B_FOOT.register(p("C#5")).name == "low"
    assert B_FOOT.register(p("D5")).name == "middle"
    assert B_FOOT.register(p("D6")).name == "high"
    for frm, to in B_FOOT.breaks:
        assert B_FOOT.finger_change(frm, to).crosses_break
    semitones = [row for row in finger_changes() if row["semitones"] == "1"]
    hardest = max(
        semitones, key=lambda row: B_FOOT.finger_change(p(row["frm"]), p(row["to"])).difficulty
    )
    assert (hardest["frm"], hardest["to"]) == ("C#5", "D5")


def test_notes_an_octave_apart_that_share_a_fingering():
    # E4 to B4 are fingered as E5 to B5: UNSW Music Acoustics, G#4/G#5 page
    for low in ("E", "F", "F#", "G", "G#", "A", "A#", "B"):
        assert B_FOOT.fingering(p(f"{low}4")) == B_FOOT.fingering(p(f"{low}5"))
    # D5 and D#5 vent the first finger: drcatesflutetips, 26 October 2014
    for note in ("D", "D#"):
        low, middle = B_FOOT.fingering(p(f"{note}4")), B_FOOT.fingering(p(f"{note}5"))
        assert set(low) - set(middle) == {"L1"}
    # D#6 is D#4 with the G# key: UNSW Music Acoustics, D#6 page
    assert set(B_FOOT.fingering(p("D#6"))) == {*B_FOOT.fingering(p("D#4")), "G#"}


def test_spelling_does_not_change_the_fingering():
    assert B_FOOT.fingering(p("Cb4")) == B_FOOT.fingering(p("B3"))
    assert B_FOOT.fingering(p("F##5")) == B_FOOT.fingering(p("G5"))
    assert not B_FOOT.finger_change(p("G#4"), p("Ab4")).fingers


def test_only_a_b_foot_has_its_keys():
    assert "gz" in B_FOOT.fingering(p("C7"))
    assert "gz" not in instrument_named("C flute").fingering(p("C7"))
    piccolo = instrument_named("piccolo")
    pressed = {key for m in range(62, 97) for key in piccolo.fingering(p(sharp_name(m)))}
    assert not pressed & {"B", "C", "C#", "gz"}


@pytest.mark.parametrize(
    ("frm", "to", "difficulty"),
    [
        # our estimate: fingers + contrary + little-finger slide + thumb + register
        ("D4", "D#4", 1),
        ("C4", "C#4", 3),
        ("B4", "C5", 2),
        ("F4", "F#4", 3),
        ("C#5", "D5", 10),
        ("C5", "D5", 11),
        ("G4", "G4", 0),
        ("A5", "A6", 4),
    ],
)
def test_difficulty_adds_up(frm, to, difficulty):
    assert B_FOOT.finger_change(p(frm), p(to)).difficulty == difficulty


def test_the_hardest_change_there_can_be():
    every = FingerChange(
        ("L1", "L2", "L3", "LT", "R1"), ("R2", "R3"), ("L4", "R4"), crosses_break=True
    )
    assert every.difficulty == 13


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("flute", "C flute"),
        (" C  Flute ", "C flute"),
        ("c flute with b foot", "C flute with B foot"),
        ("Alto flute in G", "alto flute"),
        ("piccolo", "piccolo"),
        ("bass", "bass flute"),
    ],
)
def test_instruments_are_known_by_name(text, name):
    assert instrument_named(text).name == name


def test_names_are_unique_and_all_known():
    assert len(set(INSTRUMENT_NAMES)) == 5
    assert [instrument_named(name).name for name in INSTRUMENT_NAMES] == list(INSTRUMENT_NAMES)


def test_faults_are_told_in_sentences():
    flute = instrument_named("flute")
    with pytest.raises(ValueError, match="'oboe' is no instrument here: write C flute, C flute"):
        instrument_named("oboe")
    with pytest.raises(ValueError, match="B3 is not on the C flute: write a note from C4 to D7"):
        flute.fingering(p("B3"))
    with pytest.raises(ValueError, match="Eb7 is not on the C flute"):
        flute.reaching(p("Eb7"))
    with pytest.raises(ValueError, match="Cb4 is not on the C flute"):
        flute.register(p("Cb4"))


RECORDER = """
instruments:
  treble recorder:
    also: [alto recorder]
    lowest: F4
    highest: G6
    furthest: G6
    transposition: [0, 0]
    without: []
registers: {low: F4, high: G5}
fingers: {T: LT, L1: L1, L2: L2, L3: L3, R1: R1, R2: R2, R3: R3, R4: R4}
fingerings:
  F4: [T, L1, L2, L3, R1, R2, R3, R4]
  G4: [T, L1, L2, L3, R1, R2, R3]
"""
"""From memory; two notes are enough to see that a family is one data file."""


def test_another_family_is_one_data_file():
    known = family(RECORDER)
    recorder = known["alto recorder"]
    assert recorder is known["treble recorder"]
    assert [str(register.highest) for register in recorder.registers] == ["F#5", "G6"]
    assert recorder.finger_change(p("F4"), p("G4")).up == ("R4",)
