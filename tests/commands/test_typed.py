"""What is typed is taken where it is plain, in any order, and refused in plain words."""

from __future__ import annotations

import re
from datetime import date
from html import unescape

import pytest

from trainer.cli import _understood, main
from trainer.commands.typed_day import Lies, typed_day
from trainer.errors import TrainerError
from trainer.paper.manual_page import manual_page
from trainer.routine.desk_texts import reference

SUNDAY = date(2026, 11, 29)
"""ISO 8601's day 2026-W48-7."""


@pytest.mark.parametrize(
    ("typed", "behind", "ahead"),
    [
        ("2026-11-23", "2026-11-23", "2026-11-23"),
        ("20261123", "2026-11-23", "2026-11-23"),
        ("29.11.2026", "2026-11-29", "2026-11-29"),
        ("1. 12. 2026", "2026-12-01", "2026-12-01"),
        ("3.12.", "2025-12-03", "2026-12-03"),
        ("29 November", "2026-11-29", "2026-11-29"),
        ("30 Nov", "2025-11-30", "2026-11-30"),
        ("29th november, 2025", "2025-11-29", "2025-11-29"),
        ("December 3", "2025-12-03", "2026-12-03"),
        ("29-Feb", "2024-02-29", "2028-02-29"),
        ("Today", "2026-11-29", "2026-11-29"),
        ("yesterday", "2026-11-28", "2026-11-28"),
        ("tomorrow", "2026-11-30", "2026-11-30"),
        ("monday", "2026-11-23", "2026-11-30"),
        ("Sun", "2026-11-29", "2026-11-29"),
        ("29/11/2026", "2026-11-29", "2026-11-29"),
        ("4/4/2026", "2026-04-04", "2026-04-04"),
    ],
)
def test_a_day_as_people_write_it(typed: str, behind: str, ahead: str) -> None:
    assert str(typed_day(typed, SUNDAY, Lies.BEHIND)) == behind
    assert str(typed_day(typed, SUNDAY, Lies.AHEAD)) == ahead


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("3/4/2026", "could be 4 March or 3 April: write 2026-03-04 or 2026-04-03"),
        ("30.2.2026", "no day 30 in February 2026"),
        ("5.13.2026", "no day 5 in month 13"),
        ("soon", "'soon' is no day. Write it as 2026-11-29"),
        ("29.11.26", "no day. Write it as"),
        ("t", "no day"),
        ("ma 3", "no day"),
    ],
)
def test_what_is_no_day_or_may_be_two(typed: str, said: str) -> None:
    with pytest.raises(TrainerError, match=re.escape(said)):
        typed_day(typed, SUNDAY, Lies.BEHIND)


@pytest.mark.parametrize(
    "words",
    [
        "preview a.yaml --day 2026-11-30 --json",
        "preview --day 30.11.2026 --json a.yaml",
        "--json preview --day 30 November 2026 a.yaml",
        "--day 30 november 2026 --json preview a.yaml",
        "preview --js a.yaml --day=2026-11-30",
    ],
)
def test_options_stand_anywhere(words: str) -> None:
    options = _understood(words.split())
    assert (str(options.routine), options.day, options.json) == (
        "a.yaml", date(2026, 11, 30), True,
    )  # fmt: skip


def test_names_on_both_sides_of_an_option() -> None:
    options = _understood(["studio", "school", "--json", "Ada", "--order", "attention", "Bo"])
    assert (options.students, options.order) == (["Ada", "Bo"], "attention")
    options = _understood(["studio", "school", "Ada", "--note", "Slow", "scales"])
    assert (options.students, options.note) == (["Ada"], ["Slow", "scales"])
    assert [str(file) for file in _understood(["check", "a", "--json", "b"]).files] == ["a", "b"]


def test_options_alone_are_for_todays_practice() -> None:
    assert _understood(["--lines", "--player"]).player == "student"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("chek a.yaml", "There is no command 'chek'. Did you mean 'check'?"),
        ("morning.yaml", "write: trainer practise --routine morning.yaml"),
        ("check", "Something is missing: name FILE."),
        ("check --levl x a", "no option '--levl' here. Did you mean '--level'?"),
        ("preview a --day soon", "--day: 'soon' is no day. Write it as"),
        ("preview a --day", "--day: say which"),
        ("preview a b", "'b' is one word too many"),
        ("takes --speed fast", "--speed: 'fast' is no number."),
        ("takes --keep maybe", "--keep: 'maybe' is none of these: yes or no."),
        ("listen a --midi b --notes c", "can't be asked for together"),
        ("week --json=3", "--json takes nothing after it"),
        ("new expert", "none of these: beginner, intermediate or advanced."),
        ("journal shw", "Did you mean 'show'?"),
    ],
)
def test_a_refusal_in_plain_words(words: str, said: str, capsys: pytest.CaptureFixture) -> None:
    with pytest.raises(SystemExit) as ended:
        main(words.split())
    told = capsys.readouterr().err
    assert ended.value.code == 2
    assert said in told
    assert not re.search(r"usage|argument|error|invalid|choose from|positional", told)


def test_the_reference_as_a_page_says_the_same_words() -> None:
    page = manual_page(reference())
    text = re.sub(r"<[^>]+>", " ", page.partition("<body>")[2])
    words = re.sub("```yaml|```", "", reference())
    ours, theirs = (re.sub(r"[`#\-\s]", "", one) for one in (unescape(text), words))
    assert ours == theirs
