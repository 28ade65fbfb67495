from dataclasses import fields
from pathlib import Path

from trainer.app.paths import HOME_VARIABLE, Paths, user_paths


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
