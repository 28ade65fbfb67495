"""Wrong, missed, extra and repeated notes, slips and restarts: each named, nothing else lost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.ear.conftest import FIRST_S, RATE, Hear
from tests.ear.made_flute import Blown, as_expected, blown, in_a_room, microphoned, scale, sounded
from tests.ear.steady_tones import in_a_row, in_diffuse_room, measured, steady
from tests.sweeps import mostly_slow
from trainer.ear.alignment.blips import may_be_both
from trainer.ear.hear import hear
from trainer.ear.heard import State, Take
from trainer.ear.segments.mixtures import may_ring_on
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.segment_measures import Evidence
from trainer.music.note import Start
from trainer.music.tuning import Tuning

RUN = scale(60, 84)
KINDS = ["wrong", "missed", "extra", "repeated", "octave", "restart", "late"]


def played(
    kind: str, start: Start, bpm: float, seed: int, rt60_s: float = 0.0
) -> tuple[Take, int, list[int]]:
    """A take with one planted event, its place, and the midis really played."""
    dice = np.random.default_rng(seed)
    place = int(dice.integers(4, len(RUN) - 5))
    midis = list(RUN)
    if kind == "wrong":
        midis[place] += int(dice.choice([-1, 1]))
        if midis[place] in (midis[place - 1], midis[place + 1]):
            midis[place] = RUN[place] + (RUN[place] - midis[place])
    elif kind == "octave":
        midis[place] += 12
    elif kind == "missed":
        if RUN[place - 1] == RUN[place + 1]:  # nobody can slur from a note to itself
            place -= 1
        del midis[place]
    elif kind == "extra":
        midis.insert(place, RUN[place - 1] + (5 if RUN[place] > RUN[place - 1] else -5))
    elif kind == "repeated":
        midis.insert(place, RUN[place])
    elif kind == "restart":
        midis = [*RUN[:place], *RUN]
    notes = blown(midis, bpm, start, dice, FIRST_S)
    if kind == "repeated":  # the same note again takes a stroke under a slur, too
        notes[place + 1] = replace(notes[place + 1], start=Start.TONGUED, gap_s=0.03)
    if kind in ("restart", "late"):
        pause_s = 0.8
        notes = [*notes[:place], *(_later(note, pause_s) for note in notes[place:])]
        notes[place - 1] = replace(notes[place - 1], end_s=notes[place].onset_s - pause_s)
        notes[place] = replace(notes[place], start=Start.TONGUED, gap_s=pause_s, dip_db=0.0)
    sound = sounded(notes, RATE, dice)
    if rt60_s:
        sound = in_a_room(sound, RATE, rt60_s, dice)
    take = hear(microphoned(sound, dice), RATE, as_expected(RUN, start), bpm, Tuning(), FIRST_S)
    return take, place, midis


def _later(note: Blown, by_s: float) -> Blown:
    return replace(note, onset_s=note.onset_s + by_s, end_s=note.end_s + by_s)


def named(kind: str, take: Take, place: int, midis: list[int]) -> bool:
    """The event is called what it is, and no other note is lost to it."""
    missed = [n.index for n in take.notes if n.state is State.MISSED]
    extra = [n for n in take.notes if n.state is State.EXTRA]
    if kind in ("wrong", "octave"):
        return (
            missed == [place]
            and [n.instead_of for n in extra] == [place]
            and round(extra[0].midi or 0) == midis[place]
        )
    if kind == "missed":
        return missed == [place] and not extra
    if kind in ("extra", "repeated"):
        return not missed and len(extra) == 1 and round(extra[0].midi or 0) == midis[place]
    if kind == "restart":
        return not missed and len(extra) == place
    return not missed and not extra


def test_a_third_played_on_the_way_down_is_told() -> None:
    """C5 between F5 and E5: the change to it reaches the harmonics of E5 for a moment."""
    assert named("extra", *played("extra", Start.SLURRED, 80, 7000))


@pytest.mark.parametrize("kind", mostly_slow(KINDS, 2))
def test_each_event_is_named(kind: str) -> None:
    takes = [
        played(kind, start, bpm, seed)
        for seed, (start, bpm) in enumerate(
            [(Start.SLURRED, 80), (Start.TONGUED, 80), (Start.TONGUED, 120), (Start.SLURRED, 120)],
            50,
        )
    ]
    assert sum(named(kind, *take) for take in takes) >= 3


def test_who_goes_back_in_a_room_is_heard_to_play_each_note_again() -> None:
    """What the note before leaves ringing bends a short low note's pitch."""
    assert named("restart", *played("restart", Start.TONGUED, 80, 7005, 0.3))


def test_a_blip_between_two_fingerings_is_no_wrong_note(heard: Hear) -> None:
    """Fingers of one change move tens of milliseconds apart (Almeida, Chow, Smith & Wolfe 2009,
    JASA 126:1521)."""
    notes = [
        Blown(72, 0.5, 0.8, Start.TONGUED),
        Blown(73, 0.762, 0.8, Start.SLURRED),
        Blown(74, 0.8, 1.1, Start.SLURRED),
        Blown(76, 1.1, 1.5, Start.SLURRED),
    ]
    take = heard(notes, [72, 74, 76], 50)
    assert [note.index for note in take.notes] == [0, 1, 2]
    assert [note.blip for note in take.notes] == [False, True, False]


@pytest.mark.parametrize("is_sure", [True, False])
def test_a_blip_counts_only_before_an_onset_that_is_sure(
    heard: Hear, monkeypatch: pytest.MonkeyPatch, is_sure: bool
) -> None:
    """Of 66 in lines of recorded notes in rooms, none of which was played, 46 stood before an onset
    over which the room rang (our own measurement)."""
    as_it_is = Evidence.heard
    monkeypatch.setattr(Evidence, "heard", lambda *one: replace(as_it_is(*one), onset_sure=is_sure))
    notes = [
        Blown(72, 0.5, 0.8, Start.TONGUED),
        Blown(73, 0.762, 0.8, Start.TONGUED),
        Blown(74, 0.8, 1.1, Start.TONGUED),
    ]
    take = heard(notes, [72, 74], 50)
    assert [note.blip for note in take.notes] == [False, is_sure]


@pytest.mark.parametrize(
    ("earlier", "slips", "may"),
    [(79.0, False, True), (77.0, False, False), (79.0, True, False)],
    ids=["its ringing", "another pitch", "it rises out of nothing"],
)
def test_what_rings_of_the_note_before_the_last_is_no_blip(
    earlier: float, slips: bool, may: bool
) -> None:
    """G5 rings through between D6 and F6, as recorded notes do in rooms of 0.7 s and more; or the
    fingers slip back to it in no room."""
    first, slip, following = steady(79, 0.25), steady(79, 0.04), steady(89, 0.25)
    if slips:
        sound = in_a_row(first, steady(86, 0.21), slip, following)
    else:
        sound = in_diffuse_room(in_a_row(first, steady(86, 0.25), following), 0.8, 0)
    found = [
        NoteSegment(earlier, 0.4, 0.65, -26.0),
        NoteSegment(86.0, 0.65, 0.86, -26.0),
        NoteSegment(79.1, 0.86, 0.9, -26.0),
        NoteSegment(89.0, 0.9, 1.15, -26.0),
    ]
    assert may_ring_on(measured(sound), found, 2) is may


@pytest.mark.parametrize(
    ("midi", "seconds", "may"),
    [(73.0, 0.025, True), (73.0, 0.03, False), (75.0, 0.025, False)],
    ids=["both at once", "longer than a window", "above both"],
)
def test_a_moment_in_which_both_notes_are_seen_is_no_blip(
    midi: float, seconds: float, may: bool
) -> None:
    """A window over the change of two notes a step apart has the pitch between them."""
    slip = NoteSegment(midi, 0.3, 0.3 + seconds, -20.0)
    found = [NoteSegment(72.0, 0.1, 0.3, -20.0), slip, NoteSegment(74.0, slip.to_s, 0.5, -20.0)]
    assert may_be_both(*found) is may


def test_a_soft_shadow_before_a_note_is_no_note(heard: Hear) -> None:
    """Between tongued notes the fingers already stand for the next, and the tube sounds softly."""
    notes = [
        Blown(72, 0.5, 0.8, Start.TONGUED),
        Blown(74, 0.81, 0.88, Start.SLURRED, level_db=-24.0),
        Blown(74, 0.9, 1.2, Start.TONGUED, gap_s=0.02, transient_db=-12.0),
    ]
    take = heard(notes, [72, 74], 100)
    assert [note.index for note in take.notes] == [0, 1]
    assert take.notes[1].onset_s == pytest.approx(0.9, abs=0.02)


def test_a_note_asked_five_times_is_found_five_times_in_a_room() -> None:
    """A room fills the dips between soft strokes on one note."""
    dice = np.random.default_rng(5)
    midis = [72, 74, 74, 74, 74, 74, 76]
    sound = sounded(blown(midis, 60, Start.LEGATO_TONGUE, dice, 0.5), RATE, dice)
    samples = microphoned(in_a_room(sound, RATE, 0.5, dice), dice)
    take = hear(samples, RATE, as_expected(midis, Start.LEGATO_TONGUE), 60, Tuning(), 0.5)
    assert [note.state for note in take.expected_notes] == [State.PLAYED] * len(midis)
