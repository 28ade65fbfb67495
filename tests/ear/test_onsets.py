"""When each note starts, and how, against exact truth, dry and in a room."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from tests.ear.conftest import FIRST_S, RATE, scored
from tests.ear.made_flute import (
    Blown,
    as_expected,
    blown,
    in_a_room,
    microphoned,
    scale,
    sounded,
)
from tests.sweeps import mostly_slow, slow_but_for
from trainer.ear.analysis.features import FeatureStream
from trainer.ear.analysis.frames import Samples
from trainer.ear.echo.canceller import EchoCanceller, KnownSound
from trainer.ear.hear import hear
from trainer.ear.heard import HeardNote, State
from trainer.ear.segments.gap import gap
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.own_harmonics import OwnTone, own_tone
from trainer.ear.segments.stroke_place import StrokePlace, changed_with_its_tone
from trainer.figures.onset_places import onset_places
from trainer.figures.take_measures import take_measures
from trainer.music.note import Start
from trainer.music.tuning import Tuning

TONGUED = {Start.TONGUED, Start.LEGATO_TONGUE}
EVERY = [Start.SLURRED, Start.LEGATO_TONGUE, Start.TONGUED, Start.BACK_TONGUED]


@pytest.mark.parametrize("bpm", mostly_slow([60, 100, 160], 2))
@pytest.mark.parametrize("start", EVERY)
def test_onsets_dry(start: Start, bpm: float) -> None:
    got = scored(start, bpm)
    assert got.take.count(State.MISSED) == got.take.count(State.EXTRA) == 0
    assert np.mean(np.abs(got.late_ms()) < 25) >= 0.995
    assert np.quantile(np.abs(got.late_ms()), 0.95) <= 12.0
    assert np.median(np.abs(got.late_ms())) <= 2.0


@pytest.mark.parametrize(
    ("start", "median_ms"),
    [
        (Start.SLURRED, 5),
        (Start.TONGUED, 2),
        pytest.param(Start.BACK_TONGUED, 2, marks=pytest.mark.slow),
        pytest.param(Start.LEGATO_TONGUE, 11, marks=pytest.mark.slow),
    ],
)
def test_onsets_in_a_room(start: Start, median_ms: float) -> None:
    late_ms = np.concatenate([scored(start, bpm, 0.3).late_ms() for bpm in (60, 100, 160)])
    assert np.mean(np.abs(late_ms) < 25) >= 0.96
    assert np.median(np.abs(late_ms)) <= median_ms


@pytest.mark.parametrize("ends_s", [0.0, 0.01, 0.05])
@pytest.mark.parametrize("band_hz", [(700, 6000), (2500, 9000)])
def test_a_breath_taken_before_a_note_is_not_its_beginning(
    band_hz: tuple[float, float], ends_s: float
) -> None:
    """Breaths of 0.15 to 0.2 s, 16 dB below the tone; their sound is from memory, no source."""
    dice = np.random.default_rng(5)
    midis = [67, 72, 74, 76, 79, 84, 77, 71]
    onsets_s = 0.5 + 0.6 * np.arange(len(midis))
    notes = [
        Blown(midi, onset_s, onset_s + 0.6, Start.TONGUED, gap_s=0.25, transient_db=-32.0)
        for midi, onset_s in zip(midis, onsets_s.tolist(), strict=True)
    ]
    sound = sounded(notes, RATE, dice)
    band = signal.butter(2, band_hz, "band", fs=RATE, output="sos")
    for onset_s in onsets_s[1:]:
        breath = signal.sosfilt(band, dice.normal(size=round(dice.uniform(0.15, 0.2) * RATE)))
        breath *= np.hanning(breath.size) / breath.std() * 10 ** (-36 / 20)
        end = round((onset_s - ends_s) * RATE)
        sound[end - breath.size : end] += breath
    take = hear(
        microphoned(sound, dice), RATE, as_expected(midis, length=Fraction(1)), 100, Tuning(), None
    )
    heard_s = np.array([note.onset_s for note in take.expected_notes], float)
    assert np.abs(heard_s - onsets_s).max() < 0.03


@pytest.mark.parametrize("late_s", [-0.06, 0.06])
def test_a_lead_is_negative_and_a_lag_positive(late_s: float) -> None:
    """The same take against a first beat that stands later or earlier than it was played to."""
    got = scored(Start.TONGUED, 100)
    take = hear(got.samples, RATE, got.expected, 100, Tuning(), FIRST_S - late_s)
    places = onset_places(got.expected, take)
    measures = take_measures(got.expected, take, 0.6, places)
    assert measures.lead_ms == pytest.approx(1000 * late_s, abs=5)


def test_silent_air_is_heard_on_time() -> None:
    for rt60_s in (0.0, 0.3):
        got = scored(Start.SILENT_AIR, 60, rt60_s)
        assert got.take.count(State.MISSED) <= 1
        assert np.median(np.abs(got.late_ms())) <= 10.0
        assert all(note.midi is None for note in got.take.notes)


def test_slurred_is_not_heard_as_tongued_dry() -> None:
    starts = [s for bpm in (60, 100, 160) for s in scored(Start.SLURRED, bpm).starts()]
    assert starts.count(Start.SLURRED) >= 0.99 * len(starts)


@pytest.mark.parametrize(
    "start",
    slow_but_for(
        [Start.SLURRED, Start.TONGUED],
        [Start.SLURRED, Start.LEGATO_TONGUE, Start.TONGUED, Start.BREATH],
    ),
)
def test_starts_in_a_room(start: Start) -> None:
    starts = [s for bpm in (60, 100, 160) for s in scored(start, bpm, 0.3).starts()]
    assert starts.count(start) >= 0.92 * len(starts)


@pytest.mark.parametrize("start", [Start.TONGUED, Start.BACK_TONGUED])
def test_tongued_is_not_heard_as_slurred_dry(start: Start) -> None:
    starts = [s for bpm in (60, 100, 160) for s in scored(start, bpm).starts()]
    assert sum(s in TONGUED for s in starts) >= 0.99 * len(starts)


def test_a_leaking_click_costs_nothing() -> None:
    """The click 20 dB below the flute; the trainer knows when it played it, to the round trip."""
    dice = np.random.default_rng(31)
    truth = blown(scale(), 100, Start.TONGUED, dice, FIRST_S)
    sound = sounded(truth, RATE, dice)
    time_s = np.arange(round(0.02 * RATE)) / RATE
    click = (np.sin(2 * np.pi * 1500 * time_s) * np.exp(-time_s / 0.004)).astype(np.float32)
    path = np.concatenate(
        [[0.02], 0.004 * dice.standard_normal(100) * np.exp(-np.arange(100) / 20)]
    )
    clicks = []
    for beat in range(12):
        at = round((FIRST_S + 0.6 * beat) * RATE)
        leaked = np.convolve(click, path)
        first = at + 300
        room = min(leaked.size, sound.size - first)
        if room > 0:
            sound[first : first + room] += leaked[:room]
            clicks.append(KnownSound(click, at / RATE))
    samples = microphoned(sound, dice)
    take = hear(samples, RATE, as_expected(scale()), 100, Tuning(), FIRST_S, clicks=clicks)
    assert take.count(State.MISSED) == take.count(State.EXTRA) == 0
    late_ms = [
        1000 * (note.onset_s - truth[note.index].onset_s)
        for note in take.notes
        if note.onset_s is not None and note.index is not None
    ]
    assert np.mean(np.abs(late_ms) < 25) >= 0.995


def without_known(heard: NDArray[np.float64], known: KnownSound) -> Samples:
    canceller = EchoCanceller(RATE, [known])
    canceller.learn(heard.astype(np.float32), 0)
    return np.concatenate([canceller.feed(heard.astype(np.float32)), canceller.rest()])


def test_the_known_sound_goes_and_the_rest_stays() -> None:
    dice = np.random.default_rng(3)
    time_s = np.arange(round(0.02 * RATE)) / RATE
    click = (np.sin(2 * np.pi * 1500 * time_s) * np.exp(-time_s / 0.004)).astype(np.float32)
    noise = dice.standard_normal(RATE) * 1e-4
    heard = noise.copy()
    heard[10240 : 10240 + click.size] += 0.1 * click
    known = KnownSound(click, 10000 / RATE)
    left = without_known(heard, known)
    leak_db = 20 * np.log10(np.std(left[10000:11500]) / np.std(heard[10000:11500]))
    assert leak_db < -25
    apart = without_known(noise, known)
    assert np.allclose(apart, noise, atol=1e-6)


@pytest.mark.parametrize(
    ("from_s", "to_s", "below_db", "is_slow"), [(0.0, 0.08, 20, True), (0.06, 0.09, 15, False)]
)
def test_a_tone_that_falls_again_has_spoken(
    from_s: float, to_s: float, below_db: float, is_slow: bool
) -> None:
    """Recorded notes slow to speak stand 15 to 25 dB below their tone until it catches, and vibrato
    of 5 cents made a room of 0.6 s beat by 10 dB on one that stood (our own measurements)."""
    time_s = np.arange(round(0.8 * RATE)) / RATE - 0.2
    tone = 0.1 * np.sin(2 * np.pi * 587.33 * time_s) + 0.05 * np.sin(2 * np.pi * 1174.66 * time_s)
    tone[(time_s >= from_s) & (time_s < to_s)] *= 10 ** (-below_db / 20)
    tone[(time_s < 0) | (time_s > 0.4)] = 0
    tone += 1e-5 * np.random.default_rng(3).standard_normal(tone.size)
    take = hear(tone.astype(np.float32), RATE, as_expected([74], Start.TONGUED), 60, Tuning(), 0.2)
    (note,) = take.expected_notes
    assert note.onset_s is not None
    assert note.speaks_s is not None
    assert (note.speaks_s - note.onset_s > 0.06) == is_slow


def _into_a_ringing_note(ringing_db: float, rises_from_s: float, tongue: bool) -> HeardNote:
    """C5 after an A4 that stopped at 0.59 s in a room of 0.6 s; the tone rises in 60 ms from a
    time on, the tongue may be heard at 0.6 s."""
    time_s = np.arange(round(1.3 * RATE)) / RATE - 0.3
    since_s = np.maximum(time_s - 0.3, 0.0)
    old = np.where(time_s < 0.29, 1.0, 10 ** ((ringing_db - 100 * since_s) / 20)) * (time_s > 0)
    new = np.clip((time_s + 0.3 - rises_from_s) / 0.06, 0.0, 1.0) * (time_s < 0.7)
    sound = sum(
        level * strong * np.sin(2 * np.pi * order * hz * time_s)
        for level, hz in ((old, 440.0), (new, 523.25))
        for order, strong in ((1, 0.1), (2, 0.05))
    )
    noise = np.random.default_rng(3).standard_normal(time_s.size)
    at_tongue = tongue & (time_s > 0.3) & (time_s < 0.306)
    sound = np.asarray(sound + noise * np.where(at_tongue, 0.02, 3e-4), np.float32)
    take = hear(sound, RATE, as_expected([69, 72], Start.TONGUED), 100, Tuning(), 0.3)
    return take.expected_notes[1]


@pytest.mark.parametrize("ringing_db", [-40.0, -1.0])
def test_a_stroke_under_a_ringing_note_is_where_its_own_tone_rises(ringing_db: float) -> None:
    second = _into_a_ringing_note(ringing_db, 0.6, tongue=False)
    assert second.onset_sure
    assert second.onset_s == pytest.approx(0.6, abs=0.02)


def test_a_tongue_heard_before_a_late_tone_is_its_stroke() -> None:
    """Where none is heard after a gap, it may be hidden there: the place isn't sure."""
    slow = _into_a_ringing_note(-8.0, 0.69, tongue=True)
    assert slow.onset_sure
    assert slow.onset_s == pytest.approx(0.6, abs=0.015)
    assert slow.speaks_s == pytest.approx(0.71, abs=0.03)
    assert not _into_a_ringing_note(-8.0, 0.69, tongue=False).onset_sure


@pytest.mark.parametrize("decay_s", [0.25, 0.8])
def test_how_long_neither_of_two_notes_stands_shows_in_a_room_too(decay_s: float) -> None:
    """D5 stops in time, F5 stands 20 ms later or 100; all that rings is as loud as the flute. Where
    F5 has risen shows by as much; its levels' window sees it some milliseconds before."""
    time_s = np.arange(round(1.6 * RATE)) / RATE
    gaps_s, risen_s = [], []
    for gap_s in (0.02, 0.1):
        old, new = (time_s > 0.2) & (time_s < 0.6), (time_s > 0.6 + gap_s) & (time_s < 1.1)
        tones = sum(
            strong * np.sin(2 * np.pi * order * hz * time_s) * level
            for level, hz in ((old, 587.33), (new, 698.46))
            for order, strong in ((1, 0.1), (2, 0.05), (3, 0.02))
        )
        stream = FeatureStream(RATE, Tuning())
        dice = np.random.default_rng(5)
        stream.feed(in_a_room(np.asarray(tones), RATE, decay_s, dice, 0.0).astype(np.float32))
        before = NoteSegment(74, 0.2, 0.6, -23)
        shown = gap(stream.finished(), before, NoteSegment(77, 0.6 + gap_s, 1.1, -23))
        gaps_s.append(shown.seconds or 0.0)
        risen_s.append(shown.risen_s or 0.0)
    assert gaps_s[1] - gaps_s[0] == pytest.approx(0.08, abs=0.02)
    assert risen_s == pytest.approx([0.62, 0.7], abs=0.02)


@pytest.mark.parametrize("beats", [False, True])
def test_a_tone_that_only_comes_back_stood_before_its_onset(beats: bool) -> None:
    """The beginning of a note in a live room may beat with its echoes until it is nearly gone."""
    time_s = np.arange(round(1.2 * RATE)) / RATE
    early = 0.6 * ((time_s > 0.6) & (time_s < 0.67)) if beats else 0.0 * time_s
    old, new = (time_s > 0.3) & (time_s < 0.7), early + ((time_s > 0.72) & (time_s < 1.0))
    tone = 0.1 * (
        old * np.sin(2 * np.pi * 784 * time_s) + new * np.sin(2 * np.pi * 1174.7 * time_s)
    )
    stream = FeatureStream(RATE, Tuning())
    stream.feed(tone.astype(np.float32))
    before, after = NoteSegment(79, 0.3, 0.7, -23), NoteSegment(86, 0.72, 1.0, -23)
    own = own_tone(stream.finished(), before, after)
    assert own is not None
    assert own.stood_before(0.72) == beats


@pytest.mark.parametrize(
    ("odd_db", "states"), [(-60.0, {State.MISSED}), (-15.0, {State.NOT_JUDGED, State.PLAYED})]
)
def test_an_octave_is_only_a_jump_where_nothing_of_the_note_asked_for_sounds(
    odd_db: float, states: set[State]
) -> None:
    """A room may take the fundamental of D5 down to 15 dB under its octave (our own measurement,
    recorded notes in rooms of 0.8 s)."""
    time_s = np.arange(round(1.0 * RATE)) / RATE - 0.2
    strong = {1: 0.1 * 10 ** (odd_db / 20), 2: 0.1, 3: 0.02 * 10 ** (odd_db / 20), 4: 0.02}
    tone = sum(a * np.sin(2 * np.pi * k * 587.33 * time_s) for k, a in strong.items())
    tone = np.asarray(tone) * ((time_s > 0) & (time_s < 0.5))
    tone += 1e-5 * np.random.default_rng(3).standard_normal(time_s.size)
    take = hear(tone.astype(np.float32), RATE, as_expected([74], Start.TONGUED), 100, Tuning(), 0.2)
    (note,) = take.expected_notes
    assert note.state in states


@pytest.mark.parametrize(
    ("before_db", "seen_sure", "told_s", "sure"),
    [
        pytest.param(-60, True, 1.0, True, id="late, though it looked sure"),
        pytest.param(-60, False, 1.0, True, id="unsure, in a quiet room"),
        pytest.param(-36, False, 1.0, False, id="its own pitch rings from before"),
        pytest.param(-36, True, 1.2, True, id="a small climb tells nothing against a sure place"),
        pytest.param(-24, False, 1.2, False, id="nothing climbs"),
    ],
)
def test_a_slur_lies_where_its_own_tone_begins(
    before_db: float, seen_sure: bool, told_s: float, sure: bool
) -> None:
    """The pitch wins through 0.2 s after its own harmonics have risen to -20 dB at 1 s."""
    times_s = np.arange(0.7, 1.6, 0.005)
    level_db = np.interp(times_s, [0.99, 1.01], [before_db, -20.0])
    own = OwnTone(1.2, times_s, level_db[None, :])
    place = changed_with_its_tone(own, StrokePlace(1.2, 1.2, sure=seen_sure))
    assert place.stroke_s == pytest.approx(told_s, abs=0.015)
    assert place.sure is sure
