"""Forty wishes of a flute teacher, each a plain sentence first, then fewer than fifteen lines of a
routine, then what its rounds must hold.

The kinds of work are those of the published method books: scales and arpeggios in all articulations
(Taffanel and Gaubert, Reichert, Moyse), long tones and harmonics (Moyse), articulation and multiple
tonguing (Altès), first notes; from memory, none of their music stands here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from html import escape

import pytest

from tests.sweeps import mostly_slow
from trainer.music.articulations import ArticulationPattern
from trainer.music.note import Mark, Start
from trainer.routine.load import read_routine
from trainer.routine.plan import PlannedExercise, plan
from trainer.routine.problem_report import describe
from trainer.routine.round import Round
from trainer.score.asked import manner_of
from trainer.score.sheet import sheet_html
from trainer.score.timetable import round_in_words, timetable, timetable_text

DAY = date(2026, 3, 2)


@dataclass(frozen=True)
class Wish:
    """What a teacher wants, how it is written, and what shows that it came."""

    sentence: str
    entry: str
    shows: Callable[[PlannedExercise], bool]


def starts(round_: Round, beat: int = 1) -> str:
    """How the notes of one beat begin: T K for strokes, - for a slur, h for breath."""
    letters = {
        Start.TONGUED: "T", Start.BACK_TONGUED: "K", Start.SLURRED: "-", Start.BREATH: "h",
        Start.LEGATO_TONGUE: "d", Start.SILENT_AIR: "o",
    }  # fmt: skip
    return "".join(letters[note.start] for note in round_.notes if beat <= note.beat < beat + 1)


def each_starts(planned: PlannedExercise) -> list[str]:
    return [starts(round_) for round_ in planned.rounds]


def pitches(round_: Round, count: int | None = None) -> str:
    return " ".join(str(note.pitch) for note in round_.notes[:count])


def classes(round_: Round) -> set[int]:
    return {note.pitch.midi % 12 for note in round_.notes}


WISHES = (
    # patterns of slurs and strokes
    Wish("Two slurred and two tongued over the scale of D.",
         "scale: s\n  key: D\n  articulations: slur 2 tongue 2",
         lambda e: each_starts(e) == ["T-TT"]),
    Wish("First two and two, then three and one, then one and three.",
         "scale: s\n  key: D\n  articulations: [slur 2 tongue 2, slur 3 tongue 1, tongue 1 slur 3]",
         lambda e: each_starts(e) == ["T-TT", "T--T", "TT--"]),
    Wish("Slurs of four over a scale in thirds.",
         "scale: s\n  key: G\n  pattern: thirds\n  articulations: slur 4",
         lambda e: each_starts(e) == ["T---"]),
    Wish("Slurred in twos across the beat.",
         "scale: s\n  key: F\n  range: two octaves\n  articulations: slur in twos across the beat",
         lambda e: each_starts(e) == ["-T-T"]),
    Wish("Two slurred and one tongued over an arpeggio in triplets.",
         "arpeggio: a\n  key: B flat\n  articulations: 'slur 2, tongue 1'",
         lambda e: each_starts(e) == ["T-T"]),
    Wish("Every pattern for fours, in an order nobody knows.",
         "scale: s\n  key: A\n  articulations: all patterns for fours in random order",
         lambda e: len({str(r.articulation) for r in e.rounds}) == 8),
    Wish("A different pattern for threes in each of six rounds.",
         "arpeggio: a\n  key: E\n  rounds: six\n"
         "  articulations: {a different one every round: all patterns for threes}",
         lambda e: len(e.rounds) == 6 and len({str(r.articulation) for r in e.rounds}) == 3),
    Wish("A broken chord, three slurred and one tongued.",
         "arpeggio: a\n  key: C\n  rhythm: sixteenths\n  pattern: 1-3-2-4\n"
         "  articulations: slur 3 tongue 1",
         lambda e: each_starts(e) == ["T--T"]),
    Wish("Two slurred and two short.",
         "scale: s\n  key: G\n  articulations: slur 2 staccato 2",
         lambda e: [n.mark for n in e.rounds[0].notes if 1 <= n.beat < 2]
         == [None, None, Mark.STACCATO, Mark.STACCATO]),
    Wish("A climb with a pattern, from 60 to 100.",
         "speed climb: c\n  key: D\n  from: 60\n  to: 100\n  articulations: tongue 2 slur 2",
         lambda e: each_starts(e) == ["TTT-"] and e.climb is not None),
    # the tongue
    Wish("Triple tonguing in triplets, T K T.",
         "scale: s\n  key: C\n  rhythm: triplets\n  articulations: triple tongue",
         lambda e: each_starts(e) == ["TKT"]),
    Wish("The other triple tonguing, T T K.",
         "scale: s\n  key: C\n  rhythm: triplets\n  articulations: TTK",
         lambda e: each_starts(e) == ["TTK"]),
    Wish("Double tonguing, four on each note, before the fingers move.",
         "scale: s\n  key: C\n  range: one octave\n  each note: 4 times\n"
         "  articulations: double tongue",
         lambda e: pitches(e.rounds[0], 8) == "C4 C4 C4 C4 D4 D4 D4 D4"
         and each_starts(e) == ["TKTK"]),
    Wish("Triple tonguing, three on each note.",
         "scale: s\n  key: C\n  range: one octave\n  rhythm: triplets\n  each note: three times\n"
         "  articulations: triple",
         lambda e: pitches(e.rounds[0], 6) == "C4 C4 C4 D4 D4 D4" and each_starts(e) == ["TKT"]),
    Wish("A staccato scale, then broad, then with accents.",
         "scale: s\n  key: F\n  articulations: [staccato, tenuto, marcato]",
         lambda e: [r.notes[5].mark for r in e.rounds]
         == [Mark.STACCATO, Mark.TENUTO, Mark.ACCENT]),
    Wish("Breath attacks on long notes.",
         "long tones: l\n  notes: [B4, A4, G4]\n  articulations: breath attack",
         lambda e: {n.start for n in e.rounds[0].notes} == {Start.BREATH}),
    Wish("Flutter tongue on three notes, just marked done.",
         "long tones: l\n  notes: [G5, D5, A4]\n  technique: flutter tongue",
         lambda e: str(e.rounds[0].manner.unjudged) == "flutter tongue"),
    Wish("Doppelzunge, as I write it at home.",
         "scale: s\n  key: E flat\n  articulations: [gebunden, Doppelzunge]",
         lambda e: [str(r.articulation) for r in e.rounds] == ["slurred", "double"]),
    # ways of practising
    Wish("The passage backwards: the last bar, the last two, all.",
         "passage: p\n  practise: backwards\n"
         "  notes: quarter C5 D5 E5 F5 | G5 F5 E5 D5 | whole C5",
         lambda e: [len(r.notes) for r in e.rounds] == [1, 5, 9]),
    Wish("One note more each time.",
         "passage: p\n  practise: add a note\n  notes: quarter C5 D5 E5 F5",
         lambda e: pitches(e.rounds[0]) == "C5 D5 C5 D5 E5 C5 D5 E5 F5"),
    Wish("Bars two and three, over and over, four times.",
         "passage: p\n  practise: loop bars 2 to 3 four times\n"
         "  notes: whole C5 | D5 | E5 | F5",
         lambda e: pitches(e.rounds[0]) == " ".join(["D5 E5"] * 4)),
    Wish("Each group of four three times before the next.",
         "scale: s\n  key: G\n  range: two octaves\n  practise: each group three times",
         lambda e: len({pitches(part) for part in e.rounds}) == 1
         and len(e.rounds[0].notes) > 3 * 25),
    Wish("Slowly first, then in time.",
         "scale: s\n  key: A flat\n  tempo: 90\n  practise: slow then in time",
         lambda e: [r.tempo_bpm for r in e.rounds] == [54, 90]),
    Wish("A hard round and an easy one in turns.",
         "scale: s\n  key: A flat\n  tempo: 80\n  articulations: double\n  rounds: twice\n"
         "  practise: alternate hard and easy",
         lambda e: [str(r.articulation) for r in e.rounds] == ["double", "slurred"] * 2),
    Wish("In dotted rhythms both ways.",
         "scale: s\n  key: D\n  practice rhythm: [dotted, reversed dotted]",
         lambda e: [r.notes[5].length < r.notes[4].length for r in e.rounds] == [True, False]),
    Wish("Three times right in a row; if not, a step back.",
         "scale: s\n  key: D\n  aims: {clean: 95 %}\n"
         "  until: three right in a row, else back a step",
         lambda e: e.until is not None and e.until.in_a_row == 3 and e.until.steps_back),
    Wish("Until the aims are met, but six rounds at most.",
         "scale: s\n  key: D\n  aims: {evenness: 20 ms}\n"
         "  until: the aims are met, at most 6 rounds",
         lambda e: e.until is not None and (e.until.in_a_row, e.until.at_most) == (1, 6)),
    Wish("The last three trouble spots first, then the scale.",
         "scale: s\n  key: D\n  trouble spots: 3",
         lambda e: e.spots == 3),
    # sound
    Wish("A scale at pp, then at ff.",
         "scale: s\n  key: B flat\n  dynamic: [pp, ff]",
         lambda e: [r.notes[0].dynamic for r in e.rounds] == ["pp", "ff"]),
    Wish("A scale that grows from p to f and falls back.",
         "scale: s\n  key: B flat\n  dynamic: p to f and back",
         lambda e: [n.dynamic for n in e.rounds[0].notes if n.dynamic] == ["p", "f", "p"]),
    Wish("Long notes, pianissimo, eight to sixteen beats, drawn by lot.",
         "long tones: l\n  notes: [B4, E5]\n  beats each: 8 to 16 beats\n  dynamic: pp",
         lambda e: 8 <= e.rounds[0].notes[0].length <= 16),
    Wish("Long notes as long as a breath.",
         "long tones: l\n  notes: [B4, E5]\n  tempo: 60\n  beats each: a breath",
         lambda e: e.rounds[0].notes[0].length == 9),
    Wish("Messa di voce on five notes.",
         "long tones: l\n  notes: [G4, A4, B4, C5, D5]\n  swell: messa di voce",
         lambda e: str(e.rounds[0].manner.swell) == "there and back"),
    Wish("Harmonics on low C up to the sixth partial, each with its true note.",
         "voicing: v\n  form: harmonics\n  roots: [C4]\n  partials: 6",
         lambda e: pitches(e.rounds[0]) == "C4 C5 C5 G5 G5 C6 C6 E6 E6 G6 G6"),
    # scales and chords
    Wish("D dorian, two octaves.",
         "scale: s\n  key: D\n  form: dorian\n  range: two octaves",
         lambda e: classes(e.rounds[0]) == {0, 2, 4, 5, 7, 9, 11} and "dorian" in e.title),
    Wish("The blues scale on F.",
         "scale: s\n  key: F\n  form: blues",
         lambda e: classes(e.rounds[0]) == {(5 + step) % 12 for step in (0, 3, 5, 6, 7, 10)}),
    Wish("The half-diminished chord of E flat major.",
         "arpeggio: a\n  key: E flat\n  chord: half-diminished",
         lambda e: classes(e.rounds[0]) == {2, 5, 8, 0}),
    Wish("A major chord a half step higher each time.",
         "scale: s\n  key: C\n  form: chromatic\n  pattern: 1-5-8-5\n  range: one octave",
         lambda e: pitches(e.rounds[0], 8) == "C4 E4 G4 E4 C#4 F4 G#4 F4"),
    Wish("Five notes for a beginner, without the click.",
         "scale: s\n  key: G\n  rhythm: quarters\n  click: off",
         lambda e: not e.rounds[0].click.sounds_in(0)
         and e.rounds[0].click.sounds_in(-1)),
    Wish("Twice through, then two minutes' rest.",
         "scale: s\n  key: C\n  rounds: twice\n  rest after: two minutes",
         lambda e: (len(e.rounds), e.rest_s) == (2, 120)),
)  # fmt: skip


def written(wish: Wish) -> str:
    top = "lowest note: G4\nhighest note: D5\n" if "Five notes" in wish.sentence else ""
    return f"title: T\n{top}exercises:\n- {wish.entry}\n"


def test_there_are_forty():
    assert len({wish.sentence for wish in WISHES}) == len(WISHES) == 40


@pytest.mark.parametrize("wish", WISHES, ids=lambda wish: wish.sentence)
def test_a_wish_is_said_in_few_lines_and_comes(wish: Wish) -> None:
    text = written(wish)
    assert len(text.strip().splitlines()) < 15
    routine, problems = read_routine(text, "wish.yaml")
    assert routine is not None, describe(problems)
    assert not problems, describe(problems)
    (exercise,) = plan(routine, DAY, seed=1)
    assert exercise.rounds
    assert wish.shows(exercise)
    for round_ in exercise.rounds:
        assert [note.index for note in round_.notes] == list(range(len(round_.notes)))
        for note, after in zip(round_.notes, round_.notes[1:], strict=False):
            assert note.beat + note.length <= after.beat


@pytest.mark.parametrize("wish", mostly_slow(WISHES, 8), ids=lambda wish: wish.sentence)
def test_a_wish_stands_in_the_preview_and_on_the_sheet(wish: Wish) -> None:
    """Each round in words, and every note of the longest engraved."""
    routine, _ = read_routine(written(wish), "wish.yaml")
    assert routine is not None
    (exercise,) = planned = plan(routine, DAY, seed=1)
    preview = " ".join(timetable_text("", timetable(planned)).split())
    sheet = sheet_html(routine, planned, DAY)
    for round_ in exercise.rounds:
        assert round_in_words(round_, exercise) in preview
        for words in manner_of(round_):
            assert escape(words) in sheet
        if isinstance(round_.articulation, ArticulationPattern):
            assert str(round_.articulation) in sheet
            assert 'class="slur"' in sheet
    longest = max(len(round_.notes) for round_ in exercise.rounds)
    assert sheet.count('class="notehead"') >= longest
