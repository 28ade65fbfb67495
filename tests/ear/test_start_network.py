"""The network that says how notes started, whatever its weights say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.bench.ear.takes import FIRST_S, RATE, made
from tests.ear.made_flute import as_expected
from trainer.ear.hear import hear
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_start import (
    doubted_slurs,
    doubted_soft_strokes,
    onset_of,
    possible_kinds,
    slurs_with_bursts,
    starts_out_of_sound,
    where_few_are_said,
)
from trainer.ear.segments.seam_patch import ROWS, STEPS
from trainer.ear.segments.start_network import (
    BESIDE,
    FACTS,
    KINDS,
    LAYERS,
    REACH,
    Values,
    start_network,
)
from trainer.ear.segments.transition import Transition
from trainer.music.note import Start
from trainer.music.tuning import Tuning

FURTHEST = LAYERS * max(REACH, *BESIDE)
"""So far away a seam can still be heard of."""


def _looks(count: int) -> Values:
    dice = np.random.default_rng(count)
    patches = dice.uniform(-1.0, 0.0, (count, ROWS, STEPS)).astype(np.float32)
    facts = dice.uniform(0.0, 1.0, (count, FACTS)).astype(np.float32)
    network = start_network()
    return network.looked_at(network.seen(patches), facts)


@pytest.mark.parametrize("count", [1, 2, REACH, 60])
def test_chances_of_a_take_of_any_length_add_up(count: int) -> None:
    possible = np.ones((count, len(KINDS)), bool)
    possible[0, 0] = False
    chances = start_network().chances(_looks(count), possible)
    assert chances.shape == (count, len(KINDS))
    assert np.allclose(chances.sum(axis=1), 1.0)
    assert chances[0, 0] == 0.0


def test_what_is_played_long_before_or_after_changes_nothing() -> None:
    looks = _looks(2 * FURTHEST)
    possible = np.ones((len(looks), len(KINDS)), bool)
    whole = start_network().chances(looks, possible)
    looks[-1] += 1.0
    told = np.abs(start_network().chances(looks, possible) - whole).max(axis=1)
    assert told[: -FURTHEST - 1].max() < 1e-6
    assert told[-2] > 1e-6


def test_each_place_is_looked_at_for_itself() -> None:
    together = _looks(5)
    network = start_network()
    dice = np.random.default_rng(5)
    patches = dice.uniform(-1.0, 0.0, (5, ROWS, STEPS)).astype(np.float32)
    facts = dice.uniform(0.0, 1.0, (5, FACTS)).astype(np.float32)
    alone = [
        network.looked_at(network.seen(patches[n : n + 1]), facts[n : n + 1]) for n in range(5)
    ]
    assert np.allclose(together, np.concatenate(alone), atol=1e-4)


def test_each_seam_by_itself_hears_nothing_of_the_others() -> None:
    looks, possible = _looks(5), np.ones((5, len(KINDS)), bool)
    possible[1, 0] = False
    together = start_network().chances_alone(looks, possible)
    alone = [start_network().chances_alone(looks[n : n + 1], possible[n : n + 1]) for n in range(5)]
    assert np.allclose(together, np.concatenate(alone))
    assert together[1, 0] == 0.0
    assert np.allclose(together.sum(axis=1), 1.0)


def test_where_nothing_rings_slurs_are_said() -> None:
    """Half of this scale's slurs their seams hardly show."""
    dry = made(Start.SLURRED, 100, 0.0, 8105)
    take = hear(dry.samples, RATE, dry.expected, dry.bpm, Tuning(), FIRST_S)
    starts = [note.start for note in take.notes[1:]]
    assert starts.count(Start.SLURRED) >= 0.95 * len(starts)


SOFT = (
    (0.84, 0.62, 0.77, 0.89, 0.95, 0.44, 0.62, 0.87, 0.71, 0.94),
    (0.13, 0.31, 0.20, 0.06, 0.04, 0.53, 0.35, 0.10, 0.11, 0.03),
)
"""Chances of a slur, and of a soft stroke, at ten soft strokes of the made flute, each by itself,
in a room of 0.4 s; they were heard as slurs."""
WIDE = (
    (0.40, 0.74, 0.23, 0.94, 0.68, 0.98, 0.74, 0.52, 0.92, 0.90),
    (0.04, 0.01, 0.10, 0.03, 0.13, 0.01, 0.06, 0.24, 0.05, 0.07),
)
"""The same of ten slurs over wide leaps between recorded notes in a room of 0.8 s: the slurs are
hardly plainer, but no soft strokes."""
HARDLY = (
    (0.95, 0.83, 0.69, 0.49, 0.46, 0.85, 0.58, 0.79, 0.77, 0.93),
    (0.03, 0.10, 0.13, 0.27, 0.33, 0.10, 0.14, 0.11, 0.10, 0.03),
)
"""The same there through a gain that rides: hardly unlike soft strokes."""


@pytest.mark.parametrize(
    ("seams", "asked", "in_doubt"),
    [
        (SOFT, Start.SLURRED, True),
        (WIDE, Start.TONGUED, False),
        (WIDE, Start.LEGATO_TONGUE, False),
        (HARDLY, Start.TONGUED, False),
        (HARDLY, Start.LEGATO_TONGUE, True),
    ],
)
def test_slurs_that_might_be_soft_strokes_are_doubted(
    seams: tuple[tuple[float, ...], ...], asked: Start, in_doubt: bool
) -> None:
    """Sooner where soft strokes were asked; but not a breath among them."""
    alone = np.array(
        [[slur, soft, 1 - slur - soft, 0.0] for slur, soft in zip(*seams, strict=True)]
    )
    passage = np.array([[0.94, 0.05, 0.01, 0.0]] * len(alone))
    alone[3], passage[3] = (0.2, 0.1, 0.1, 0.6), (0.01, 0.01, 0.02, 0.96)
    possible = np.ones(alone.shape, bool)
    assert doubted_slurs(passage, alone, possible, [asked] * len(alone)).tolist() == [
        in_doubt and place != 3 for place in range(len(alone))
    ]


SLURS = (
    (0.37, 0.79, 0.84, 0.56, 0.81, 0.73, 0.23, 0.67, 0.20, 0.18),
    (0.27, 0.09, 0.06, 0.31, 0.08, 0.22, 0.66, 0.30, 0.55, 0.70),
    (0.35, 0.11, 0.04, 0.12, 0.10, 0.04, 0.11, 0.02, 0.25, 0.11),
)
"""Chances of a slur, a soft stroke and a hard one at ten slurs of TimGM6mb's flute, each by itself,
in a room of 0.4 s; the whole line was heard as soft strokes."""
STROKES = (
    (0.50, 0.47, 0.12, 0.53, 0.59, 0.02, 0.14, 0.24, 0.02, 0.26),
    (0.18, 0.32, 0.24, 0.39, 0.09, 0.07, 0.68, 0.34, 0.41, 0.13),
    (0.31, 0.21, 0.62, 0.08, 0.18, 0.90, 0.18, 0.42, 0.56, 0.59),
)
"""The same of ten strokes of FluidR3's flute in a room of 0.8 s, heard so as well."""


@pytest.mark.parametrize(
    ("seams", "asked", "in_doubt"),
    [
        (SLURS, Start.SLURRED, True),
        (SLURS, Start.TONGUED, False),
        (SLURS, None, False),
        (STROKES, Start.SLURRED, False),
    ],
)
def test_soft_strokes_that_might_be_slurs_are_doubted_where_slurs_were_asked(
    seams: tuple[tuple[float, ...], ...], asked: Start | None, in_doubt: bool
) -> None:
    alone = np.array([[*chances, 1 - sum(chances)] for chances in zip(*seams, strict=True)])
    passage = np.array([[0.03, 0.95, 0.01, 0.01]] * len(alone))
    alone[3], passage[3] = (0.9, 0.05, 0.05, 0.0), (0.01, 0.01, 0.97, 0.01)
    possible = np.ones(alone.shape, bool)
    assert doubted_soft_strokes(passage, alone, possible, [asked] * len(alone)).tolist() == [
        in_doubt and place != 3 for place in range(len(alone))
    ]


@pytest.mark.parametrize(
    ("bursts_db", "in_doubt"),
    [
        ((4.8, 2.9, 4.5, 12.7, 3.1, 0.2), False),
        ((9.1, 8.4, 13.2, 12.2, 10.9, 12.1), True),
        ((12.1, 8.4, 13.2), False),
    ],
)
def test_slurs_that_all_have_bursts_are_doubted(
    bursts_db: tuple[float, ...], in_doubt: bool
) -> None:
    """As of a flute whose strokes have no air before the tone; recorded legato has 3 to 5 dB on
    average (our own measurement); of few slurs nothing is known."""
    chances = np.array([[0.94, 0.02, 0.03, 0.01]] * len(bursts_db))
    seams = [_seam(0.99, db) for db in bursts_db]
    assert slurs_with_bursts(chances, seams).tolist() == [in_doubt] * len(bursts_db)


@pytest.mark.parametrize(
    ("burst_s", "burst_db", "struck_s"),
    [(0.98, 6.0, 0.98), (0.98, 20.0, 0.98), (0.96, 6.0, 0.99), (0.96, 20.0, 0.99)],
)
def test_a_burst_away_from_the_tones_rise_is_no_stroke(
    burst_s: float, burst_db: float, struck_s: float
) -> None:
    """However strong: of 295 takes of recorded notes fewer strokes lay 25 ms off so, 263 for 325
    (our own measurement)."""
    assert onset_of(_seam(burst_s, burst_db), Start.TONGUED) == struck_s


@pytest.mark.parametrize(("leap_semitones", "may_be"), [(0.1, False), (0.45, True)])
def test_a_half_step_that_a_hall_has_narrowed_may_be_slurred(
    leap_semitones: float, may_be: bool
) -> None:
    """In a hall of 1.8 s slurred half-steps were measured 0.4 to 0.6 of a semitone apart, notes
    struck again mostly within 0.1 (our own measurement)."""
    sound = NoteSegment(0.0, 1.0, 74.0, 0.9)
    seam = replace(_seam(0.99, 3.0), leap_semitones=leap_semitones)
    assert possible_kinds([sound], [seam])[0, KINDS.index(Start.SLURRED)] == may_be


@pytest.mark.parametrize(
    ("midi", "dip_db", "reached", "in_doubt"),
    [(76.0, 6.3, False, True), (76.0, 40.0, False, False), (76.0, 6.3, True, False),
     (74.0, 6.3, False, False)],
)  # fmt: skip
def test_a_stroke_is_in_doubt_where_a_pitch_was_lost_and_the_sound_went_on(
    midi: float, dip_db: float, reached: bool, in_doubt: bool
) -> None:
    """Slurred notes of recorded lines in a room of 0.8 s and in halls have stood a tenth of a
    second apart so, the sound 6 dB down between; where the air stops a note falls by 20 dB and
    more, and the same pitch again needs a tongue or a breath."""
    before, sound = NoteSegment(74.0, 0.0, 0.9, -20.0), NoteSegment(midi, 1.0, 1.5, -20.0)
    seams = [replace(_seam(0.99, 3.0), dip_db=db) for db in (60.0, dip_db)]
    joined = (None, before if reached else None)
    assert starts_out_of_sound((before, sound), joined, seams).tolist() == [False, in_doubt]


def _seam(burst_s: float, burst_db: float) -> Transition:
    """A step whose new tone begins to rise at 0.99 s, with a burst."""
    return Transition(
        change_s=1.0,
        off_s=0.99,
        on_s=1.0,
        begin_s=0.99,
        rises_s=0.02,
        gap_gain=0.01,
        transient_s=burst_s,
        transient_db=burst_db,
        dip_db=3.0,
        hollow_s=0.0,
        high_dip_db=1.0,
        leap_semitones=2.0,
        rough_s=1.0,
    )


@pytest.mark.parametrize("gap_s", [0.005, 0.025])
def test_where_the_air_stops_between_steps_nothing_is_called_slurred(gap_s: float) -> None:
    """Tones that fade in within 20 ms without a stroke: no flute that was fitted on begins so."""
    rate, midis = 44100, (74, 76, 78, 79, 81, 83, 81, 79, 78, 76, 74)
    time_s = np.arange(round(0.25 * rate)) / rate
    edge = np.minimum(1, time_s / 0.02) ** 2 * np.minimum(1, time_s[::-1] / 0.018) ** 2
    parts = [np.zeros(rate // 2)]
    for midi in midis:
        turn = 2 * np.pi * 440 * 2 ** ((midi - 69) / 12) * time_s
        waves = (a * np.sin(n * turn) for n, a in enumerate((0.1, 0.06, 0.03), start=1))
        parts += [edge * sum(waves), np.zeros(round(gap_s * rate))]
    sound = np.concatenate([*parts, np.zeros(rate // 2)])
    sound += 1e-4 * np.random.default_rng(1).standard_normal(sound.size)
    take = hear(sound.astype(np.float32), rate, as_expected(midis), 120, Tuning(), None)
    assert all(note.midi is not None for note in take.expected_notes)
    assert Start.SLURRED not in {note.start for note in take.notes}


def test_nothing_is_said_where_little_could_be() -> None:
    """The start of a take in a far hall, and how it went on beside the microphone: what is near
    counts, the other end of the take doesn't."""
    said = np.array([*([False] * 9 + [True]) * 3, *([True] * 30)])
    lost = where_few_are_said(said)
    assert lost[:20].all()
    assert not lost[30:].any()
    assert not where_few_are_said(np.array([True, False, True])).any()
