"""A tempo that changes inside a passage: written, played, drawn, exported, brought home, judged."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from io import BytesIO

import mido
import music21
import pytest

from tests.score.passages import DAY, planned
from trainer.coach.advice import Topic
from trainer.coach.judge import judge
from trainer.coach.words import advise
from trainer.ear.hear import hear
from trainer.ear.heard import Take
from trainer.music.instrument import instrument_named
from trainer.music.pulse import Pace, begins_anew_after, timed
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.routine.load import read_routine
from trainer.routine.plan import at_tempo, plan
from trainer.routine.round import Round
from trainer.score.excerpt import excerpt, read_score
from trainer.score.exercise import routine_text
from trainer.score.midi_out import midi
from trainer.score.musicxml_out import musicxml
from trainer.score.sections import music_of
from trainer.score.sheet import sheet_html
from trainer.score.timetable import notes_in_lines
from trainer.screens.drawing.preview_pages import preview_pages

OF_TIME = {Topic.EVENNESS, Topic.CROSSING, Topic.LATE_NOTE, Topic.SLOW_TO_SPEAK, Topic.RUSHING,
           Topic.DRAGGING, Topic.BREATH}  # fmt: skip
NOTES = "quarter G4 A4 B4 C5 | [tempo 120] D5 E5 F#5 G5 | [tempo primo] half G5 D5 | whole G4"


def round_of(notes: str = NOTES) -> Round:
    return planned(notes)[0].rounds[0]


def test_seconds_follow_the_tempo_that_holds():
    """By hand: four beats at 60 last 4 s, four at 120 last 2 s, then a second each again."""
    pace = round_of().pace
    assert [pace.seconds_at(beat) for beat in (0, 4, 6, 8, 12)] == [0, 4, 5, 6, 10]
    assert [pace.beat_at(seconds) for seconds in (3.5, 4.5, 6, 8)] == [3.5, 5, 8, 10]
    assert round_of().seconds == 14
    assert at_tempo(round_of(), 30, 1).pace.seconds_at(8) == 12
    even = timed(round_of().notes, pace)
    assert [float(note.beat) for note in even[:9]] == [0, 1, 2, 3, 4, 4.5, 5, 5.5, 6]


def test_time_there_and_back_with_a_fermata():
    pace = Pace(60, 60, 16, ((6.0, 2.0),), ((4.0, 120.0), (8.0, 40.0)))
    for quarter_beats in range(64):
        beat = quarter_beats / 4
        assert pace.beat_at(pace.seconds_at(beat) + 1e-9) == pytest.approx(beat, abs=1e-5)


def test_a_repeat_comes_back_in_its_own_tempo():
    round_ = round_of("|: quarter G4 A4 B4 C5 | [tempo 90] D5 E5 F#5 G5 :| half G5 D5 |")
    assert [note.tempo_share for note in round_.notes[::4]] == [1, 1.5, 1, 1.5, 1.5]


def test_a_part_is_counted_in_at_the_tempo_it_begins_in():
    parts = planned(NOTES, "  practise: backwards\n")[0].rounds
    assert [part.tempo_bpm for part in parts] == [60, 60, 120, 60]
    assert parts[2].tempo_changes == ((4.0, 0.5),)


@pytest.mark.parametrize("words", ["[tempo 300]", "[tempo fast]"])
def test_what_cannot_change_is_told_where_it_stands(words: str):
    text = f"title: T\nexercises:\n- passage: p\n  notes: |\n    quarter G4 {words} A4\n"
    routine, problems = read_routine(text, "m.yaml")
    assert routine is None
    assert problems[0].line == 5
    assert "tempo 84" in problems[0].mend


def test_line_notation_says_it_again():
    round_ = round_of()
    assert round_of(notes_in_lines(round_).replace("\n", " ")).notes == round_.notes


def test_musicxml_there_and_back(tmp_path):
    """music21 reads the same tempos at the same quarters; our import writes the same notes."""
    sections = music_of(planned(NOTES))
    flute = instrument_named("C flute")
    file = tmp_path / "t.musicxml"
    file.write_bytes(musicxml("T", sections, flute))
    marks = music21.converter.parse(file).flatten().getElementsByClass(music21.tempo.MetronomeMark)
    assert [(float(one.offset), one.number) for one in marks] == [(0, 60), (4, 120), (8, 60)]
    score = read_score(file)
    text = routine_text([excerpt(score, score.parts[0], None, None)], "x", "t.musicxml")
    routine, problems = read_routine(text, "x")
    assert routine is not None, problems
    assert plan(routine, DAY, 0)[0].rounds[0].notes == round_of().notes


def test_midi_has_every_note_when_it_sounds():
    """mido adds up the seconds by the file's own tempos."""
    file = mido.MidiFile(
        file=BytesIO(midi("T", music_of(planned(NOTES)), instrument_named("C flute")))
    )
    now, begins = 0.0, []
    for message in file:
        now += message.time
        if message.type == "note_on":
            begins.append(now)
    assert begins == pytest.approx([0, 1, 2, 3, 4, 4.5, 5, 5.5, 6, 8, 10], abs=0.005)


def test_who_finds_the_new_tempo_late_is_not_called_late():
    """Played in time, and with a quarter of a beat lost at each change: no word on time."""
    round_ = round_of(
        "eighth G4 A4 B4 C5 D5 C5 B4 A4 | [tempo 84] G4 A4 B4 C5 D5 C5 B4 A4 | "
        "G4 A4 B4 C5 D5 E5 F#5 D5 | [tempo primo] G5 F#5 E5 D5 C5 B4 A4 F#4 | whole G4"
    )
    notes = timed(round_.notes, round_.pace)
    assert begins_anew_after(notes)
    lost = 0
    late = []
    for before, note in zip((None, *notes), notes, strict=False):
        lost += before is not None and before.tempo_share != note.tempo_share
        late.append(replace(note, beat=note.beat + Fraction(lost, 4)))
    for performance in (notes, tuple(late)):
        sound = Flutist(Habits(), 5).play(performance, round_.tempo_bpm, round_.tuning)
        take = hear(
            sound.samples, sound.sample_rate_hz, notes, round_.tempo_bpm, round_.tuning, None
        )
        advice = advise(round_, take, judge(round_, take))
        assert advice.topic not in OF_TIME, advice.sentence


def test_places_within_the_beat_are_those_of_the_new_tempo():
    """Eighths stay the first and second of their beat where they come twice as fast."""
    round_ = round_of("eighth G4 A4 B4 C5 D5 C5 B4 A4 | [tempo 120] G4 A4 B4 C5 D5 C5 B4 A4")
    marks = judge(round_, Take(8000, 440.0, 0.0, ())).notes
    assert [mark.group_place for mark in marks] == 8 * [0, 1]


def test_screens_and_sheet_say_it_over_or_under_the_note():
    rows = [row.text for page in preview_pages(round_of(), 100, 24) for row in page]
    assert [row.strip() for row in rows if "=" in row] == ["=120", "=60"]
    routine, _ = read_routine("title: T\nexercises:\n- rest: 1 minute\n- read: x\n", "m.yaml")
    assert routine is not None
    html = sheet_html(routine, planned(NOTES), DAY)
    assert "tempo 120" in html
    assert "tempo 60" in html
