"""Frequencies against ISO 16, the published note table and the 5-limit table."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.pitch import Pitch
from trainer.music.tuning import PURE_RATIOS, Tuning

NOTE_HZ = {
    # f(n) = 440 * 2^((n - 69)/12): UNSW Music Acoustics, J. Wolfe, 'Note names, MIDI numbers and
    # frequencies'; A4 = 440 Hz: ISO 16:1975
    "B3": 246.94,
    "C4": 261.63,
    "C#4": 277.18,
    "D4": 293.66,
    "F4": 349.23,
    "A4": 440.00,
    "A#4": 466.16,
    "C5": 523.25,
    "D5": 587.33,
    "G#5": 830.61,
    "A5": 880.00,
    "C6": 1046.50,
    "E6": 1318.51,
    "A6": 1760.00,
    "C7": 2093.00,
    "D7": 2349.32,
}

PURE_CENTS = {
    # 5-limit ratios, cents less equal temperament above a C drone: 'List of intervals in 5-limit
    # just intonation' (encyclopedia table); P. Hahn, Mills tuning list 3642
    "C4": 0.00,
    "Db4": 11.73,
    "D4": 3.91,
    "Eb4": 15.64,
    "E4": -13.69,
    "F4": -1.96,
    "F#4": -9.78,
    "Gb4": 9.78,
    "G4": 1.96,
    "Ab4": 13.69,
    "A4": -15.64,
    "Bb4": -3.91,
    "B4": -11.73,
    "B#4": -41.06,
    "C5": 0.00,
}


@pytest.mark.parametrize(("name", "hz"), NOTE_HZ.items())
def test_equal_temperament_at_440(name, hz):
    assert Tuning().hz(Pitch.parse(name)) == pytest.approx(hz, abs=0.006)


@pytest.mark.parametrize(
    # cents against A4 = 440 by 1200 * log2(a4/440), worked out by hand
    ("a4_hz", "cents"),
    [(441, 3.93), (442, 7.85), (443, 11.76), (415, -101.27)],
)
def test_another_a4_moves_every_note_alike(a4_hz, cents):
    for name in ("C4", "A4", "F#6"):
        pitch = Pitch.parse(name)
        assert Tuning().cents(Tuning(a4_hz).hz(pitch), pitch) == pytest.approx(cents, abs=0.006)


@pytest.mark.parametrize(("name", "offset"), PURE_CENTS.items())
def test_pure_intervals_above_a_drone(name, offset):
    tuning = Tuning(drone=Pitch.parse("C4"))
    assert tuning.offset_cents(Pitch.parse(name)) == pytest.approx(offset, abs=0.006)


@pytest.mark.parametrize(("name", "offset"), PURE_CENTS.items())
def test_pure_intervals_are_alike_in_every_octave_and_below_the_drone(name, offset):
    pitch = Pitch.parse(name)
    for drone_octave in (3, 5, 6):
        tuning = Tuning(drone=Pitch("C", 0, drone_octave))
        assert tuning.offset_cents(pitch) == pytest.approx(offset, abs=0.006)


def test_a_pure_interval_sounds_in_its_ratio():
    drone = Pitch.parse("D4")
    tuning = Tuning(drone=drone)
    ratios = {"F#4": 5 / 4, "F4": 6 / 5, "A4": 3 / 2, "D5": 2, "B4": 5 / 3, "F#5": 5 / 2}
    for name, ratio in ratios.items():
        assert tuning.hz(Pitch.parse(name)) / tuning.hz(drone) == pytest.approx(ratio)


def test_an_interval_and_its_inversion_fill_the_octave():
    inverted = [
        (i, (7 - i[0], 12 - i[1])) for i in PURE_RATIOS if (7 - i[0], 12 - i[1]) in PURE_RATIOS
    ]
    assert len(inverted) >= 14
    for interval, inversion in inverted:
        (up, down), (other_up, other_down) = PURE_RATIOS[interval], PURE_RATIOS[inversion]
        assert up * other_up == 2 * down * other_down


def test_an_interval_no_table_lists_stays_in_equal_temperament():
    assert Tuning(drone=Pitch.parse("Cb4")).offset_cents(Pitch.parse("F##4")) == 0


@pytest.mark.parametrize("a4_hz", [0, 414.9, 446.1, 4400])
def test_an_impossible_a4_is_refused(a4_hz):
    with pytest.raises(ValueError, match="write a tuning from 415 to 446"):
        Tuning(a4_hz)


@given(
    st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-1, 1), st.integers(3, 7)),
    st.floats(415, 446),
    st.floats(-50, 50),
)
def test_a_frequency_so_many_cents_off_reads_so_many_cents(pitch, a4_hz, cents):
    tuning = Tuning(a4_hz, drone=Pitch.parse("G4"))
    assert tuning.cents(tuning.hz(pitch) * 2 ** (cents / 1200), pitch) == pytest.approx(
        cents, abs=1e-6
    )
