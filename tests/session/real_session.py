"""Program for `test_real_session`: a round through the real stream, the flutist at the microphone.

    real_session.py FOLDER

Prints one JSON object: what was planted, what was heard, and what went wrong on the way: what the
stream said, and whether the flutist's own sound broke off.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import soundfile

from trainer.app.open_session import open_session, planned_for
from trainer.app.paths import user_paths
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.player.performance import Performance
from trainer.routine.load import load_routine
from trainer.session.beginning import Beginning
from trainer.session.round_begins import RoundBegins
from trainer.session.view import Stage
from trainer.sound.device_port import open_port
from trainer.sound.process import undisturbed

LIMIT_S = 300.0
ROOM_S = 60
"""The room is heard for so long before and beneath the flutist."""
ROUTINE = """
title: One round
exercises:
  - scale: hill
    key: D
    range: two octaves
    tempo: 100
    articulations: [single]
"""


def fed(file: Path) -> subprocess.Popen[bytes]:
    """Begin to play a file into the microphone; what the player says stands beside the file."""
    command = ["paplay", "--device=micline", "--latency-msec=40", "--verbose", str(file)]
    with file.with_suffix(".txt").open("wb") as told:
        return subprocess.Popen(command, stderr=told)


def main() -> None:
    folder = Path(sys.argv[1])
    folder.mkdir()
    room, flute = folder / "room.wav", folder / "flutist.wav"
    (folder / "routine.yaml").write_text(ROUTINE)
    routine, problems = load_routine(folder / "routine.yaml")
    assert routine is not None, problems
    flutist = Flutist(Habits(), seed=11)
    played: list[Performance] = []
    feeds: list[subprocess.Popen[bytes]] = []

    def play_in(begins: RoundBegins) -> None:
        rate = port.sample_rate_hz
        performance = flutist.play(
            begins.sounding, begins.round.tempo_bpm, begins.round.tuning, rate
        )
        wait_s = (begins.first_beat_frame - port.now_frame()) / rate - performance.first_beat_s
        silence = np.zeros(max(0, round(wait_s * rate)), np.float32)
        soundfile.write(flute, np.concatenate([silence, performance.samples]), rate)
        feeds.append(fed(flute))
        played.append(performance)

    paths = user_paths({"TRAINER_HOME": str(folder / "home")})
    day = date(2026, 3, 2)
    hiss = 1e-4 * np.random.default_rng(3).standard_normal(ROOM_S * 48000)
    soundfile.write(room, hiss, 48000)
    under = fed(room)
    with closing(open_port()) as port, undisturbed():
        session = open_session(
            routine,
            planned_for(routine, day, ()),
            port,
            paths,
            Beginning(now=lambda: datetime(2026, 3, 2, 12, tzinfo=UTC), round_begins=play_in),
        )
        session.advance()
        session.tick()
        session.advance()
        deadline_s = time.monotonic() + LIMIT_S
        while session.view().stage is not Stage.AFTER and time.monotonic() < deadline_s:
            session.tick()
            time.sleep(0.02)
        view = session.view()
        session.stop()
        session.tick()
    for feed in feeds:
        feed.wait(timeout=300)
    under.kill()
    broke_off = "underrun" in flute.with_suffix(".txt").read_text()
    assert view.take is not None, view.stage
    print(
        json.dumps(
            {
                "planted": [[n.index, n.midi, n.onset_s, n.cents] for n in played[0].truth],
                "heard": [
                    [n.index, n.midi, n.onset_s, n.cents, str(n.state)] for n in view.take.notes
                ],
                "faults": [fault.what for fault in port.faults()]
                + ["the flutist's own sound broke off"] * broke_off,
                "journal": [file.read_text() for file in paths.journal.glob("*.yaml")],
            }
        )
    )


main()
