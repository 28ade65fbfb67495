"""The preview: minutes add up, notes read back as what is played, the partner plays them all."""

import json
import re
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile
import yaml

from trainer.app.open_session import planned_for_days
from trainer.cli import main
from trainer.commands.play_preview import play, played_by_partner
from trainer.music.bars import COMMON_TIME
from trainer.music.instrument import instrument_named
from trainer.music.note import Start
from trainer.routine.load import load_routine, read_routine
from trainer.routine.notation import read_passage
from trainer.routine.plan import plan
from trainer.score.sections import music_of, sections
from trainer.score.timetable import notes_in_lines, timetable, timetable_text
from trainer.sound.simulated import SimulatedPort

ROUTINES = Path(__file__).parents[2] / "routines"
SHIPPED = sorted(ROUTINES.glob("*.yaml"))
DAY = date(2026, 1, 5)


@pytest.fixture(autouse=True)
def own_home(tmp_path, monkeypatch):
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path / "home"))


def planned(name: str):
    routine, _ = load_routine(ROUTINES / f"{name}.yaml")
    assert routine is not None
    return plan(routine, DAY, 0)


@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_the_minutes_follow_each_other(file):
    day = planned(file.stem)
    slots = timetable(day)
    assert slots[0].start_min == 0
    for before, after in pairwise(slots):
        assert after.start_min == pytest.approx(before.start_min + before.exercise.minutes)


def test_each_line_begins_with_minutes_and_seconds_from_the_beginning():
    slots = timetable(planned("morning"))
    rows = timetable_text("The day", slots).splitlines()[2 : 2 + len(slots)]
    begins_s = [60 * int(minutes) + int(seconds) for minutes, seconds in
                (row.split()[0].split(":") for row in rows)]  # fmt: skip
    assert begins_s[-1] > 10 * 60
    assert begins_s == pytest.approx([60 * slot.start_min for slot in slots], abs=0.51)


@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_the_lines_are_the_notes(file):
    """What the preview prints is read by the routine language as the very notes of the round."""
    compared = 0
    for section in sections(planned(file.stem)):
        round_ = section.round
        lines = notes_in_lines(round_)
        if (round_.beats_per_bar, round_.beat_quarters) != (4, 1) or lines.startswith("in order"):
            continue
        read = read_passage(
            yaml.compose(f"|\n  {lines.replace(chr(10), chr(10) + '  ')}"), COMMON_TIME
        ).notes
        assert [(n.pitch, n.beat, n.length, n.breath_after) for n in read] == [
            (n.pitch, n.beat, n.length, n.breath_after) for n in round_.notes
        ]
        assert [n.slurred_from_last for n in read] == [
            n.index > 0
            and n.start in (Start.SLURRED, Start.LEGATO_TONGUE)
            and not round_.notes[n.index - 1].breath_after
            for n in round_.notes
        ]
        compared += 1
    assert compared


def test_a_passage_that_ends_inside_a_beat_says_so():
    text = "title: T\nexercises:\n- passage: p\n  notes: quarter G4 eighth A4\n"
    routine, _ = read_routine(text, "m.yaml")
    shown = timetable_text("head", timetable(plan(routine, date(2026, 3, 2), seed=0)))
    assert "quarter G4 eighth A4 rest\n  It ends inside a beat" in shown


def test_fives_have_words():
    text = (
        "title: x\nexercises:\n- scale: s\n  key: C\n  range: one octave\n  rhythm: quintuplets\n"
    )
    routine, _ = read_routine(text, "x")
    lines = notes_in_lines(plan(routine, DAY, 0)[0].rounds[0])
    assert lines.startswith("5:4 sixteenth (C4 D4 E4 F4 G4 A4 B4")


def test_the_command_prints_timetable_and_notes(capsys):
    assert main(["preview", str(ROUTINES / "first_year.yaml"), "--day", "2026-01-05"]) == 0
    out = capsys.readouterr().out
    assert "The first year · Monday 5 January 2026 · C flute" in out
    assert "  0:00   1 min  five long notes" in out
    assert "whole B4, " in out
    assert all(len(line) <= 100 for line in out.splitlines())


def test_json_names_written_and_sounding(capsys, tmp_path):
    file = tmp_path / "alto.yaml"
    file.write_text(
        "title: Alto\ninstrument: alto flute\nexercises:\n- passage: p\n  key: G\n"
        "  notes: quarter G4 A4 B4 C5 |\n"
    )
    assert main(["preview", str(file), "--json"]) == 0
    entry = json.loads(capsys.readouterr().out)["entries"][0]
    assert entry["key"] == "G major"
    assert entry["music"][0]["written"] == ["G4", "A4", "B4", "C5"]
    assert entry["music"][0]["sounding_midi"] == [62, 64, 66, 67]


def test_a_free_day_is_said_and_cannot_be_heard(tmp_path, capsys):
    file = tmp_path / "free.yaml"
    file.write_text("title: Rest\nexercises:\n- rest: 2 minutes\n")
    assert main(["preview", str(file)]) == 0
    assert main(["preview", str(file), "--wav", str(tmp_path / "x.wav")]) == 1
    assert "Nothing is played on this day" in capsys.readouterr().err


def test_the_sound_file_has_every_note_where_it_stands(tmp_path):
    """Pitch by the strongest partial's place in a plain spectrum, second by second."""
    file = tmp_path / "steps.yaml"
    file.write_text(
        "title: Steps\nexercises:\n- passage: p\n  tempo: 60\n  notes: quarter A4 B4 C5 D5 |\n"
    )
    out = tmp_path / "steps.wav"
    assert main(["preview", str(file), "--wav", str(out)]) == 0
    sound, rate = soundfile.read(out)
    for beat, hz in enumerate((440.0, 493.88, 523.25, 587.33)):
        begin = round((4 + beat + 0.25) * rate)
        window = sound[begin : begin + rate // 2] * np.hanning(rate // 2)
        spectrum = np.abs(np.fft.rfft(window, 4 * window.size))
        strongest = spectrum.argmax() * rate / (4 * window.size)
        assert min(abs(strongest - hz), abs(strongest - 2 * hz)) < 1.5, beat


def test_playing_ends_with_the_last_note_and_says_each_title():
    music = music_of(planned("first_try"))
    port = SimulatedPort(sample_rate_hz=8000)
    flute = instrument_named("C flute")
    said: list[str] = []
    play(port, music[:2], flute, said.append, sleep=lambda s: port.advance(round(s * 8000)))
    assert said == [section.title for section in music[:2]]
    expected = sum(played_by_partner(s.round, flute, 8000).size for s in music[:2])
    assert expected <= port.now_frame() <= expected + 3 * 8000


def shown(text: str, day: date = DAY) -> str:
    routine, problems = read_routine(text, "m.yaml")
    assert routine is not None, problems
    return timetable_text("head", timetable(plan(routine, day, 0)))


ROUNDS = """title: T
exercises:
- scale: s
  key: C
  range: one octave
  rhythm: eighths
  tempo: 72
  tempo at the end: 80
  partner: drone on the tonic
  click rests: 2 bars in 4
  dynamic: [pp, ff]
  articulations: [slur 2 tongue 2, double]
  words: Slowly.
- long tones: l
  notes: [A4]
  vibrato: [straight, 3 a beat]
  swell: there and back
  rest after: 1 minute
"""


def test_each_round_says_what_will_happen():
    text = shown(ROUNDS)
    assert "  Slowly.\n  drone on C · the click rests for 2 bars after every 2\n" in text
    assert "  1  slur 2 tongue 2, pp, at 72 to 80\n" in text
    assert "  2  double, ff, at 72 to 80\n" in text
    assert "1  single, straight tone, louder and softer again, at 60" in text
    assert "2  single, 3 pulses to a beat, louder and softer again, at 60" in text
    assert "then rest, 1 minute" in text


def test_a_scale_named_after_its_form_has_no_other_key_beside_it(capsys, tmp_path):
    file = tmp_path / "d.yaml"
    file.write_text("title: T\nexercises:\n- scale: s\n  key: D\n  form: dorian\n")
    assert main(["preview", str(file)]) == 0
    assert "minor" not in capsys.readouterr().out


def test_strokes_and_slurs_stand_under_their_notes():
    lines = shown(ROUNDS).splitlines()
    names = next(n for n, line in enumerate(lines) if line.startswith("     C4  D4"))
    under = lines[names + 1]
    letters = [under[lines[names].index(name)] for name in ("C4", "D4", "E4", "F4", "G4")]
    assert letters == ["t", "┘", "t", "t", "t"]
    assert under.startswith("     t───┘   t   t   t───┘")
    assert lines[names + 3].startswith("     t   k   t   k")


@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_no_length_is_none_and_one_is_no_plural(file, capsys):
    main(["preview", str(file), "--day", "2026-01-05"])
    out = capsys.readouterr().out
    assert not re.search(r"\b(0|1) minutes|\b0 min\b|\b1 rounds", out)
    told = out.partition("\n\n")[2].partition("\n\n")[2]
    assert all(len(line) <= 80 for line in told.splitlines())


def test_a_week_at_a_glance(tmp_path, capsys):
    """The keys are those of the file's own week, day by day."""
    file = ROUTINES / "week_of_keys.yaml"
    assert main(["preview", "--week", str(file), "--day", "2026-11-30"]) == 0
    rows = {line[:22].strip(): line[24:].split() for line in capsys.readouterr().out.splitlines()}
    assert rows["scale of the day"] == ["F", "G", "Bb", "D", "Eb", "A"]
    assert rows["minutes"][-1] == "free"
    assert main(["preview", "--week", str(file), "--day", "2026-11-30", "--json"]) == 0
    days = json.loads(capsys.readouterr().out)["days"]
    assert [day["exercises"].get("faster") for day in days] == [
        "F", "G", "Bb", "D", "Eb", None, None,
    ]  # fmt: skip
    assert main(["sheet", "--week", str(file), "--out", str(tmp_path / "w.html")]) == 0
    assert "scale of the day" in (tmp_path / "w.html").read_text(encoding="utf-8")


def test_a_level_is_seen_before_it_is_played(capsys):
    file = ROUTINES / "week_of_keys.yaml"
    main(["preview", str(file), "--level", "easier", "--day", "2026-11-30"])
    out = capsys.readouterr().out
    assert "F major, one octave" in out
    assert "F major, two octaves" not in out


def test_keys_drawn_for_a_week_do_not_come_back():
    text = "title: T\nexercises:\n- {scale: s, key: random, range: one octave}\n"
    routine, _ = read_routine(text, "m.yaml")
    days = [DAY + timedelta(days=n) for n in range(7)]
    keys = [day[0].rounds[0].key for day in planned_for_days(routine, days, ())]
    assert len(set(keys)) == 7
