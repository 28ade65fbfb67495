"""The power goes at any moment: which files may then stand on the disk, and what the journal says.

What a system may lose: data that was not flushed (fsync), any part of it; and names given, changed
or taken away since their folder was flushed, any of them and in any order (POSIX.1-2017, fsync();
Pillai et al. 2014, 'All File Systems Are Not Created Equal', OSDI). Every such disk is built from
the calls the journal really makes.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import chain, combinations
from pathlib import Path

import pytest

from trainer.journal.log import SessionLog
from trainer.journal.read import read_sessions
from trainer.journal.write import JournalFile

Change = tuple[str, int | None]
"""A name in the folder, and the file it leads to from then on; None: to none."""


@dataclass
class Recorder:
    """What the disk was told, in order."""

    data: dict[int, bytes] = field(default_factory=dict)
    """Each file's content, by its number."""
    flushed: list[tuple[int, int]] = field(default_factory=list)
    """(after so many steps, file): its data is safe."""
    changes: list[tuple[int, Change]] = field(default_factory=list)
    folder_flushed: list[int] = field(default_factory=list)
    step: int = 0
    promised: list[tuple[int, int]] = field(default_factory=list)
    """(after so many steps, rounds): what the student was told is kept."""

    def watch(self, monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
        """Note every call that changes the folder or flushes."""
        fsync, link, rename, unlink = os.fsync, os.link, os.replace, os.unlink
        opened = os.open

        serials: dict[int, int] = {}  # the system gives a number anew once its file is gone

        def number_of(path: object) -> int:
            return serials[Path(str(path)).stat().st_ino]

        def noted(name: object, file: int | None) -> None:
            self.step += 1
            if Path(str(name)).parent == folder:
                self.changes.append((self.step, (Path(str(name)).name, file)))

        def flush(handle: int) -> None:
            fsync(handle)
            self.step += 1
            place = Path(f"/proc/self/fd/{handle}").readlink()
            if place == folder:
                self.folder_flushed.append(self.step)
            else:
                self.data[number_of(place)] = place.read_bytes()
                self.flushed.append((self.step, number_of(place)))

        def open_(path: str, flags: int, *rest: int, **more: int) -> int:
            handle = opened(path, flags, *rest, **more)
            if flags & os.O_CREAT:
                serials[os.fstat(handle).st_ino] = len(self.changes)
                noted(path, len(self.changes))
            return handle

        def link_(old: Path, new: Path) -> None:
            link(old, new)
            noted(new, number_of(new))

        def replace_(old: Path, new: Path) -> None:
            rename(old, new)
            noted(new, number_of(new))
            self.changes.append((self.step, (Path(old).name, None)))

        def unlink_(path: Path, *rest: object, **more: object) -> None:
            unlink(path, *rest, **more)  # type: ignore[arg-type]
            noted(path, None)

        for name, call in (
            ("fsync", flush), ("open", open_), ("link", link_), ("replace", replace_),
            ("unlink", unlink_),
        ):  # fmt: skip
            monkeypatch.setattr(os, name, call)

    def disks(self, step: int) -> Iterator[dict[str, bytes]]:
        """Every disk there may be when the power goes after a step."""
        sure_until = max((at for at in self.folder_flushed if at <= step), default=0)
        sure = [change for at, change in self.changes if at <= sure_until]
        loose = [change for at, change in self.changes if sure_until < at <= step]
        safe = {file for at, file in self.flushed if at <= step}
        for kept in chain.from_iterable(combinations(loose, n) for n in range(len(loose) + 1)):
            names: dict[str, int] = {}
            for name, file in (*sure, *kept):
                if file is None:
                    names.pop(name, None)
                else:
                    names[name] = file
            whole = {name: self.data.get(file, b"") for name, file in names.items()}
            yield whole
            for cut in (0.0, 0.5):
                yield {
                    name: data if names[name] in safe else data[: int(cut * len(data))]
                    for name, data in whole.items()
                }


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="names of open files are Linux's")
def test_no_round_that_was_kept_is_lost_and_no_file_is_half(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, a_session: SessionLog
) -> None:
    folder, seen = tmp_path / "journal", Recorder()
    folder.mkdir()
    with monkeypatch.context() as watched:
        seen.watch(watched, folder)
        journal = JournalFile.begin(folder, replace(a_session, rounds=(), ended=None))
        for number, round_ in enumerate(a_session.rounds[:3], start=1):
            journal.add_round(round_)
            seen.promised.append((seen.step, number))
        journal.amend_round(a_session.rounds[2])
        journal.finish(a_session.ended or a_session.started)
    built, disks = tmp_path / "after", set[tuple[tuple[str, bytes], ...]]()
    for step in range(seen.step + 1):
        kept = max((rounds for at, rounds in seen.promised if at <= step), default=0)
        for disk in seen.disks(step):
            known = (kept, *sorted(disk.items()))
            if known in disks:
                continue
            disks.add(known)  # type: ignore[arg-type]
            shutil.rmtree(built, ignore_errors=True)
            built.mkdir()
            for name, data in disk.items():
                (built / name).write_bytes(data)
            logs, problems = read_sessions(built)
            assert problems == (), (step, sorted(disk))
            assert max((len(log.rounds) for log in logs), default=0) >= kept, (step, sorted(disk))
            assert len(logs) <= 1
    assert len(disks) > 20
