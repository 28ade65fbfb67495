from dataclasses import fields
from pathlib import Path

import pytest
from platformdirs import windows
from platformdirs.api import PlatformDirsABC
from platformdirs.macos import MacOS
from platformdirs.windows import Windows

from trainer.app.paths import APP_NAME, HOME_VARIABLE, Paths, user_paths
from trainer.journal.log import SessionLog


def each(paths: Paths) -> list[Path]:
    return [getattr(paths, item.name) for item in fields(paths)]


def test_everything_lives_under_the_named_home(tmp_path: Path) -> None:
    paths = user_paths({HOME_VARIABLE: str(tmp_path)})
    assert all(tmp_path in path.parents for path in each(paths))
    assert paths.journal == tmp_path / "journal"
    assert not list(tmp_path.iterdir()), "computing a path makes nothing"


def test_without_a_home_paths_are_absolute_and_apart() -> None:
    paths = each(user_paths({}))
    assert all(path.is_absolute() for path in paths)
    assert len(set(paths)) == len(paths)


def test_a_blank_home_counts_as_none() -> None:
    assert user_paths({HOME_VARIABLE: "  "}) == user_paths({})


def test_a_relative_home_becomes_absolute() -> None:
    assert user_paths({HOME_VARIABLE: "mine"}).journal == Path.cwd() / "mine" / "journal"


@pytest.mark.parametrize(
    ("system", "root"),
    [(MacOS, "Library/Application Support"), (Windows, "AppData/Local")],
    ids=["macOS", "Windows"],
)
def test_on_other_systems_all_stands_apart_in_the_programs_own_folder(
    system: type[PlatformDirsABC], root: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Apple's File System Programming Guide and Microsoft's KNOWNFOLDERID, as platformdirs has
    them; one folder there serves data, settings and state, so no two names may be alike."""
    for name in ("HOME", "USERPROFILE"):
        monkeypatch.setenv(name, str(tmp_path))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "AppData" / "Local"))
    monkeypatch.setattr(windows, "get_win_folder", windows.get_win_folder_from_env_vars)
    monkeypatch.setattr("trainer.app.paths.PlatformDirs", system)
    paths = user_paths({})
    for own in (paths, paths.of_invented_flutist):
        places = each(own)
        assert all((tmp_path / root / APP_NAME) in place.parents for place in places)
        assert len({str(place).casefold() for place in places}) == len(places)
    for kept in ("journal", "spare_journal", "indexes", "takes"):
        assert getattr(paths, kept) != getattr(paths.of_invented_flutist, kept)


def test_a_sessions_file_has_a_name_that_windows_takes(a_session: SessionLog) -> None:
    """Microsoft, "Naming Files, Paths, and Namespaces": the reserved characters."""
    assert not set(a_session.file_stem) & set('<>:"/\\|?*')
    assert a_session.file_stem.isascii()
