"""Pages of HTML → PDF on A4 paper, as a browser prints them.

The only module that needs WeasyPrint, which in turn needs the system's Pango.
"""

from __future__ import annotations

import contextlib
import io
import logging
import warnings
from typing import Any

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


def pdf(page: str) -> bytes:
    """The HTML as a PDF file, its fonts embedded; nothing is fetched from anywhere.

    Raises PaperError when WeasyPrint or the libraries it needs are missing.
    """
    made: bytes = _laid_out(page).write_pdf()
    return made


_ENDLESS = "<style>@page { size: 210mm 20000mm }</style></head>"
_MM_PER_PX = 25.4 / 96
"""By definition (CSS Values and Units Module Level 3, section 6.2)."""


def places_mm(page: str) -> dict[str, float]:
    """How far down every element with an id begins, were the paper endless.

    Raises PaperError as `pdf` does.
    """
    anchors = _laid_out(page.replace("</head>", _ENDLESS, 1)).pages[0].anchors
    return {name: place[1] * _MM_PER_PX for name, place in anchors.items()}


def _laid_out(page: str) -> Any:
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
    return HTML(string=page, url_fetcher=URLFetcher(allowed_protocols=("data",))).render()
