"""Other words of the trade are read as if ours stood there, and plain wishes are taken as meant.

The words are those of ordinary lessons (common practice, no source).
"""

import runpy
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest

from trainer.music.bars import Meter
from trainer.routine.load import read_routine
from trainer.routine.model import LongTones, Passage, Routine, Scale, Trills, Voicing, VoicingForm
from trainer.routine.plan import plan
from trainer.routine.problem import nearest
from trainer.routine.problem_report import describe

_TABLE = runpy.run_path(str(Path(__file__).parent / "broken.py"))
GOOD = _TABLE["GOOD"]
DAY = date(2026, 3, 2)


def read(text: str) -> Routine:
    routine, problems = read_routine(text, "r.yaml", _TABLE["ROUTINES"])
    assert routine is not None, describe(problems)
    return routine


def plain(routine: Routine) -> Routine:
    """Without the lines its entries stand on."""
    return replace(routine, entries=tuple(replace(one, line=0) for one in routine.entries))


@pytest.mark.parametrize(
    ("was", "other", "ours"),
    [
        ("breaths: at", "breath: at", "breaths: at"),
        ("- arpeggio: chord", "- arpeggios: chord", "- arpeggio: chord"),
        ("  tempo: 60", "  bpm: 60", "  tempo: 60"),
        ("  tempo: 60", "  tempo: quarter = 60", "  tempo: 60"),
        ("  tempo: 60", "  tempo: M.M. 60", "  tempo: 60"),
        ("    range: two octaves", "    repetitions: 3", "    rounds: 3"),
        ("- rest: 2", "- break: 2", "- rest: 2"),
        ("  aims: {", "  goals: {", "  aims: {"),
        ("[slurred, single, double]", "slurred, single, then double", "[slurred, single, double]"),
        ("key: E flat", "key: circle of fifths, one a day", "key: by day through fifths"),
        ("key: E flat", "key: C, G, D", "key: [C, G, D]"),
        ("rhythm: triplets", "rhythm: sixteenth notes", "rhythm: sixteenths"),
    ],
)
def test_another_word_is_read_as_ours(was: str, other: str, ours: str) -> None:
    assert GOOD.count(was) >= 1
    assert plain(read(GOOD.replace(was, other, 1))) == plain(read(GOOD.replace(was, ours, 1)))


def one(lines: str):
    return read(f"title: T\nexercises:\n{lines}").entries[0]


def test_wishes_in_plain_words_mean_what_they_say() -> None:
    """As a teacher writes them who has seen an example or two."""
    tones = one("- vibrato: v\n  notes: A4 B4\n  pulses: 2, 3, 4 per beat\n  length: 8 beats\n")
    assert isinstance(tones, LongTones)
    assert [one.per_beat for one in tones.vibrato] == [2, 3, 4]
    assert tones.beats_each == Fraction(8)
    overtones = one("- harmonics: of low C\n  root: C4\n  up to: fifth partial\n")
    assert isinstance(overtones, Voicing)
    assert (overtones.form, overtones.partials) == (VoicingForm.HARMONICS, 5)
    study = one(
        "- study: a run\n  meter: 6/8\n  metronome: dotted quarter = 46\n"
        "  practice: backwards\n  notes: eighth G4 A4 B4 C5 D5 E5\n"
    )
    assert isinstance(study, Passage)
    assert (study.meter, study.tempo_bpm) == (Meter(2, Fraction(3, 2)), 46)
    thirds = one("- scale: thirds\n  key: D\n  intervals: thirds\n  repeat each note: 2 times\n")
    assert isinstance(thirds, Scale)
    assert (thirds.pattern, thirds.each) == ((0, 2), 2)
    trills = one("- trill: two\n  pairs: F4 G4, A4 Bb4\n")
    assert isinstance(trills, Trills)
    assert len(trills.pairs) == 2
    octaves = one("- intonation: octaves\n  notes: D4 D5\n  aims: within 8 cents\n")
    assert octaves.aims.cents == 8


def test_a_passage_takes_practice_rhythms() -> None:
    """By hand: dotted sixteenths last 3/8 and 1/8 of a beat."""
    routine = read(
        "title: T\nexercises:\n- passage: run\n  rhythms: even, dotted\n  time: 2/4\n"
        "  notes: sixteenth D5 E5 F#5 G5 A5 B5 C#6 D6 | half D5\n"
    )
    rounds = plan(routine, DAY, 0)[0].rounds
    beats = [[float(note.beat) for note in round_.notes[:4]] for round_ in rounds]
    assert beats == [[0, 0.25, 0.5, 0.75], [0, 0.375, 0.5, 0.875]]


@pytest.mark.parametrize(
    ("lines", "mend"),
    [
        ("- scale: G major\n  tempo: 60\n", "Add 'key: G major'."),
        ("- scale: s\n  key: F# melodic minor\n", "'key: F# minor' and 'form: melodic minor'"),
        ("- scale: s\n  key: all major keys\n", "'major keys by day through fifths'"),
        ("- scale: s\n  key: G\n  days: Monday\n", "stands under 'week:' at the top"),
        ("- speed climb: c\n  scale: chromatic\n  from: 60\n", "'of: scale' in its place"),
        ("- long tones: l\n  from: B5\n  to: B4\n", "'range: B4 to B5'"),
        ("- long tones: l\n  notes: A4\n  dynamics: crescendo\n", "'swell: there and back'"),
        ("- long tones: l\n  notes: A4\n  partner: drone on D\n", "and 'key: D'"),
        ("- breathing: four\n  in: 4 beats\n", "'- read: In for four, out for eight.'"),
        ("- passage: p\n  upbeat: D5\n  notes: quarter G4\n", "Write the word 'upbeat'"),
        ("- passage: p\n  time: 6/8\n  tempo: quarter = 60\n  notes: eighth G4 A4 B4\n",
         "'dotted quarter = 60'"),
        ("- passage: p\n  notes: half. G4 quarter A4\n", "'dotted half'"),
        ("- passage: p\n  notes: quarter G4 rit. A4\n", "'[tempo 60]'"),
        ("- scale: s\n  key: G\n  articulation: slurred, singel\n", "'single'"),
    ],
)  # fmt: skip
def test_a_wish_that_is_said_elsewhere_is_sent_there(lines: str, mend: str) -> None:
    routine, problems = read_routine(f"title: T\nexercises:\n{lines}", "r.yaml")
    assert routine is None
    assert any(mend in problem.mend for problem in problems), describe(problems)


def test_two_words_for_one_field_are_told() -> None:
    text = "title: T\nexercises:\n- scale: s\n  key: G\n  comment: Soft.\n  remark: Loud.\n"
    _, problems = read_routine(text, "r.yaml")
    assert "'remark'" in describe(problems)


@pytest.mark.parametrize(
    ("typed", "other"),
    [
        ("triple tongue", "legato tongue"),
        ("all patterns for fives", "all patterns for sixes"),
        ("halves", "quavers"),
        ("z", "fz"),
    ],
)
def test_another_word_is_no_misspelling(typed: str, other: str) -> None:
    assert nearest(typed, [other]) is None
