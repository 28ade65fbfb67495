"""Opening a score file from anywhere: what kind it is, and its bytes, within limits.

A score from a stranger is data: nothing outside the file is fetched, nothing in it is run, and no
more is unpacked than a score can need.
"""

from __future__ import annotations

import errno
import zipfile
import zlib
from dataclasses import dataclass
from enum import Enum, auto
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.etree import ElementTree
from xml.parsers import expat

from trainer.disk.regular_file import UnfitFileError, regular_bytes
from trainer.errors import ScoreError
from trainer.score.abc import is_abc

LARGEST_FILE_BYTES = 10_000_000
LARGEST_XML_BYTES = 20_000_000
"""Unpacked; a flute's part has a hundredth of it, a quartet a tenth."""
MOST_ELEMENTS = 1_000_000
"""An orchestral score has about a tenth of this."""
LARGEST_ABC_BYTES = 500_000
"""Five hundred short tunes have less (our own estimate)."""
LARGEST_MIDI_BYTES = 2_000_000
"""A symphony's has about half a megabyte."""
MOST_PACKED_FILES = 500
DEEPEST_XML = 60
"""Elements within elements; MusicXML needs a dozen."""
MOST_ATTRIBUTES = 200
"""Of one element; the longest list in MusicXML 4.0 has a few dozen."""
_CONTAINER = "META-INF/container.xml"
_WEB_PAGES = (b"<!doctype html", b"<html")
_XML_SIGNS = (b"<", b"\xff\xfe", b"\xfe\xff", b"\xef\xbb\xbf")


class ScoreKind(Enum):
    """What a score file holds."""

    MUSICXML = auto()
    MIDI = auto()
    ABC = auto()


@dataclass(frozen=True)
class OpenedScore:
    """The music in a file, unpacked."""

    kind: ScoreKind
    data: bytes


def open_score(path: Path) -> OpenedScore:
    """The bytes of a MusicXML (also compressed), MIDI or ABC file. Raises ScoreError."""
    data = _read(path)
    if data.startswith(b"PK"):
        return OpenedScore(ScoreKind.MUSICXML, _unpacked(path, data))
    if data.startswith(b"MThd"):
        if len(data) > LARGEST_MIDI_BYTES:
            raise ScoreError(f"{path}: it is too large for a MIDI file of one piece.")
        return OpenedScore(ScoreKind.MIDI, data)
    if data.lstrip()[:20].lower().startswith(_WEB_PAGES):
        raise ScoreError(f"{path}: this is a web page, no score. Fetch the score file itself.")
    if data.lstrip().startswith(_XML_SIGNS):
        return OpenedScore(ScoreKind.MUSICXML, data)
    if not data:
        raise ScoreError(f"{path}: the file is empty. Export it again.")
    if is_abc(data.decode("utf-8", "replace").removeprefix("\ufeff")):
        if len(data) > LARGEST_ABC_BYTES:
            raise ScoreError(f"{path}: it is too large for tunes. Put the one you want in a file.")
        return OpenedScore(ScoreKind.ABC, data)
    raise ScoreError(
        f"{path}: this is neither MusicXML nor MIDI nor ABC. Open it in the program it was written "
        "with and export it as MusicXML (.musicxml or .mxl) or MIDI (.mid)."
    )


def _read(path: Path) -> bytes:
    try:
        return regular_bytes(path, LARGEST_FILE_BYTES)
    except UnfitFileError as unfit:
        if unfit.errno != errno.EFBIG:
            raise ScoreError(f"{path}: {unfit.strerror}. Name a score file.") from unfit
        return _read_long_xml(path)
    except OSError as error:
        raise ScoreError(f"{path}: can't be read: {error.strerror}.") from error


def _read_long_xml(path: Path) -> bytes:
    """XML, which is long where it is not packed; nothing else of that size."""
    try:
        data = regular_bytes(path, LARGEST_XML_BYTES)
    except OSError as error:
        raise _too_large(path) from error
    if data.lstrip()[:1] != b"<":
        raise _too_large(path)
    return data


def _too_large(path: Path) -> ScoreError:
    return ScoreError(
        f"{path}: it is larger than is read here ({LARGEST_XML_BYTES // 1_000_000} MB). Export "
        "only the flute's part, or fewer bars."
    )


def _unpacked(path: Path, data: bytes) -> bytes:
    """The score inside a compressed MusicXML file."""
    mend = "Export it again, or as uncompressed MusicXML."
    try:
        with zipfile.ZipFile(BytesIO(data)) as packed:
            names = [info.filename for info in packed.infolist()]
            if len(names) > MOST_PACKED_FILES:
                raise ScoreError(f"{path}: it holds {len(names)} files; a score has a few. {mend}")
            name = _score_name(path, packed, names)
            if name is None:
                raise ScoreError(f"{path}: no MusicXML is packed in this file. {mend}")
            return _member(path, packed, name)
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError, OSError, ValueError) as error:
        raise ScoreError(
            f"{path}: it can't be unpacked: it is broken or cut off. {mend}"
        ) from error
    except (RuntimeError, NotImplementedError) as error:
        raise ScoreError(f"{path}: it is packed in a way not read here. {mend}") from error


def _score_name(path: Path, packed: zipfile.ZipFile, names: list[str]) -> str | None:
    """The score's name in the archive: what the container names, else the first that fits."""
    if _CONTAINER in names:
        root = parse_xml(path, _member(path, packed, _CONTAINER))
        for rootfile in root.iter("{*}rootfile"):
            named = rootfile.get("full-path", "")
            if named in names:
                return named
    fitting = (name for name in names if name.lower().endswith((".musicxml", ".xml")))
    return next((name for name in fitting if not name.startswith("META-INF")), None)


def _member(path: Path, packed: zipfile.ZipFile, name: str) -> bytes:
    """One packed file; read up to the limit whatever size it claims."""
    if packed.getinfo(name).compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise NotImplementedError("only deflate is allowed in a .mxl file (MusicXML 4.0)")
    with packed.open(name) as file:
        data = file.read(LARGEST_XML_BYTES + 1)
    if len(data) > LARGEST_XML_BYTES:
        raise _too_large(path)
    return data


def parse_xml(path: Path, data: bytes) -> ElementTree.Element:
    """The root of a document without entities of its own. Raises ScoreError.

    Python's parser fetches nothing from outside; a document type is allowed, as every MusicXML
    file names one, but nothing may be declared in it.
    """
    try:
        _look_through(path, data)
        return ElementTree.fromstring(data)
    except (expat.ExpatError, ElementTree.ParseError) as error:
        line = f" at line {error.lineno}" if error.lineno else ""
        raise ScoreError(
            f"{path}: the file is broken or cut off{line}. Export it again as MusicXML."
        ) from error
    except (ValueError, LookupError) as error:
        raise ScoreError(
            f"{path}: its letters are in a code not read here. Export it again as MusicXML."
        ) from error


def _look_through(path: Path, data: bytes) -> None:
    """Refuse what no score needs before a tree is built of it."""
    depth = count = 0

    def refuse_declaration(*_: Any) -> None:
        raise ScoreError(
            f"{path}: it declares entities or attributes of its own, which no notation program "
            "does. It is not read."
        )

    def enter(_: str, attributes: dict[str, str]) -> None:
        nonlocal depth, count
        depth += 1
        count += 1
        if count > MOST_ELEMENTS:
            raise _too_large(path)
        if len(attributes) > MOST_ATTRIBUTES:
            raise ScoreError(f"{path}: one of its elements has more attributes than a score needs.")
        if depth > DEEPEST_XML:
            raise ScoreError(f"{path}: its elements are nested too deep for a score.")

    def leave(*_: Any) -> None:
        nonlocal depth
        depth -= 1

    parser = expat.ParserCreate()
    parser.EntityDeclHandler = refuse_declaration
    parser.AttlistDeclHandler = refuse_declaration  # its defaults would stand in every element
    parser.StartElementHandler = enter
    parser.EndElementHandler = leave
    parser.Parse(data, True)
