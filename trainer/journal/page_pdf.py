"""The lesson page as PDF: A4, the same sheets a browser prints.

The only module that needs WeasyPrint, which in turn needs the system's Pango.
"""

from __future__ import annotations

import contextlib
import io
import warnings

from trainer.errors import JournalError


def page_pdf(page: str) -> bytes:
    """The HTML page as a PDF file; nothing is fetched from anywhere.

    Raises JournalError when WeasyPrint or the libraries it needs are missing.
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
        raise JournalError(
            "A PDF is made with WeasyPrint, which is missing or lacks the system's Pango. Install "
            "them with: pip install 'flute-practice-trainer[pages]' and, on Debian, apt install "
            "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0. Or write the page as .html and "
            "print it from a browser."
        ) from missing
    pdf: bytes = HTML(string=page, url_fetcher=URLFetcher(allowed_protocols=())).write_pdf()
    return pdf
