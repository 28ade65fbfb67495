"""`trainer listen SOUND --routine FILE`: the rounds found, told and written into the journal."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from trainer.cli import main
from trainer.music.articulations import articulated
from trainer.music.note import Articulation
from trainer.music.pitch import Pitch
from trainer.music.rhythm import laid_out
from trainer.music.tuning import Tuning
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.sound.soundfile_io import write_sound

RATE = 48000
NAMES = "G4 A4 B4 C5 D5 E5 F#5 G5 F#5 E5 D5 C5 B4 A4 G4"
ROUTINE = """
title: One
exercises:
- {scale: hill, key: G, range: one octave, rhythm: eighths, articulations: [slurred, single]}
- {scale: valley, key: F, range: one octave, rhythm: eighths, articulations: [slurred]}
- {long tones: air, notes: [A4]}
"""


def test_it_is_told_printed_and_written_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path / "home"))
    routine, recording = tmp_path / "one.yaml", tmp_path / "lesson.wav"
    routine.write_text(ROUTINE)
    notes = articulated(laid_out([Pitch.parse(n) for n in NAMES.split()], 2), Articulation.SINGLE)
    samples = Flutist(Habits(), seed=2).play(notes, 90, Tuning(), RATE).samples
    write_sound(recording, np.concatenate([np.zeros(4 * RATE, np.float32), samples]), RATE)

    def run(*words: str) -> tuple[int, str, str]:
        status = main(["listen", str(recording), "--routine", str(routine), *words])
        told = capsys.readouterr()
        return status, told.out, told.err

    status, out, err = run("--day", "2026-03-06", "--journal", "--json")
    assert status == 0
    assert "1 round written into" in err
    found = json.loads(out)
    assert found["too_short"] == ["air"]
    (round_,) = found["rounds"]
    assert round_["exercises"] == ["hill"]
    assert round_["articulations"] == ["single"]
    assert round_["begins_s"] == pytest.approx(4.3, abs=0.2)
    assert (round_["played"], round_["missed"], round_["extra"]) == (15, 0, 0)

    assert main(["journal", "export", "--form", "json"]) == 0
    (session,) = json.loads(capsys.readouterr().out)
    (kept,) = session["rounds"]
    assert session["started"].startswith("2026-03-06")
    assert kept["heard_from"] == "lesson.wav"
    assert kept["exercise"] == "hill"
    assert "advice" not in kept, "nothing was said of it"
    assert "brightness" not in kept["notes"][3], "another microphone"

    status, _, err = run("--day", "2026-03-06", "--journal")
    assert status == 1
    assert "is in the journal of 2026-03-06 already" in err
    status, out, _ = run()
    assert "0:04  hill: G major, one octave   single at 90   15 of 15 notes" in out
    assert "Too few notes to be known again: air." in out
    status, _, err = run("--exercise", "hill", "--journal")
    assert status == 1
    assert "--journal goes with --routine" in err
