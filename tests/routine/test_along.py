"""What a teacher asks of the click and the partner, and what the student is told of it."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest

from trainer.music.bars import Bars, Meter
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.music.pulse import ClickPart, Timbre
from trainer.routine.along import along_sentences, along_words, own_bars, silent_bars
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.problem_report import describe
from trainer.routine.round import PartnerPart, Round, RoundKind
from trainer.routine.turns import shared_out

DAY = date(2026, 3, 2)
FOUR_BARS = """
  key: G
  tempo: 80
  notes: |
    quarter (G4 A4 B4 C5) | half D5 B4, | quarter A4 B4 C5 D5 | half+half G4
"""


def rounds(lines: str, notes: str = FOUR_BARS) -> tuple[Round, ...]:
    text = f"title: T\nexercises:\n- passage: p\n  {lines}{notes}"
    routine, problems = read_routine(text, "t.yaml")
    assert routine is not None, describe(problems)
    assert not problems, describe(problems)
    return plan(routine, DAY, 0)[0].rounds


def one(lines: str, notes: str = FOUR_BARS) -> Round:
    (round_,) = rounds(lines, notes)
    return round_


def names(notes) -> list[str]:
    return [str(note.pitch) for note in notes]


# The click


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("click: glass", ClickPart(timbre=Timbre.GLASS)),
        ("click level: softer", ClickPart(level_db=-6)),
        ("click level: 9 dB softer", ClickPart(level_db=-9)),
        ("click level: as usual", ClickPart()),
        ("subdivision: triplets", ClickPart(subdivisions=3)),
        ("subdivision: quavers", ClickPart(subdivisions=2)),
        ("click rests: 1 bar in 3", ClickPart(sounding_bars=2, silent_bars=1)),
        ("click rests: never", ClickPart()),
    ],
)
def test_the_click_is_as_asked(line: str, part: ClickPart) -> None:
    assert one(line).click == part


def test_levels_of_click_and_partner_are_apart() -> None:
    round_ = one("partner: same notes\n  partner level: much softer\n  click level: louder")
    assert (round_.partner_level_db, round_.click.level_db) == (-12.0, 6.0)


def test_a_default_click_holds_for_every_exercise_that_asks_for_none() -> None:
    text = (
        "title: T\ndefaults: {click: knock, click rests: 1 bar in 2, key: C}\n"
        "exercises:\n- scale: s\n- scale: t\n  click: brush\n"
    )
    routine, problems = read_routine(text, "t.yaml")
    assert routine is not None, describe(problems)
    clicks = [exercise.rounds[0].click for exercise in plan(routine, DAY, 0)]
    assert [click.timbre for click in clicks] == [Timbre.KNOCK, Timbre.BRUSH]
    assert {(click.sounding_bars, click.silent_bars) for click in clicks} == {(1, 1)}


def test_the_tempo_changes_through_the_round() -> None:
    round_ = one("tempo at the end: 100")
    assert round_.pace.bpm_at(0) == 80
    assert round_.pace.bpm_at(float(round_.beats)) == pytest.approx(100)


def test_the_student_is_told_where_the_click_rests() -> None:
    round_ = one("click rests: 2 bars in 4")
    assert silent_bars(round_) == (3, 4)
    assert along_sentences(round_) == ("The click rests in bars 3 and 4.",)
    assert along_words(round_) == ("click rests",)


def test_many_silent_bars_are_told_by_their_rule() -> None:
    music = FOUR_BARS.rstrip() + " |" + " quarter G4 A4 B4 C5 |" * 8 + " whole G4\n"
    round_ = one("click rests: 2 bars in 4", music)
    assert along_sentences(round_) == ("The click rests for the last 2 bars of every 4.",)


def test_the_student_is_told_where_the_tempo_goes() -> None:
    assert along_sentences(one("tempo at the end: 96")) == (
        "The tempo gathers speed, from 80 to 96.",
    )
    assert along_sentences(one("tempo at the end: 60")) == ("The tempo slows down, from 80 to 60.",)


def test_nothing_is_said_of_a_plain_round() -> None:
    assert along_sentences(one("partner: same notes")) == ()
    assert along_words(one("click: brush")) == ()


# In turns


def test_each_bar_is_called_and_answered() -> None:
    round_ = one("partner: call and answer")
    assert names(round_.partner_notes) == names(round_.notes)
    assert [note.beat for note in round_.partner_notes][:7] == [0, 1, 2, 3, 8, 10, 16]
    assert [note.beat for note in round_.notes][:7] == [4, 5, 6, 7, 12, 14, 20]
    assert own_bars(round_) == (2, 4, 6, 8)
    assert along_sentences(round_) == (
        "The partner plays a turn, you play it back. Bars 2, 4, 6 and 8 are yours.",
    )


def test_a_call_of_two_bars_is_answered_by_two() -> None:
    round_ = one("partner: call and answer of 2 bars")
    assert own_bars(round_) == (3, 4, 7, 8)


def test_a_phrase_is_called_up_to_its_breath() -> None:
    round_ = one("partner: call and answer by phrases")
    assert own_bars(round_) == (3, 4, 7, 8)
    assert names(round_.notes) == ["G4", "A4", "B4", "C5", "D5", "B4", "A4", "B4", "C5", "D5", "G4"]


def test_in_turns_the_music_stays_where_it_is() -> None:
    round_ = one("partner: in turns")
    assert names(round_.partner_notes) == ["G4", "A4", "B4", "C5", "A4", "B4", "C5", "D5"]
    assert names(round_.notes) == ["D5", "B4", "G4"]
    assert along_sentences(round_) == ("You and the partner take turns. Bars 2 and 4 are yours.",)


def test_one_turn_alone_is_played_back() -> None:
    round_ = one("partner: in turns of 4 bars")
    assert names(round_.partner_notes) == names(round_.notes)
    assert round_.notes[0].beat == 16


def test_nobody_slurs_from_the_others_note() -> None:
    slurred = "\n  notes: quarter (G4 A4 B4 C5 | D5 E5 D5 C5 | B4 A4 G4 F4 | whole E4)\n"
    round_ = one("partner: in turns", slurred)
    assert [note.start for note in round_.notes[:2]] == [Start.TONGUED, Start.SLURRED]
    assert round_.partner_notes[0].start is Start.TONGUED


def test_a_note_is_held_no_longer_than_its_turn() -> None:
    over_the_bar = Note(0, Pitch.parse("B4"), Fraction(2), Fraction(6), Start.TONGUED)
    own, partners, _ = shared_out((over_the_bar,), Bars(Meter(4)), 1, answered=True)
    assert [(note.beat, note.length) for note in (*partners, *own)] == [(2, 2), (6, 2)]


@pytest.mark.parametrize("asked", ["call and answer", "in turns", "call and answer by phrases"])
def test_everybodys_notes_are_numbered_one_after_the_other(asked: str) -> None:
    round_ = one(f"partner: {asked}")
    indices = [note.index for note in (*round_.notes, *round_.partner_notes)]
    assert indices == list(range(len(indices)))
    beats = [note.beat for note in round_.printed]
    assert beats == sorted(beats)


def test_out_of_time_nobody_takes_turns() -> None:
    settling, round_ = rounds("partner: in turns\n  settle: 1 second")
    assert settling.kind is RoundKind.SETTLING
    assert (settling.partner, settling.partner_notes) == (None, ())
    assert len(settling.notes) == len(round_.printed)


def test_the_partner_may_play_all_of_it_first() -> None:
    round_ = one("partner: plays it first")
    assert round_.partner is PartnerPart.LEADS
    assert round_.call_beats == 16
    assert along_sentences(round_) == ("The partner plays it first; then it is your turn.",)
