"""RESULTS.md: one marked section for each bench."""

from __future__ import annotations

import re
from pathlib import Path

RESULTS = Path(__file__).parent / "RESULTS.md"
HEAD = "# What the benches measured\n"


def write_section(title: str, body: str) -> None:
    """Put the section into RESULTS.md in place of the one of that title; the others stay."""
    text = RESULTS.read_text() if RESULTS.exists() else HEAD
    begin, end = f"<!-- begin {title} -->", f"<!-- end {title} -->"
    section = f"{begin}\n## {title}\n\n{body}\n{end}\n"
    marked = re.compile(re.escape(begin) + ".*?" + re.escape(end) + "\n", re.DOTALL)
    if marked.search(text):
        text = marked.sub(lambda _: section, text)
    else:
        text = f"{text.rstrip()}\n\n{section}"
    RESULTS.write_text(text)
