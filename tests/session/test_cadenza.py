"""A cadenza in a passage: a round out of time between two in time, judged by its pitches alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from random import Random
from typing import Any

import music21
import pytest
import yaml

from tests.score.passages import planned, text_of
from tests.session.conftest import Practice
from trainer.coach.advice import Topic
from trainer.coach.judge import judge
from trainer.coach.words import advise
from trainer.ear.hear import hear
from trainer.music.instrument import instrument_named
from trainer.music.pitch import Pitch
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.routine.load import read_routine
from trainer.routine.problem_report import describe
from trainer.routine.round import Round, RoundKind
from trainer.score.excerpt import excerpt, read_score
from trainer.score.exercise import checked, routine_text
from trainer.score.musicxml_out import musicxml
from trainer.score.sections import music_of
from trainer.score.timetable import notes_in_lines
from trainer.screens.drawing.preview_pages import preview_pages
from trainer.session.accompaniment import clicks
from trainer.session.view import Stage

Build = Callable[..., Practice]
TEMPO = 96
RUN = "eighth D6 C6 B5 A5 G5 F#5 E5 F#5 quarter G5 half B5"
NOTES = f"quarter G5 B5 D6 B5 | half A5 [cadenza] {RUN} [in time] half D5 G5 | whole G5"


def rounds_of(notes: str = NOTES, more: str = "") -> tuple[Round, ...]:
    return planned(notes, more, TEMPO)[0].rounds


def test_it_is_a_round_of_its_own_between_two_in_time() -> None:
    before, cadenza, after = rounds_of()
    assert [len(one.notes) for one in (before, cadenza, after)] == [5, 10, 3]
    assert [one.in_time for one in (before, cadenza, after)] == [True, False, True]
    assert (cadenza.kind, cadenza.count_in_beats, cadenza.waits) == (RoundKind.CADENZA, 0, False)
    assert [one.title.partition(", ")[2] for one in (before, cadenza, after)] == [
        "as far as the cadenza", "cadenza", "after the cadenza"]  # fmt: skip
    assert [note.beat for note in after.notes] == [0, 2, 4]
    assert before.music_beats == 6
    assert clicks(cadenza, 0, 0, 48000) == []
    assert all(note.free for note in cadenza.notes)
    assert [one.number for one in rounds_of(more="  rounds: 2\n")] == [1, 2, 3, 4, 5, 6]


@pytest.mark.parametrize(
    "notes",
    [NOTES.replace("[cadenza]", "cadenza").replace("[in time]", "end of cadenza"),
     NOTES.replace("[cadenza]", "[senza misura]").replace("[in time]", "[end of the cadenza]")],
)  # fmt: skip
def test_other_words_for_it_are_taken(notes: str) -> None:
    assert rounds_of(notes) == rounds_of()


@pytest.mark.parametrize(
    ("notes", "mend"),
    [
        ("quarter G4 [cadenza] A4 [cadenza] B4", "End it with '[in time]'."),
        ("quarter G4 [in time] A4", "Put '[cadenza]' where it begins."),
        ("quarter G4 [cadenza] [in time] A4", "Write them behind '[cadenza]'."),
        ("quarter (G4 [cadenza] A4) B4", "Close it with ')' before."),
        ("quarter G4 [cadenza] A4 [time 3/4] B4", "End it with '[in time]' first."),
        ("quarter G4 [cadenzza] A4", "Write a cadenza as '[cadenza] eighth G4 … [in time]'."),
    ],
)
def test_mistakes_in_it_are_told(notes: str, mend: str) -> None:
    _, problems = read_routine(text_of(notes, tempo=TEMPO), "m.yaml")
    assert mend in describe(problems)


@pytest.mark.parametrize("more", ["  practise: loop bars 1 to 2 twice\n", "  settle: 1 second\n"])
def test_what_needs_time_throughout_is_refused(more: str) -> None:
    _, problems = read_routine(text_of(NOTES, more, TEMPO), "m.yaml")
    assert "Write what comes before the cadenza as a passage of its own." in describe(problems)


def test_music_without_a_time_signature_comes_in_and_goes_out(tmp_path) -> None:
    """MusicXML's <senza-misura/>: written by us, read by music21 and by our import."""
    file = tmp_path / "t.musicxml"
    file.write_bytes(
        musicxml("T", music_of(planned(NOTES, tempo=TEMPO)), instrument_named("C flute"))
    )
    assert b"<senza-misura" in file.read_bytes()
    read = music21.converter.parse(file).flatten()
    assert [note.nameWithOctave for note in read.notes][5:8] == ["D6", "C6", "B5"]
    found = read_score(file)
    passage = checked(routine_text([excerpt(found, found.parts[0])], "x", "t.musicxml"))
    assert passage is not None
    assert [note.pitch for note in passage.notes] == [
        note.pitch for round_ in rounds_of() for note in round_.notes]  # fmt: skip
    ((begins, ends),) = passage.cadenzas
    assert ends - begins == 7
    assert notes_in_lines(rounds_of()[1]).startswith("[cadenza] eighth D6")


def test_it_is_drawn_without_time_and_bar_lines() -> None:
    rows = [row.text for page in preview_pages(rounds_of()[1], 100, 24) for row in page]
    assert not any(sign.isdigit() for row in rows for sign in row)
    assert sum(row.count("║") > 0 for row in rows) >= 5
    assert not any("│" in row[:6] for row in rows)


OF_PITCH = {Topic.NOTES, Topic.TUNING, Topic.TUNING_HIGH, Topic.TUNING_LOW, Topic.OCTAVES}


@pytest.mark.parametrize("seed", range(2))
def test_no_word_is_said_of_its_time(seed: int) -> None:
    """Played with a beat that wanders between half and double: only a wrong note is told."""
    round_ = rounds_of()[1]
    random, beat = Random(seed), Fraction(0)
    free = []
    for note in round_.notes:
        length = note.length * Fraction(random.randint(50, 200), 100)
        free.append(replace(note, beat=beat, length=length))
        beat += length
    wrong = [replace(free[4], pitch=Pitch.parse("D5"))]
    for performance in (free, [*free[:4], *wrong, *free[5:]]):
        sound = Flutist(Habits(), 5).play(tuple(performance), round_.tempo_bpm, round_.tuning)
        take = hear(sound.samples, sound.sample_rate_hz, round_.notes, round_.tempo_bpm,
                    round_.tuning, None, timed=False)  # fmt: skip
        marks = judge(round_, take)
        assert all(mark.off_ms is None and not mark.late for mark in marks.notes)
        advice = advise(round_, take, marks)
        if performance is free:
            assert all(mark.clean for mark in marks.notes)
            assert advice.topic not in OF_PITCH, advice.sentence
        else:
            assert (str(marks.notes[4].wrong), advice.note_indices) == ("D5", (4,))
            assert "G5" in advice.sentence


def test_a_session_goes_through_it(practice_of: Build) -> None:
    """It begins with the player, ends after the last note, and the third round counts in."""
    at = practice_of(text_of(NOTES, tempo=TEMPO))
    kinds = []
    at.do(at.session.advance)
    for _ in range(3):
        at.do(at.session.advance)
        kinds.append(at.view().round.kind)
        after = at.until(Stage.AFTER)
        assert after.take is not None
        assert not after.take.warnings
        assert after.advice.topic is Topic.SECURE
    assert kinds == [RoundKind.PASSAGE, RoundKind.CADENZA, RoundKind.PASSAGE]
    logs = yaml.safe_load(at.journal_texts()[0])["rounds"]
    assert [log["kind"] for log in logs] == ["passage", "cadenza", "passage"]
    cadenza: dict[str, Any] = logs[1]
    assert 4 < cadenza["seconds"] < 12
    assert not cadenza.get("evenness_ms")


def test_without_a_microphone_it_passes_too(practice_of: Build) -> None:
    at = practice_of(text_of(NOTES, tempo=TEMPO), plays=False, listens=False)
    at.do(at.session.advance)
    for _ in range(2):
        at.do(at.session.advance)
        at.until(Stage.AFTER)
        at.do(at.session.advance)
    assert at.view().round.title.endswith("after the cadenza")
