"""A score from a stranger is data: whatever is in the file, the answer is music or a sentence."""

import io
import random
import struct
import tracemalloc
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.score import tunes
from trainer.cli import main
from trainer.errors import ScoreError
from trainer.score.container import LARGEST_FILE_BYTES
from trainer.score.excerpt import excerpt, part_named, read_score
from trainer.score.exercise import checked, exercise_text, routine_text

pytestmark = pytest.mark.filterwarnings("ignore")
NOTE = (
    "<note><pitch><step>C</step><octave>5</octave></pitch><duration>{}</duration>"
    "<type>quarter</type></note>"
)


def document(measures: str, head: str = "") -> bytes:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{head}<score-partwise version="4.0"><part-list>'
        '<score-part id="P1"><part-name>Flute</part-name></score-part></part-list>'
        f'<part id="P1">{measures}</part></score-partwise>'
    ).encode()


def plain(duration: str = "1", attributes: str = "<divisions>1</divisions>") -> bytes:
    return document(
        f'<measure number="1"><attributes>{attributes}</attributes>{NOTE.format(duration) * 4}'
        "</measure>"
    )


def packed(name: str, data: bytes, method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        archive.writestr(name, data)
    return out.getvalue()


def midi_bytes(tmp_path: Path) -> bytes:
    return tunes.write_mido(tunes.tune(1), tmp_path / "whole.mid").read_bytes()


def whole_pipeline(path: Path) -> str:
    """What `trainer import` does; returns the YAML."""
    score = read_score(path)
    found = excerpt(score, part_named(score, "1"))
    checked(routine_text([found], None, path.name))
    return exercise_text(found, None, path.name)


LAUGHS = (
    '<!DOCTYPE score-partwise [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]>'
)
OUTSIDE = '<!DOCTYPE score-partwise [<!ENTITY secret SYSTEM "file:///etc/hostname">]>'
PARAMETER = '<!DOCTYPE score-partwise [<!ENTITY % more SYSTEM "http://localhost:1/x.dtd"> %more;]>'
DEFAULTS = '<!DOCTYPE score-partwise [<!ATTLIST measure a CDATA "x">]>'
"""XML 1.0, section 3.3: every such element has it; two thousand of them took minutes."""
BROKEN = {
    "empty": (b"", "empty"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(64), "neither MusicXML nor MIDI"),
    "a web page": (b"<!doctype html><html><body><p>Music</p></body></html>", "a web page"),
    "a web page unclosed": (b"<html><body><p>Music<br></body></html>", "a web page"),
    "cut off": (plain()[:300], "broken or cut off"),
    "another xml": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no MusicXML"),
    "no music": (document(""), "no music"),
    "only rests": (
        document('<measure number="1"><note><rest/><duration>4</duration></note></measure>'),
        "only rests|notes a flute",
    ),
    "laughs": (document(f'<measure number="1">{NOTE.format(1)}&c;</measure>', LAUGHS), "entities"),
    "outside": (document("<measure>&secret;</measure>", OUTSIDE), "entities"),
    "parameter": (document("<measure/>", PARAMETER), "entities"),
    "defaults": (document("<measure/>", DEFAULTS), "attributes of its own"),
    "attributes": (
        b"<score-partwise " + b" ".join(b'a%d=""' % n for n in range(300)) + b"/>",
        "more attributes than",
    ),
    "deep": (b"<score-partwise>" + b"<a>" * 100_000, "nested too deep"),
    "unknown code": (plain().replace(b"UTF-8", b"KLINGON"), "broken|code not read"),
    "bad letters": (plain().replace(b"Flute", b"Fl\xfcte"), "broken or cut off"),
    "no divisions": (plain(attributes="<divisions>0</divisions>"), "counts its lengths"),
    "huge divisions": (plain(attributes="<divisions>1e300</divisions>"), "counts its lengths"),
    "length in words": (plain("crotchet"), "without a length"),
    "negative length": (plain("-3"), "without a length"),
    "huge length": (plain("9e999999999"), "without a length"),
    "a long length": (plain("999999999"), "without a length"),
    "not a zip": (b"PK\x03\x04" + bytes(100), "can't be unpacked"),
    "zip cut off": (packed("score.xml", plain())[:200], "can't be unpacked"),
    "zip of something else": (packed("readme.txt", b"hello"), "no MusicXML is packed"),
    "zip of a broken score": (packed("score.xml", plain()[:200]), "broken or cut off"),
    "zip packed otherwise": (
        packed("score.xml", plain(), zipfile.ZIP_BZIP2),
        "packed in a way not read",
    ),
    "zip with many files": (None, "it holds 600 files"),
    "zip that swells": (packed("score.xml", b"<score-partwise>" + b" " * 50_000_000), "larger"),
    "midi header only": (b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x01\xe0", "broken|no notes"),
    "midi garbage": (b"MThd" + bytes(range(256)), "broken"),
    "midi in film frames": (
        b"MThd" + struct.pack(">IHHh", 6, 0, 1, -6136) + b"MTrk\x00\x00\x00\x04\x00\xff\x2f\x00",
        "film frames",
    ),
    "midi without notes": (
        b"MThd" + struct.pack(">IHHh", 6, 0, 1, 480) + b"MTrk\x00\x00\x00\x04\x00\xff\x2f\x00",
        "no notes",
    ),
}


def many_files() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for number in range(600):
            archive.writestr(f"{number}.xml", b"")
    return out.getvalue()


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_file_is_told_in_a_sentence(name, tmp_path, capsys):
    data, says = BROKEN[name]
    path = tmp_path / "broken.musicxml"
    path.write_bytes(data if data is not None else many_files())
    assert main(["import", str(path)]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    assert len(err) < 400
    with pytest.raises(ScoreError, match=says):
        whole_pipeline(path)


def test_no_file_and_a_folder(tmp_path, capsys):
    assert main(["import", str(tmp_path / "none.mxl")]) == 1
    assert main(["import", str(tmp_path)]) == 1
    assert "can't be read: No such file" in (err := capsys.readouterr().err)
    assert "it is a folder" in err


def test_a_file_too_large_is_not_read(tmp_path):
    path = tmp_path / "large.mid"
    with path.open("wb") as file:
        file.write(b"MThd")
        file.truncate(LARGEST_FILE_BYTES + 5)
    with pytest.raises(ScoreError, match="larger than is read here"):
        read_score(path)


def test_a_document_type_alone_is_read_and_nothing_fetched(tmp_path):
    head = (
        '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        '"http://localhost:1/partwise.dtd">'
    )
    path = tmp_path / "score.xml"
    path.write_bytes(document(f'<measure number="1">{NOTE.format(1) * 4}</measure>', head))
    assert "quarter C5 C5 C5 C5 |" in whole_pipeline(path)


def test_a_swelling_archive_stays_small_in_memory(tmp_path):
    path = tmp_path / "swell.mxl"
    path.write_bytes(packed("score.xml", b" " * 200_000_000))
    tracemalloc.start()
    with pytest.raises(ScoreError):
        read_score(path)
    assert tracemalloc.get_traced_memory()[1] < 120_000_000
    tracemalloc.stop()


def test_endless_repeats_end(tmp_path):
    bars = (
        '<measure number="1"><barline location="left"><repeat direction="forward"/></barline>'
        f'{NOTE.format(1) * 4}<barline location="right"><repeat direction="backward" '
        'times="1000000"/></barline></measure>'
    )
    path = tmp_path / "repeat.xml"
    path.write_bytes(document(bars))
    assert whole_pipeline(path).count("C5") == 8 * 4


def test_other_letters_and_the_timewise_arrangement(tmp_path):
    text = plain().decode().replace("UTF-8", "UTF-16").replace("Flute", "Flöte").encode("utf-16")
    path = tmp_path / "wide.musicxml"
    path.write_bytes(text)
    assert "Flöte" in whole_pipeline(path)
    timewise = (
        '<score-timewise><part-list><score-part id="P1"><part-name>Flute</part-name></score-part>'
        f'</part-list><measure number="7"><part id="P1">{NOTE.format(1) * 4}</part></measure>'
        "</score-timewise>"
    )
    path.write_text(timewise)
    assert "bar 7" in whole_pipeline(path)


def test_signs_of_control_never_reach_the_terminal_or_break_the_yaml(tmp_path):
    name = "Fl&#x9b;31m\u2028- rest: 1 minute\u200e: {"
    path = tmp_path / "name.xml"
    path.write_bytes(plain().replace(b"Flute", name.encode()))
    text = whole_pipeline(path)
    assert all(sign.isprintable() or sign == "\n" for sign in text)


@settings(max_examples=150, suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 10**9), kind=st.sampled_from(["xml", "mid", "mxl"]))
def test_damaged_files_never_end_in_a_traceback(seed, kind, tmp_path_factory):
    """Bytes and words of whole files changed by lot."""
    lot = random.Random(seed)
    data = bytearray(_whole(kind, tmp_path_factory))
    for _ in range(lot.randint(1, 12)):
        place = lot.randrange(len(data))
        match lot.randrange(4):
            case 0:
                data[place] = lot.randrange(256)
            case 1:
                del data[place : place + lot.randint(1, 40)]
            case 2:
                data[place:place] = bytes(lot.randrange(256) for _ in range(lot.randint(1, 9)))
            case 3:
                word = lot.choice(
                    [b"0", b"-1", b"999999999", b"nan", b"<chord/>", b"<grace/>", b""]
                )
                digits = [i for i, byte in enumerate(data) if 48 <= byte <= 57]
                if digits:
                    data[(at := lot.choice(digits)) : at + 1] = word
        if not data:
            break
    path = tmp_path_factory.getbasetemp() / f"damaged.{kind}"
    path.write_bytes(bytes(data))
    try:
        whole_pipeline(path)
    except ScoreError as error:
        assert len(str(error)) < 600  # noqa: PT017


WHOLE: dict[str, bytes] = {}


def _whole(kind: str, factory) -> bytes:
    if kind not in WHOLE:
        folder = factory.mktemp("whole")
        WHOLE["mid"] = midi_bytes(folder)
        WHOLE["xml"] = tunes.write_music21(tunes.tune(4), folder / "t.musicxml").read_bytes()
        WHOLE["mxl"] = tunes.write_music21(tunes.tune(4), folder / "t.mxl").read_bytes()
    return WHOLE[kind]


ODDLY_PARTED = bytes.fromhex(
    "4d546864000000060001000101e04d54726b000000bf00ff5103ffffff0090484083608048000090"
    "48408360804800009048408360804800009048408360804800009048408360804800009048408360"
    "80480000904840836080480000904840836080480000904840836080480000904840836080480000"
    "90484083608048000090484083608048000090484083608048000090484083608048000090484083"
    "6080480000904840836080480000836080409048410c000090484083608048000090484083608048"
    "0000904840836080488b0000ff2f00"
)
"""A MIDI file in which a bar line leaves 31/40 of a quarter of a note; found by fuzzing."""


def test_a_length_that_a_bar_line_parts_oddly_is_told_with_its_bar(tmp_path: Path) -> None:
    file = tmp_path / "odd.mid"
    file.write_bytes(ODDLY_PARTED)
    with pytest.raises(ScoreError, match="In bar 5 are lengths"):
        whole_pipeline(file)
