"""A routine on a day: keys in turn, draws without repeats, rounds as asked."""

from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import interval, key, pitch

from trainer.music.note import Articulation, Start
from trainer.music.pitch import Pitch
from trainer.routine.load import read_routine
from trainer.routine.model import ClimbAsked
from trainer.routine.plan import PAUSE_AFTER_ROUND_S, at_tempo, plan
from trainer.routine.problem_report import describe
from trainer.routine.round import PartnerPart, RoundKind
from trainer.routine.rounds import with_articulation

DAY = date(2026, 3, 2)


def routine_of(*entries, top=""):
    text = f"title: T\n{top}exercises:\n" + "".join(f"- {entry}\n" for entry in entries)
    routine, problems = read_routine(text, "t.yaml")
    assert routine is not None, describe(problems)
    return routine


def planned(*entries, top="", day=DAY, seed=0, past=None):
    return plan(routine_of(*entries, top=top), day, seed, past or {})


def keys_of(asked, days, seed=0):
    routine = routine_of(f"{{scale: s, key: {asked}}}")
    return [
        plan(routine, DAY + timedelta(days=day), seed)[0].rounds[0].key.name for day in range(days)
    ]


# Keys


def in_music21(name):
    tonic, *flat, mode = name.split()
    sign = {"flat": "-", "sharp": "#"}[flat[0]] if flat else ""
    return key.Key((tonic.lower() if mode == "minor" else tonic) + sign)


@pytest.mark.parametrize(
    ("order", "step"), [("fifths", "P5"), ("fourths", "P4"), ("semitones", "m2")]
)
@pytest.mark.parametrize("mode", ["major", "minor"])
def test_keys_turn_by_day_as_music21_counts_the_interval(order, step, mode):
    names = keys_of(f"{mode} by day through {order}", 13)
    tonics = [in_music21(name).tonic for name in names]
    for tonic, after in pairwise(tonics):
        assert tonic.transpose(interval.Interval(step)).pitchClass == after.pitchClass
    assert len(set(names[:12])) == 12
    assert names[12] == names[0]
    assert {in_music21(name).mode for name in names} == {mode}


def test_the_circle_is_spelled_with_six_signs_at_most():
    """music21 10: key.Key(...).sharps."""
    assert all(abs(in_music21(name).sharps) <= 6 for name in keys_of("by day", 12))


def test_a_list_of_keys_turns_by_day():
    names = keys_of("[C, G, D minor]", 6)
    assert set(names) == {"C major", "G major", "D minor"}
    assert names[:3] == names[3:]


def test_each_weekday_meets_every_key():
    assert len(set(keys_of("by day", 84)[::7])) == 12


@given(st.integers(0, 1000), st.integers(0, 40))
def test_a_random_key_does_not_come_again_until_all_have_come(seed, skip):
    routine = routine_of("{scale: s, key: random}")
    past = {"s": []}
    for day in range(24):
        exercise = plan(routine, DAY + timedelta(days=day * (1 + skip)), seed, past)[0]
        past["s"].append(exercise.rounds[0].key.name)
    assert len(set(past["s"][:12])) == len(set(past["s"][12:])) == 12
    assert past["s"][11] != past["s"][12]


def test_random_keys_follow_the_calendar_where_no_journal_is_kept():
    names = keys_of("random", 40)
    starts = [n for n in range(12) if (DAY + timedelta(days=n)).toordinal() % 12 == 0]
    stretch = names[starts[0] : starts[0] + 12]
    assert len(set(stretch)) == 12
    assert keys_of("random", 40, seed=1) != names


def test_the_same_morning_is_the_same_plan():
    entries = (
        "{scale: s, key: random minor, articulations: a different one every round}",
        "{arpeggio: a, key: random major or minor}",
    )
    assert planned(*entries, seed=5) == planned(*entries, seed=5)


@pytest.mark.parametrize(
    ("written", "relation", "expected"),
    [
        ("E flat", "relative of", "C minor"),
        ("C sharp minor", "relative of", "E major"),
        ("E flat", "same as", "E flat major"),
        ("A", "parallel of", "A minor"),
        ("D flat", "parallel of", "C sharp minor"),
        ("G sharp minor", "parallel of", "A flat major"),
    ],
)
def test_a_key_follows_an_earlier_one(written, relation, expected):
    _, second = planned(
        f"{{scale: one, key: {written}}}", f"{{arpeggio: two, key: {relation} one}}"
    )
    assert second.rounds[0].key.name == expected


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ("key: E flat, form: harmonic minor", "E flat minor"),
        ("key: 'F#'", "F sharp major"),
        ("key: bb minor", "B flat minor"),
        ("key: E minor", "E minor"),
    ],
)
def test_keys_as_teachers_write_them(fields, expected):
    assert planned(f"{{scale: s, {fields}}}")[0].rounds[0].key.name == expected


def test_a_minor_form_draws_among_minor_keys():
    names = {
        plan(routine_of("{scale: s, key: by day, form: harmonic minor}"), DAY + timedelta(d), 0)[0]
        .rounds[0]
        .key.mode
        for d in range(12)
    }
    assert names == {"minor"}


# Rounds


def test_the_full_range_in_sixteenths_at_sixty_breathes_at_the_top():
    """43 sixteenths last 10.75 s at 60: computed by hand; common practice, no source."""
    round_ = planned("{scale: s, key: E flat}")[0].rounds[0]
    assert len(round_.notes) == 43
    assert round_.beats == 12
    (breath,) = [note for note in round_.notes if note.breath_after]
    assert breath.pitch == Pitch.parse("C7")
    (none,) = planned("{scale: s, key: E flat, tempo: 120, breaths: none}")
    assert not any(note.breath_after for note in none.rounds[0].notes)


def test_breaths_where_they_are_asked_for():
    (exercise,) = planned("{scale: s, key: C, breaths: [after beat 2, every 4 beats]}")
    notes = exercise.rounds[0].notes
    starts = [after.beat for note, after in pairwise(notes) if note.breath_after]
    assert starts == [2, 4, 8]


@pytest.mark.parametrize(
    ("range_", "lowest", "highest"),
    [
        ("full", "C4", "C7"),
        ("'full, bottom first'", "C4", "C7"),
        ("two octaves", "D4", "D6"),
        ("D4 to A5", "D4", "A5"),
        ("from D5 to D6", "D5", "D6"),
    ],
)
def test_ranges(range_, lowest, highest):
    (exercise,) = planned(f"{{scale: s, key: D minor, form: natural minor, range: {range_}}}")
    sounds = [note.pitch.midi for note in exercise.rounds[0].notes]
    assert (min(sounds), max(sounds)) == (Pitch.parse(lowest).midi, Pitch.parse(highest).midi)


def test_a_b_foot_adds_its_note():
    (exercise,) = planned("{scale: s, key: C}", top="instrument: C flute with B foot\n")
    assert min(n.pitch.midi for n in exercise.rounds[0].notes) == Pitch.parse("B3").midi


def test_articulations_come_in_order_and_begin_again():
    (exercise,) = planned("{scale: s, key: C, articulations: [slurred, double], rounds: 3}")
    asked = [(r.number, r.articulation.value) for r in exercise.rounds]
    assert asked == [(1, "slurred"), (2, "double"), (3, "slurred")]
    assert exercise.detail == "slurred, double, slurred at 60"
    assert exercise.rounds[1].notes[1].start is Start.BACK_TONGUED


def test_air_only_rounds_are_no_more_than_what_is_asked():
    (exercise,) = planned("{scale: s, key: C, articulations: all six}")
    assert [r.articulation for r in exercise.rounds].count(Articulation.AIR_ONLY) == 1


@given(st.integers(0, 500))
def test_a_different_one_every_round(seed):
    (exercise,) = planned(
        "{scale: s, key: C, articulations: a different one every round, rounds: 12}", seed=seed
    )
    drawn = [round_.articulation for round_ in exercise.rounds]
    assert len(set(drawn[:6])) == len(set(drawn[6:])) == 6
    assert all(one != after for one, after in pairwise(drawn))


def test_a_round_at_another_tempo_and_articulation():
    (exercise,) = planned("{speed climb: c, key: G, from: 60, to: 120, within: 10 minutes}")
    (first,) = exercise.rounds
    assert exercise.climb == ClimbAsked(60, 120, 10)
    assert (first.kind, first.articulation) == (RoundKind.CLIMB, Articulation.SLURRED)
    faster = at_tempo(first, 66, 2)
    assert (faster.tempo_bpm, faster.number, faster.notes) == (66, 2, first.notes)
    tongued = with_articulation(first, Articulation.SINGLE, 3)
    assert {note.start for note in tongued.notes} == {Start.TONGUED}
    assert with_articulation(tongued, Articulation.SLURRED, 1) == first


def test_minutes_count_the_count_in_and_the_pauses():
    (exercise,) = planned(
        "{scale: s, key: C, range: one octave, tempo: 60, rounds: 2, rest after: 30 seconds}"
    )
    (one, _) = exercise.rounds
    assert exercise.minutes * 60 == pytest.approx(
        2 * (4 + float(one.beats) + PAUSE_AFTER_ROUND_S) + 30
    )


def test_rests_and_readings_have_no_rounds():
    rest, reading = planned("rest: 1:30", "read: 'Stand tall.'")
    assert (rest.title, rest.detail, rest.rest_s) == ("Rest", "1 minute 30 seconds", 90)
    assert (reading.words, reading.rest_s) == ("Stand tall.", 0)
    assert rest.rounds == reading.rounds == ()


def test_words_take_as_long_as_somebody_needs_to_read_them():
    """Aloud 183 words a minute on average (Brysbaert 2019, J. Mem. Lang. 109:104047; from memory):
    who reads with the flute in hand is no quicker, and not three times as slow."""
    (reading,) = planned(f"read: '{'slowly breathe out ' * 122}'")
    assert 366 / 183 <= reading.minutes <= 3 * 366 / 183
    (long_words,) = planned(f"read: '{'slowly exhaling everything ' * 122}'")
    assert long_words.minutes == reading.minutes
    (short,) = planned("read: 'Stand tall.'")
    assert 0 < short.minutes < 1


# Partner and tuning


def test_a_drone_on_the_fifth_and_pure_intervals_above_it():
    """The fifth of A flat is E flat: music21 10, interval P5."""
    (exercise,) = planned(
        "{long tones: l, key: A flat, range: one octave, partner: drone on the fifth,"
        " temperament: pure above the drone}",
        top="instrument: alto flute\ntuning: A4 = 442\n",
    )
    round_ = exercise.rounds[0]
    fifth = pitch.Pitch("A-4").transpose("P5").name.replace("-", "b")
    assert (round_.partner, round_.drone.name) == (PartnerPart.DRONE, fifth)
    assert round_.tuning.a4_hz == 442
    assert round_.tuning.drone.midi == round_.drone.midi - 5  # the alto sounds a fourth lower


def test_pure_by_default_holds_only_where_a_drone_sounds():
    top = "defaults: {temperament: pure above the drone}\n"
    one, two = planned(
        "{scale: one, key: C}", "{scale: two, key: C, partner: drone on the tonic}", top=top
    )
    assert one.rounds[0].tuning.drone is None
    assert two.rounds[0].tuning.drone == Pitch.parse("C4")


def test_partner_off_is_no_truth_value():
    top = "defaults: {partner: same notes}\n"
    one, two = planned("{scale: one, key: C}", "{scale: two, key: C, partner: off}", top=top)
    assert one.rounds[0].partner is PartnerPart.SAME_NOTES
    assert two.rounds[0].partner is None


# Slow work and passages


def test_voicing_stops_at_the_breaks():
    (exercise,) = planned("{voicing: v, key: C, range: full, beats each: 2}")
    round_ = exercise.rounds[0]
    held = [note for note in round_.notes[:-1] if note.length == 4]
    assert [str(note.pitch) for note in held] == ["C5", "C6", "D6", "D5"]
    assert all(note.breath_after for note in held)


def test_octaves_are_played_in_pairs_on_one_breath():
    (exercise,) = planned("{voicing: v, key: C, form: octaves, range: two octaves}")
    notes = exercise.rounds[0].notes
    for low, high in zip(notes[::2], notes[1::2], strict=True):
        assert high.pitch.midi - low.pitch.midi == 12
        assert (low.start, high.start) == (Start.TONGUED, Start.SLURRED)


def test_long_tones_leave_time_to_breathe():
    (exercise,) = planned("{long tones: l, notes: [B4, 'A#4'], beats each: 8, beats between: 4}")
    assert [note.beat for note in exercise.rounds[0].notes] == [0, 12]
    assert exercise.rounds[0].notes[0].breath_after


@pytest.mark.parametrize(
    "entry",
    [
        "{voicing: v, key: C, beats each: 0.75}",
        "{voicing: v, key: C, form: octaves, beats each: 1.25}",
        "{long tones: l, notes: [B4, A4, G4], beats each: 1.5, beats between: 0.75}",
    ],
)
def test_odd_lengths_still_end_on_a_beat(entry):
    (exercise,) = planned(entry)
    assert exercise.rounds[0].beats.denominator == 1


def test_a_passage_as_it_is_written():
    """
    title: T
    exercises:
    - passage: p
      key: G
      time: 3/4
      notes: |
        quarter G4 (eighth A4 B4 C5 D5) |
        dotted quarter F#5, eighth rest triplet eighth E5 D5 C5 |
        half+quarter B4
    """
    text = test_a_passage_as_it_is_written.__doc__.replace("\n    ", "\n")
    routine, problems = read_routine(text, "t.yaml")
    assert routine is not None, describe(problems)
    round_ = plan(routine, DAY, 0)[0].rounds[0]
    assert [str(n.pitch) for n in round_.notes] == [
        "G4",
        "A4",
        "B4",
        "C5",
        "D5",
        "F#5",
        "E5",
        "D5",
        "C5",
        "B4",
    ]
    assert [n.beat for n in round_.notes] == [
        0, 1, Fraction(3, 2), 2, Fraction(5, 2), 3, 5, Fraction(16, 3), Fraction(17, 3), 6,
    ]  # fmt: skip
    assert [n.start is Start.SLURRED for n in round_.notes] == [
        False, False, True, True, True, False, False, False, False, False,
    ]  # fmt: skip
    assert [n.index for n in round_.notes if n.breath_after] == [5]
    assert (round_.beats, round_.beats_per_bar, round_.kind) == (9, 3, RoundKind.PASSAGE)
