"""The sheet: every shipped routine engraved, its systems whole, apart from each other, on A4."""

import io
import re
import sys
from dataclasses import replace
from datetime import date
from functools import cache
from html import escape
from itertools import pairwise, product
from pathlib import Path
from random import Random
from xml.etree import ElementTree

import pytest
import verovio

from tests.sweeps import mostly_slow
from trainer.cli import main
from trainer.commands import music_files
from trainer.errors import ScoreError, TrainerError
from trainer.music.instrument import instrument_named
from trainer.music.pitch import Pitch
from trainer.paper.pdf import pdf, places_mm
from trainer.routine.load import load_routine, read_routine
from trainer.routine.plan import PlannedExercise, plan
from trainer.score import engraving
from trainer.score.engraving import LINE_MM, STAFF_MM, EngravedSystem, systems
from trainer.score.fingering_chart import AwkwardPlace, awkward_changes, change_svg, change_words
from trainer.score.musicxml_out import measures_of, musicxml
from trainer.score.sections import sections
from trainer.score.sheet import shared_on, sheet_html
from trainer.score.sheet_pages import (
    CHANGES_IN_A_ROW,
    NAMED_MM,
    PAGE_MM,
    EntryHeights,
    PageAsked,
    heights_of,
    pages_for,
)

SHIPPED = sorted((Path(__file__).parents[2] / "routines").glob("*.yaml"))
DAYS = (date(2026, 1, 5), date(2026, 1, 10))
SVG = "{http://www.w3.org/2000/svg}"
C_FLUTE = instrument_named("C flute")
A4_TEXT_HEIGHT_MM = 297 - 12 - 15


def sheet(text: str, day: date = DAYS[0]) -> str:
    """All on one page."""
    routine, problems = read_routine(text, "test")
    assert routine is not None, problems
    planned = plan(routine, day, 0)
    return sheet_html(routine, planned, day, [PageAsked(tuple(range(len(planned))))])


@cache
def every_system() -> tuple[tuple[str, EngravedSystem], ...]:
    found = []
    for file in SHIPPED:
        routine, _ = load_routine(file)
        assert routine is not None
        instrument = instrument_named(routine.instrument)
        for day in DAYS:
            for section in sections(plan(routine, day, 0)):
                lines = systems(section.round, instrument, {}, ())
                found += [(f"{file.stem}, {section.title}", line) for line in lines]
    return tuple(found)


def numbers(pattern: str, text: str) -> list[tuple[int, ...]]:
    return [tuple(map(int, found)) for found in re.findall(pattern, text)]


def test_the_staff_is_as_high_as_we_say_and_nothing_leaves_the_line():
    """Staff lines as drawn: five, four spaces high; marks between the drawing's edges."""
    for name, system in every_system():
        box = numbers(r'viewBox="0 (-?\d+) (\d+) (\d+)"', system.svg)[0]
        top, width, height = box
        assert width <= LINE_MM * 100
        ElementTree.fromstring(system.svg)
        lines = numbers(r"M(\d+) (\d+) L(\d+) (\d+)", system.svg)
        staff = sorted({y for x, y, to_x, to_y in lines if y == to_y and to_x - x > 500})
        assert len(staff) == 5, name
        assert (staff[-1] - staff[0]) / 100 == pytest.approx(STAFF_MM, abs=0.05)
        placed = numbers(r"<use [^>]*translate\((-?\d+), (-?\d+)\)", system.svg)
        assert all(0 <= x <= width and top <= y <= top + height for x, y in placed), name


def test_no_two_note_heads_and_no_breath_and_head_collide():
    """A black note head is 1.18 spaces wide in the music font's own metadata: about 2.1 mm."""
    head_width = 205
    seen = 0
    for name, system in every_system():
        heads = numbers(r'class="notehead">\s*<use [^>]*translate\((\d+), (-?\d+)\)', system.svg)
        for (x, _), (next_x, _) in zip(sorted(heads), sorted(heads)[1:], strict=False):
            assert next_x - x >= head_width, name
        breaths = numbers(r'class="breath">\s*<use [^>]*translate\((\d+), (-?\d+)\)', system.svg)
        seen += len(breaths)
        for x, y in breaths:
            near = [head_y for head_x, head_y in heads if abs(head_x - x) < 500]
            assert all(head_y - y >= 300 for head_y in near), name
    assert seen > 20


@pytest.mark.slow
def test_every_note_is_on_paper():
    """Note heads on the sheet against the notes of the plan, ties counted from the MusicXML."""
    for file in SHIPPED:
        routine, _ = load_routine(file)
        for section in sections(plan(routine, DAYS[0], 0)):
            lines = systems(section.round, C_FLUTE, {}, ())
            heads = sum(line.svg.count('class="notehead"') for line in lines)
            toolkit = verovio.toolkit()
            toolkit.loadData(musicxml("x", [section], C_FLUTE).decode())
            ties = toolkit.getMEI().count("<tie ")
            notes = section.round.notes
            graces = sum(len(note.graces) for note in notes)
            assert heads - ties == len(notes) + graces, section.title


@pytest.mark.parametrize("file", mostly_slow(SHIPPED, 6), ids=lambda file: file.stem)
def test_every_shipped_routine_makes_a_sheet(file):
    routine, _ = load_routine(file)
    planned = plan(routine, DAYS[0], 0)
    page = sheet_html(routine, planned, DAYS[0])
    assert page.count('<section class="exercise"') == sum(bool(one.rounds) for one in planned)
    for exercise in planned:
        assert escape(exercise.title[1:]) in page or not exercise.rounds


PRINTED = [file for file in SHIPPED if file.stem in ("morning", "piccolo", "first_try")]


@pytest.mark.parametrize("file", mostly_slow(PRINTED, 1), ids=lambda file: file.stem)
def test_a_shipped_routine_goes_on_a4_paper(file):
    pypdf = pytest.importorskip("pypdf")
    pytest.importorskip("weasyprint")
    routine, _ = load_routine(file)
    made = pdf(sheet_html(routine, plan(routine, DAYS[0], 0), DAYS[0]))
    read = pypdf.PdfReader(io.BytesIO(made))
    assert 1 <= len(read.pages) <= 6
    fonts = {}
    for page in read.pages:
        width_mm, height_mm = (float(edge) * 25.4 / 72 for edge in page.mediabox[2:])
        assert (round(width_mm), round(height_mm)) == (210, 297)
        for name, font in (page["/Resources"].get("/Font") or {}).items():
            fonts[name] = font.get_object()
    for font in fonts.values():
        descendant = font["/DescendantFonts"][0].get_object()
        assert "/FontFile2" in descendant["/FontDescriptor"] or (
            "/FontFile3" in descendant["/FontDescriptor"]
        )
    text = " ".join(page.extract_text() for page in read.pages)
    assert routine.title in text


def test_the_pages_say_all_the_teacher_said():
    page = sheet(
        """
title: Two & three <things>
words: First words.
exercises:
- scale: of the day
  key: G
  range: two octaves
  articulations: [slurred, double, air-only silent]
  aims: {cents: 15}
  words: |
    A sentence that goes on
    in the next line.
    Another one.
- rest: 2 minutes
  words: Flute down.
- read: Read <this>.
- speed climb: faster
  key: G
  range: two octaves
  from: 60
  to: 90
  within: 5 minutes
"""
    )
    for expected in (
        "<h1>Two &amp; three &lt;things&gt;</h1>",
        "A sentence that goes on in the next line.<br>Another one.",
        "double <i>t k</i>",
        "air-only silent <i>(h)</i>",
        "within 15 cents",
        "Rest, 2 minutes",
        "Read &lt;this&gt;.",
        "60 towards 90",
        "The notes of number 1.",
    ):
        assert expected in page
    assert ">(h)<" in page
    assert "http://" not in page.replace("http://www.w3.org/", "")


def test_a_closing_tag_in_the_title_does_not_leave_its_place():
    page = sheet("title: 'x</style><script>alert(1)</script>\"'\nexercises:\n- rest: 1 minute\n")
    assert "<script" not in page
    assert "</style><script" not in page


def test_awkward_places_are_the_quick_hard_ones():
    text = "title: x\nexercises:\n- scale: s\n  key: G\n  range: two octaves\n  tempo: {}\n"
    for tempo, shown in ((60, True), (20, False)):
        routine, _ = read_routine(text.format(tempo) + "  rhythm: eighths\n", "x")
        round_ = plan(routine, DAYS[0], 0)[0].rounds[0]
        found = awkward_changes(round_.notes, C_FLUTE, round_.beat_s)
        assert ((Pitch.parse("C5"), Pitch.parse("D5")) in found) is shown


def test_the_drawing_shows_the_fingering_of_both_notes():
    """C5: first finger of the left hand and E flat key; D5: the standard Boehm fingering (see
    the sources named in instruments.yaml).
    """
    place = AwkwardPlace("a", Pitch.parse("C5"), Pitch.parse("D5"))
    drawing = ElementTree.fromstring(change_svg(place, C_FLUTE))
    rows = drawing.findall(f"{SVG}g")
    pressed = [
        sum(shape.get("fill") == "black" for shape in row.iter(f"{SVG}rect")) for row in rows
    ]
    assert pressed == [len(C_FLUTE.fingering(place.low)), len(C_FLUTE.fingering(place.high))]
    rings = [sum(shape.get("fill") == "none" for shape in row.iter(f"{SVG}rect")) for row in rows]
    change = C_FLUTE.finger_change(place.low, place.high)
    assert rings == [len(change.fingers)] * 2
    words = change_words(place, C_FLUTE)
    assert words == "down: left thumb 2 3, right 1 2 3; up: left 1, right little finger"


def test_without_the_library_a_sentence_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "verovio", None)
    with pytest.raises(ScoreError, match="pip install verovio"):
        engraving._verovio()


def test_without_the_pdf_library_too(monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(TrainerError, match=r"print them from a browser"):
        pdf("<p>x</p>")


@pytest.mark.parametrize("suffix", [".html", ".svg", ".musicxml", ".mid"])
def test_the_command_writes_each_kind(suffix, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path / "home"))
    out = tmp_path / f"sheet{suffix}"
    first_try = next(str(file) for file in SHIPPED if file.stem == "first_try")
    assert main(["sheet", first_try, "--out", str(out), "--day", "2026-01-05"]) == 0
    assert capsys.readouterr().out.strip() == str(out)
    assert out.stat().st_size > 300


def test_without_a_name_no_file_of_the_folder_is_written_over(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setitem(music_files._MAKERS, ".pdf", lambda *_: b"new")
    Path("first_try.pdf").write_bytes(b"mine")
    first_try = next(str(file) for file in SHIPPED if file.stem == "first_try")
    assert main(["sheet", first_try, "--day", "2026-01-05"]) == 0
    assert capsys.readouterr().out.strip() == "first_try-2.pdf"
    kept = [Path(name).read_bytes() for name in ("first_try.pdf", "first_try-2.pdf")]
    assert kept == [b"mine", b"new"]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--out", "x.docx"], "write a name that ends in .pdf, .html"),
        (["--exercise", "nothing"], "--exercise: write one of first scale"),
        (["--out", "/nowhere/x.mid"], "can't be written"),
    ],
)
def test_what_cannot_be_made_is_said(arguments, says, capsys, monkeypatch, tmp_path):
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path))
    first_try = next(str(file) for file in SHIPPED if file.stem == "first_try")
    assert main(["sheet", first_try, *arguments]) == 1
    assert says in capsys.readouterr().err


def test_patterns_stand_with_their_slurs_and_parts_by_name():
    """Each pattern as a pattern to go on with; of a passage practised backwards the whole."""
    html = sheet("""
title: T
exercises:
- scale: s
  key: C
  articulations: [slur 2 tongue 2, single]
- passage: p
  practise: backwards
  notes: quarter C5 D5 E5 F5 | G5 F5 E5 D5 | whole C5
""")
    assert html.count("Round 1: slur 2 tongue 2") == 1
    assert "<b>2</b>&nbsp;last 2 bars" in html
    assert "begins:" not in html
    boxes = re.findall(r'class="reh".*?>([\d ]+)</tspan>', html, re.DOTALL)
    assert boxes == ["2", "1"]


def test_syllables_stand_under_every_note_and_say_whose_they_are():
    """Two octaves of C in sixteenths: 29 notes; t k t k under all of them, by round."""
    html = sheet("""
title: T
exercises:
- scale: s
  key: C
  range: two octaves
  articulations: [double, slurred, reverse double]
""")
    music = html.partition("<svg")[2]
    sung = re.findall(r">([tk])</tspan>", music)
    assert sorted(sung) == sorted("tk" * 29)
    assert re.findall(r">(\d)\.</tspan>", music) == ["1", "3"]


def test_what_goes_on_has_no_double_bar():
    """The final bar line (MusicXML's light-heavy) ends music, not the beginning of a round."""
    routine, _ = read_routine("title: T\nexercises:\n- {scale: s, key: C}\n", "t")
    round_ = plan(routine, DAYS[0], 0)[0].rounds[0]
    for goes_on in (False, True):
        bars = measures_of(round_, C_FLUTE, goes_on=goes_on)
        assert any(bar.find("barline") is not None for bar in bars) is not goes_on


def test_a_list_of_plain_notes_has_no_signature():
    html = sheet("""
title: T
defaults: {key: F sharp, tempo: 60}
exercises:
- long tones: l
  notes: [G5, D5]
- voicing: h
  form: harmonics
  roots: [C4]
  partials: 6
""")
    assert "keySig" not in html or 'class="keyAccid"' not in html
    assert html.count(">own<") == 6
    assert html.count(">C4<") == 5


def random_day(random: Random) -> tuple[list[PlannedExercise], float, list[EntryHeights]]:
    routine, _ = read_routine("title: T\nexercises:\n- {scale: s, key: C}\n", "t")
    exercise = plan(routine, DAYS[0], 0)[0]
    planned, heights = [], []
    for _ in range(random.randint(1, 8)):
        rest_s = random.choice([0.0, 0.0, 60.0])
        if random.random() < 0.25:
            planned.append(replace(exercise, rounds=(), rest_s=rest_s))
            heights.append(EntryHeights(random.uniform(8, 40)))
            continue
        planned.append(replace(exercise, rest_s=rest_s))
        fingers = frozenset(random.sample(range(6), random.randint(0, 4)))
        whole, shown = random.uniform(40, 200), 18.0 * -(-len(fingers) // CHANGES_IN_A_ROW)
        heights.append(EntryHeights(whole + shown, whole / 2, random.randint(0, 3), shown, fingers))
    return planned, random.uniform(15, 40), heights


def test_no_bar_or_two_stand_alone_on_a_last_line():
    """A line is set a little closer where that saves one that would be nearly empty."""
    for file in SHIPPED:
        if file.stem not in ("study_with_signs", "singing_lines"):
            continue
        routine, _ = load_routine(file)
        assert routine is not None
        for exercise in plan(routine, DAYS[0], 0):
            for round_ in exercise.rounds[:1]:
                lines = systems(round_, C_FLUTE, {}, ())
                assert len(lines) == 1 or lines[-1].width_mm > LINE_MM / 3, exercise.title


def test_pages_are_as_few_as_can_be():
    """Against every way there is to part the day into pages."""
    random = Random(4)
    for _ in range(60):
        planned, heading_mm, heights = random_day(random)
        found = pages_for(planned, heading_mm, heights)
        assert [n for page in found for n in page.entries] == list(range(len(planned)))
        fewest = len(planned)
        for cuts in product([False, True], repeat=len(planned) - 1):
            ends = [n + 1 for n, cut in enumerate(cuts) if cut] + [len(planned)]
            groups = list(pairwise([0, *ends]))
            fits = (
                end == first + 1
                or page_mm(heights[first:end]) + heading_mm * (first == 0) <= PAGE_MM
                for first, end in groups
            )
            if all(fits):
                fewest = min(fewest, len(groups))
        assert len(found) == fewest


def page_mm(entries: list[EntryHeights]) -> float:
    """Equal notes and fingerings counted once, a row of fingerings as one."""
    total, music, fingers = 0.0, set(), set()
    for one in entries:
        rows = -(-len(one.changes - fingers) // CHANGES_IN_A_ROW)
        total += one.whole_mm - one.fingers_mm + 18.0 * rows
        if one.music is not None and one.music in music:
            total -= max(0.0, one.music_mm - NAMED_MM)
        music.add(one.music)
        fingers |= one.changes
    return total


@pytest.mark.parametrize("name", ["morning", "patterns_and_triple_tongue"])
@pytest.mark.slow
def test_a_page_explains_its_own_letters_and_leads_to_no_other(name, tmp_path, monkeypatch):
    """As laid out by WeasyPrint: so many pages as were planned, read back by pypdf."""
    pypdf = pytest.importorskip("pypdf")
    pytest.importorskip("weasyprint")
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path / "home"))
    file = next(file for file in SHIPPED if file.stem == name)
    routine, _ = load_routine(file)
    planned = plan(routine, DAYS[0], 0)
    places = places_mm(sheet_html(routine, planned, DAYS[0], tight=True))
    pages = pages_for(planned, *heights_of(planned, shared_on(planned, C_FLUTE), places))
    html = sheet_html(routine, planned, DAYS[0], pages, tight=True)
    printed = pypdf.PdfReader(io.BytesIO(pdf(html))).pages
    assert len(printed) == len(pages)
    for page in html.split('<div class="sheet"')[1:]:
        drawn = set(re.findall(r'class="change"><b>(\w)', page))
        lettered = set(re.findall(r'class="fing">.*?>([a-z])<', page, re.DOTALL))
        assert lettered == drawn
        numbers_here = set(re.findall(r'class="number">(\d+)', page))
        assert set(re.findall(r"notes of number (\d+)", page)) <= numbers_here
    assert html.count('<div class="sheet"') == len(pages) - 1
