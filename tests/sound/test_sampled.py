"""A sampled flute is as true as the trainer's own tone, whatever its samples are like.

The wavering flute stands in for a SoundFont where none is installed: a few cents off, late and
with a vibrato, as the flutes of the free General MIDI SoundFonts are.
"""

from __future__ import annotations

import sys
from fractions import Fraction
from functools import partial as bound
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from tests.sound.test_partner import NAMES, RATE, cents_off, level, line
from trainer.errors import SoundError
from trainer.music.note import Articulation
from trainer.music.tuning import Tuning
from trainer.sound.partner import Signal, Voice, partner
from trainer.sound.sampled import USUAL_PLACES, Play, SampledFlute, sampled_flute

OFF_CENTS, VIBRATO_CENTS, VIBRATO_HZ, SPEAKS_S = 7.0, 12.0, 5.3, 0.12


def wavering(rate: int) -> Play:
    """A flute that is sharp, late and full of vibrato."""

    def play(key: int, frames: int) -> Signal:
        time_s = np.arange(frames) / rate
        cents = OFF_CENTS + VIBRATO_CENTS * np.sin(2 * np.pi * VIBRATO_HZ * time_s + key)
        hz = 440.0 * 2 ** ((key - 69 + cents / 100) / 12)
        turn = 2 * np.pi * np.cumsum(hz) / rate
        swell = np.minimum(1.0, time_s / SPEAKS_S) * (1 + 0.2 * np.sin(2 * np.pi * 5.3 * time_s))
        noise = 1e-3 * np.random.default_rng(key).standard_normal(frames)
        return np.asarray(
            swell * (0.1 * np.cos(turn) + 0.12 * np.cos(2 * turn + 1) + 0.02 * np.cos(3 * turn))
            + noise
        )

    return play


def of_the_system() -> Voice:
    pytest.importorskip(
        "fluidsynth", reason="needs libfluidsynth and pyfluidsynth", exc_type=ImportError
    )
    if not any(place.exists() for place in USUAL_PLACES):
        pytest.skip("no SoundFont on this machine (Debian: timgm6mb-soundfont)")
    return sampled_flute(None, RATE)


@pytest.fixture(scope="module", params=["wavering flute", "the system's SoundFont"])
def voice(request: pytest.FixtureRequest) -> Voice:
    return SampledFlute(wavering, RATE) if "wavering" in request.param else of_the_system()


@pytest.mark.parametrize("a4_hz", [440.0, 442.0])
@pytest.mark.parametrize("articulation", [Articulation.SLURRED, Articulation.SINGLE])
def test_every_note_is_in_tune_to_a_tenth_of_a_cent_all_the_way(
    voice: Voice, articulation: Articulation, a4_hz: float
) -> None:
    """f(n) = A4 · 2^((n − 69)/12): UNSW Music Acoustics, J. Wolfe; A4 = 440 Hz, ISO 16:1975."""
    notes = line(NAMES, articulation)
    sound = partner(notes, 60.0, Tuning(a4_hz), RATE, voice=voice)
    for index, note in enumerate(notes):
        steady = sound[index * RATE + RATE // 10 : (index + 1) * RATE - RATE // 10]
        hz = a4_hz * 2 ** ((note.pitch.midi - 69) / 12)
        assert abs(cents_off(steady, hz, RATE)) < 0.1
        quarters = steady.reshape(4, -1)
        assert max(abs(cents_off(quarter, hz, RATE)) for quarter in quarters) < 0.5


def test_tongued_onsets_stand_on_their_sample(voice: Voice) -> None:
    sound = partner(line(NAMES, Articulation.SINGLE), 97.0, Tuning(), RATE, voice=voice)
    for number in range(1, len(NAMES)):
        frame = round(Fraction(60 * RATE, 97) * number)
        assert not sound[frame - 240 : frame].any()
        assert sound[frame : frame + 2].any()
        spoken = level(sound, frame + RATE // 50)
        assert spoken > 0.6 * level(sound, frame + RATE // 4, RATE // 5)


def test_a_slur_neither_dips_nor_cracks(voice: Voice) -> None:
    notes = line(["A4", "B4", "C5", "A4", "E5"], Articulation.SLURRED, Fraction(1, 2))
    sound = partner(notes, 60.0, Tuning(), RATE, voice=voice).astype(np.float64)
    for number in range(1, len(notes)):
        border = number * RATE // 2
        around = [level(sound, border + way * RATE // 10, RATE // 10) for way in (-1, 1)]
        assert level(sound, border, RATE // 50) > 0.7 * min(around)
        bends = np.abs(np.diff(sound[border - RATE // 10 : border + RATE // 10], 2))
        at = bends.size // 2
        assert (
            bends[at - 10 : at + 10].max() < 1.3 * np.delete(bends, range(at - 10, at + 10)).max()
        )


def test_it_is_as_loud_as_the_steady_tone(voice: Voice) -> None:
    notes = line(NAMES, Articulation.SINGLE)
    ours, steady = (partner(notes, 60.0, Tuning(), RATE, voice=one) for one in (voice, None))
    for begin, end in pairwise(range(0, ours.size + 1, RATE)):
        rms = [
            np.sqrt(np.mean(sound[begin:end].astype(np.float64) ** 2)) for sound in (ours, steady)
        ]
        assert abs(20 * np.log10(rms[0] / rms[1])) < 2.0


def test_a_note_may_be_longer_than_what_was_made_ready(voice: Voice) -> None:
    (note,) = line(["D5"], Articulation.SINGLE, Fraction(20))
    sound = partner([note], 60.0, Tuning(), RATE, voice=voice)
    end = sound[18 * RATE : 19 * RATE]
    assert abs(cents_off(end, 440.0 * 2 ** (5 / 12), RATE)) < 0.1
    assert level(sound, 18 * RATE, RATE) > 0.5 * level(sound, RATE, RATE)


def test_at_another_rate(voice: Voice) -> None:
    (note,) = line(["D5"], Articulation.SINGLE)
    sound = partner([note], 60.0, Tuning(), 44100, voice=voice)
    assert abs(cents_off(sound[4410:39690], 440.0 * 2 ** (5 / 12), 44100)) < 0.1


def test_a_flute_without_sound_at_some_pitch_is_refused() -> None:
    def with_a_hole(rate: int) -> Play:
        whole = wavering(rate)
        return lambda key, frames: whole(key, frames) * (key != 60)

    with pytest.raises(SoundError, match="no sound at"):
        SampledFlute(with_a_hole, RATE)


def test_what_is_missing_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "fluidsynth", None)
    with pytest.raises(SoundError, match="pip install pyfluidsynth"):
        sampled_flute(tmp_path / "flute.sf2", RATE)
    monkeypatch.setattr("trainer.sound.sampled.USUAL_PLACES", ())
    with pytest.raises(SoundError, match="No SoundFont was found"):
        sampled_flute(None, RATE)


def test_a_bad_soundfont_is_said(tmp_path: Path) -> None:
    pytest.importorskip(
        "fluidsynth", reason="needs libfluidsynth and pyfluidsynth", exc_type=ImportError
    )
    file = tmp_path / "flute.sf2"
    opened = bound(sampled_flute, file, RATE)
    with pytest.raises(SoundError, match="There is no SoundFont"):
        opened()
    file.write_text("a flute")
    with pytest.raises(SoundError, match="no SoundFont that can be read"):
        opened()
