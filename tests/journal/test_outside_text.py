"""Nothing that others wrote commands a terminal, a spreadsheet or a browser.

Control functions: ECMA-48; DEL, C1; bidirectional controls: Unicode Annex 9; formulas: OWASP, 'CSV
Injection'; strings of style sheets: CSS Syntax Level 3, section 4.3.5.
"""

from __future__ import annotations

import ast
import contextlib
import csv
import io
import os
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import numpy as np
import pytest
from rich.segment import Segment
from textual.app import ComposeResult
from textual.color import Color
from textual.widgets import Static

from tests.browser import browsed, needs_chromium
from tests.sources import TRAINER, modules, parsed
from trainer import cli
from trainer.disk.missing_library import install_words
from trainer.disk.outside_text import cell, is_harmless, visible, without_unseen
from trainer.journal.encode import session_text
from trainer.journal.export import notes_csv
from trainer.journal.lesson_page import lesson_page
from trainer.journal.log import SessionLog
from trainer.journal.week_summary import week
from trainer.paper.page_words import css_string
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.screens.appearance import Appearance, HarmlessFilter

PROJECT = Path(__file__).parents[2]
TITLE_SET = "\x1b]0;taken\x07"
CLIPBOARD = "\x1b]52;c;dGFrZW4=\x1b\\"
CLEARED = "\x9b2J"
TURNED = "\u202eevil\u2066"
HOSTILE = f"A{TITLE_SET}B{CLIPBOARD}C{CLEARED}D{TURNED}E\x00\x7f\r\x85"


def test_each_command_to_a_terminal_becomes_a_sign() -> None:
    assert visible(TITLE_SET) == "␛]0;taken␇"
    assert visible("a\r\nb\tc\n") == "a\r\nb\tc\n"
    assert visible("a\rb") == "a␍b"
    assert visible("\x7f\x9b\u202e\ud800") == "␡���"
    assert visible("Ä♯🎵 שלום") == "Ä♯🎵 שלום"
    assert is_harmless(visible(HOSTILE))
    assert without_unseen(TITLE_SET) == "]0;taken"


def raw_controls(text: str) -> list[str]:
    return [sign for sign in text.replace("\r\n", "\n") if sign not in "\n\t" and (
        ord(sign) < 32 or 0x7F <= ord(sign) <= 0x9F or sign in "\u202a\u202b\u202c\u202d\u202e"
        "\u2066\u2067\u2068\u2069")]  # fmt: skip


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, a_session: SessionLog) -> Path:
    """A practice folder in which every word is hostile."""
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path))
    rounds = tuple(
        replace(one, title=HOSTILE, exercise_id=HOSTILE, advice=HOSTILE, felt=HOSTILE, key=HOSTILE)
        for one in a_session.rounds
    )
    log = replace(
        a_session, student=HOSTILE, routine_title=HOSTILE, remark=HOSTILE, felt=HOSTILE,
        instrument=HOSTILE, rounds=rounds,
    )  # fmt: skip
    (tmp_path / "journal").mkdir()
    file = tmp_path / "journal" / f"2026-11-20 {TITLE_SET.replace('/', '')}.yaml"
    file.write_text(session_text(log), encoding="utf-8")
    (tmp_path / "journal" / f"2026-11-21{CLEARED}.yaml").write_text(f'a: "\\e]0;x{HOSTILE[:1]}"')
    return tmp_path


WORDS = [
    ["journal"],
    ["journal", "show", "last"],
    ["journal", "export"],
    ["journal", "export", "--form", "json"],
    ["journal", "long", "--to", "2026-12-01"],
    ["week", "--ending", "2026-11-21"],
    ["week", "--ending", "2026-11-21", "--json"],
    ["check", f"no{TITLE_SET}file.yaml"],
    ["listen", f"no{TITLE_SET}sound.wav"],
    ["import", f"no{TITLE_SET}score.mxl"],
    [TITLE_SET],
]


@pytest.mark.parametrize("words", WORDS, ids=lambda words: " ".join(words)[:24].replace("\x1b", ""))
def test_nothing_raw_is_printed(
    home: Path, words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert home
    with contextlib.suppress(SystemExit):  # argparse's own end, after its own sentence
        cli.main(words)
    out, err = capsys.readouterr()
    assert out or err
    assert raw_controls(out) == []
    assert raw_controls(err) == []


def test_no_module_prints_past_the_plain_streams() -> None:
    """`sys.__stderr__` is the screen's own way, whose lines pass a filter."""
    allowed = {
        "sound/process.py", "sound/engine.py", "screens/appearance.py", "commands/plain_output.py",
        "commands/practise_today.py", "screens/pixels/terminal_pixels.py",
    }  # fmt: skip
    past = {"__stdout__", "__stderr__"}
    found = set()
    for file in modules():
        name = file.relative_to(TRAINER).as_posix()
        for node in ast.walk(parsed(file)):
            if isinstance(node, ast.Attribute) and (
                node.attr in past
                or (
                    node.attr == "buffer"
                    and ast.unparse(node.value) in ("sys.stdout", "sys.stderr")
                )
                or ast.unparse(node) == "os.write"
            ):
                found.add(name)
    assert found <= allowed


def test_only_one_module_escapes_for_pages() -> None:
    found = [
        file.relative_to(PROJECT).as_posix()
        for file in (PROJECT / "trainer").rglob("*.py")
        if "from html import" in file.read_text(encoding="utf-8")
    ]
    assert found == []


class HostileApp(Appearance):
    def compose(self) -> ComposeResult:
        yield Static(HOSTILE, markup=False)
        yield Static(f"[b]{HOSTILE}[/b]")


async def test_no_line_of_a_screen_holds_a_command() -> None:
    app = HostileApp()
    async with app.run_test(size=(80, 24)):
        assert any(isinstance(one, HarmlessFilter) for one in app.get_line_filters())
        lines = ["".join(s.text for s in line) for line in app.screen._compositor.render_strips()]
    assert "A]0;takenB" in "".join(lines)
    assert raw_controls("\n".join(lines)) == []


async def test_what_is_said_in_the_corner_is_words() -> None:
    """To Textual '[/b]' is markup that closes nothing, and '[@click=…]' something to press."""
    app, said = HostileApp(), "rooms.yaml: '[/b] [@click=app.bell]here[/]' is no room"
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        app.notify(said)
        await pilot.pause()
        (toast,) = app.query("Toast")
        assert str(toast.render()) == said


def test_the_filter_leaves_textuals_own_commands() -> None:
    own = Segment("\x1b[2J", None, [(1,)])  # type: ignore[list-item]
    kept = HarmlessFilter().apply([own, Segment("\x1b[2Ja")], Color(0, 0, 0))
    assert [segment.text for segment in kept] == ["\x1b[2J", "[2Ja"]


def test_a_routine_with_commands_in_it_is_a_mistake_with_its_line() -> None:
    text = 'title: T\nexercises:\n- scale: a\n  key: C major\n  words: "x\\e]0;taken\\a"\n'
    routine, problems = read_routine(text, "m.yaml")
    assert routine is None
    assert [(one.line, "can't be printed" in one.what) for one in problems] == [(5, True)]


@pytest.mark.parametrize("begins", ["=", "+", "-", "@", "\t", "\r", "\n", "＝"])
def test_no_cell_of_the_export_is_a_formula(begins: str, a_session: SessionLog) -> None:
    words = f'{begins}HYPERLINK("http://x")'
    rounds = tuple(replace(one, title=words, key=words) for one in a_session.rounds)
    log = replace(a_session, student=words, routine_title=words, rounds=rounds)
    rows = list(csv.reader(io.StringIO(notes_csv([log]))))
    numbers = [cell for row in rows[1:] for cell in row if cell.startswith("-")]
    assert all(float(number) < 0 for number in numbers)
    assert [one for row in rows for one in row if one[:1] and one[0] in "=+@\t\r\n＝"] == []
    assert cell(words) == "'" + words


STEALING = (
    'x"; } body { background: url(http://127.0.0.1:{port}/css) } @import "http://127.0.0.1:{port}/i'
    '"; /* </style><img src=http://127.0.0.1:{port}/img><script src=http://127.0.0.1:{port}/js>'
    "</script><link rel=stylesheet href=http://127.0.0.1:{port}/link>\\"
)


def test_a_string_of_a_style_sheet_ends_where_we_end_it() -> None:
    string = css_string('a"b\\c</style>\nRock & Roll')
    assert string == r'"a\000022 b\00005c c\00003c /style\00003e \00000a Rock \000026  Roll"'


@pytest.fixture
def listener() -> object:
    """A server on the loopback that notes every request."""
    asked: list[str] = []

    class Noting(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            return

    server = HTTPServer(("127.0.0.1", 0), Noting)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield server.server_port, asked
    server.shutdown()
    server.server_close()


def _sheet(words: str) -> str:
    from trainer.score.sheet import sheet_html

    quoted = words.replace("'", "''")
    routine, problems = read_routine(
        f"title: '{quoted}'\nwords: '{quoted}'\nexercises:\n- scale: a\n  key: C major\n", "m.yaml"
    )
    assert routine is not None, problems
    return sheet_html(routine, plan(routine, date(2026, 11, 23), seed=0), date(2026, 11, 23))


def _lesson(words: str, log: SessionLog) -> str:
    log = _said(words, log)
    return lesson_page(week((log,), log.day), (log,))


def _said(words: str, log: SessionLog) -> SessionLog:
    rounds = tuple(replace(one, title=words, advice=words, key=words) for one in log.rounds)
    return replace(log, student=words, routine_title=words, remark=words, rounds=rounds)


PAGES = {
    "sheet": ["sheet", "m.yaml", "--day", "2026-11-23", "--out"],
    "week": ["week", "--ending", "2026-11-23", "--page"],
    "student": ["studio", "studio", "--ending", "2026-11-23", "A<b>", "--page"],
    "studio": ["studio", "studio", "--ending", "2026-11-23", "--page"],
    "day": ["studio", "studio", "--ending", "2026-11-23", "--day"],
    "keys": ["keys", "--page"],
    "reference": ["reference", "--page"],
}
"""Every page there is, by the command that writes it."""


def _page(
    words: list[str], hostile: str, log: SessionLog, home: Path, monkeypatch: pytest.MonkeyPatch
) -> str:
    """The page that a command writes, with hostile words wherever others may put them."""
    monkeypatch.chdir(home)
    monkeypatch.setenv("TRAINER_HOME", str(home))
    quoted = hostile.replace("'", "''")[:190]
    (home / "m.yaml").write_text(
        f"title: '{quoted}'\nwords: '{quoted}'\nexercises:\n- scale: a\n  key: C major\n"
    )
    for folder in (home / "journal", home / "studio" / "A<b>"):
        (folder / "from teacher").mkdir(parents=True)
        (folder / "2026-11-20.yaml").write_text(session_text(_said(hostile, log)))
        (folder / "from teacher" / "note.yaml").write_text(
            f"version: 1\nwritten: 2026-11-20 18:00:00+01:00\nnote: '{quoted}'\n"
        )
    assert cli.main([*words, "page.html"]) == 0
    return (home / "page.html").read_text(encoding="utf-8")


@needs_chromium
@pytest.mark.slow
@pytest.mark.parametrize("page", [*PAGES, "unguarded"])
def test_a_real_browser_asks_for_nothing(
    page: str,
    listener: tuple[int, list[str]],
    tmp_path: Path,
    a_session: SessionLog,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    port, asked = listener
    words = STEALING.replace("{port}", str(port))
    if page == "unguarded":
        html = f'<!DOCTYPE html><style>a {{ content: "{words}</style>'
    else:
        html = _page(PAGES[page], words, a_session, tmp_path, monkeypatch)
        assert (str(port) in html) == (page not in ("keys", "reference")), "the words are on it"
    browsed(html, tmp_path, f"--print-to-pdf={tmp_path / 'page.pdf'}")
    assert bool(asked) == (page == "unguarded"), "the listener hears what isn't guarded"


def test_a_name_between_dollar_signs_is_no_formula_on_a_page(a_session: SessionLog) -> None:
    """matplotlib's documentation, 'Writing mathematical expressions': '$' begins and ends one."""
    assert r"$\frac{$" in _lesson(r"$\frac{$", a_session)


def test_every_page_forbids_loading_anything(a_session: SessionLog) -> None:
    from trainer.screens.key_card import card_page

    for html in (_sheet("Rock & Roll"), _lesson("x", a_session), card_page()):
        assert html.index("Content-Security-Policy") < html.index("<style>")
        assert "default-src 'none'" in html
    assert r"Rock \000026  Roll ·" in _sheet("Rock & Roll").replace(" ·", " ·")


Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """The trainer in a process of its own, at home in the test's folder."""

    def call(*words: str, **options: object) -> subprocess.CompletedProcess[str]:
        environment = dict(os.environ, TRAINER_HOME=str(tmp_path / "home"), PYTHONPATH=str(PROJECT))
        environment |= options.pop("env", {})  # type: ignore[operator]
        given = {"capture_output": True, "text": True, "timeout": 300} | options
        command = [sys.executable, "-m", "trainer", *words]
        return subprocess.run(command, env=environment, cwd=tmp_path, **given)  # type: ignore[call-overload,no-any-return]

    return call


def test_a_screen_that_nobody_sees_is_refused(run: Run, tmp_path: Path) -> None:
    with (tmp_path / "out.txt").open("w") as out:
        done = run(
            "practise", capture_output=False, stdout=out, stderr=out, stdin=subprocess.DEVNULL
        )
    assert done.returncode == 1
    assert "needs a terminal" in (tmp_path / "out.txt").read_text()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
@pytest.mark.parametrize("words", [["keys"], ["reference"], ["journal", "schema"]])
def test_a_full_device_is_told_in_a_sentence(run: Run, words: list[str]) -> None:
    with Path("/dev/full").open("w") as full:
        done = run(*words, capture_output=False, stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 1
    assert done.stderr == "What was said can't be written: No space left on device.\n"


def test_an_ascii_terminal_is_spoken_to_in_ascii(run: Run) -> None:
    done = run("keys", env={"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"})
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.isascii()


def test_a_home_of_nobody_is_a_place_like_another(run: Run) -> None:
    done = run("week", env={"TRAINER_HOME": "~nosuchuser/x"})
    assert done.returncode == 0
    assert "Traceback" not in done.stderr


def test_a_fault_of_our_own_is_a_sentence_and_the_log_tells_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from trainer.commands import keys_page

    def broken(_: object) -> int:
        raise ZeroDivisionError("planted" + TITLE_SET)

    monkeypatch.setenv("TRAINER_HOME", str(tmp_path))
    monkeypatch.setattr(keys_page, "_keys", broken)
    assert cli.main(["keys"]) == cli.OWN_FAULT
    assert "Something went wrong in the trainer itself" in capsys.readouterr().err
    log = (tmp_path / "trainer.log").read_text()
    assert "ZeroDivisionError: planted" in log
    assert raw_controls(log) == [], "a log is shown in a terminal"


def test_ctrl_c_stops_with_a_word(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from trainer.commands import keys_page

    def stopped(_: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(keys_page, "_keys", stopped)
    assert cli.main(["keys"]) == cli.STOPPED
    assert capsys.readouterr().err == "Stopped.\n"


@pytest.mark.skipif(os.name != "posix", reason="POSIX modes")
def test_what_is_kept_is_for_the_student_alone(run: Run, tmp_path: Path) -> None:
    from trainer.disk.whole_file import write_new
    from trainer.sound.kept_takes import keep_take

    old = os.umask(0o022)
    try:
        new = write_new(tmp_path / "home" / "journal", "2026-11-23", b"x: 1\n")
        from datetime import datetime

        silence = np.zeros(100, np.float32)
        takes = tmp_path / "home" / "takes"
        take = keep_take(takes, silence, 48000, datetime(2026, 11, 23), "Scale", 10.0)
    finally:
        os.umask(old)
    run("journal", "long")
    kept = [path for path in (tmp_path / "home").rglob("*") if path.is_file()]
    assert {new, take} < set(kept), "and the index"
    for path in kept:
        assert path.stat().st_mode & 0o777 == 0o600, path
    for folder in (tmp_path / "home", new.parent, take.parent):
        assert folder.stat().st_mode & 0o777 == 0o700, folder


@pytest.mark.parametrize("typed", ["0001-01-01", "9999-12-31", "2026-02-30", "some day"])
def test_a_day_at_the_edge_of_time_is_not_understood(
    typed: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        cli.main(["week", "--ending", typed])
    assert "is no day" in capsys.readouterr().err


def test_what_is_advised_to_install_is_never_our_own_name() -> None:
    """An index may hold anything under it."""
    assert install_words("verovio").endswith("-m pip install verovio")
    assert install_words("verovio", prefix="/home/x/.local/pipx/venvs/y") == (
        "pipx inject flute-practice-trainer verovio"
    )
    for file in (PROJECT / "trainer").rglob("*.py"):
        assert "pip install 'flute" not in file.read_text(encoding="utf-8"), file
