"""Pages of HTML → PDF on A4 paper, as a browser prints them.

The only module that needs WeasyPrint, which in turn needs the system's Pango.
"""

from __future__ import annotations

import contextlib
import io
import logging
import warnings

from trainer.disk.missing_library import install_words
from trainer.errors import PaperError

MISSING = (
    "A PDF is made with WeasyPrint, which is missing or lacks the system's Pango. Install them "
    f"with: {install_words('weasyprint')} and, on Debian, apt install libpango-1.0-0 "
    "libpangoft2-1.0-0 libharfbuzz-subset0. Or write the pages as .html and print them from a "
    "browser."
)

for _name in ("weasyprint", "fontTools"):  # what they remark is not for the terminal
    logging.getLogger(_name).addHandler(logging.NullHandler())


def pdf(*versions: str) -> bytes:
    """The HTML as a PDF file, its fonts embedded; nothing is fetched from anywhere.

    Of several versions the first that needs fewest pages is taken. Raises PaperError when
    WeasyPrint or the libraries it needs are missing.
    """
    try:
        with (
            contextlib.redirect_stdout(io.StringIO()),  # it prints its complaint about Pango
            warnings.catch_warnings(),
        ):
            warnings.simplefilter("ignore", DeprecationWarning)
            from weasyprint import HTML
            from weasyprint.urls import URLFetcher
    except (ImportError, OSError) as missing:
        raise PaperError(MISSING) from missing
    fetcher = URLFetcher(allowed_protocols=("data",))
    shortest = None
    for version in versions:
        laid_out = HTML(string=version, url_fetcher=fetcher).render()
        if shortest is None or len(laid_out.pages) < len(shortest.pages):
            shortest = laid_out
        if len(shortest.pages) == 1:
            break
    if shortest is None:
        raise ValueError("no page to print")
    made: bytes = shortest.write_pdf()
    return made
