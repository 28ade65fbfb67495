"""The settings file: read, written, and its mistakes said."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from trainer.app.practice_ready import partners_voice
from trainer.app.settings import Settings, read_settings, write_settings
from trainer.errors import TrainerError

OWN_FLUTE = Settings(partner_sound="~/sounds/my flute.sf3")


def test_without_a_file_everything_is_as_usual(tmp_path: Path) -> None:
    assert read_settings(tmp_path / "config.yaml") == Settings()
    assert not Settings().keep_takes


def test_what_is_written_is_read(tmp_path: Path) -> None:
    file = tmp_path / "new" / "config.yaml"
    for settings in (Settings(keep_takes=True, takes_limit_mb=80.0), OWN_FLUTE, Settings()):
        write_settings(file, settings)
        assert read_settings(file) == settings


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("keep takes: sometimes", "write yes or no"),
        ("takes limit mb: -3", "a number above 0"),
        ("takes limit mb: yes", "a number above 0"),
        ("takes limit mb: .inf", "a number above 0"),
        ("keep all: yes", "'keep all' is no setting"),
        ("partner sound: oboe", "steady tone, sampled flute, the place of a .sf2 file"),
        ("- keep takes", "must hold lines"),
        ("keep takes: [", "line 2: YAML can't follow this line"),
        ("takes limit mb: 080", "a number above 0"),
        ("takes limit mb: 1:30", "a number above 0"),
        ("keep takes: !!bool abc", "line 1: A text that begins with '!'"),
        ("keep takes: yes\nkeep takes: no", "line 2: 'keep takes' is here for the second time"),
        ("<<: {keep takes: yes}", "'<<' is not read here"),
        ("keep takes: &x yes\ntuning: *x", "'&x' is not read here"),
    ],
)
def test_mistakes_say_how_to_mend_them(tmp_path: Path, text: str, words: str) -> None:
    file = tmp_path / "config.yaml"
    file.write_text(text)
    with pytest.raises(TrainerError, match=words):
        read_settings(file)


def test_what_is_no_file_is_told_and_not_waited_for(tmp_path: Path) -> None:
    file = tmp_path / "config.yaml"
    os.mkfifo(file)
    with pytest.raises(TrainerError, match="a device or a pipe"):
        read_settings(file)
    with pytest.raises(TrainerError, match="a device or a pipe"):
        read_settings(Path("/dev/zero"))


def test_without_the_soundfont_the_partner_plays_its_own_tone(tmp_path: Path) -> None:
    assert partners_voice(Settings(), 48000) == (None, ())
    gone = Settings(partner_sound=str(tmp_path / "gone.sf2"))
    voice, (sentence,) = partners_voice(gone, 48000)
    assert voice is None
    assert "SoundFont" in sentence
    assert sentence.endswith("Until then the partner plays its own tone.")
    assert OWN_FLUTE.soundfont == Path.home() / "sounds" / "my flute.sf3"
