"""Files that are no plain text: which program wrote them, by their first bytes.

Signatures: PKWARE's APPNOTE (zip) with ECMA-376 and ISO/IEC 26300 for what is inside, Microsoft's
MS-CFB, the RTF specification 1.9.1, ISO 32000 (PDF), and the PNG and JPEG standards.
"""

from __future__ import annotations

_WORD = "a Word file"
_ZIP, _INSIDE = b"PK\x03\x04", (
    (b"word/", _WORD),
    (b"opendocument.text", "a LibreOffice text file"),
    (b"opendocument.spreadsheet", "a LibreOffice table"),
    (b"xl/", "an Excel file"),
    (b"Index/Document.iwa", "a Pages file"),
    (b"META-INF/container.xml", "a compressed score"),
)  # fmt: skip
_FIRST = (
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old Word or Excel file"),
    (b"{\\rtf", "a Rich Text file"),
    (b"%PDF", "a PDF file"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"MThd", "a MIDI file"),
    (b"RIFF", "a sound file"),
    (b"<!doctype html", "a web page"),
    (b"<html", "a web page"),
    (b"<?xml", "an XML file, perhaps a score"),
)
LOOKED_AT_BYTES = 65_536
"""Zip's entries of a word processor's file are named well within these."""


def kind_of_file(begins: bytes) -> str | None:
    """'a Word file', from how a file begins; None for what may be plain text."""
    if begins.startswith(_ZIP):
        known = (name for inside, name in _INSIDE if inside in begins)
        return next(known, "a packed file, perhaps of a word processor")
    lower = begins.removeprefix(b"\xef\xbb\xbf").lstrip()[:32].lower()
    return next((name for first, name in _FIRST if lower.startswith(first.lower())), None)


def to_do_with(kind: str) -> str:
    """What to do with such a file, for somebody who wants a routine."""
    if "score" in kind or "MIDI" in kind:
        return "A score becomes a passage with 'trainer import FILE'."
    if kind in ("a picture", "a sound file"):
        return "Name the routine itself: 'morning.yaml'."
    return (
        "Open it where it was written, choose 'Save as' and 'Plain text' with the encoding UTF-8, "
        "and call it 'morning.yaml'."
    )
