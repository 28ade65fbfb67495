"""What teachers wish for, as plain sentences first, each in fewer than fifteen lines."""

from datetime import date, timedelta

import pytest

from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.problem_report import describe
from trainer.routine.progress import Attempt
from trainer.routine.round import PartnerPart, RoundKind

MONDAY = date(2026, 3, 2)

WISHES = {
    "The scale of the day over the whole flute, in all six articulations, in sixteenths at 60.": """
title: Scale of the day
exercises:
- scale: scale of the day
  key: by day through fifths
  range: full
  rhythm: sixteenths
  tempo: 60
  articulations: all six
""",
    "An articulation nobody can foresee in each of eight rounds, none again too soon.": """
title: Surprise
exercises:
- scale: surprise
  key: G
  range: two octaves
  articulations: a different one every round
  rounds: 8
""",
    "The slurred scale climbs from 60 towards 120 in ten minutes, then the flute is put down.": """
title: Climb
exercises:
- speed climb: sixty to a hundred and twenty
  key: D
  from: 60
  to: 120
  within: 10 minutes
  articulations: slurred
  rest after: 3 minutes
""",
    "One sound from bottom to top, with a stop to listen at every break of register.": """
title: One sound
exercises:
- voicing: across the breaks
  key: B flat
  form: by registers
  range: full
  beats each: 2
  words: Going up, think down.
""",
    "Each note and its octave on one breath, within ten cents.": """
title: Octaves
exercises:
- voicing: octaves
  key: F
  form: octaves
  range: two octaves
  beats each: 2
  aims: {cents: 10}
""",
    "Let thirds and fifths settle over a drone, first out of time, then in time.": """
title: Settling
exercises:
- passage: settling
  key: D
  tempo: 48
  settle: 1 second
  partner: drone on the tonic
  temperament: pure above the drone
  aims: {cents: 8}
  notes: |
    half (D5 F#5) | half (D5 A5), | half (G5 F#5) | whole D5
""",
    "Long tones down from B, first straight, then with three and with four pulses a beat.": """
title: Long tones
exercises:
- long tones: down from B
  notes: [B4, A#4, A4, G#4, G4]
  tempo: 60
  beats each: 8
  beats between: 4
  vibrato: [straight, 3 a beat, 4 a beat]
""",
    "A minor key drawn anew each day, in its three forms, and its chords as arpeggios.": """
title: Minor
defaults: {range: full, key: same as melodic}
exercises:
- {scale: melodic, key: random minor, form: melodic minor}
- {scale: harmonic, form: harmonic minor}
- {scale: natural, form: natural minor}
- {arpeggio: tonic, chord: minor}
- {arpeggio: seventh, chord: dominant seventh}
""",
    "Four bars on one breath, three times, and before it what to do when one feels dizzy.": """
title: Breath
exercises:
- read: If you feel dizzy, stop, sit down and breathe normally. If it comes back, ask a doctor.
- passage: one breath
  key: E flat
  time: 3/4
  rounds: 3
  one breath: yes
  notes: |
    eighth (Eb5 F5 G5 F5 Eb5 D5) | half (C5 quarter Bb4) |
    eighth (C5 D5 Eb5 G5 F5 D5) | dotted half Eb5,
""",
    "My keys on weekdays, only the chord on Saturdays, Sundays free; a bit faster when secure.": """
title: The week
week: {monday: C, tuesday: G, wednesday: F, thursday: D, friday: B flat, sunday: free,
  saturday: {key: A, exercises: [chord of the day]}}
defaults: {tempo: 66, range: two octaves, key: of the week, aims: {cents: 20}}
exercises:
- scale: scale of the day
  progress: 4 faster when met twice, up to 90
- arpeggio: chord of the day
  key: same as scale of the day
""",
}


def planned_on(wish: str, day: date = MONDAY):
    routine, problems = read_routine(wish, "wish.yaml")
    assert routine is not None, describe(problems)
    assert not problems, describe(problems)
    return plan(routine, day, seed=1)


def wish_of(title: str):
    (wish,) = (text for text in WISHES.values() if f"title: {title}\n" in text)
    return wish


def test_there_are_ten():
    assert len(WISHES) == 10


@pytest.mark.parametrize("wish", WISHES.values(), ids=list(WISHES))
def test_a_wish_takes_fewer_than_fifteen_lines_and_lands_on_the_beat(wish):
    assert len(wish.strip().splitlines()) < 15
    rounds = [round_ for exercise in planned_on(wish) for round_ in exercise.rounds]
    assert rounds
    for round_ in rounds:
        assert round_.beats.denominator == 1
        assert round_.notes[0].beat == 0
        for note, after in zip(round_.notes, round_.notes[1:], strict=False):
            assert note.beat + note.length <= after.beat


def test_the_scale_comes_in_all_six():
    (exercise,) = planned_on(wish_of("Scale of the day"))
    asked = [round_.articulation for round_ in exercise.rounds]
    assert len(asked) == 6
    assert asked == [
        *("slurred", "legato tongue", "single", "air-only", "double", "reverse double")
    ]
    pitches = [note.pitch.midi for note in exercise.rounds[0].notes]
    assert (min(pitches), max(pitches)) == (60, 96)


def test_the_surprise_is_no_other_until_all_have_come():
    (exercise,) = planned_on(wish_of("Surprise"))
    drawn = [round_.articulation for round_ in exercise.rounds]
    assert (len(drawn), len(set(drawn[:6]))) == (8, 6)


def test_the_climb_is_as_it_was_asked():
    (exercise,) = planned_on(wish_of("Climb"))
    assert (exercise.climb.from_bpm, exercise.climb.to_bpm, exercise.climb.minutes) == (60, 120, 10)
    assert exercise.rest_s == 180


def test_octaves_come_in_pairs():
    notes = planned_on(wish_of("Octaves"))[0].rounds[0].notes
    pairs = zip(notes[::2], notes[1::2], strict=True)
    assert {high.pitch.midi - low.pitch.midi for low, high in pairs} == {12}


def test_the_drone_is_where_the_thirds_settle():
    settling, round_ = planned_on(wish_of("Settling"))[0].rounds
    assert (settling.kind, settling.in_time, settling.manner.stands_s) == (
        RoundKind.SETTLING,
        False,
        1.0,
    )
    assert (round_.partner, round_.drone.name, round_.aims.cents) == (PartnerPart.DRONE, "D", 8)
    assert round_.tuning.drone is not None


def test_long_tones_are_held_and_rested_and_pulse_as_asked():
    rounds = planned_on(wish_of("Long tones"))[0].rounds
    assert [note.beat for note in rounds[0].notes] == [0, 12, 24, 36, 48]
    assert {round_.kind for round_ in rounds} == {RoundKind.VIBRATO}
    assert [round_.manner.vibrato.per_beat for round_ in rounds] == [0, 3, 4]


def test_minor_forms_and_chords_share_a_signature():
    planned = planned_on(wish_of("Minor"))
    assert len(planned) == 5
    assert len({exercise.rounds[0].key.tonic for exercise in planned}) == 1
    assert {str(exercise.rounds[0].key.mode) for exercise in planned} == {"minor"}


def test_four_bars_ask_for_one_breath_at_the_end():
    reading, passage = planned_on(wish_of("Breath"))
    assert "dizzy" in reading.words
    assert len(passage.rounds) == 3
    notes = passage.rounds[0].notes
    assert [note.index for note in notes if note.breath_after] == [notes[-1].index]
    assert {round_.kind for round_ in passage.rounds} == {RoundKind.BREATH}


def test_the_week_meets_its_keys_and_the_arpeggio_follows():
    days = [planned_on(wish_of("The week"), MONDAY + timedelta(days=day)) for day in range(7)]
    for (scale, arpeggio), tonic in zip(days[:5], ["C", "G", "F", "D", "Bb"], strict=True):
        assert scale.rounds[0].key == arpeggio.rounds[0].key
        assert scale.rounds[0].key.tonic == tonic
    ((chord,), (free,)) = days[5:]
    assert (chord.id, chord.rounds[0].key.tonic, free.rounds) == ("chord of the day", "A", ())


def test_the_week_grows_faster_once_the_aims_were_met_twice():
    routine, _ = read_routine(wish_of("The week"), "wish.yaml")
    past = {
        "scale of the day": [Attempt("G major", 66, met=True), Attempt("C major", 66, met=True)]
    }
    scale, _ = plan(routine, MONDAY, 1, attempts=past)
    assert scale.rounds[0].tempo_bpm == 70
