"""The routines that come with the program."""

from importlib.resources import files
from pathlib import Path


def shipped_routines() -> Path:
    """The folder of them: inside the package where installed, beside it in a checkout."""
    package = Path(str(files("trainer")))
    packed = package / "routines"
    return packed if packed.is_dir() else package.parent / "routines"
