"""What a teacher can get wrong: each mistake has its line and says how to mend it."""

from itertools import pairwise
from pathlib import Path

import pytest

from trainer.routine.document import LARGEST_FILE_BYTES
from trainer.routine.load import load_routine, read_routine
from trainer.routine.problem_report import describe

HEAD = "title: T\nexercises:\n"
"""Two lines, so that the first exercise begins on line 3."""


def exercise(*lines: str) -> str:
    return HEAD + "- " + "\n  ".join(lines) + "\n"


def scale(*lines: str) -> str:
    """A good scale on lines 3 and 4, and these lines from line 5."""
    return exercise("scale: s", "key: C", *lines)


def passage(*lines: str) -> str:
    """Notes in a block that begins on line 5."""
    return exercise("passage: p", "notes: |", *(f"  {line}" for line in lines))


SYNTAX = [
    ("title: T\n\ttempo: 60\n", 2, "There is a tab here. Move lines in with spaces"),
    ('title: "T\nexercises: []\n', 1, "A quotation mark opens here and is never closed. Close it"),
    ("title: T\nwords: sound first: then speed\n", 2, "Put the text in quotes"),
    ("title: T\n  words: x\n", 2, "Line it up with the line above"),
    ("title: T\nexercises: [\n", 3, "a bracket or brace is not closed"),
    ("title: T\nexercises: [a b\nwords: c\n", 2, "A bracket '[' opens here and is not closed"),
    (scale("aims: {cents: 5"), 5, "A brace '{' opens here and is not closed"),
    ("title: T\nwords: @home\n", 2, "A text can't begin with this sign. Put the text in quotes."),
    ("title: T\nwords: %60\n", 2, "Put the text in quotes"),
    ("title: T\nexercises:\n- scale: s\n key: C\n", 4, "same number of spaces"),
    ("title: T\n---\ntitle: U\n", 2, "Keep one of the two in each file."),
    ("title: T\nexercises\n", 2, "Write 'exercises:'."),
    ("title: T\nwords: *x\n", 2, "Put the text in quotes"),
    ("title: T\nwords: !important\nexercises: []\n", 2, "Put the text in quotes"),
    ("title: T\nexercises: " + "[" * 40 + "]" * 40, 2, "too deep inside each other"),
]
STRUCTURE = [
    ("- scale: s\n", 1, "Fields such as 'tempo: 60' are wanted at the top."),
    ("just words\n", 1, "Fields such as 'tempo: 60' are wanted at the top."),
    ("exercises:\n- rest: 1 minute\n", 1, "The routine has no 'title'. Add 'title:'"),
    ("title: T\n", 1, "The routine has no 'exercises'. Add 'exercises:'"),
    ("title: T\nexercises:\n", 2, "Begin each with a '-'"),
    ("title: T\nexercises: []\n", 2, "Begin each with a '-'"),
    ("title: T\ntempo: 60\nexercises:\n- rest: 1 minute\n", 2, "Put it under 'defaults'"),
    ("title: T\ninstrumnet: flute\n" + HEAD[9:], 2, "Did you mean 'instrument'?"),
    ("title: T\ntitle: U\n" + HEAD[9:] + "- rest: 1 minute\n", 2, "for the second time"),
    ("title: T\ndefaults:\n  form: major\n" + HEAD[9:], 3, "Write it in each exercise"),
    (exercise("rest"), 3, "Write '- rest: 1 minute'."),
    (exercise("scael: s", "key: C"), 3, "Did you mean 'scale'?"),
    (exercise("key: C", "tempo: 60"), 3, "It is not said what this exercise is. Begin it with"),
    (exercise("scale: s", "rest: 1 minute"), 4, "write 'rest after:'"),
    (exercise("scale: s"), 3, "This scale has no 'key'. Add 'key:'"),
    (scale("artculations: slurred"), 5, "Did you mean 'articulations'?"),
    (scale("chord: major"), 5, "Leave it out; it is for 'arpeggio'."),
    (scale("tempo: 60", "tempo: 70"), 6, "for the second time, after line 5. Keep one"),
    (scale() + "- scale: s\n  key: D\n", 5, "Give each exercise a name of its own."),
    (exercise("speed climb: c", "key: C", "tempo: 60"), 5, "'from' and 'to'"),
]
VALUES = [
    ("title: T\ninstrument: oboe\n" + HEAD[9:], 2, "Write an instrument: C flute"),
    ("title: T\ntuning: 500\n" + HEAD[9:], 2, "from 415 to 446 Hz"),
    ("title: T\nlowest note: B3\n" + scale()[9:], 2, "Write a note from C4 to D7"),
    (scale("tempo: fast"), 5, "'fast' is not a number"),
    (scale("tempo: 6O"), 5, "Write a tempo in beats a minute"),
    (scale("tempo: 600"), 5, "600 is more than this can be. Write a tempo"),
    (scale("tempo:"), 5, "Nothing is written here. Write a tempo"),
    (scale("tempo: [60, 70]"), 5, "There is a list where one value is wanted. Write a tempo"),
    (scale("articulations: slured"), 5, "Did you mean 'slurred'?"),
    (scale("articulations:", "- slurred", "- sinlge"), 7, "Did you mean 'single'?"),
    (scale("articulations: silent double"), 5, "[air-only silent, double]"),
    (scale("articulations: slurr 3 tonge 1"), 5, "Did you mean 'slur 3 tongue 1'?"),
    (scale("articulations: slur 2 tongue 2; slur 4"), 5, "[slur 2 tongue 2, slur 4]"),
    (scale("articulations: [slur 2, tongue x2]"), 5, "no comma in a list"),
    (scale("articulations: all six in randm order"), 5, "'all six in random order'?"),
    (scale("rounds: tnice"), 5, "Did you mean 'twice'?"),
    ("title: T\nlowest note: D6\nhighest note: G4\n" + scale()[9:], 2, "'lowest note: G4'"),
    (scale("articulations: all sixx"), 5, "Did you mean 'all six'?"),
    (scale("articulations: on"), 5, "'on' is not an articulation. "),
    (scale("partner: loud"), 5, "Write a partner: off, same notes"),
    (scale("rhythm: sixtenths"), 5, "Did you mean 'sixteenths'?"),
    (scale("rhythm: 40"), 5, "40 notes to a beat can't be played. Write a rhythm"),
    (scale("range: ful"), 5, "Did you mean 'full'?"),
    (scale("range: 7 octaves"), 5, "no 7 octaves"),
    (scale("range: A6 to D4"), 5, "Write 'D4 to A6'."),
    (scale("range: D to A6"), 5, "Write its octave too"),
    (scale("range: 3 octaves", "form: major") .replace("key: C", "key: D"), 5, "another range"),
    (scale("pattern: thrids"), 5, "Did you mean 'thirds'?"),
    (scale("breaths: at the end"), 5, "Write places to breathe"),
    (scale("rest after: 2"), 5, "2 of what: seconds or minutes?"),
    (scale("rest after: soon"), 5, "'30 seconds', '2 minutes' or '1:30'"),
    (scale("aims: 15"), 5, "Aims need their names. Write aims: {cents: 15"),
    (scale("aims:", "  cent: 15"), 6, "Did you mean 'cents'?"),
    (scale("aims: {}"), 5, "Write aims: {cents: 15"),
    (scale("aims: {clean: 20 %}"), 5, "20 % is less than this can be."),
    (scale("rounds: 2.5"), 5, "2.5 is not a whole number."),
    (scale("temperament: pure above the drone"), 5, "Add 'partner: drone on the tonic'."),
    (exercise("scale: s", "key: H"), 4, "'H' is not a key."),
    (exercise("scale: s", "key: G sharp"), 4, "Write A flat major instead."),
    (exercise("scale: s", "key: F # minor"), 4, "Write 'F sharp'"),
    (exercise("scale: s", "key: E flat major", "form: harmonic minor"), 4, "in minor"),
    (exercise("scale: s", "key: by day through fifth"), 4, "Did you mean 'fifths'?"),
    (exercise("scale: s", "key: [C, G, X]"), 4, "'X' is not a key."),
    (exercise("scale: s", "key: same as nothing"), 4, "Name an exercise that comes before"),
    (exercise("scale: s", "key: same as s"), 4, "No exercise above is called 's'"),
    (exercise("speed climb: c", "key: C", "from: 120", "to: 60"), 6, "not faster than 120"),
    (exercise("trills: t", "pairs: [G4 A4]", "partner: drone on the tonic"), 5, "have no key"),
    (exercise("long tones: l"), 3, "Add 'notes: [B4, A#4, A4]'"),
    (exercise("long tones: l", "notes: [B4, Q4]"), 4, "'Q4' is not a note."),
    (exercise("long tones: l", "notes: [B3]"), 4, "B3 is not on the C flute. Write notes from C4"),
]  # fmt: skip
PASSAGES = [
    (passage("quarter G4 A4", "quartre B4 C5"), 6, "Did you mean 'quarter'?"),
    (passage("quarter G4 A B4 C5"), 5, "'A' lacks its octave. Write 'A4'"),
    (passage("quarter G4 A4 B4 |"), 5, "holds 3 beats, not 4. If it is an upbeat"),
    (passage("triplet (G4 A4 B4)"), 5, "then the notes: 'triplet eighth (G4'."),
    (passage("quarter G4", "dotted triplet A4"), 6, "'dotted triplet eighth A4'."),
    (passage("quarter G4 dotted rest"), 5, "'dotted' says no length by itself."),
    (passage("quarter G4 dotted"), 5, "'dotted' says no length by itself."),
    (passage("half G4 A4+ | B4 A4 |"), 5, "A4 is tied to B4. Write the same note"),
    (passage("half G4 A4+ | rest A4 |"), 5, "A4 is tied to a rest."),
    (passage("half G4 A4+ | f A4 A4 |"), 5, "only there does a note begin"),
    (passage("half G4 A4+ |"), 5, "A4 is tied to nothing."),
    (passage("quarter+triplet eighth G4"), 5, "'quarter G4+ triplet eighth G4'"),
    (passage("quarter G4A4 B4"), 5, "Write 'G4 A4'."),
    (passage("quarter G4 A4tr B4"), 5, "Write it before its note: 'trill A4'."),
    (passage("5/4 eighth G4 A4"), 5, "Write '5:4' for a tuplet"),
    (passage("quarter (G4 A4", "(B4 C5)"), 5, "Close it with ')' before the next '('."),
    (passage("quarter G4", "D4 D.S. al coda", "coda A4"), 6, "'al coda'"),
    (passage("quarter G4 DC al fine"), 5, "Put 'fine' after the note"),
    (passage("whole G4 | [E flat] G4"), 5, "Write '[key E flat]'"),
    (passage("whole G4 | [out of time] G4"), 5, "'[cadenza] eighth G4"),
    (passage("|: whole G4 :: A4 :|"), 5, "Write ':|:'"),
    (passage("quarter (G4 A4"), 5, "Close it with ')'."),
    (passage("quarter G4) A4"), 5, "Put '(' before its first note."),
    (passage(", quarter G4"), 5, "Put ',' after a note."),
    (passage("quarter rest"), 4, "No note is written here."),
    (exercise("passage: p", "notes: [G4, A4]"), 4, "Write 'notes: |'."),
    (exercise("passage: p", "time: 6/16", "notes: G4"), 4, "'3/4' or '6/8'"),
    (exercise("passage: p", "key: random", "notes: G4"), 4, "written in one key"),
]


@pytest.mark.parametrize(
    ("text", "line", "fragment"), [*SYNTAX, *STRUCTURE, *VALUES, *PASSAGES], ids=str
)
def test_every_mistake_has_its_line_and_its_mending(text, line, fragment):
    routine, problems = read_routine(text, "morning.yaml")
    assert routine is None
    sentences = [problem.sentence() for problem in problems if problem.line == line]
    assert any(fragment in sentence for sentence in sentences), describe(problems)
    assert all(sentence.startswith(f"morning.yaml, line {line}: ") for sentence in sentences)


def test_the_sentence_a_teacher_reads():
    _, (problem,) = read_routine(scale("artculations: slurred"), "morning.yaml")
    assert problem.sentence() == (
        "morning.yaml, line 5: 'artculations' is not known here. Did you mean 'articulations'?"
    )
    assert (problem.line, problem.column, problem.serious) == (5, 3, True)


def test_all_mistakes_come_at_once_in_the_order_of_the_file():
    """
    title: T
    instrument: oboe
    defaults:
      tempo: quick
    exercises:
    - scale: a
      key: H
      rythm: sixteenths
    - arpeggio: b
      key: C
      chord: [major]
    - rest: 2
    """
    text = test_all_mistakes_come_at_once_in_the_order_of_the_file.__doc__.replace("\n    ", "\n")
    _, problems = read_routine(text, "m.yaml")
    assert [problem.line for problem in problems] == [3, 5, 8, 9, 12, 13]
    assert describe(problems).endswith("6 mistakes to fix before this can be played.")


@pytest.mark.parametrize(
    ("raw", "line", "fragment"),
    [
        (b"", None, "The file is empty."),
        (b"# only a comment\n", None, "The file is empty."),
        (b"title: T\nwords: \xe9t\xe9\n", 2, "encoding UTF-8"),
        ("title: T".encode("utf-16"), None, "encoding UTF-8"),
        (b"title: T\n\x00\x01\x02", 2, "This is not plain text"),
        (b"#" * (LARGEST_FILE_BYTES + 1), None, "larger than 100 kB"),
    ],
    ids=["empty", "comment", "latin-1", "utf-16", "binary", "huge"],
)
def test_files_that_are_no_routine(tmp_path, raw, line, fragment):
    file = tmp_path / "m.yaml"
    file.write_bytes(raw)
    routine, (problem,) = load_routine(file)
    assert routine is None
    assert problem.line == line
    assert fragment in problem.sentence()


def test_a_folder_and_a_missing_file(tmp_path):
    assert "This is a folder." in load_routine(tmp_path)[1][0].sentence()
    assert "There is no such file." in load_routine(tmp_path / "none.yaml")[1][0].sentence()
    assert load_routine(Path("a\0b"))[0] is None


def test_an_alias_bomb_is_refused_quickly():
    doubled = (f"{name}: &{name} [*{old}, *{old}]\n" for old, name in pairwise("abcdefghi"))
    bomb = "a: &a [x, x]\n" + "".join(doubled)
    _, (problem,) = read_routine(bomb, "m.yaml")
    assert "gives a place of the file a name" in problem.what
    _, (problem,) = read_routine("a: [*a]\n", "m.yaml")
    assert "another place of the file" in problem.what
    assert problem.line == 1


DOUBTS = [
    (scale("aims: {cents: 1}"), 5, "Ask for 2 cents or more."),
    (scale("range: one octave", "click rests: 2 bars in 6"), 6, "over before the click would rest"),
    (scale("range: B3 to C6"), 5, "B3 is outside C4 to C7 on the C flute"),
    (scale("articulations: double", "rhythm: quarters"), 5, "notes a second is slow"),
    (scale("articulations: double", "tempo: 200"), 5, "lower the tempo"),
    (scale("articulations: single", "tempo: 160"), 5, "or ask for double"),
    (scale("articulations: legato tongue", "tempo: 160"), 5, "or ask for double"),
    (scale("articulations: air-only", "tempo: 100"), 5, "6.67 notes a second. Few go past 6"),
    (scale("rhythm: thirty-seconds", "tempo: 140"), 6, "Slurring is asked for at 18.7 notes"),
    (scale("articulations: single", "tempo: 120", "practice rhythm: dotted"), 5, "16 notes"),
    (scale("aims: {evenness: 5 ms}"), 5, "Ask for 6 ms or more."),
    (scale("aims: {clean: 100 %}"), 5, "Ask for 99 % or less."),
    (passage("sixteenth G4 A4 B4 C5 (thirty-second D5 E5 D5 E5) eighth D5 quarter D5 D5")
     .replace("passage: p", "passage: p\n  tempo: 160"), 4, "Single tonguing is asked for at 10.7"),
    (exercise("long tones: l", "notes: [B4]", "beats each: 40"), 5, "Ask for fewer beats each."),
    (exercise("long tones: l", "notes: [B4]", "vibrato: 6 a beat", "tempo: 90"), 5, "9 pulses"),
    (scale("rounds: 40") + "- scale: t\n  key: C\n  rounds: 40\n  rhythm: eighths\n"
     "- scale: u\n  key: C\n  rounds: 40\n", 6, "minutes without a rest. Put '- rest"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "line", "fragment"), DOUBTS, ids=str)
def test_doubts_do_not_stop_a_routine(text, line, fragment):
    routine, problems = read_routine(text, "m.yaml")
    assert routine is not None, describe(problems)
    assert not any(problem.serious for problem in problems)
    assert any(p.line == line and fragment in p.sentence() for p in problems), describe(problems)
    assert describe(problems).startswith("m.yaml, line ")


def test_nothing_wrong_says_so():
    assert describe(read_routine(scale(), "m.yaml")[1]) == "Nothing is wrong."
