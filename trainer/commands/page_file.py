"""Writing what was asked for to a file of the user's own: a page by its name, or any bytes."""

from __future__ import annotations

import os
from itertools import chain, count
from pathlib import Path

from trainer.errors import TrainerError

HTML = (".html", ".htm")
PDF = ".pdf"


def write_page(file: Path, page: str) -> int:
    """Write an HTML page, as PDF where the name says so; the exit status.

    Raises TrainerError for another ending, or when the file can't be written.
    """
    from trainer.paper.pdf import pdf

    form = file.suffix.lower()
    if form not in (*HTML, PDF):
        raise TrainerError(f"{file}: write a name that ends in .html or .pdf.")
    write_file(file, pdf(page) if form == PDF else page.encode())
    print(f"Written to {file}.")
    return 0


def unused(file: Path) -> Path:
    """This name, or the first of NAME-2, NAME-3, ... that nothing in its folder has."""
    tried = (file.with_stem(f"{file.stem}-{number}") for number in count(2))
    return next(name for name in chain([file], tried) if not os.path.lexists(name))


def write_file(file: Path, content: bytes) -> None:
    """Write to a place of the user's choice, which may be a pipe or a device. Raises TrainerError
    when that can't be."""
    try:
        file.write_bytes(content)
    except OSError as error:
        raise TrainerError(f"{file} can't be written: {error.strerror}.") from error
