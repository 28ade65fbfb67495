"""Whatever small file the trainer keeps: the old one or the new one, never half of either."""

from __future__ import annotations

import ast
import errno
import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.sources import modules, parsed
from trainer.app.settings import Settings, write_settings
from trainer.disk.whole_file import ChangedMeanwhileError, write_new, write_whole
from trainer.errors import SoundError, TrainerError
from trainer.sound.calibrate import keep_known

PROJECT = Path(__file__).parents[2]
WRITES_ITSELF = {"trainer/commands/page_file.py"}
"""What the user asked to have written to a place of their own: that may be a pipe or a device."""
WRITING = {"write_text", "write_bytes"}


def no_room(*_: object) -> None:
    raise OSError(28, "No space left on device")


def test_the_folder_is_made_and_nothing_else_is_left_in_it(tmp_path: Path) -> None:
    file = tmp_path / "deep" / "down" / "kept.json"
    write_whole(file, b"one")
    write_whole(file, b"two")
    assert file.read_bytes() == b"two"
    assert list(file.parent.iterdir()) == [file]


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_disk_that_refuses_leaves_the_old_file(
    call: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "kept.json"
    write_whole(file, b"old")
    monkeypatch.setattr(os, call, no_room)
    with pytest.raises(OSError, match="No space"):
        write_whole(file, b"new")
    assert file.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [file]


def test_the_file_is_flushed_before_it_takes_the_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rename before flush may leave an empty file after a crash: Linux manual page fsync(2)."""
    calls: list[str] = []
    flush, replace = os.fsync, os.replace
    monkeypatch.setattr(os, "fsync", lambda handle: (calls.append("fsync"), flush(handle)))
    monkeypatch.setattr(os, "replace", lambda *names: (calls.append("replace"), replace(*names)))
    write_whole(tmp_path / "kept.json", b"new")
    assert calls == ["fsync", "replace", "fsync"], "the file, its name, the folder"


def test_on_macos_it_is_flushed_through_the_drive_where_the_disk_can(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """macOS manual page fsync(2): only F_FULLFSYNC outlasts a power cut. By a fake alone."""
    fcntl = pytest.importorskip("fcntl")
    asked: list[int] = []
    can = True

    def control(_: int, wanted: int) -> None:
        asked.append(wanted)
        if not can:
            raise OSError(errno.ENOTSUP, "not on this disk")

    monkeypatch.setattr(sys, "platform", "darwin")
    monkeypatch.setattr(fcntl, "F_FULLFSYNC", 51, raising=False)
    monkeypatch.setattr(fcntl, "fcntl", control)
    flushed: list[int] = []
    monkeypatch.setattr(os, "fsync", flushed.append)
    write_whole(tmp_path / "kept.json", b"new")
    folders = len(flushed)
    can = False
    write_whole(tmp_path / "kept.json", b"newer")
    assert asked == [51, 51]
    assert len(flushed) == 2 * folders + 1, "the file in the usual way, where the disk can't"


def test_a_link_and_the_permissions_stay(tmp_path: Path) -> None:
    real, link = tmp_path / "elsewhere" / "real.yaml", tmp_path / "link.yaml"
    write_whole(real, b"old")
    real.chmod(0o600)
    link.symlink_to(real)
    write_whole(link, b"new")
    assert link.is_symlink()
    assert real.read_bytes() == b"new"
    assert real.stat().st_mode & 0o777 == 0o600


def test_what_another_hand_changed_is_not_written_over(tmp_path: Path) -> None:
    file = tmp_path / "kept.yaml"
    file.write_bytes(b"theirs")
    with pytest.raises(ChangedMeanwhileError):
        write_whole(file, b"ours", instead_of=b"as we read it")
    assert file.read_bytes() == b"theirs"
    assert list(tmp_path.iterdir()) == [file]
    write_whole(file, b"ours", instead_of=b"theirs")
    assert file.read_bytes() == b"ours"


def test_a_new_file_takes_no_name_in_use(tmp_path: Path) -> None:
    first, second = (write_new(tmp_path, "note", content) for content in (b"a", b"b"))
    assert (first.name, second.name) == ("note.yaml", "note-2.yaml")
    assert (first.read_bytes(), second.read_bytes()) == (b"a", b"b")


@pytest.mark.parametrize(
    ("keep", "fault"),
    [
        (lambda file: write_settings(file, Settings(keep_takes=True)), TrainerError),
        (lambda file: keep_known(file, "loop", {"frames": 2}), SoundError),
    ],
    ids=["settings", "calibration"],
)
def test_settings_and_calibration_survive_a_full_disk(
    keep: Callable[[Path], None],
    fault: type[Exception],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    file = tmp_path / "kept"
    keep(file)
    before = file.read_bytes()
    monkeypatch.setattr(os, "fsync", no_room)
    with pytest.raises(fault):
        keep(file)
    assert file.read_bytes() == before
    assert list(tmp_path.iterdir()) == [file]


def test_nothing_kept_is_written_in_another_way() -> None:
    others = {
        str(file.relative_to(PROJECT))
        for file in modules()
        for node in ast.walk(parsed(file))
        if isinstance(node, ast.Attribute) and node.attr in WRITING
    }
    assert others == WRITES_ITSELF
