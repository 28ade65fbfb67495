"""The line notation: dynamics, marks, time signatures; and practice rhythms over even notes."""

from datetime import date
from fractions import Fraction

import pytest
from music21 import duration, meter

from trainer.music.note import Dynamic, Hairpin, Mark, Ornament, Start
from trainer.music.pulse import timed
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.problem_report import describe
from trainer.score.timetable import notes_in_lines


def rounds_of(*lines: str):
    text = "title: T\nexercises:\n- " + "\n  ".join(lines) + "\n"
    routine, problems = read_routine(text, "m.yaml")
    assert routine is not None, describe(problems)
    return plan(routine, date(2026, 3, 2), 1)[0].rounds


def notes_of(line: str, time: str = "4/4"):
    (round_,) = rounds_of("passage: p", f"time: {time}", f"notes: {line}")
    return round_.notes


def test_dynamics_stand_on_the_note_after_them():
    notes = notes_of("quarter pp G4 A4 louder B4 C5 | ff D5 softer C5 B4 mp A4")
    assert [note.dynamic for note in notes] == [
        Dynamic.PP, None, None, None, Dynamic.FF, None, None, Dynamic.MP,
    ]  # fmt: skip
    assert [note.hairpin for note in notes[2:6]] == [Hairpin.LOUDER, None, None, Hairpin.SOFTER]


def test_marks_stand_behind_their_note():
    notes = notes_of("quarter G4. A#4- Bb4> C5")
    assert [note.mark for note in notes] == [Mark.STACCATO, Mark.TENUTO, Mark.ACCENT, None]


def test_dots_and_dashes_under_a_slur_ask_for_a_soft_stroke():
    notes = notes_of("quarter (G4- A4- B4> C5)")
    assert [note.start for note in notes] == [
        Start.TONGUED, Start.LEGATO_TONGUE, Start.SLURRED, Start.SLURRED,
    ]  # fmt: skip


@pytest.mark.parametrize("time", ["2/4", "3/4", "4/4", "5/4", "6/8", "9/8", "12/8", "2/2", "3/2"])
def test_beats_are_counted_as_the_time_signature_says(time):
    """Beats of a bar and their length as the toolkit music21 (PyPI) counts them."""
    published = meter.TimeSignature(time)
    bar = published.barDuration.quarterLength
    (round_,) = rounds_of("passage: p", f"time: {time}", f"notes: {_filled(bar)} |")
    assert round_.beats_per_bar == round_.beats == published.beatCount
    assert float(round_.beat_quarters) == published.beatDuration.quarterLength


def _filled(quarters: float) -> str:
    return "eighth " + " ".join(["G4"] * int(2 * quarters))


def test_three_eighths_count_eighths_and_short_bars_are_counted_in_twice():
    (round_,) = rounds_of("passage: p", "time: 3/8", "notes: eighth G4 A4 B4 |")
    assert (round_.beats_per_bar, round_.beat_quarters) == (3, Fraction(1, 2))
    assert round_.count_in_beats == 3
    (round_,) = rounds_of("passage: p", "time: 6/8", "notes: eighth G4 A4 B4 quarter G4 eighth A4")
    assert (round_.count_in_beats, round_.notes[3].length) == (4, Fraction(2, 3))


def test_practice_rhythms_come_round_by_round_and_keep_the_beat():
    even, dotted, third = rounds_of(
        "scale: s",
        "key: F",
        "range: one octave",
        "rhythm: eighths",
        "practice rhythm: [even, dotted, 1-3]",
    )
    assert [note.pitch for note in even.notes] == [note.pitch for note in dotted.notes]
    assert {note.length for note in even.notes[:-1]} == {Fraction(1, 2)}
    assert [note.beat for note in dotted.notes[:3]] == [0, Fraction(3, 4), 1]
    assert [note.beat for note in third.notes[:3]] == [0, Fraction(1, 4), 1]
    assert dotted.beats == third.beats == even.beats


def placed(line: str, time: str = "4/4"):
    return [(str(note.pitch), note.beat, note.length) for note in notes_of(line, time)]


def test_the_last_note_is_as_long_as_it_is_written():
    eighth = [("C6", 3, Fraction(1, 2))]
    assert placed("quarter G5 A5 B5 eighth C6. rest")[3:] == eighth
    assert placed("quarter G5 A5 B5 eighth C6.")[3:] == eighth
    assert placed("half D6", "6/8") == [("D6", 0, Fraction(4, 3))]
    (long_tone,) = rounds_of("long tones: l", "notes: [B4]", "beats each: 2.5")
    assert (long_tone.notes[0].length, long_tone.beats) == (Fraction(5, 2), 3)


def test_rests_at_the_end_are_part_of_the_round():
    (round_,) = rounds_of("passage: p", "notes: quarter G4 rest rest rest | half rest")
    assert (round_.notes[0].length, round_.music_beats, round_.beats) == (1, 6, 6)


def test_a_passage_that_ends_inside_a_beat_is_filled_with_rest():
    (round_,) = rounds_of("passage: p", "notes: quarter G4 eighth A4")
    assert (round_.music_beats, round_.beats) == (Fraction(3, 2), 2)


def test_tied_notes_are_one_over_bar_lines_that_are_checked():
    tied = placed("half G4 quarter A4+ | half A4 quarter B4+ | dotted half B4 |", "3/4")
    assert tied == [("G4", 0, 2), ("A4", 2, 3), ("B4", 5, 4)]
    slurred = notes_of("half (G4 A4+ | A4 B4) |")
    assert [note.start for note in slurred] == [Start.TONGUED, Start.SLURRED, Start.SLURRED]
    assert placed("whole+whole G4 | whole A4 |") == [("G4", 0, 8), ("A4", 8, 4)]


def test_a_triplet_may_be_dotted():
    two_thirds = Fraction(2, 3)
    dotted = placed("dotted triplet eighth G4 triplet sixteenth A4 triplet eighth B4")
    assert [length for _, _, length in dotted] == [
        two_thirds * Fraction(3, 4), two_thirds / 4, two_thirds / 2,
    ]  # fmt: skip


def block(lines: str, time: str = "4/4"):
    (round_,) = rounds_of("passage: p", f"time: {time}", f"notes: |\n    {lines}")
    return round_


def names(lines: str) -> str:
    return " ".join(str(note.pitch) for note in block(lines).notes)


def test_an_upbeat_stands_at_the_end_of_its_bar():
    round_ = block("upbeat eighth G4 A4 | half B4 C5 | D5 quarter C5 |")
    assert [note.beat for note in round_.notes] == [3, Fraction(7, 2), 4, 6, 8, 10]
    assert (round_.upbeat_beats, round_.count_in_beats) == (1, 4)


def test_tuplets_and_double_dots_have_the_lengths_music21_gives_them():
    """Lengths of tuplets and dots as the toolkit music21 (PyPI) counts them."""
    for number, normal in ((5, 4), (6, 4), (7, 4), (9, 8), (5, 3), (2, 3)):
        (note, *_) = notes_of(f"{number}:{normal} eighth G4 rest")
        published = duration.Duration("eighth")
        published.appendTuplet(duration.Tuplet(number, normal, "eighth"))
        assert note.length == published.quarterLength
    (dotted, *_) = notes_of("double-dotted half G4 eighth A4")
    assert dotted.length == duration.Duration("half", dots=2).quarterLength
    (five, *_) = notes_of("quintuplet sixteenth G4 A4 B4 C5 D5")
    assert five.length == Fraction(1, 5)


def test_repeats_endings_and_jumps_are_written_out():
    assert names("|: whole G4 |1 A4 :|2 B4 || C5 |") == "G4 A4 G4 B4 C5"
    for back in ("D.C.", "DC", "D.C. al fine", "D.C. al Fine"):
        assert names(f"whole G4 fine | A4 | B4 {back} |") == "G4 A4 B4 G4"
    assert names("|: whole G4 |1. A4 :|2. B4 ||") == "G4 A4 G4 B4"
    assert names("whole G4 | segno A4 to-coda | B4 | C5 D.S. | coda D5 |") == "G4 A4 B4 C5 A4 D5"
    round_ = block("|: upbeat quarter G4 | half C5 D5 | dotted half E5 :| quarter F5 | whole G5 |")
    assert [note.beat for note in round_.notes] == [3, 4, 6, 8, 11, 12, 14, 16, 19, 20]


def test_a_slur_does_not_lead_back_over_a_repeat():
    starts = [note.start for note in block("|: half (G4 A4) | (B4 C5) :|").notes]
    assert starts == [Start.TONGUED, Start.SLURRED] * 4


def test_octave_signs_and_bars_of_rest():
    assert names("8va half G5 A5 | loco G5 8vb A5 | loco 15ma G4") == "G6 A6 G5 A4 G6"
    round_ = block("whole G4 | [3 bars rest] | A4 |")
    assert [note.beat for note in round_.notes] == [0, 16]


def test_signs_over_notes():
    first, second, third, fourth = block(
        "sf quarter G4 grace A4 B4 quarter trill C5 fermata D5 // mordent E5"
    ).notes
    assert (first.dynamic, [str(p) for p in second.graces]) == (Dynamic.SF, ["A4", "B4"])
    assert (second.ornament, [str(p) for p in second.neighbours]) == (Ornament.TRILL, ["D5", "B4"])
    assert (third.fermata, third.stop_after, third.breath_after) == (True, True, True)
    assert fourth.ornament is Ornament.MORDENT


def test_at_a_fermata_the_beat_waits_and_goes_on():
    round_ = block("quarter G4 fermata half A4 quarter B4 | whole C5 |")
    pace = round_.pace
    assert (pace.arrives_at(3), pace.seconds_at(3)) == (3, 5)
    assert [round(pace.beat_at(second)) for second in (2.9, 4, 5, 6)] == [3, 3, 3, 4]
    timed_notes = timed(round_.notes, pace)
    assert [(note.beat, note.length) for note in timed_notes] == [(0, 1), (1, 4), (5, 1), (6, 4)]


def test_practised_backwards_a_fermata_stays_with_its_note():
    lines = "upbeat quarter G4 | fermata half A4 half C5 | whole E5 | half F#5 G5 |"
    rounds = rounds_of("passage: p", "practise: backwards", f"notes: |\n    {lines}")
    assert [round_.stops for round_ in rounds[:3]] == [(), (), ((2.0, 2.0),)]


LINES = (
    "upbeat quarter sf G4 | grace E5 F#5 half trill C5 (fermata D5) // | whole turn E5 |",
    "5:4 sixteenth C5 D5 E5 F5 G5 double-dotted quarter A5 sixteenth B5 quarter trill-flat C5 |",
    "triplet half C5 D5 E5 | triplet quarter C5 D5 E5 7:4 eighth C5 D5 E5 F5 G5 A5 B5 |",
    "whole ppp C5+ | half C5 fff inverted-mordent B4, | [2 bars rest] whole inverted-turn A4 |",
)


@pytest.mark.parametrize("lines", LINES)
def test_what_the_preview_prints_is_the_same_music(lines):
    round_ = block(lines)
    assert block(notes_in_lines(round_).replace("\n", "\n    ")).notes == round_.notes


@pytest.mark.parametrize(
    ("lines", "fragment"),
    [
        ("quarter G4 | whole A4 |", "If it is an upbeat, write 'upbeat' before it."),
        ("quarter G4 upbeat A4", "An upbeat can only stand at the beginning."),
        ("upbeat whole G4 | A4 |", "An upbeat is shorter than a bar"),
        ("upbeat quarter G4 A4", "Put '|' after its last note."),
        ("quarter G4 grace A4", "no note follows"),
        ("quarter G4 grace A4 quarter rest G4", "Grace notes stand before no note."),
        ("quarter G4 [time 3/4] A4", "Time and key can only change at a bar line."),
        ("upbeat quarter G4 [key D] | A4", "Write it behind the '|' that ends the upbeat."),
        ("whole G4 | [time 3/4] A4 |", "The bar that ends here holds 4 beats, not 3."),
        (
            "whole G4 | [time 3/16] half A4",
            "'3/16' is no time signature read here. Write a time signature over 2, 4 or 8",
        ),
        ("whole G4 | [key H minor] whole A4", "Did you mean 'B minor'?"),
        ("whole G4 | [meter of 3/4] whole A4", "Write a change of time as '[time 3/4]'"),
        ("quarter G4 [G4 A4]", "Slurs are written in round brackets"),
        ("quarter G4 D.S.", "Add 'segno'."),
        ("quarter G4 to-coda", "'to-coda' and 'coda' belong together"),
        ("|: whole G4+ :| G4", "G4 is tied to what is repeated."),
        ("8ve quarter G4", "'8ve' is neither a note nor a length. Write '8va'"),
    ],
)
def test_mistakes_among_signs_are_told(lines, fragment):
    text = f"title: T\nexercises:\n- passage: p\n  notes: |\n    {lines}\n"
    _, problems = read_routine(text, "m.yaml")
    assert fragment in describe(problems)


@pytest.mark.parametrize(
    ("notes", "fragment"),
    [
        ("quarter G4. mezzo A4", "'mezzo' is neither a note nor a length."),
        ("quarter G4 A4 B4 C5. | D5 |", "Change its lengths, or fill it with 'rest'"),
        ("quarter G4! A4", "'G4!' is neither a note nor a length."),
        ("quarter G4 piano A4", "Did you mean 'p'?"),
        ("quarter G4 crescendo A4", "Did you mean 'louder'?"),
        ("quarter G4 staccato A4", "Write '.' behind the note: 'A4.'"),
        ("viertel G4 A4", "Did you mean 'quarter'?"),
        ("quarter Fis4 H4 B4", "Did you mean 'F#4'?"),
        ("quarter do4 B4", "Did you mean 'C4'?"),
        ("quarter: G4", "Write 'quarter' without the colon."),
    ],
)
def test_mistakes_are_told_in_the_trades_words(notes, fragment):
    text = f"title: T\nexercises:\n- passage: p\n  notes: {notes}\n"
    if ": G4" in notes:
        text = text.replace(f"notes: {notes}", f'notes: "{notes}"')
    _, problems = read_routine(text, "m.yaml")
    assert problems[0].line == 4
    assert fragment in describe(problems)
