"""The partner is in tune to a tenth of a cent and on time to the sample."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from trainer.music.articulations import articulated
from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning
from trainer.sound.partner import HARMONIC_LEVELS_DB, drone, partner
from trainer.sound.port import Samples

RATE = 48000
NAMES = ["C4", "Eb4", "F#4", "A4", "C5", "D5", "G#5", "B5", "D6", "E6", "A6", "C7"]


def line(
    names: list[str], articulation: Articulation, length: Fraction = Fraction(1)
) -> tuple[Note, ...]:
    notes = [
        Note(index, Pitch.parse(name), index * length, length, Start.TONGUED)
        for index, name in enumerate(names)
    ]
    return articulated(notes, articulation)


def cents_off(sound: Samples, hz: float, rate: int) -> float:
    """Pitch against hz by how the phase of the fundamental moves between two windows.

    Unlike a spectrum's bins this resolves thousandths of a cent; the Hann window keeps the other
    harmonics out.
    """
    size = sound.size // 2
    window = np.hanning(size)
    time_s = np.arange(size) / rate
    turning = np.exp(-2j * np.pi * hz * time_s)
    first = np.vdot(turning.conj(), window * sound[:size])
    second = np.vdot(turning.conj(), window * sound[size : 2 * size])
    expected_turn = 2 * np.pi * hz * size / rate
    turn = np.angle(second / first * np.exp(-1j * expected_turn))
    return float(1200 * np.log2(1 + turn / (2 * np.pi * size / rate) / hz))


@pytest.mark.parametrize("articulation", [Articulation.SLURRED, Articulation.SINGLE])
@pytest.mark.parametrize("rate", [48000, 44100])
@pytest.mark.parametrize("a4_hz", [440.0, 415.0, 442.0])
def test_every_note_is_in_tune_to_a_tenth_of_a_cent(
    articulation: Articulation, rate: int, a4_hz: float
) -> None:
    """f(n) = A4 · 2^((n − 69)/12): UNSW Music Acoustics, J. Wolfe; A4 = 440 Hz, ISO 16:1975."""
    notes = line(NAMES, articulation)
    sound = partner(notes, 60.0, Tuning(a4_hz), rate)
    for index, note in enumerate(notes):
        steady = sound[index * rate + rate // 10 : index * rate + rate * 9 // 10]
        hz = a4_hz * 2 ** ((note.pitch.midi - 69) / 12)
        assert abs(cents_off(steady, hz, rate)) < 0.1


def test_above_a_drone_a_third_is_pure() -> None:
    """5:4, a just major third: 386.31 cents (5-limit just intonation)."""
    drone_pitch = Pitch.parse("G4")
    (note,) = line(["B4"], Articulation.SINGLE, Fraction(2))
    sound = partner([note], 60.0, Tuning(440.0, drone_pitch), RATE)
    pure_hz = 440.0 * 2 ** (-2 / 12) * 5 / 4
    assert abs(cents_off(sound[RATE // 4 : RATE], pure_hz, RATE)) < 0.1


def test_the_octave_below() -> None:
    sound = partner(line(["A4"], Articulation.SINGLE), 60.0, Tuning(), RATE, semitones=-12)
    steady = sound[RATE // 10 : RATE * 9 // 10]
    assert abs(cents_off(steady, 220.0, RATE)) < 0.1
    spectrum = np.abs(np.fft.rfft(steady * np.hanning(steady.size)))
    lowest = int(np.argmax(spectrum > 0.1 * spectrum.max()))
    assert lowest * RATE / steady.size == pytest.approx(220.0, abs=3.0)


@pytest.mark.parametrize("tempo_bpm", [60.0, 97.0, 133.0])
def test_tongued_onsets_stand_on_their_sample(tempo_bpm: float) -> None:
    notes = line(NAMES, Articulation.SINGLE, Fraction(1, 3))
    sound = partner(notes, tempo_bpm, Tuning(), RATE)
    for note in notes:
        frame = round(Fraction(60 * RATE, round(tempo_bpm)) * note.beat)
        assert not sound[max(0, frame - 240) : frame].any()
        assert sound[frame] == 0.0  # the sine's own zero: from the next sample on it sounds
        assert sound[frame + 1] != 0.0


def test_the_sound_lasts_as_long_as_its_notes() -> None:
    notes = line(NAMES, Articulation.SINGLE, Fraction(1, 2))
    assert partner(notes, 120.0, Tuning(), RATE).shape == (len(NAMES) * RATE // 4,)
    assert partner([], 120.0, Tuning(), RATE).shape == (0,)


def level(sound: Samples, frame: int, frames: int = 480) -> float:
    return float(np.sqrt(np.mean(sound[frame - frames // 2 : frame + frames // 2] ** 2)))


def test_a_slur_neither_dips_nor_cracks() -> None:
    notes = line(["A4", "B4", "C5", "A4"], Articulation.SLURRED, Fraction(1, 2))
    sound = partner(notes, 60.0, Tuning(), RATE).astype(np.float64)
    steady = level(sound, RATE // 4, 2400)
    for border in (RATE // 2, RATE, RATE * 3 // 2):
        assert level(sound, border, 1200) == pytest.approx(steady, rel=0.15)
        steepest_inside = np.abs(np.diff(sound[RATE // 4 : RATE * 7 // 4])).max()
        assert np.abs(np.diff(sound[border - 3 : border + 3])).max() <= steepest_inside
    bends = np.abs(np.diff(sound, 2))[2000:-2000]
    borders = np.concatenate([bends[at - 2010 : at - 1990] for at in (RATE // 2, RATE)])
    assert borders.max() < 1.5 * np.median(np.sort(bends)[-2000:])


def test_tongued_notes_are_parted_by_silence_and_legato_ones_by_a_stroke() -> None:
    names = ["A4", "A4", "A4"]
    tongued = partner(line(names, Articulation.SINGLE), 60.0, Tuning(), RATE)
    legato = partner(line(names, Articulation.LEGATO_TONGUE), 60.0, Tuning(), RATE)
    assert not tongued[RATE - 1000 : RATE].any()
    stroke = min(level(legato, RATE + at, 480) for at in range(0, 800, 100))
    assert 0.2 < stroke / level(legato, RATE // 2, 4800) < 0.7


def test_it_breathes_where_a_breath_is_allowed() -> None:
    first, second = line(["A4", "B4"], Articulation.SLURRED)
    breathing = articulated(
        [Note(0, first.pitch, first.beat, first.length, first.start, True), second],
        Articulation.SLURRED,
    )
    sound = partner(breathing, 60.0, Tuning(), RATE)
    assert not sound[RATE - round(0.29 * RATE) : RATE].any()
    assert sound[RATE : RATE + 100].any()


def test_fast_notes_still_sound_more_than_they_pause() -> None:
    notes = line(["A4"] * 8, Articulation.DOUBLE, Fraction(1, 4))
    sound = partner(notes, 180.0, Tuning(), RATE)
    assert np.mean(np.abs(sound) > 0) > 0.8


@pytest.mark.parametrize("midi", [60, 69, 81, 96])
def test_the_harmonics_have_the_published_levels(midi: int) -> None:
    """SHARC flute, levels in dB re the strongest harmonic (G. Sandell, SHARC archive)."""
    published_db = {
        60: (-9.6, 0.0, -6.4, -11.5),
        69: (0.0, -2.8, -17.1, -15.5),
        81: (0.0, -16.5, -16.9, -32.4),
        96: (0.0, -30.3, -27.5, -43.7),
    }[midi]
    hz = 440.0 * 2 ** ((midi - 69) / 12)
    sound = drone(Pitch.parse({60: "C4", 69: "A4", 81: "A5", 96: "C7"}[midi]), 2.0, Tuning(), RATE)
    middle = sound[RATE // 2 : RATE * 3 // 2] * np.hanning(RATE)
    time_s = np.arange(RATE) / RATE
    levels = np.array(
        [abs(np.sum(middle * np.exp(-2j * np.pi * k * hz * time_s))) for k in range(1, 5)]
    )
    np.testing.assert_allclose(20 * np.log10(levels / levels.max()), published_db, atol=0.3)


def test_the_table_has_six_harmonics_for_every_anchor() -> None:
    assert {len(levels) for levels in HARMONIC_LEVELS_DB.values()} == {6}
    assert all(max(levels) == 0.0 for levels in HARMONIC_LEVELS_DB.values())


def test_the_top_is_softer_than_the_middle() -> None:
    """A tone at one level is louder to the ear from 2 to 5 kHz than at 500 Hz (ISO 226, equal
    loudness); the partner gives way as it climbs and never the other way round."""
    middle, high, top = (
        level(drone(Pitch.parse(name), 2.0, Tuning(), RATE), RATE, RATE)
        for name in ("C5", "C6", "C7")
    )
    assert middle > 1.2 * high > 1.2**2 * top


def test_it_is_never_loud() -> None:
    sound = partner(line(NAMES, Articulation.SLURRED), 120.0, Tuning(), RATE)
    assert np.abs(sound).max() < 0.3
    assert np.abs(
        partner(line(NAMES, Articulation.SLURRED), 120.0, Tuning(), RATE, 0, 0.5)
    ).max() == pytest.approx(np.abs(sound).max() / 2, rel=1e-5)


def test_a_drone_begins_and_ends_softly_in_tune() -> None:
    sound = drone(Pitch.parse("D4"), 3.0, Tuning(442.0), RATE)
    assert sound.shape == (3 * RATE,)
    assert np.abs(sound[:240]).max() < 0.002
    assert np.abs(sound[-240:]).max() < 0.002
    assert abs(cents_off(sound[RATE // 2 : RATE * 5 // 2], 442.0 * 2 ** (-7 / 12), RATE)) < 0.1
