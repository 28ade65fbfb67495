"""An invented flutist's practice goes nowhere near the student's own journal."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from trainer.app.morning import INVENTED_FLUTIST, Morning
from trainer.app.paths import Paths, user_paths
from trainer.app.settings import Settings, write_settings
from trainer.app.simulated_flutist import play_through
from trainer.commands import practise_today
from trainer.commands.practise_today import practise_on_screen
from trainer.routine.load import load_routine
from trainer.screens.lines import Teller
from trainer.session.session import Session
from trainer.sound.simulated import SimulatedPort

ROUTINE = "title: T\nexercises:\n  - scale: s\n    key: C\n    range: one octave\n    tempo: 112\n"


@pytest.mark.parametrize("player", [None, "student"])
def test_whose_journal_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, player: str | None
) -> None:
    own = user_paths({"TRAINER_HOME": str(tmp_path / "home")})
    write_settings(own.config_file, Settings(note_names="German (H, B)"))
    (tmp_path / "r.yaml").write_text(ROUTINE)
    routine, _ = load_routine(tmp_path / "r.yaml")
    assert routine is not None
    told: list[str] = []

    def practise_once(morning: Morning, paths: Paths, *_: object) -> None:
        from trainer.app.practice_ready import PracticeReady

        port = SimulatedPort()
        walk = PracticeReady(paths, port, lambda _: None, ()).walk(morning)
        session = Session(walk.view(), lambda: walk)
        told.extend(Teller(morning.settings.names).tell(session.view()))
        play_through(session, port)

    monkeypatch.setattr(practise_today, "_practise_once", practise_once)
    monkeypatch.setattr(practise_today, "refuse_unseen", lambda *_: None)
    practise_on_screen(routine, own, player)
    written = [file.relative_to(tmp_path / "home") for file in tmp_path.glob("home/**/journal/*")]
    (file,) = written
    assert file.name.startswith(str(date.today().year))
    assert (file.parts[0] == "journal") is (player is None)
    assert (f"{INVENTED_FLUTIST}. Nothing is written into your own journal." in told) is (
        player is not None
    )
