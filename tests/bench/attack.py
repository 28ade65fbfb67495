"""Hostile files of every kind that is read, through every command that can meet them.

    python -m tests.bench.attack [--only KIND]

Each file meets each command in a process of its own, forked from one that has loaded the program,
beside good files that must still be counted. Counted: tracebacks and faults of our own, processor
time over SLOWEST_S, memory over MOST_MB, good files lost, control characters in what was printed,
and connections asked for (Python's audit event `socket.connect`). The exit status is 1 where
anything was found.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import re
import resource
import shutil
import signal
import struct
import sys
import tempfile
import time
import traceback
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

SLOWEST_S = 5.0
"""Of processor time."""
LONGEST_WALL_S = 60.0
"""A process that waits for ever is ended then; a busy machine may well take so long."""
MOST_MB = 500
DAY = date(2026, 11, 23)
SCORE_SUFFIX = {"score": "musicxml", "packed": "mxl", "abc": "abc"}
CONTROLS = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]|\r(?!\n)")
GOOD_DAYS = ("2026-11-18", "2026-11-19", "2026-11-20")

GOOD_ROUTINE = "title: Good\nexercises:\n- scale: a\n  key: C major\n"
GOOD_SESSION = (
    "version: 2\nsession: good {day}\nstudent: Ilse\nstarted: {day} 17:05:12+01:00\n"
    "ended: {day} 17:20:00+01:00\nasked: []\nrounds:\n- exercise: a\n  kind: technique\n"
    "  articulation: slurred\n  tempo_bpm: 72\n  started: {day} 17:07:40+01:00\n  seconds: 30\n"
    "  notes:\n  - {{note: G5, cents: 4.0}}\n"
)
GOOD_MESSAGE = "version: 1\nwritten: 2026-11-20 18:00:00+01:00\nnote: Good words.\n"
ESCAPE = "\\e]0;taken\\a\\e]52;c;eA==\\a\\x9b2J\\u202e"
"""As a quoted YAML text spells them."""

Build = Callable[[Path], None]


@dataclass(frozen=True)
class Hostile:
    """One hostile file: its kind, its name, and how it is made."""

    kind: str
    name: str
    build: Build


@dataclass
class Found:
    """What the bench counted."""

    files: int = 0
    meetings: int = 0
    slowest_s: float = 0.0
    most_mb: float = 0.0
    faults: list[str] = field(default_factory=list)
    kinds: Counter[str] = field(default_factory=Counter)


def text(content: str | bytes) -> Build:
    """Makes a file of this content."""
    data = content if isinstance(content, bytes) else content.encode("utf-8", "surrogatepass")
    return lambda path: path.write_bytes(data) and None


# YAML: the same poison in four kinds of file

POISON = {
    "timestamp": "x: !!timestamp abc",
    "bool": "x: !!bool abc",
    "int": 'x: !!int ""',
    "float": 'x: !!float ""',
    "python": "x: !!python/object/apply:os.system [touch /tmp/taken]",
    "binary": "x: !!binary '%%%'",
    "omap": "x: !!omap [a]",
    "set": "x: !!set {a: b}",
    "own tag": "x: !own y",
    "anchor": "x: &a [1]\ny: *a",
    "laugh": "a: &a [x,x,x,x,x,x,x,x,x]\n"
    + "".join(f"b{n}: &b{n} [{','.join([f'*b{n - 1}' if n else '*a'] * 9)}]\n" for n in range(9)),
    "aliases": "a: &a [x]\n" + "".join(f"b{n}: &b{n} [*a,*a]\n" for n in range(900)),
    "self": "a: &a [*a]",
    "merge": "a: &a {x: 1}\n<<: *a",
    "merges": "<<: [" + ",".join(["{x: 1}"] * 2000) + "]",
    "base 60": "x: " + "1:" * 200_000 + "1",
    "digits": "x: " + "9" * 400_000,
    "negative": "x: -" + "9" * 5000,
    "octal": "tempo_bpm: 0777",
    "nan": "tempo_bpm: .nan\na4_hz: .nan",
    "inf": "takes limit mb: .inf\na4_hz: -.inf",
    "huge float": "a4_hz: 1.0e+308",
    "brackets": "x: " + "[" * 50_000,
    "braces": "x: " + "{a: " * 20_000,
    "dashes": "- " * 50_000,
    "questions": "? " * 50_000,
    "indents": "".join(" " * n + f"a{n}:\n" for n in range(600)),
    "colons": "a" + ": " * 50_000,
    "commas": "x: [" + "a," * 40_000 + "]",
    "names": "".join(f"a{n}: {n}\n" for n in range(8000)),
    "twice": "version: 1\n" * 5000,
    "blank": "\n" * 90_000,
    "comment": "#" + "x" * 90_000,
    "quotation": 'x: "' + "a\n\n " * 20_000 + '"',
    "open quotation": 'x: "abc',
    "open bracket": "x: [a, b",
    "folded": "x: >\n" + "  a\n" * 20_000,
    "documents": "a: 1\n---\nb: 2\n---\n" * 1000,
    "directive": "%YAML 9.9\n---\na: 1",
    "tag directive": "%TAG ! tag:x,2000:\n---\na: !b c",
    "complex": "? [a, b]\n: c",
    "null name": "~: a\n: b",
    "number name": "1: a\n2.5: b",
    "escape": f'title: "{ESCAPE}"\nnote: "{ESCAPE}"\nstudent: "{ESCAPE}"\n"{ESCAPE}": x',
    "raw escape": "title: \x1b]0;taken\x07",
    "C1": "title: \x9b2J",
    "turned": "title: a\u202eb\u2066c\nstudent: \u202eb\nnote: \u202ec",
    "NUL": "title: a\x00b",
    "BOM": "\ufefftitle: a",
    "BOMs": "\ufeff" * 1000 + "title: a",
    "UTF-16": "title: a".encode("utf-16"),
    "UTF-32": "title: a".encode("utf-32"),
    "latin": b"title: caf\xe9",
    "half": b"title: \xed\xa0\x80",
    "overlong": b"title: \xc0\xaf",
    "lines": "title: a\x85b\u2028c\u2029d",
    "carriage": "title: a\rtitle: b\r",
    "first day": "started: 0001-01-01 00:30:00+10:00\nwritten: 0001-01-01 00:30:00+10:00",
    "last day": "started: 9999-12-31 23:30:00-10:00\nwritten: 9999-12-31 23:30:00-10:00",
    "no day": "started: 2026-02-30\nwritten: 2026-13-01",
    "odd offset": "started: 2026-11-20 10:00:00+23:59\nwritten: 2026-11-20 10:00:00-23:59",
    "random": bytes((37 * n * n + 11) % 256 for n in range(4000)),
    "empty": "",
    "scalar": "just words",
    "list": "- a\n- b",
    "way out": "routine: ../../../etc/passwd\nversion: 1\nwritten: 2026-11-20",
    "long line": "title: " + "a" * 90_000,
    "flood": "x: " + "a" * 9_000_000,
    "blanks": "title: a" + " " * 90_000 + "x",
    "low quotes": "title: [a, " + "‚" * 30_000 + "]",
    "no question": "remark: " + "a " * 400_000,
    "no formula": GOOD_SESSION.format(day="2026-11-21").replace(
        "  kind:", "  key: $\\frac{$\n  title: '[/b] [@click=app.quit]x'\n  kind:"
    ),
}
BASE = {
    "routine": "exercises:\n- scale: a\n  key: C major\n",
    "session": GOOD_SESSION.format(day="2026-11-21").replace("student: Ilse\n", ""),
    "message": "version: 1\nwritten: 2026-11-17 18:00:00+01:00\n",
    "settings": "keep takes: no\n",
}
"""What the poison is added to, so that it is met where the rest is right."""


def yaml_files() -> Iterator[Hostile]:
    """The poison alone or added to a good file, turn about."""
    for kind, base in BASE.items():
        for number, (name, poison) in enumerate(POISON.items()):
            if isinstance(poison, str) and number % 3 and poison.strip():
                poison = f"{base}{poison}\n"
            yield Hostile(kind, name, text(poison))


def not_files(kind: str) -> Iterator[Hostile]:
    """What stands under a file's name and is none."""
    yield Hostile(kind, "a pipe", lambda path: os.mkfifo(path))
    yield Hostile(kind, "a device", lambda path: path.symlink_to("/dev/zero"))
    yield Hostile(kind, "a terminal", lambda path: path.symlink_to("/dev/tty"))
    yield Hostile(kind, "a folder", lambda path: path.mkdir())
    yield Hostile(kind, "a loop", lambda path: path.symlink_to(path.name))
    yield Hostile(kind, "nowhere", lambda path: path.symlink_to("/nowhere/at/all"))


# Sound


def wav(
    *,
    tag: int = 1,
    channels: int = 1,
    rate: int = 48000,
    bits: int = 16,
    data: bytes = b"\x00\x10" * 4000,
    size: int | None = None,
    between: bytes = b"",
) -> bytes:
    """A WAV file (RIFF, Microsoft 1991) whose header says what it is told to."""
    frame = max(1, channels * bits // 8)
    head = struct.pack(
        "<HHIIHH", tag, channels, rate, (rate * frame) & 0xFFFFFFFF, frame & 0xFFFF, bits
    )
    body = b"WAVEfmt " + struct.pack("<I", len(head)) + head + between
    body += b"data" + struct.pack("<I", len(data) if size is None else size) + data
    return b"RIFF" + struct.pack("<I", len(body) & 0xFFFFFFFF) + body


def floats(*values: float) -> bytes:
    """A float32 WAV that repeats these."""
    return wav(tag=3, bits=32, data=struct.pack(f"<{len(values)}f", *values) * 2000)


SOUNDS: dict[str, bytes] = {
    "empty": b"",
    "a word": b"RIFF",
    "no data": wav(data=b""),
    "one sample": wav(data=b"\x00\x01"),
    "half a sample": wav(data=b"\x00"),
    "no channels": wav(channels=0),
    "many channels": wav(channels=1024, data=b"\x00" * 8192),
    "most channels": wav(channels=65535),
    "no rate": wav(rate=0),
    "slow": wav(rate=1),
    "odd rate": wav(rate=4001),
    "prime rate": wav(rate=383_987),
    "fast": wav(rate=0xFFFFFFFF),
    "no bits": wav(bits=0),
    "odd bits": wav(bits=13),
    "many bits": wav(bits=64),
    "unknown": wav(tag=0xABCD),
    "extensible": wav(tag=0xFFFE),
    "mu-law": wav(tag=7, bits=8),
    "ADPCM": wav(tag=2, bits=4),
    "promises": wav(size=0x7FFFFFFF),
    "pipe's length": wav(size=0xFFFFFFFF),
    "cut": wav(data=b"\x00\x10" * 4000)[:3000],
    "head alone": wav()[:40],
    "NaN": floats(0.1, float("nan")),
    "infinite": floats(0.1, float("inf")),
    "enormous": floats(3e38, -3e38),
    "tiny": floats(1e-45, -1e-45),
    "loud": floats(1e10, -1e10),
    "silence": wav(data=b"\x00" * 96_000),
    "direct current": wav(data=b"\xff\x7f" * 48_000),
    "square": wav(data=(b"\xff\x7f" * 50 + b"\x01\x80" * 50) * 500),
    "noise": wav(data=bytes((n * n * 31 + n) % 251 for n in range(96_000))),
    "bad list": wav(between=b"LIST" + struct.pack("<I", 0xFFFFFFF0)),
    "escape in list": wav(
        between=b"LIST"
        + struct.pack("<I", 24)
        + b"INFOINAM\x0c\x00\x00\x00\x1b]0;taken\x07\x00\x00"
    ),
    "RF64": b"RF64\xff\xff\xff\xffWAVEds64" + struct.pack("<I", 28) + b"\xff" * 28,
    "FLAC head": b"fLaC" + b"\xff" * 200,
    "Ogg head": b"OggS" + b"\x00" * 200,
    "MP3 head": b"ID3\x04\x00\x00\x7f\x7f\x7f\x7f" + b"\xff\xfb\x90\x00" * 200,
    "AIFF head": b"FORM\x00\x00\x10\x00AIFFCOMM" + b"\xff" * 200,
    "AU head": b".snd" + b"\xff" * 200,
    "CAF head": b"caff\x00\x01\x00\x00desc" + b"\xff" * 200,
    "web page": b"<!DOCTYPE html><p>no",
    "random": bytes((91 * n * n + 7) % 256 for n in range(9000)),
}

# Scores

XML = '<?xml version="1.0"?>'
SCORE = (
    XML
    + '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>{name}</part-name>'
    '</score-part></part-list><part id="P1"><measure number="{number}"><attributes><divisions>'
    "{divisions}</divisions><time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"
    "</attributes>{notes}</measure></part></score-partwise>"
)
NOTE = (
    "<note><pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>"
    "<duration>{duration}</duration></note>"
)


def score(**said: object) -> str:
    """A MusicXML score (W3C, 4.0) of four notes that says what it is told to."""
    facts: dict[str, object] = {
        "name": "Flute", "number": 1, "divisions": 1, "beats": 4, "unit": 4, "step": "G",
        "alter": 0, "octave": 5, "duration": 1,
    } | said  # fmt: skip
    notes = said.get("notes") or NOTE.format(**facts) * 4
    return SCORE.format(**(facts | {"notes": notes}))


SCORES: dict[str, str | bytes] = {
    "no divisions": score(divisions=0),
    "negative divisions": score(divisions=-4),
    "words for divisions": score(divisions="many"),
    "huge divisions": score(divisions="9" * 5000),
    "fraction": score(duration="1/3"),
    "NaN": score(duration="nan"),
    "infinite": score(duration="inf"),
    "exponent": score(duration="1e400000"),
    "negative length": score(duration=-1),
    "endless length": score(duration=10**30),
    "no beats": score(beats=0),
    "many beats": score(beats=10**9),
    "no unit": score(unit=0),
    "odd unit": score(unit=-3),
    "sum of beats": score(beats="3+2+x"),
    "step": score(step="H"),
    "alter": score(alter=99),
    "alter words": score(alter="sharp"),
    "octave": score(octave=999),
    "octave digits": score(octave="9" * 5000),
    "bar number": score(number="\u202e1"),
    "name": score(name="&#x202e;evil &#x9b;2J"),
    "name of markup": score(name="&lt;/style&gt;&lt;script&gt;"),
    "formula": score(name="=HYPERLINK(1)"),
    "control": score(name="&#27;]0;taken&#7;"),
    "no notes": score(notes=" "),
    "many notes": score(notes=NOTE.format(step="G", alter=0, octave=5, duration=1) * 20_000),
    "repeats": score(notes='<barline><repeat direction="backward" times="1000000000"/></barline>'),
    "ties": score(notes=NOTE.format(step="G", alter=0, octave=5, duration=1).replace(
        "</pitch>", '</pitch><tie type="start"/>') * 500),
    "backup": score(notes="<backup><duration>99999999</duration></backup>"),
    "forward": score(notes="<forward><duration>99999999999</duration></forward>"),
    "transpose": score(
        notes="<attributes><transpose><chromatic>9999</chromatic></transpose></attributes>"),
    "tempo": score(notes='<sound tempo="0"/><sound tempo="-1"/><sound tempo="inf"/>'),
    "laugh": XML + '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + "".join(
        f'<!ENTITY a{n} "{("&a" + (str(n - 1) if n else "") + ";") * 10}">' for n in range(9))
    + "]><score-partwise>&a8;</score-partwise>",
    "outside entity": XML + '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>'
    "<score-partwise>&a;</score-partwise>",
    "outside type": XML + '<!DOCTYPE x SYSTEM "http://127.0.0.1:9/x.dtd"><score-partwise/>',
    "parameter": XML + '<!DOCTYPE x [<!ENTITY % p SYSTEM "http://127.0.0.1:9/x"> %p;]>'
    "<score-partwise/>",
    "deep": XML + "<score-partwise>" + "<a>" * 100_000,
    "wide": XML + "<score-partwise>" + "<a/>" * 300_000 + "</score-partwise>",
    "attributes": XML + "<score-partwise " + " ".join(f'a{n}="x"' for n in range(50_000)) + "/>",
    "defaults": XML
    + "<!DOCTYPE x ["
    + "".join(f'<!ATTLIST a a{n} CDATA "x">' for n in range(2000))
    + "]><score-partwise>" + "<a/>" * 90_000 + "</score-partwise>",
    "timewise": XML + "<score-timewise/>",
    "other": XML + "<html/>",
    "cut": score()[:300],
    "UTF-16": score().encode("utf-16"),
    "UTF-7": '<?xml version="1.0" encoding="utf-7"?><score-partwise/>',
    "no code": '<?xml version="1.0" encoding="nonsense"?><score-partwise/>',
    "empty": "",
}  # fmt: skip


def zipped(members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A .mxl file of these members."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", method) as packed:
        for name, data in members.items():
            packed.writestr(name, data)
    return whole.getvalue()


def container(path: str) -> bytes:
    """The container of a .mxl file that names its score."""
    return f'<container><rootfiles><rootfile full-path="{path}"/></rootfiles></container>'.encode()


ZEROS = b"<" + b" " * 60_000_000
PACKED: dict[str, bytes] = {
    "bomb": zipped({"score.xml": ZEROS}),
    "bombed container": zipped({"META-INF/container.xml": ZEROS}),
    "way out": zipped({"META-INF/container.xml": container("../../etc/passwd")}),
    "absolute": zipped({"META-INF/container.xml": container("/etc/passwd")}),
    "many": zipped({f"{n}.txt": b"" for n in range(3000)}),
    "no score": zipped({"readme": b"x"}),
    "escape": zipped({"\x1b]0;taken\x07.xml": b"<html/>"}),
    "itself": zipped({"score.xml": zipped({"score.xml": b"x"})}),
    "BZIP2": zipped({"score.xml": score().encode()}, zipfile.ZIP_BZIP2),
    "LZMA": zipped({"score.xml": score().encode()}, zipfile.ZIP_LZMA),
    "cut": zipped({"score.xml": score().encode()})[:-40],
    "broken": zipped({"score.xml": score().encode()}).replace(b"\x78", b"\x00"),
    "laugh": zipped({"score.xml": str(SCORES["laugh"]).encode()}),
    "directory alone": b"PK\x05\x06" + b"\xff" * 18,
    "empty": b"PK\x05\x06" + b"\x00" * 18,
}


def midi(
    *tracks: bytes,
    form: int = 1,
    count: int | None = None,
    division: int = 480,
    size: int | None = None,
) -> bytes:
    """A Standard MIDI File (MMA RP-001) of these tracks."""
    head = b"MThd" + struct.pack(
        ">IHHH", 6, form, len(tracks) if count is None else count, division
    )
    for track in tracks:
        head += b"MTrk" + struct.pack(">I", len(track) if size is None else size) + track
    return head


END = b"\x00\xff\x2f\x00"
PLAYED = b"\x00\x90\x48\x40\x83\x60\x80\x48\x00"
MIDIS: dict[str, bytes] = {
    "empty": b"",
    "head": b"MThd",
    "no tracks": midi(count=0),
    "promised": midi(PLAYED + END, count=65535),
    "form": midi(PLAYED + END, form=9),
    "division": midi(PLAYED + END, division=0),
    "frames": midi(PLAYED + END, division=0xE728),
    "negative": midi(PLAYED + END, division=0x8000),
    "size": midi(PLAYED + END, size=0xFFFFFFFF),
    "no end": midi(PLAYED),
    "running": midi(b"\x00\x48\x40" * 10 + END),
    "long delta": midi((b"\xff\xff\xff\x7f\x90\x48\x40" * 50) + END),
    "endless delta": midi(b"\xff" * 50 + END),
    "tempo": midi(b"\x00\xff\x51\x03\x00\x00\x00" + PLAYED + END),
    "slow": midi(b"\x00\xff\x51\x03\xff\xff\xff" + PLAYED * 20 + END),
    "short tempo": midi(b"\x00\xff\x51\x00" + PLAYED + END),
    "meter": midi(b"\x00\xff\x58\x04\x00\xff\x00\x00" + PLAYED + END),
    "key": midi(b"\x00\xff\x59\x02\x7f\x7f" + PLAYED + END),
    "name": midi(b"\x00\xff\x03\x10\x1b]0;taken\x07\x9b2Jabc" + PLAYED + END),
    "system": midi(b"\x00\xf0\xff\xff\xff\x7f" + PLAYED + END),
    "bytes": midi(b"\x00\x90\xff\xff" * 20 + END),
    "never off": midi(b"\x00\x90\x48\x40" * 5000 + END),
    "many": midi(PLAYED * 60_000 + END),
    "tracks": midi(*[PLAYED + END] * 2000),
    "cut": midi(PLAYED * 10 + END)[:-30],
    "random": b"MThd" + bytes((17 * n * n) % 256 for n in range(3000)),
}
TUNE = "X:1\nT:Good\nM:4/4\nL:1/4\nK:C\n"
LONG_LINE = 200_000
ABCS: dict[str, str | bytes] = {
    "no key": "X:1\nT:a\nabc|",
    "no music": TUNE,
    "names alone": "X:1\nK:\n",
    "escape": "X:1\nT:\x1b]0;taken\x07\x9b2J\u202eb\nK:C\n"
    '"^\x1b]0;taken\x07"G !\x9b2J!A B c|\x1b[2J G',
    "markup": 'X:1\nT:</style><script>\nK:C\n"<b>"GABc|',
    "open brackets": TUNE + "[" * LONG_LINE,
    "open graces": TUNE + "{" * LONG_LINE,
    "open words": TUNE + 'G"' + "[G" * LONG_LINE,
    "exclamations": TUNE + "!a" * LONG_LINE,
    "plus signs": TUNE + "+a +" * LONG_LINE,
    "bar lines": TUNE + "|" * LONG_LINE,
    "colons": TUNE + "G" + ":" * LONG_LINE,
    "bars and spaces": TUNE + "G" + ("|" + " " * 400) * 500 + "x",
    "inline": TUNE + "[K:" * LONG_LINE,
    "keys": TUNE + "[K:D]G" * 30_000,
    "octaves": TUNE + "G" + "'" * LONG_LINE + " C" + "," * LONG_LINE,
    "lengths": TUNE + "G9999/9999 G/0 G0 G" + "/" * LONG_LINE,
    "rests": TUNE + "Z999|" * 9000,
    "rest of no metre": "X:1\nM:0/0\nK:C\nZ9|GABc|",
    "metre": "X:1\nM:99999999/3\nL:1/0\nQ:1/0=0\nK:C\nGABc|",
    "metre words": 'X:1\nM:(2+3)/x\nL:a/b\nQ:"a"\nK:C\nGABc|',
    "tempo": "X:1\nQ:1/4=" + "9" * 5000 + "\nK:C\nGABc|",
    "tempo of fractions": "X:1\nQ:1" + "/11" * 60 + "\nQ:" + "1" * LONG_LINE + "\nK:C\nGABc|",
    "metre of spaces": "X:1\nM:1" + " " * LONG_LINE + "x\nK:C\nGABc|",
    "key of clefs": "X:1\nK:C " + "clef=" * LONG_LINE + "\nGABc|",
    "key words": "X:1\nK:H## nonsense ^^^^x exp _q\nGABc|",
    "tuplets": TUNE + "(0:0:0GAB (9:1:9GAB (3" * 3000 + "GAB|",
    "tuplet alone": TUNE + "(" * LONG_LINE + "3",
    "endings": TUNE + "|:G|[1-9,1-9,9-1,-,.. A:|" * 2000,
    "repeats": TUNE + "|:G" * 1500 + ":|" * 1500,
    "jumps": TUNE + "!D.C.! G|!D.S.! G|!segno! G|!coda! G|!fine!" * 500,
    "broken rhythm": TUNE + "G>>><<<" * 9000 + "A|",
    "ties": TUNE + "G-" * 20_000 + "|",
    "tunes": (TUNE + "GABc|\n") * 400,
    "too many tunes": (TUNE + "GABc|\n") * 5000,
    "voices": TUNE + "".join(f"V:{n}\nGABc|\n" for n in range(5000)),
    "many bars": TUNE + "GABc|" * 9000,
    "overlay": TUNE + "G&" * 9000 + "|",
    "continued": TUNE + "G\\\n" * 9000,
    "NUL": TUNE + "G\x00A|",
    "latin": b"X:1\nT:caf\xe9\nK:C\nGABc|",
    "UTF-16": (TUNE + "GABc|").encode("utf-16"),
    "half": b"X:1\nT:\xed\xa0\x80\nK:C\nGABc|",
    "flood": TUNE + "GABc|\n" * 2_000_000,
    "random": b"X:1\nK:C\n" + bytes((29 * n * n + 3) % 256 for n in range(9000)),
}
"""Tunes (ABC standard 2.1) that say what no tune says."""
FONTS: dict[str, bytes] = {
    "empty": b"",
    "head": b"RIFF\xff\xff\xff\x7fsfbk",
    "list": b"RIFF" + struct.pack("<I", 40) + b"sfbkLIST\xff\xff\xff\x7fINFO" + b"\x00" * 24,
    "random": b"RIFF\x00\x10\x00\x00sfbk" + bytes((7 * n * n) % 256 for n in range(4000)),
    "text": b"no font",
    "wav": wav(),
}
NAMES = (
    "\x1b]0;taken\x07", "a\x9b2J", "a\u202eb", "a\nb", "a\tb", "-rf", "--help", " ", "a" * 200,
    "=cmd", "$(touch taken)", "`x`", "a;b", "%s%n", "\udcff\udcfe", "CON", "~", "[b]r[@click=quit]",
)  # fmt: skip


def hostile() -> Iterator[Hostile]:
    """Every hostile file."""
    yield from yaml_files()
    for kind in (*BASE, "sound", "score", "packed", "midi", "abc"):
        yield from not_files(kind)
    tables: tuple[tuple[str, dict[str, str | bytes] | dict[str, bytes]], ...] = (
        ("sound", SOUNDS), ("score", SCORES), ("packed", PACKED), ("midi", MIDIS), ("abc", ABCS),
        ("font", FONTS),
    )  # fmt: skip
    for kind, table in tables:
        for name, content in table.items():
            yield Hostile(kind, name, text(content))
    for name in NAMES:
        for kind in ("named session", "named student", "named sound", "named routine"):
            yield Hostile(kind, name, lambda _: None)


# Meetings


@dataclass(frozen=True)
class Meeting:
    """A command that meets a hostile file, and what it must still say of the good ones."""

    words: tuple[str, ...]
    good: tuple[str, ...] = ()


def home_with_good(folder: Path) -> Path:
    """A student's folder in which all is well."""
    home = folder / "home"
    for name in ("journal/from teacher", "spare journal", "routines"):
        (home / name).mkdir(parents=True)
    for day in GOOD_DAYS:
        (home / "journal" / f"{day}.yaml").write_text(GOOD_SESSION.format(day=day))
    (home / "journal" / "from teacher" / "good.yaml").write_text(GOOD_MESSAGE)
    (folder / "good.yaml").write_text(GOOD_ROUTINE)
    studio = folder / "studio" / "Good"
    shutil.copytree(home / "journal", studio)
    return home


def meetings(one: Hostile, folder: Path) -> list[Meeting]:
    """The hostile file in its place, and the commands that meet it there."""
    home = home_with_good(folder)
    journal = home / "journal"
    reading = [
        Meeting(("week", "--ending", str(DAY), "--json")),
        Meeting(("journal",), GOOD_DAYS),
        Meeting(("journal", "long", "--to", str(DAY), "--json")),
        Meeting(("journal", "export"), GOOD_DAYS),
        Meeting(("journal", "export", "--form", "json"), GOOD_DAYS),
        Meeting(("journal", "show", "last")),
        Meeting(("journal", "remark", GOOD_DAYS[0], "words"), ("Written in",)),
        Meeting(("studio", str(folder / "studio"), "--ending", str(DAY), "--json"), ("Good",)),
        Meeting(("today",), ("Good words",)),
    ]
    match one.kind:
        case "routine":
            file = folder / "hostile.yaml"
            one.build(file)
            if one.name == "a folder":
                file.rmdir()
                file.mkdir()
            shutil.copyfile(folder / "good.yaml", home / "routines" / "good.yaml")
            with contextlib.suppress(OSError):
                one.build(home / "routines" / "hostile.yaml")
            (folder / "includes.yaml").write_text(GOOD_ROUTINE + "- include: hostile.yaml\n")
            shutil.copytree(folder / "studio" / "Good", folder / "studio" / "Other")
            return [
                Meeting(
                    ("check", str(file), str(folder / "good.yaml")), ("good.yaml: nothing wrong",)
                ),
                Meeting(("check", "--json", str(file))),
                Meeting(("check", str(folder / "includes.yaml"))),
                Meeting(("preview", str(file), "--json")),
                Meeting(("sheet", str(file), "--out", str(folder / "sheet.html"))),
                Meeting(("calendar", str(file))),
                Meeting(("offered",), ("Good",)),
                Meeting(("studio", str(folder / "studio"), "Good", "--routine", str(file))),
            ]
        case "session":
            one.build(journal / "2026-11-21.yaml")
            with contextlib.suppress(OSError):
                one.build(home / "spare journal" / "2026-11-21.yaml")
            page = ("week", "--ending", str(DAY), "--page", str(folder / "page.html"))
            (folder / "studio" / "Other").mkdir()
            one.build(folder / "studio" / "Other" / "2026-11-21.yaml")
            return [*reading, Meeting(page), Meeting(("tuning",)), Meeting(("journal", "spots"))]
        case "message":
            one.build(journal / "from teacher" / "hostile.yaml")
            (folder / "studio" / "Other" / "from teacher").mkdir(parents=True)
            one.build(folder / "studio" / "Other" / "from teacher" / "hostile.yaml")
            day = ("studio", str(folder / "studio"), "--day", "--ending", str(DAY))
            return [reading[-1], reading[-2], Meeting(day, ("Good",))]
        case "settings":
            one.build(home / "config.yaml")
            return [Meeting(("takes",)), Meeting(("today",), ("Good words",)), reading[0]]
        case "sound":
            file = folder / "hostile.wav"
            one.build(file)
            return [
                Meeting(("listen", str(file), "--json")),
                Meeting(("listen", str(file), "--notes", "G4 A4", "--json")),
                Meeting(("listen", str(file), "--routine", str(folder / "good.yaml"))),
                Meeting(
                    ("listen", str(file), "--routine", str(folder / "good.yaml"), "--exercise", "a")
                ),
            ]
        case "score" | "packed" | "abc":
            file = folder / f"hostile.{SCORE_SUFFIX[one.kind]}"
            one.build(file)
            return [Meeting(("import", str(file))), Meeting(("import", str(file), "--json"))]
        case "midi":
            file = folder / "hostile.mid"
            one.build(file)
            (folder / "good.wav").write_bytes(wav())
            heard = ("listen", str(folder / "good.wav"), "--midi", str(file), "--json")
            return [Meeting(("import", str(file))), Meeting(heard)]
        case "font":
            file = folder / "hostile.sf2"
            one.build(file)
            (home / "config.yaml").write_text(f"partner sound: {file}\n")
            return [Meeting(("voice",)), Meeting(("today",), ("Good words",))]
        case named:
            return _meetings_by_name(named, one.name, folder, reading)


def _meetings_by_name(kind: str, name: str, folder: Path, reading: list[Meeting]) -> list[Meeting]:
    journal = folder / "home" / "journal"
    match kind:
        case "named session":
            (journal / f"2026-11-21 {name}.yaml").write_text("x: [")
            return reading
        case "named student":
            student = folder / "studio" / name
            with contextlib.suppress(OSError):
                shutil.copytree(journal, student)
            return [reading[-2], Meeting(("studio", str(folder / "studio")), ("Good",))]
        case "named sound":
            (folder / f"{name}.wav").write_bytes(wav())
            return [Meeting(("listen", str(folder / f"{name}.wav")))]
        case _:
            (folder / f"{name}.yaml").write_text("title: [")
            return [Meeting(("check", str(folder / f"{name}.yaml")))]


# Running


def today(home: Path) -> None:
    """What Today shows before anything begins, as lines."""
    from trainer.app.morning import morning_of
    from trainer.app.paths import user_paths
    from trainer.app.todays_routine import SHIPPED_ROUTINES, todays_routine_file
    from trainer.routine.load import load_routine

    paths = user_paths({"TRAINER_HOME": str(home)})
    routine, _ = load_routine(todays_routine_file(paths))
    if routine is None:
        routine, _ = load_routine(SHIPPED_ROUTINES / "morning.yaml")
    assert routine is not None
    view = morning_of(routine, paths, DAY).view
    print(view.today.from_teacher if hasattr(view.today, "from_teacher") else view.today)
    print("\n".join(view.notices))


def voice(home: Path) -> None:
    """The partner's voice as it is set."""
    from trainer.app.paths import user_paths
    from trainer.app.practice_ready import partners_voice
    from trainer.app.settings import read_settings
    from trainer.sound.process import quiet_stderr

    paths = user_paths({"TRAINER_HOME": str(home)})
    with quiet_stderr(paths.log_file):  # as practice does: the library speaks to descriptor 2
        found = partners_voice(read_settings(paths.config_file), 48000)
    print(found)


def offered(home: Path) -> None:
    """The routines to choose from."""
    from trainer.app.other_routines import routines_offered
    from trainer.app.paths import user_paths

    for each in routines_offered(user_paths({"TRAINER_HOME": str(home)})):
        print(each.title, each.said)


WITHOUT_A_SCREEN = {"today": today, "voice": voice, "offered": offered}
"""What a screen shows of these files, asked for in words of the bench's own."""


def child(words: tuple[str, ...], home: Path, out: Path) -> None:
    """Run the command in this process and end it."""
    handle = os.open(out, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    os.dup2(handle, 1)
    os.dup2(handle, 2)
    sys.stdout = sys.__stdout__ = os.fdopen(1, "w", encoding="utf-8", errors="surrogateescape")
    sys.stderr = sys.__stderr__ = os.fdopen(2, "w", encoding="utf-8", errors="surrogateescape")
    sys.addaudithook(
        lambda event, given: print("CONNECTED", given) if event == "socket.connect" else None
    )
    os.environ["TRAINER_HOME"] = str(home)
    resource.setrlimit(resource.RLIMIT_CPU, (int(3 * SLOWEST_S), int(4 * SLOWEST_S)))
    status = 99
    try:
        from trainer import cli
        from trainer.commands.plain_output import plain_output

        if words[0] in WITHOUT_A_SCREEN:
            with plain_output():
                WITHOUT_A_SCREEN[words[0]](home)
            status = 0
        else:
            status = cli.main(words)
    except SystemExit as ended:
        status = int(ended.code or 0)
    except BaseException:
        traceback.print_exc()
    finally:
        with contextlib.suppress(Exception):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(status)


def met(one: Hostile, meeting: Meeting, folder: Path, found: Found) -> None:
    """One meeting, counted."""
    out, home = folder / "said.txt", folder / "home"
    before_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    pid = os.fork()
    if not pid:
        child(meeting.words, home, out)
    ended, status, used = 0, 0, None
    deadline_s = time.monotonic() + LONGEST_WALL_S
    while not ended:
        ended, status, used = os.wait4(pid, os.WNOHANG)
        if not ended and time.monotonic() > deadline_s:
            os.kill(pid, signal.SIGKILL)
            ended, status, used = os.wait4(pid, 0)
            break
        time.sleep(0.005)
    assert used is not None
    spent_s, mb = used.ru_utime + used.ru_stime, used.ru_maxrss / 1024
    said = out.read_bytes().decode("utf-8", "replace") if out.exists() else ""
    found.meetings += 1
    found.slowest_s = max(found.slowest_s, spent_s)
    found.most_mb = max(found.most_mb, mb)
    code = os.waitstatus_to_exitcode(status)
    wrong = {
        "killed or crashed": code < 0,
        "a fault of our own": code in (70, 99) or "Traceback" in said,
        f"slow, {spent_s:.1f} s": spent_s > SLOWEST_S,
        f"memory, {mb:.0f} MB (loaded: {before_mb:.0f})": mb > MOST_MB,
        "good files lost": not all(good in said for good in meeting.good),
        "control characters": CONTROLS.search(said) is not None,
        "a connection": "CONNECTED" in said,
        "a warning of a library": "Warning" in said,
        "silent": code == 1 and not said.strip(),
    }
    for what, is_so in wrong.items():
        if is_so:
            found.faults.append(f"{one.kind} / {one.name} / {' '.join(meeting.words[:2])}: {what}")
            found.kinds[what.partition(",")[0]] += 1
            print(found.faults[-1], ascii(said[-400:]), flush=True)


def main() -> int:
    """Let every hostile file meet every command; 0 where nothing was found."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--only", nargs="*", metavar="KIND", help="files of these kinds alone")
    options = parser.parse_args()
    load_the_program()
    found = Found()
    for one in hostile():
        if options.only and one.kind not in options.only:
            continue
        folder = Path(tempfile.mkdtemp(prefix="attack-"))
        try:
            wanted = meetings(one, folder)
            found.files += 1
            for meeting in wanted:
                met(one, meeting, folder, found)
        except OSError as impossible:
            print(f"{one.kind} / {one.name!a}: can't be made here ({impossible.strerror})")
        finally:
            shutil.rmtree(folder, ignore_errors=True)
    print(
        f"{found.files} hostile files, {found.meetings} meetings: {len(found.faults)} faults "
        f"{dict(found.kinds)}; slowest {found.slowest_s:.1f} s of processor time, "
        f"most memory {found.most_mb:.0f} MB."
    )
    return 1 if found.faults else 0


def load_the_program() -> None:
    """Everything the commands need, once."""
    import trainer.app.morning
    import trainer.app.practice_ready
    import trainer.app.settings_applied
    import trainer.cli
    import trainer.coach.words
    import trainer.commands.expected_notes
    import trainer.ear.hear
    import trainer.ear.transcribe
    import trainer.figures.take_measures
    import trainer.journal.export
    import trainer.journal.index
    import trainer.journal.lesson_page
    import trainer.journal.sessions_text
    import trainer.score.container
    import trainer.score.exercise
    import trainer.sound.soundfile_io
    import trainer.studio.overview_text  # noqa: F401

    with contextlib.suppress(ImportError):
        import matplotlib.figure  # noqa: F401


if __name__ == "__main__":
    sys.exit(main())
