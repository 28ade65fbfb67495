"""The commands as a person meets them: what they print, and their exit status."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import mido
import numpy as np
import pytest

from trainer.cli import MATRIX_THREADS, main
from trainer.music.articulations import articulated
from trainer.music.note import Articulation, Note
from trainer.music.pitch import Pitch
from trainer.music.rhythm import laid_out
from trainer.music.tuning import Tuning
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.sound.soundfile_io import write_sound

RATE = 48000
NAMES = "G4 A4 B4 C5 D5 E5 F#5 G5 F#5 E5 D5 C5 B4 A4 G4"
NOTE_KEYS = {
    "index",
    "expected",
    "midi",
    "state",
    "onset_s",
    "onset_sure",
    "speaks_s",
    "end_s",
    "cents",
    "cents_spread",
    "level_db",
    "start",
    "start_certainty",
    "vibrato_hz",
    "vibrato_cents",
    "tone",
}

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path / "home"))

    def call(*words: object) -> tuple[int, str, str]:
        status = main([str(word) for word in words])
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return call


def scale_notes() -> tuple[Note, ...]:
    pitches = [Pitch.parse(name) for name in NAMES.split()]
    return articulated(laid_out(pitches, per_beat=2), Articulation.SINGLE)


@pytest.fixture
def scale(tmp_path: Path) -> Path:
    played = Flutist(Habits(), seed=2).play(scale_notes(), 90, Tuning(), RATE)
    file = tmp_path / "scale.wav"
    write_sound(file, played.samples, RATE)
    return file


def test_listen_with_notes_keeps_the_contract(run: Run, scale: Path) -> None:
    status, out, _ = run("listen", scale, "--notes", NAMES, "--json")
    assert status == 0
    found = json.loads(out)
    assert found["sample_rate_hz"] == RATE
    assert found["a4_hz"] == 440
    assert [note["expected"] for note in found["notes"]] == NAMES.split()
    assert all(set(note) >= NOTE_KEYS for note in found["notes"])
    assert {note["state"] for note in found["notes"]} == {"played"}
    assert {note["start"] for note in found["notes"]} <= {
        "slurred",
        "legato tongue",
        "tongued",
        "breath",
        "silent air",
        "not judged",
    }
    assert all(0 <= note["onset_s"] <= note["speaks_s"] < note["end_s"] for note in found["notes"])
    assert found["summary"]["missed"] == 0
    assert "advice" not in found


def test_listen_freely(run: Run, scale: Path) -> None:
    status, out, _ = run("listen", scale, "--json")
    found = json.loads(out)
    assert status == 0
    heard = [round(note["midi"]) for note in found["notes"]]
    assert heard == [Pitch.parse(name).midi for name in NAMES.split()]


def test_listen_with_a_midi_file_made_by_another_library(
    run: Run, scale: Path, tmp_path: Path
) -> None:
    file = mido.MidiFile()
    track = mido.MidiTrack()
    file.tracks.append(track)
    for name in NAMES.split():  # times all wrong on purpose: the order alone counts
        midi = Pitch.parse(name).midi
        track.append(mido.Message("note_on", note=midi, velocity=80, time=0))
        track.append(mido.Message("note_off", note=midi, velocity=0, time=300))
    file.save(tmp_path / "scale.mid")
    status, out, _ = run("listen", scale, "--midi", tmp_path / "scale.mid", "--json")
    found = json.loads(out)
    assert status == 0
    assert found["summary"]["played"] == len(NAMES.split())
    assert all(abs(note["cents"]) < 15 for note in found["notes"])


def test_listen_with_a_routines_exercise(run: Run, scale: Path, tmp_path: Path) -> None:
    routine = tmp_path / "one.yaml"
    routine.write_text(
        "title: One\nexercises:\n- scale: hill\n  key: G\n  range: one octave\n"
        "  rhythm: eighths\n  tempo: 90\n  articulations: [slurred, single]\n"
    )
    status, out, _ = run(
        "listen", scale, "--routine", routine, "--exercise", "hill", "--articulation", "single"
    )
    assert status == 0
    assert "15 played, 0 missed" in out
    status, out, _ = run("listen", scale, "--routine", routine, "--exercise", "hill", "--json")
    advice = json.loads(out)["advice"]
    assert set(advice) == {"topic", "sentence", "notes"}
    assert advice["topic"] == "how notes start"
    assert advice["sentence"].endswith(".")
    assert set(advice["notes"]) <= set(range(15))
    status, _, err = run("listen", scale, "--routine", routine, "--exercise", "valley")
    assert status == 1
    assert "hill" in err
    status, _, err = run(
        "listen", scale, "--routine", routine, "--exercise", "hill", "--articulation", "double"
    )
    assert status == 1
    assert "slurred, single" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--notes", "G4 H4"), "'H4' is not a note"),
        (("--notes", " "), "write the notes in order"),
        (("--a4", "300"), "from 415 to 446"),
        (("--notes", "G4", "--tempo", "0"), "write beats a minute"),
        (("--notes", "G4", "--tempo", "nan"), "write beats a minute"),
        (("--midi", "nowhere.mid"), "can't be read"),
    ],
)
def test_listen_says_what_is_wrong_with_what_was_asked(
    run: Run, scale: Path, words: tuple[str, ...], said: str
) -> None:
    status, _, err = run("listen", scale, *words)
    assert status == 1
    assert said in err
    assert "Traceback" not in err


def test_an_option_that_goes_unused_is_said_to_and_costs_nothing(run: Run, scale: Path) -> None:
    status, out, err = run("listen", scale, "--tempo", "60", "--exercise", "hill", "--json")
    assert status == 0
    assert "notes" in json.loads(out)
    assert "--exercise goes with --routine: passed over." in err
    assert "--tempo goes with --routine, --midi or --notes: passed over." in err


def test_a_midi_file_that_is_none(run: Run, scale: Path, tmp_path: Path) -> None:
    rubbish = tmp_path / "rubbish.mid"
    rubbish.write_bytes(np.random.default_rng(1).bytes(300))
    status, _, err = run("listen", scale, "--midi", rubbish)
    assert status == 1
    assert "rubbish.mid: can't be read" in err


def test_check_names_line_and_mend(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "broken.yaml"
    file.write_text("title: X\nexercises:\n- scale: a\n  key: E flat\n  tempoo: 60\n")
    status, out, _ = run("check", file)
    assert status == 1
    assert "broken.yaml, line 5" in out
    assert "tempo" in out
    status, out, _ = run("check", file, "--json")
    assert status == 1
    assert json.loads(out)[0]["problems"][0]["line"] == 5


def test_an_unknown_player_is_told_who_there_is(run: Run) -> None:
    status, _, err = run("practise", "--player", "nobody")
    assert status == 1
    assert "sharp top" in err


def test_week_of_an_empty_folder(run: Run) -> None:
    status, out, err = run("week", "--ending", "2026-03-08")
    assert status == 0
    assert out.strip()
    assert err == ""
    status, out, _ = run("week", "--ending", "2026-03-08", "--json")
    assert status == 0
    assert json.loads(out)


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_a_new_routine_checks_clean(run: Run, tmp_path: Path, level: str) -> None:
    status, out, _ = run("new", level)
    assert status == 0
    file = tmp_path / "mine.yaml"
    file.write_text(out)
    status, out, _ = run("check", file)
    assert (status, out.strip()) == (0, f"{file}: nothing wrong")


def test_reference_and_schema_speak_of_every_kind(run: Run) -> None:
    _, reference, _ = run("reference")
    _, schema, _ = run("schema")
    assert json.loads(schema)["$schema"].startswith("https://json-schema.org/")
    for kind in ("scale", "arpeggio", "speed climb", "long tones", "voicing", "passage", "rest"):
        assert kind in reference
        assert kind in schema


def test_the_journal_of_an_empty_folder(run: Run) -> None:
    for words in (("journal",), ("journal", "export"), ("journal", "export", "--form", "json")):
        status, _, err = run(*words)
        assert status == 0
        assert err == ""
    status, _, err = run("journal", "show", "last")
    assert status == 1
    assert err.strip()


@pytest.mark.parametrize(
    "midi",
    [
        b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x00\x00MTrk\x00\x00\x00\x04\x00\xff\x2f\x00",
        b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x01\xe0MTrk\x00\x00\x00\x0a"
        b"\x00\xff\x59\x02\x7f\x7f\x00\xff\x2f\x00",
    ],
    ids=["no ticks in a beat", "a key of 127 sharps"],
)
def test_midi_of_odd_beats_or_keys_is_told(
    run: Run, scale: Path, tmp_path: Path, midi: bytes
) -> None:
    (tmp_path / "odd.mid").write_bytes(midi)
    status, _, err = run("listen", scale, "--midi", tmp_path / "odd.mid")
    assert status == 1
    assert "odd.mid" in err


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="this system shows no threads")
def test_matrices_are_worked_out_in_one_thread() -> None:
    """Counted by the kernel after a product that OpenBLAS would share out."""
    script = (
        "import os, contextlib, trainer.cli\n"
        "with contextlib.suppress(SystemExit), open(os.devnull, 'w') as nowhere, "
        "contextlib.redirect_stdout(nowhere):\n"
        "    trainer.cli.main(['--help'])\n"
        "import numpy\n"
        "numpy.ones((800, 800)) @ numpy.ones((800, 800))\n"
        "print(len(os.listdir('/proc/self/task')))\n"
    )
    plain = {key: value for key, value in os.environ.items() if key not in MATRIX_THREADS}
    ran = subprocess.run(
        [sys.executable, "-c", script], env=plain, capture_output=True, text=True, check=True
    )
    assert ran.stdout.strip() == "1", ran.stdout
