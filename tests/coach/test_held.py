"""From sound to sentence for held notes: vibrato, swells, colours, voices, trills, breath."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import lru_cache

import numpy as np
import pytest

from tests.sweeps import mostly_slow
from trainer.app.simulated_flutist import shaping_of
from trainer.coach.advice import Advice, Topic
from trainer.coach.curves import curves
from trainer.coach.judge import judge
from trainer.coach.marks import Marks
from trainer.coach.thresholds import REGULAR
from trainer.coach.words import advise
from trainer.ear.hear import hear
from trainer.ear.heard import HeardNote, LiveReading, State, Take
from trainer.ear.live.live_ear import LiveEar
from trainer.music.pitch import Pitch
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES, Habits
from trainer.player.shaping import Shaping
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.round import Round

RATE = 44100
LONG = "- {{long tones: long, notes: [A4, D5, G5], beats each: 3, beats between: 1{more}}}"
CLEAN = EXAMPLES["clean"]
COLOURED = """
- passage: two colours
  colours: [dark, bright]
  notes: half G4 B4 | D5 G5 | F#5 D5 | whole G4
"""
ONE_BREATH = """
- passage: phrase
  one breath: yes
  tempo: 66
  notes: quarter F4 A4 C5 F5 | E5 D5 C5 A4 | whole F4
"""


def rounds_of(entry: str) -> tuple[Round, ...]:
    routine, problems = read_routine(f"title: A bench\nexercises:\n{entry}\n", "bench.yaml")
    assert routine is not None, problems
    return plan(routine, date(2026, 3, 2), 0)[0].rounds


def long_tones(more: str = "") -> tuple[Round, ...]:
    return rounds_of(LONG.format(more=more))


@lru_cache(maxsize=32)
def played(
    round_: Round, habits: Habits, seed: int = 3, shaping: Shaping | None = None
) -> tuple[Take, Marks]:
    asked = shaping or shaping_of(round_)
    sound = Flutist(habits, seed).play(
        round_.notes, round_.tempo_bpm, round_.tuning, RATE, round_.number, asked
    )
    tempo_bpm, tuning, first_s = round_.tempo_bpm, round_.tuning, sound.first_beat_s
    take = hear(sound.samples, RATE, round_.notes, tempo_bpm, tuning, first_s)
    readings = LiveEar(round_.notes, tempo_bpm, tuning, RATE, first_s).feed(sound.samples)
    return take, judge(round_, take, curves(take, readings))


def advice_on(rounds: tuple[Round, ...], habits: Habits, seed: int = 3) -> Advice:
    """What is said after the last round, the ones before it played by the same player."""
    earlier: list[Marks] = []
    for round_ in rounds:
        take, marks = played(round_, habits, seed)
        advice = advise(round_, take, marks, earlier)
        earlier.append(marks)
    return advice


@pytest.mark.parametrize("per_beat", mostly_slow([2, 3, 4, 5, 6], 2))
def test_the_rate_of_the_pulses_is_measured(per_beat: int) -> None:
    """Garrison 2012: most flutists' vibrato lies between 5 and 7 Hz; exercises begin slower."""
    _, marks = played(long_tones(f", vibrato: {per_beat} a beat")[0], CLEAN)
    rates = [note.pulse.hz for note in marks.heard if note.pulse is not None]
    assert len(rates) == 3
    assert rates == pytest.approx([per_beat] * 3, abs=0.15)


def readings_of(midi: np.ndarray, level_db: np.ndarray) -> tuple[Take, list[LiveReading]]:
    """One held note as it is followed, every 10 ms from its first moment."""
    times_s = 0.01 * np.arange(midi.size)
    readings = [
        LiveReading(float(t), float(m), None, float(db), 0, None)
        for t, m, db in zip(times_s, midi, level_db, strict=True)
    ]
    middle = float(np.median(midi))
    note = HeardNote(0, Pitch.parse("A4"), State.PLAYED, middle, 0.0, end_s=float(times_s[-1]))
    return Take(RATE, 440.0, 0.0, (note,)), readings


@pytest.mark.parametrize("rate_hz", [2.0, 4.0])
def test_pulses_that_a_room_doubles_keep_their_rate(rate_hz: float) -> None:
    """A pitch that goes up and down past the loudest place of a room's response is softer at both
    of its ends, so that the level moves twice to each pulse (superposition of waves; any book of
    acoustics). So much of each was read of recorded notes in a hall of 1.4 s."""
    turns = 2 * np.pi * rate_hz * 0.01 * np.arange(600)
    level_db = 2.5 * np.cos(2 * turns) + 0.8 * np.cos(turns) - 30
    take, readings = readings_of(69 + 0.05 * np.sin(turns), level_db)
    pulse = curves(take, readings)[0].pulse
    assert pulse.hz == pytest.approx(rate_hz, abs=0.15)
    assert pulse.regular > REGULAR


@pytest.mark.parametrize("decay_s", [0.8, 1.4, 1.8])
def test_a_rooms_tail_is_no_part_of_a_swell(decay_s: float) -> None:
    """Truth: 14 dB there and back, then 60 dB in the reverberation time (ISO 3382-1)."""
    swell_db = 14 * (1 - np.abs(np.linspace(-1, 1, 600))) - 40
    tail_db = swell_db[-1] - 60 / decay_s * 0.01 * np.arange(round(60 * decay_s))
    level_db = np.concatenate([swell_db, tail_db])
    take, readings = readings_of(np.full(level_db.size, 69.0), level_db)
    swelling = curves(take, readings)[0].swelling
    assert swelling.grew_db == pytest.approx(14, abs=2)
    assert swelling.fell_db == pytest.approx(14, abs=2)


def test_the_depth_of_the_pulses_is_measured() -> None:
    _, marks = played(long_tones(", vibrato: 5 a beat")[0], Habits(vibrato_cents=12.0))
    depths = [note.pulse.cents for note in marks.heard if note.pulse is not None]
    assert depths == pytest.approx([12.0] * 3, abs=2.0)


@pytest.mark.parametrize(
    ("more", "player", "topic"),
    [
        (", vibrato: 4 a beat", "slow vibrato", Topic.VIBRATO),
        (", vibrato: straight", "vibrato that won't rest", Topic.VIBRATO),
        (", swell: there and back", "pitch follows level", Topic.SWELL),
        (", swell: louder", "timid swells", Topic.SWELL),
        (", swell: softer", "timid swells", Topic.SWELL),
        ("", "sagging long notes", Topic.HELD),
    ],
)
def test_what_was_planted_is_said(more: str, player: str, topic: Topic) -> None:
    assert advice_on(long_tones(more), EXAMPLES[player]).topic is topic


@pytest.mark.slow
@pytest.mark.parametrize(
    "more",
    [
        ", vibrato: [straight, 2 a beat, 4 a beat, '4 a beat, deeper', '4 a beat, lighter']",
        ", swell: there and back",
        ", swell: softer",
        "",
    ],
)
def test_what_is_done_as_asked_is_left_in_peace(more: str) -> None:
    assert advice_on(long_tones(more), CLEAN).topic is Topic.SECURE


def test_no_pulse_is_no_vibrato() -> None:
    round_ = long_tones(", vibrato: 4 a beat")[0]
    take, marks = played(round_, CLEAN, shaping=Shaping(pulses_hz=0.0))
    advice = advise(round_, take, marks)
    assert advice.topic is Topic.VIBRATO
    assert advice.sentence.startswith("No pulse yet")


def test_deeper_is_measured_against_the_players_own_round_before() -> None:
    plain, deeper = long_tones(", vibrato: [4 a beat, '4 a beat, deeper']")
    _, before = played(plain, CLEAN)
    take, same = played(deeper, CLEAN, shaping=Shaping(pulses_hz=4.0))
    assert advise(deeper, take, same, [before]).topic is Topic.VIBRATO
    take, more = played(deeper, CLEAN)
    assert advise(deeper, take, more, [before]).topic is Topic.SECURE


def in_a_hall(marks: Marks) -> Marks:
    """The round as it is where a hall leaves a quarter of the pulses' depth."""
    hidden = [
        mark
        if mark.pulse is None
        else replace(mark, pulse=replace(mark.pulse, most_cents=4 * mark.pulse.cents))
        for mark in marks.notes
    ]
    return replace(marks, notes=tuple(hidden))


def test_where_a_hall_hides_the_depth_no_figure_is_given_and_little_may_be_much() -> None:
    """But as much is taken of the round before, so that deeper is deeper there too."""
    plain, deeper = long_tones(", vibrato: [4 a beat, '4 a beat, deeper']")
    light = Shaping(pulses_hz=4.0, depth=0.5)
    take, shallow = played(plain, Habits(vibrato_cents=6.0), shaping=light)
    assert advise(plain, take, in_a_hall(shallow)).topic is not Topic.VIBRATO
    take, before = played(plain, CLEAN)
    assert "cents deep" in " ".join(advise(plain, take, before).evidence)
    assert "cents deep" not in " ".join(advise(plain, take, in_a_hall(before)).evidence)
    take, same = played(deeper, CLEAN, shaping=Shaping(pulses_hz=4.0))
    advice = advise(deeper, take, in_a_hall(same), [in_a_hall(before)])
    assert advice.topic is Topic.VIBRATO
    assert "at least" in " ".join(advice.evidence)


def test_what_was_measured_is_told_and_nothing_else() -> None:
    assert advice_on(long_tones(", vibrato: 4 a beat"), CLEAN).sentence.startswith("Even pulses")
    assert advice_on(long_tones(", swell: louder"), CLEAN).sentence.startswith("The swells grew")


def test_two_colours_keep_one_tuning() -> None:
    entry = (
        "- {passage: p, colours: [dark, bright], notes: 'half G4 B4 | D5 G5 | F#5 D5 | whole G4'}"
    )
    rounds = rounds_of(entry)
    sharp = advice_on(rounds, EXAMPLES["bright is sharp"])
    assert sharp.topic is Topic.COLOUR
    assert "'bright' was about" in sharp.sentence
    assert advice_on(rounds, CLEAN).topic is Topic.SECURE


@pytest.mark.slow
def test_two_colours_that_are_one_are_told_weakly() -> None:
    entry = (
        "- {passage: p, colours: [dark, bright], notes: 'half G4 B4 | D5 G5 | F#5 D5 | whole G4'}"
    )
    dark, bright = rounds_of(entry)
    _, before = played(dark, CLEAN, shaping=Shaping())
    take, marks = played(bright, CLEAN, shaping=Shaping())
    advice = advise(bright, take, marks, [before])
    assert advice.topic is Topic.COLOUR
    assert advice.sentence.startswith("'bright' and 'dark' sounded nearly alike")


def test_wide_octaves_are_said_of_pairs() -> None:
    """Sharp from D6 up, as a flute's third octave tends to be (Garner 2011), octave by octave."""
    entry = "- {voicing: v, form: same names, key: D, range: D4 to D7, beats each: 1}"
    advice = advice_on(rounds_of(entry), Habits(sharp_top_cents=40.0, flat_low_cents=25.0))
    assert advice.topic in (Topic.OCTAVES, Topic.TUNING_HIGH, Topic.TUNING_LOW)


@pytest.mark.slow
@pytest.mark.parametrize("form", ["octaves", "by registers", "same names", "harmonics"])
def test_a_clean_voicing_is_left_in_peace(form: str) -> None:
    entry = f"- {{voicing: v, form: {form}, key: F, range: F4 to F6, beats each: 2}}"
    assert advice_on(rounds_of(entry), CLEAN).topic is Topic.SECURE


def test_a_squeezed_top_is_heard_within_one_round(rounds: Callable[..., Round]) -> None:
    """UNSW and Tufts: the higher the note, the fewer its overtones, unless it is squeezed."""
    advice = advice_on((rounds("E"),), EXAMPLES["pinched top"])
    assert advice.topic is Topic.TONE
    assert "the sound was thin" in advice.sentence


def test_a_limping_trill_names_the_long_note() -> None:
    entry = "- {trills: t, pairs: [G4 A4], rhythms: [sixteenths], beats each: 6}"
    round_ = rounds_of(entry)[0]
    limping = Habits(slow_to_speak=(("A4", 35.0),))
    take, marks = played(round_, limping)
    advice = advise(round_, take, marks)
    assert advice.topic is Topic.TRILL
    assert "the G was too long" in advice.sentence
    take, marks = played(round_, CLEAN)
    assert advise(round_, take, marks).topic is Topic.SECURE


def test_a_breath_inside_a_phrase_on_one_breath_is_said_at_once() -> None:
    entry = ONE_BREATH
    assert advice_on(rounds_of(entry), EXAMPLES["short of breath"]).topic is Topic.BREATH
    assert advice_on(rounds_of(entry), CLEAN).topic is Topic.SECURE
