"""A held note whose harmonics a room moves is no octave; a real octave is one.

A room takes 7 to 9 dB from the odd harmonics of a held note for a tenth of a second and more while
its even ones come out, so that the odd stand 14 to 17 dB below: recorded swells, room of 0.8 s, our
own measurement.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from tests.ear.made_flute import Sound, as_expected
from tests.ear.steady_tones import RATE, in_a_row
from trainer.ear.analysis.features import FeatureStream
from trainer.ear.analysis.frames import Samples
from trainer.ear.hear import hear
from trainer.ear.heard import State, Take
from trainer.ear.segments.note_or_octave import settled_octaves
from trainer.ear.segments.note_segment import NoteSegment
from trainer.music.tuning import Tuning

AS5, D5, B4, E4, D4, CS4 = 82, 74, 71, 64, 62, 61


def _heard(midi: int, usual_db: tuple[float, float], meanwhile_db: tuple[float, float]) -> Take:
    """What is heard of a note asked once; levels of the odd and the even harmonics of D5, and those
    they have for a seventh of a second."""
    time_s = np.arange(round(1.6 * RATE)) / RATE
    share = np.clip(4 - np.abs(time_s - 0.8) / 0.025, 0, 1)
    hz = 440 * 2 ** ((D5 - 69) / 12)
    sound = np.zeros(time_s.size)
    for order, amount in enumerate((1.0, 0.7, 0.25, 0.25, 0.05, 0.05), start=1):
        from_db, to_db = (level_db[(order + 1) % 2] for level_db in (usual_db, meanwhile_db))
        gain = 10 ** ((from_db + (to_db - from_db) * share) / 20)
        sound += 0.06 * amount * gain * np.sin(2 * np.pi * hz * order * time_s)
    return hear(_noisy(in_a_row(sound)), RATE, as_expected([midi]), 60, Tuning(), None)


def _noisy(sound: Sound) -> Samples:
    noise = 1e-4 * np.random.default_rng(5).standard_normal(sound.size)
    return (sound + noise).astype(np.float32)


@pytest.mark.parametrize("odd_db", [-10.0, -14.0])
def test_a_note_whose_odd_harmonics_a_room_takes_away_goes_on(odd_db: float) -> None:
    take = _heard(D5, (0, 0), (odd_db, 6))
    assert [note.state for note in take.notes] == [State.PLAYED]


def test_a_note_that_leaps_to_its_octave_and_back_is_heard_to() -> None:
    assert State.EXTRA in [note.state for note in _heard(D5, (0, 0), (-60, 4)).notes]


def test_the_tubes_octave_under_a_note_that_goes_on_is_no_note() -> None:
    take = _heard(D5 + 12, (-60, 0), (-6, 0))
    assert [note.state for note in take.notes] == [State.PLAYED]


def test_a_note_that_drops_to_its_octave_and_back_is_heard_to() -> None:
    assert State.EXTRA in [note.state for note in _heard(D5 + 12, (-60, 0), (4, -6)).notes]


@pytest.mark.parametrize(
    ("below_db", "state"),
    [((-13, 0, -8, -8, -6, -15), State.NOT_JUDGED), ((-4, 0, -15, -28, -40, -53), State.MISSED)],
    ids=["as a room makes C#6 sound", "C#5 in its place"],
)
def test_what_a_room_brings_out_an_octave_under_a_note_is_no_fall(
    below_db: tuple[float, ...], state: State
) -> None:
    """Levels as heard in a shoebox of 0.4 s of a sampled piccolo's C#6, which was said to fall to
    C#5, and of a recorded G5 played in the place of G6, the softest in its odd harmonics of 44."""
    beside = _tone(B4, (-26, -30, -36, -46))
    seems = _tone(CS4 + 12, tuple(level_db - 24 for level_db in below_db))
    sound = _noisy(in_a_row(beside, seems, beside))
    heard = hear(sound, RATE, as_expected([B4, CS4 + 24, B4]), 120, Tuning(), None)
    assert next(note.state for note in heard.notes if note.index == 1) is state


@pytest.mark.parametrize(
    ("before", "rings_db", "asked", "below", "levels_db", "state"),
    [
        (E4, -35, D5, 0, (-33, -25, -41), State.PLAYED),
        (E4, -35, D5, 12, (-33, -25, -33, -41), State.MISSED),
        (CS4, -28, B4, 0, (-24, -52, -42), State.PLAYED),
        (CS4, -28, B4, 12, (-36, -24, -42, -48), State.MISSED),
        (B4, -40, AS5, 12, (-24, -24, -50, -34), State.MISSED),
    ],
    ids=["D5", "D4 in its place", "B4", "B3 in its place", "A#4 in the place of A#5"],
)
def test_a_note_that_rings_into_the_next_makes_no_octave_below_it(
    before: int,
    rings_db: float,
    asked: int,
    below: int,
    levels_db: tuple[float, ...],
    state: State,
) -> None:
    """E4 beside D5 has the period of a D4, C#4 beside B4 that of a B3: levels as in recorded lines
    in a room of 0.8 s. True notes from C#4 to F4 have odd harmonics of -8 dB and more against the
    even ones there, of -20 without the first (42 recorded notes, each dry and in 0.8 s, our own
    measurement). A#4 has a third of -20 dB (Sandell's SHARC), of which a room takes 6; its first is
    louder than anything B4 can leave there."""
    around = _tone(before, (-26, -30, -36, -46))
    sound = _noisy(
        in_a_row(around, _tone(asked - below, levels_db) + _tone(before, (rings_db,)), around)
    )
    heard = hear(sound, RATE, as_expected([before, asked, before]), 120, Tuning(), None)
    assert next(note.state for note in heard.notes if note.index == 1) is state


@pytest.mark.parametrize(
    ("seconds", "asked", "heard"),
    [
        (0.09, [D5], [State.PLAYED]),
        (0.2, [D5], [State.EXTRA, State.PLAYED]),
        (0.09, [D4, D5], [State.PLAYED, State.PLAYED]),
    ],
)
def test_a_note_that_speaks_by_its_lower_octave_is_one_unless_that_was_asked_or_held(
    seconds: float, asked: list[int], heard: list[State]
) -> None:
    """Recorded D5 and G5 sound an octave lower for 50 to 90 ms first, 5 dB softer."""
    first = _tone(D4, (-30, -34, -40))[: round(seconds * RATE)]
    sound = in_a_row(np.concatenate([first, _tone(D5, (-24, -28, -36))]))
    take = hear(_noisy(sound), RATE, as_expected(asked), 60, Tuning(), None)
    assert [note.state for note in take.notes] == heard


def _tone(midi: int, levels_db: Sequence[float]) -> Sound:
    """Half a second of so loud harmonics."""
    times_s = np.arange(RATE // 2) / RATE
    hz = 440 * 2 ** ((midi - 69) / 12)
    waves = [
        10 ** (level_db / 20) * np.sin(2 * np.pi * hz * order * times_s)
        for order, level_db in enumerate(levels_db, start=1)
    ]
    return np.sum(waves, axis=0) * np.clip(np.minimum(times_s, 0.5 - times_s) / 0.01, 0, 1)


def test_a_narrow_microphone_may_hear_one_harmonic_less_of_the_higher_of_two() -> None:
    """At 8 kHz the sixth of D5 lies below the top of what is measured, a sharp one's doesn't."""
    rate = 8000
    dice = np.random.default_rng(8)
    stream = FeatureStream(rate, Tuning())
    sound = 0.1 * dice.standard_normal(2 * rate)
    sound[round(0.6 * rate) : round(0.75 * rate)] *= 0.01
    stream.feed(sound.astype(np.float32))
    features = stream.finished()
    low, high = NoteSegment(74.0, 0.3, 0.6, -20.0), NoteSegment(74.45, 0.75, 1.2, -20.0)
    octave = NoteSegment(86.2, 0.6, 0.75, -20.0)
    settled = settled_octaves(features, (low, octave, high))
    assert [one.from_s for one in settled] == [0.3, 0.6, 0.75]
