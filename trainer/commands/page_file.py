"""Writing a page to a file: HTML or PDF, by the file's name."""

from __future__ import annotations

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
    try:
        file.write_bytes(pdf(page) if form == PDF else page.encode())
    except OSError as error:
        raise TrainerError(f"{file} can't be written: {error.strerror}") from error
    print(f"Written to {file}.")
    return 0
