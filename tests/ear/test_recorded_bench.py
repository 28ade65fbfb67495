"""The bench on recorded notes must not lie: its truth, its counting and its rooms."""

from __future__ import annotations

import numpy as np
import pytest

pytest.importorskip("librosa", reason="the bench on recorded notes reads pitch with librosa")

from tests.bench.ear.recorded.count import count_in_time, count_told, reliability
from tests.bench.ear.recorded.heard_by import RATE, Followed, Heard, SaidNote, Shown
from tests.bench.ear.recorded.lines import LEVEL, Stroke, TrueNote, played
from tests.bench.ear.recorded.live import shown_against_said
from tests.bench.ear.recorded.notes import RecordedNote, stroke_and_speaking
from tests.bench.ear.recorded.performances import Tone, scored
from tests.bench.ear.recorded.rooms import DIRECT_S, GENERATORS, ROOMS, Place


def recorded(midi: int, *, slow_s: float = 0.0, name: str = "made") -> RecordedNote:
    """A sine that stands for a recorded note: 20 dB down from its stroke until it speaks."""
    speaks_s = 0.012 + slow_s
    time_s = np.arange(RATE) / RATE
    tone = np.sin(2 * np.pi * 440 * 2 ** ((midi - 69) / 12) * time_s)
    tone[time_s < speaks_s] *= 0.1
    tone[time_s < 0.012] = 0.0
    return RecordedNote(name, midi, "1", "forte", tone, speaks_s, slow_s, 0.9, 0.0, 0.0)


def level_from(sound: np.ndarray, at_s: float, seconds: float = 0.01) -> float:
    part = sound[round(at_s * RATE) : round((at_s + seconds) * RATE)]
    return float(np.sqrt(np.mean(part**2)))


def heard(index: int | None, midi: float, onset_s: float, start: str | None = "tongued") -> Heard:
    state = "extra" if index is None else "played"
    return Heard(index, state, midi, onset_s, start, 0.8, None)


def true(midi: int, at_s: float, *, slurred: bool = False) -> TrueNote:
    return TrueNote(midi, at_s, at_s, slurred, 0.0)


def test_a_struck_note_speaks_where_the_line_says() -> None:
    bank = {69: (recorded(69, slow_s=0.08),)}
    line = played([Stroke(69, 0.5, 0.8)], bank, np.random.default_rng(1))
    (note,) = line.notes
    assert (note.speaks_s, note.stroke_s) == pytest.approx((0.5, 0.42))
    assert level_from(line.samples, 0.505) > 5 * level_from(line.samples, 0.48)
    assert level_from(line.samples, 0.43) > 0
    assert level_from(line.samples, 0.405) == 0


def test_with_strokes_in_time_a_slow_note_speaks_later() -> None:
    bank = {69: (recorded(69, slow_s=0.08),)}
    line = played([Stroke(69, 0.5, 0.8, on_stroke=True)], bank, np.random.default_rng(1))
    (note,) = line.notes
    assert (note.speaks_s, note.stroke_s) == pytest.approx((0.58, 0.5))
    assert level_from(line.samples, 0.585) > 5 * level_from(line.samples, 0.56)


def test_what_rumbles_below_every_flute_is_no_stroke() -> None:
    """The lowest note, B3, has 247 Hz (ISO 16: A4 = 440 Hz)."""
    note = recorded(69, slow_s=0.08)
    times_s = np.arange(note.samples.size) / RATE
    rumble = 0.3 * np.where(times_s < 0.06, np.sin(2 * np.pi * 40 * times_s), 0.0)
    tone = note.samples * np.where(times_s < note.speaks_s, 2.0, 1.0)
    for sound in (tone, tone + rumble):
        padded = np.concatenate([np.zeros(RATE // 10), sound])
        stroke, speaks = stroke_and_speaking(padded)
        assert stroke / RATE == pytest.approx(0.1 + note.stroke_s, abs=0.008)
        assert speaks / RATE == pytest.approx(0.1 + note.speaks_s, abs=0.008)


@pytest.mark.parametrize(
    ("before_s", "lasts_s"), [(0.4, 0.9), (0.0, 0.12)], ids=["begins late", "short"]
)
def test_an_even_line_sounds_even(before_s: float, lasts_s: float) -> None:
    """Whatever air a file holds before its note, and quiet after it."""
    plain, other = recorded(69), recorded(71, slow_s=before_s)
    other.samples[round((other.speaks_s + lasts_s) * RATE) :] *= 0.01
    strokes = [Stroke(69, 0.5, 0.6), Stroke(71, 0.8, 0.9)]
    line = played(strokes, {69: (plain,), 71: (other,)}, np.random.default_rng(1))
    as_loud = level_from(line.samples, 0.505, 0.07)
    assert level_from(line.samples, 0.805, 0.07) == pytest.approx(as_loud, rel=0.05)


def test_struck_notes_are_apart_by_their_gap() -> None:
    bank = {midi: (recorded(midi),) for midi in (69, 71)}
    strokes = [Stroke(69, 0.5, 0.78), Stroke(71, 0.8, 1.0)]
    line = played(strokes, bank, np.random.default_rng(1))
    assert level_from(line.samples, 0.781, 0.006) == 0
    assert level_from(line.samples, 0.801, 0.006) > 0.5 * LEVEL


def test_a_slur_dips_and_is_never_silent() -> None:
    bank = {midi: (recorded(midi),) for midi in (69, 71)}
    strokes = [Stroke(69, 0.5, 0.8), Stroke(71, 0.8, 1.1, slurred=True)]
    for seed in range(20):
        line = played(strokes, bank, np.random.default_rng(seed))
        around = [level_from(line.samples, 0.75 + 0.004 * n, 0.004) for n in range(25)]
        fallen_db = 20 * np.log10(min(around) / LEVEL)
        assert -20 < fallen_db < -1.5
        assert [note.slurred for note in line.notes] == [False, True]


def test_a_slur_changes_tones_where_the_line_says() -> None:
    bank = {midi: (recorded(midi),) for midi in (69, 81)}
    strokes = [Stroke(69, 0.5, 0.8), Stroke(81, 0.8, 1.1, slurred=True)]
    line = played(strokes, bank, np.random.default_rng(3))
    for from_s, hz in ((0.75, 440), (0.82, 880)):
        part = line.samples[round(from_s * RATE) : round((from_s + 0.03) * RATE)]
        spectrum = np.abs(np.fft.rfft(part * np.hanning(part.size), 1 << 15))
        assert spectrum.argmax() * RATE / (1 << 15) == pytest.approx(hz, abs=15)


def test_notes_and_extras_told() -> None:
    line = [true(69, 0.5), true(71, 0.75), true(72, 1.0), true(74, 1.25)]
    answers = [
        heard(0, 69.1, 0.51),
        heard(1, 71.0, 0.9),  # too late to be this one
        heard(2, 60.0, 1.0),  # another pitch
        Heard(3, "missed", None, None, None, 1.0, None),
        heard(None, 71.0, 0.76),
    ]
    count = count_told(line, answers)
    assert (count.notes, count.heard, count.extras) == (4, 1, 1)


def test_notes_and_extras_by_time() -> None:
    line = [true(69, 0.5), true(69, 0.75), true(69, 1.0)]
    answers = [heard(0, 69.0, 0.74), heard(1, 69.0, 1.02), heard(2, 69.0, 1.09)]
    count = count_in_time(line, answers)
    assert (count.heard, count.extras) == (2, 1)
    assert count.after_speaking_s == pytest.approx([-0.01, 0.02])


@pytest.mark.parametrize(
    ("slurred", "start", "expected"),
    [
        (True, "slurred", (1, 0, 0)),
        (True, "legato tongue", (0, 1, 0)),
        (False, "legato tongue", (1, 0, 0)),
        (False, "tongued", (1, 0, 0)),
        (False, "slurred", (0, 1, 0)),
        (False, "breath", (0, 1, 0)),
        (False, "not judged", (0, 0, 1)),
        (False, None, (0, 0, 1)),
    ],
)
def test_starts_are_counted_from_the_second_note(
    slurred: bool, start: str | None, expected: tuple[int, int, int]
) -> None:
    line = [true(69, 0.5), true(71, 0.75, slurred=slurred)]
    count = count_told(line, [heard(0, 69.0, 0.5), heard(1, 71.0, 0.75, start)])
    assert (count.right, count.wrong, count.not_judged) == expected
    assert len(count.claims) == expected[0] + expected[1]


def test_certainty_of_one_is_in_the_last_bin() -> None:
    rows = reliability([(1.0, True), (0.99, False), (0.85, True)])
    assert [row["starts"] for row in rows if row["starts"]] == [1, 2]
    assert rows[-1]["right"] == 0.5


@pytest.mark.parametrize("generator", GENERATORS)
@pytest.mark.parametrize("room", ROOMS[1:3], ids=lambda room: room.name)
def test_a_room_is_as_wet_as_it_says(generator: str, room) -> None:  # type: ignore[no-untyped-def]
    click = np.zeros(RATE // 10)
    click[100] = 1.0
    response = GENERATORS[generator](click, room, 0)[100:]
    direct = round(DIRECT_S * RATE)
    wet = 10 * np.log10(np.sum(response[direct:] ** 2) / np.sum(response[:direct] ** 2))
    assert wet == pytest.approx(room.wet_db, abs=1.0)
    assert abs(response[0]) == pytest.approx(np.abs(response).max())


def test_a_place_is_the_same_every_time() -> None:
    sound = np.random.default_rng(5).standard_normal(RATE // 4)
    where = Place(ROOMS[2], "ours", "riding", 7)
    assert np.array_equal(where.heard(sound), where.heard(sound))


def test_what_is_shown_is_counted_against_what_is_said() -> None:
    shown = (Shown(0.6, 0, 3.0), Shown(1.2, 1, 30.0), Shown(1.9, 3, 0.0))
    said = (
        SaidNote(0, 0.5, 1.0, 5.0),
        SaidNote(1, 1.0, 1.5, 5.0),
        SaidNote(2, 1.5, 2.0, 5.0),
        SaidNote(3, None, None, None),
        SaidNote(None, 2.0, 2.2, None),
    )
    assert shown_against_said(Followed(shown, said)) == {
        "notes": 4,
        "not shown": 1,
        "shown in vain": 1,
        "missed": 1,
        "cents apart": 1,
    }


def test_a_performance_is_scored_with_its_lag_and_without() -> None:
    """All heard 30 ms late, one of four a half step off, one more called missed, one extra."""
    tones = [Tone(60 + place, 1.0 + place, 1.9 + place, place) for place in range(4)]
    late = [heard(place, 60.0 + place, 1.03 + place) for place in range(3)]
    others = [
        heard(None, 64.0, 4.03),
        heard(None, 70.0, 6.0),
        Heard(3, "missed", None, None, None, 1.0, None),
    ]
    given = scored(tones, [*late, *others])
    assert given["note F"] == pytest.approx(2 * 3 / (4 + 5))
    assert given["onset F"] == pytest.approx(2 * 4 / (4 + 5))
    assert given["lag"] == pytest.approx(0.03)
    assert (given["missed"], given["before the sound"], given["notes"]) == (1, 0, 4)
    assert scored(tones, [heard(0, 60.0, -0.05)])["before the sound"] == 1
