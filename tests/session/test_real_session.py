"""A round through the real duplex stream: click out, the flutist's sound in at the microphone."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import yaml

from tests.conftest import undisturbed

if TYPE_CHECKING:
    from tests.conftest import VirtualSound

PROGRAM = Path(__file__).parent / "real_session.py"


def practised(virtual_sound: VirtualSound, folder: Path) -> dict[str, Any]:
    finished = subprocess.run(
        [sys.executable, PROGRAM, folder],
        env=virtual_sound.environment,
        capture_output=True,
        text=True,
        timeout=900,
    )
    assert finished.returncode == 0, finished.stderr
    found: dict[str, Any] = json.loads(finished.stdout.splitlines()[-1])
    return found


@pytest.mark.slow
def test_every_note_is_heard_through_the_real_stream(
    virtual_sound: VirtualSound, tmp_path: Path
) -> None:
    found = undisturbed(lambda: practised(virtual_sound, Path(mkdtemp(dir=tmp_path)) / "home"))
    planted = {index: values for index, *values in found["planted"]}
    heard = {index: values for index, *values in found["heard"]}
    assert set(heard) == set(planted), found["faults"]
    assert all(state == "played" for *_, state in heard.values())
    assert [round(heard[i][0]) for i in planted] == [planted[i][0] for i in planted]
    off_ms = np.array([1000 * (heard[i][1] - planted[i][1]) for i in planted])
    assert np.abs(off_ms - np.median(off_ms)).max() < 30  # one clock, one constant delay
    off_cents = np.array([heard[i][2] - planted[i][2] for i in planted])
    assert np.median(np.abs(off_cents)) < 1.0
    (journal,) = found["journal"]
    assert len(yaml.safe_load(journal)["rounds"][0]["notes"]) == len(planted)
