"""A small YAML file of the student's own: read as plain values, written whole."""

from __future__ import annotations

from pathlib import Path

from trainer.disk.regular_file import regular_bytes
from trainer.disk.strict_yaml import StrictYamlError, yaml_content
from trainer.disk.whole_file import write_whole
from trainer.errors import TrainerError

LARGEST_FILE_BYTES = 100_000
"""All settings, or all rooms, written out have less than a hundredth of it."""


def written_in(path: Path) -> object:
    """The file as plain Python, None where there is none. Raises TrainerError."""
    try:
        content = yaml_content(regular_bytes(path, LARGEST_FILE_BYTES).decode("utf-8-sig"))
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        raise TrainerError(f"{path} can't be read ({error.strerror}): check its place.") from error
    except UnicodeDecodeError as error:
        raise TrainerError(f"{path} is not saved as UTF-8: save it so, or delete it.") from error
    except StrictYamlError as fault:
        place = f"{path}, line {fault.line}" if fault.line else f"{path}"
        raise TrainerError(f"{place}: {fault.what} {fault.mend}") from fault
    for twice in content.repeated:
        raise TrainerError(
            f"{path}, line {twice.line}: '{twice.name}' is here for the second time, after "
            f"line {twice.first_line}; keep one of the two."
        )
    return content.plain


def write_in(path: Path, text: str) -> None:
    """Write the file anew. Raises TrainerError."""
    try:
        write_whole(path, text.encode())
    except OSError as error:
        raise TrainerError(
            f"{path} can't be written ({error.strerror}): check its place."
        ) from error
