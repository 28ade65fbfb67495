"""Where a note lies that a hall hides, by a network that hears it begin."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.ear.conftest import RATE
from tests.ear.made_flute import as_expected, in_a_room, microphoned
from tests.ear.recorded import RATE as RECORDED_RATE
from tests.ear.recorded import single_notes, stitched
from trainer.ear.analysis.features import FeatureStream
from trainer.ear.hear import hear
from trainer.ear.heard import Room
from trainer.ear.segments import stroke_place as places
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.reattacks import Reattack
from trainer.ear.segments.segment_measures import MeasurementCache, transition_between
from trainer.ear.segments.stroke_place import (
    StrokePlace,
    begins_elsewhere,
    begins_well_before,
    held_to_its_beginning,
    is_in_doubt,
    rings_over,
)
from trainer.ear.segments.transition import Transition
from trainer.music.note import Start
from trainer.music.tuning import Tuning

HALL = Room(decay_s=2.0, ring_db=-3.0, ends=2)
"""-12 dB after 0.3 s."""
DRY = Room(decay_s=0.3, ring_db=-10.0, ends=2)
"""-70 dB."""


def _segment(clarity: float) -> NoteSegment:
    return NoteSegment(76, 1.0, 1.5, -20.0, clarity)


@pytest.mark.parametrize(
    ("room", "clarity", "rings"),
    [
        pytest.param(HALL, 0.999, True, id="its note ends tell"),
        pytest.param(DRY, 0.9, False, id="and tell of a dry one, whatever else isn't clear"),
        pytest.param(
            None, 0.95, True, id="none ends, as in a hall in which nothing falls by 20 dB"
        ),
        pytest.param(None, 0.999, False, id="none ends, as in a dry legato line"),
    ],
)
def test_whether_a_room_rings_over_a_stroke(room: Room | None, clarity: float, rings: bool) -> None:
    assert rings_over(room, _segment(0.999), _segment(clarity)) is rings
    assert rings_over(room, _segment(clarity), _segment(0.999)) is rings


@pytest.mark.parametrize(
    ("begins_s", "log_odds", "sure", "told"),
    [
        pytest.param(1.88, 3.0, False, (1.88, False), id="a recorded note speaks within 0.12 s"),
        pytest.param(1.83, 2.0, False, (2.0, False), id="earlier may be air, or the note before"),
        pytest.param(1.83, 3.0, False, (1.83, False), id="but it surely begins there"),
        pytest.param(1.88, -0.1, False, (2.0, False), id="less likely than not"),
        pytest.param(1.88, 2.0, True, (2.0, True), id="the place is sure, and this isn't"),
        pytest.param(1.88, 3.0, True, (1.88, False), id="both are sure, of two places"),
        pytest.param(2.05, 3.0, True, (2.05, False), id="or later, of two places"),
        pytest.param(1.99, 3.0, False, (2.0, True), id="so near, the seam is the finer measure"),
        pytest.param(1.97, 3.0, True, (1.97, True), id="both show it"),
        pytest.param(1.97, 3.0, False, (1.97, True), id="that makes it sure"),
        pytest.param(1.99, 2.0, False, (2.0, False), id="near, but not sure"),
    ],
)
def test_an_onset_is_held_to_where_the_note_likely_begins(
    begins_s: float, log_odds: float, sure: bool, told: tuple[float, bool]
) -> None:
    place = StrokePlace(2.0, 2.0, sure)
    held = held_to_its_beginning(place, Reattack(begins_s, log_odds), _edge())
    assert (held.stroke_s, held.sure) == pytest.approx(told)
    assert held_to_its_beginning(place, None, _edge()) == place


@pytest.mark.parametrize(
    ("clarity", "stroke_s"),
    [
        pytest.param(0.999, 1.03, id="nothing rings: the seam is the finer measure"),
        pytest.param(0.95, 1.0, id="the note before rings over the seam of a soft stroke"),
    ],
)
def test_which_of_two_near_places_counts_where_gaps_are_heard(
    monkeypatch: pytest.MonkeyPatch, clarity: float, stroke_s: float
) -> None:
    monkeypatch.setattr(places, "rings_over", lambda *_: False)
    monkeypatch.setattr(places, "_by_the_seam", lambda *_, **__: StrokePlace(1.03, 1.04, False))
    monkeypatch.setattr(places, "_begins", lambda *_: Reattack(1.0, 8.0))
    stream = FeatureStream(RATE, Tuning())
    stream.feed(np.zeros(3 * RATE, np.float32))
    found = places.stroke_place(
        stream.finished(),
        _edge(),
        Start.LEGATO_TONGUE,
        _segment(clarity),
        NoteSegment(74, 0.5, 1.0, -20.0),
        is_said=False,
    )
    assert found == StrokePlace(stroke_s, 1.04, sure=True)


def _edge() -> Transition:
    """The seam of silence to silence."""
    stream = FeatureStream(RATE, Tuning())
    stream.feed(np.zeros(3 * RATE, np.float32))
    sound = NoteSegment(76, 2.0, 2.5, -90.0)
    return transition_between(stream.finished(), None, sound, MeasurementCache())


@pytest.mark.parametrize(
    ("begins_s", "log_odds", "dip_db", "doubted"),
    [
        pytest.param(1.93, 0.5, 12.0, True, id="a stroke hidden before what was heard"),
        pytest.param(1.93, -0.5, 12.0, False, id="less likely than not"),
        pytest.param(1.97, 8.0, 2.0, False, id="as near as both can tell"),
        pytest.param(2.07, 0.5, 2.0, True, id="what rang before, no stroke to hear"),
        pytest.param(2.07, 8.0, 12.0, False, id="a stroke, and then a tone slow to speak"),
    ],
)
def test_a_sure_place_is_in_doubt_where_the_sound_is_heard_to_begin_elsewhere(
    begins_s: float, log_odds: float, dip_db: float, doubted: bool
) -> None:
    edge = replace(_edge(), transient_db=3.0, dip_db=dip_db)
    place = StrokePlace(2.0, 2.02, sure=True)
    assert begins_elsewhere(Reattack(begins_s, log_odds), place, edge) is doubted


@pytest.mark.parametrize(("log_odds", "doubted"), [(-0.5, True), (0.5, False)])
def test_a_place_is_in_doubt_where_no_sound_is_heard_to_begin(
    log_odds: float, doubted: bool
) -> None:
    edge = replace(_edge(), transient_db=3.0, dip_db=12.0)
    place = StrokePlace(2.0, 2.02, sure=True)
    assert is_in_doubt(Reattack(2.0, log_odds), place, edge) is doubted


@pytest.mark.parametrize(
    ("begins_s", "log_odds", "doubted"),
    [(1.965, 8.0, True), (1.965, 0.5, False), (1.975, 8.0, False), (2.04, 8.0, False)],
)
def test_a_place_is_late_only_where_the_sound_is_not_surely_heard_before(
    begins_s: float, log_odds: float, doubted: bool
) -> None:
    place = StrokePlace(2.0, 2.02, sure=True)
    assert begins_well_before(Reattack(begins_s, log_odds), place) is doubted


@pytest.mark.usefixtures("recordings")
def test_in_a_hall_in_which_no_note_ends_onsets_lie_where_the_notes_begin() -> None:
    """Recorded notes no constant was chosen by, four and a half a second, in a hall of 2 s that
    rings as loud as the flute; an onset counts as found within 50 ms, as in mir_eval's note F."""
    first = {
        note.midi: note
        for note in reversed(single_notes())
        if note.held_out and note.length == "025" and note.dynamic in ("mezzo-piano", "forte")
    }
    midis = sorted(midi for midi in first if 64 <= midi <= 88)
    off_s: list[float] = []
    for seed in (1, 2, 3):
        dice = np.random.default_rng(seed)
        order = [int(midi) for midi in dice.permutation(midis)]
        sound, onsets_s = stitched([first[midi] for midi in order], 0.22)
        end = round((onsets_s[-1] + 0.2) * RECORDED_RATE)
        loud = 0.4 * sound[:end] / np.abs(sound[:end]).max()
        rings = in_a_room(loud, RECORDED_RATE, 2.0, dice, 0.0)[:end]
        samples = microphoned(0.5 * rings, dice, -66).astype(np.float32)
        expected = as_expected(order, Start.TONGUED)
        take = hear(samples, RECORDED_RATE, expected, 68, Tuning(), None, timed=False)
        assert take.room is None
        heard = zip(take.expected_notes, onsets_s, strict=True)
        off_s += [note.onset_s - at_s for note, at_s in heard if note.onset_s is not None]
    assert len(off_s) >= 0.85 * 3 * len(midis)
    assert np.abs(off_s).max() < 0.05
