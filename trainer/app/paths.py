"""Where everything the trainer keeps lives: the only place where a path is computed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from platformdirs import PlatformDirs

APP_NAME = "flute-practice-trainer"
HOME_VARIABLE = "TRAINER_HOME"
"""Set it to a folder, and everything the trainer keeps lives in there."""


@dataclass(frozen=True)
class Paths:
    """The student's folders and files; none of them need exist yet."""

    journal: Path
    """Folder with one YAML file a session."""
    spare_journal: Path
    """Folder a session is kept in while the journal folder can't be written."""
    indexes: Path
    """Folder of what makes long reading quick; it may be deleted at any time."""
    routines: Path
    """Folder of the student's own routines."""
    config_file: Path
    rooms_file: Path
    """Where A4 stands in the rooms the student plays in."""
    calibration_file: Path
    """What was measured of the sound devices: delay, level."""
    takes: Path
    """Folder of the rounds kept as sound, where the student wants that."""
    log_file: Path
    """What the program did, for finding faults; no practice in it."""

    @property
    def journal_folders(self) -> tuple[Path, Path]:
        """Where sessions may lie: the journal and its spare."""
        return self.journal, self.spare_journal

    @property
    def of_invented_flutist(self) -> Paths:
        """Where practice goes when an invented flutist plays: never among the student's own."""
        root = self.log_file.parent / "invented flutist"
        config = self.config_file.parent
        return replace(_paths(root, config, root), routines=self.routines, log_file=self.log_file)


def user_paths(environ: Mapping[str, str]) -> Paths:
    """The paths of the person running the trainer.

    `TRAINER_HOME` in `environ` puts everything under one folder; without it each file goes where
    the system keeps its kind (platformdirs).
    """
    home = environ.get(HOME_VARIABLE, "").strip()
    if home:
        root = at_home(home).absolute()
        return _paths(data=root, config=root, state=root)
    dirs = PlatformDirs(APP_NAME, appauthor=False)
    return _paths(
        data=dirs.user_data_path, config=dirs.user_config_path, state=dirs.user_state_path
    )


def at_home(written: str) -> Path:
    """A path in which '~' stands for a home; where nobody is called so, as it is written."""
    try:
        return Path(written).expanduser()
    except RuntimeError:
        return Path(written)


def _paths(data: Path, config: Path, state: Path) -> Paths:
    return Paths(
        journal=data / "journal",
        spare_journal=state / "spare journal",
        indexes=state / "indexes",
        routines=data / "routines",
        config_file=config / "config.yaml",
        rooms_file=config / "rooms.yaml",
        calibration_file=config / "calibration.json",
        takes=data / "takes",
        log_file=state / "trainer.log",
    )
