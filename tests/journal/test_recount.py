"""Every number of the week, counted again from the YAML files by code that knows no trainer."""

from __future__ import annotations

import io
import json
import os
import re
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.sweeps import slow_but_for
from trainer import cli
from trainer.journal.encode import session_text
from trainer.journal.log import SessionLog

from . import recount
from . import recount_page as expected
from .odd_weeks import ENDING, ODD, OddWeeks
from .page_reading import Plot, Section, sections, text

SEEDS = range(3)
WEEKS = {
    **{f"seed {seed}": (lambda seed=seed: OddWeeks(seed).weeks(), ENDING) for seed in SEEDS},
    **ODD,
}
QUICK_WEEKS = ("seed 0", "nothing", "one round", "two trainers at once", "clocks go back")


@dataclass(frozen=True)
class Told:
    """What the trainer says of some weeks, and what was counted."""

    sessions: list[recount.Facts]
    json: object
    page: dict[str, Section]
    facts: recount.Facts


@pytest.fixture(scope="module", params=slow_but_for(QUICK_WEEKS, WEEKS))
def told(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Told:
    """Through the commands, from files on disk, in a home of its own."""
    pytest.importorskip("matplotlib", reason="the plots need the optional extra 'pages'")
    make, ending = WEEKS[request.param]
    home = tmp_path_factory.mktemp("home")
    write(make(), home / "journal")
    with pytest.MonkeyPatch.context() as patched:
        patched.setitem(os.environ, "TRAINER_HOME", str(home))
        said, complaints = io.StringIO(), io.StringIO()
        with redirect_stdout(said), redirect_stderr(complaints):
            assert cli.main(["week", "--json", "--ending", str(ending)]) == 0
        file = home / "lesson.html"
        with redirect_stdout(io.StringIO()), redirect_stderr(complaints):
            assert cli.main(["week", "--ending", str(ending), "--page", str(file)]) == 0
    assert complaints.getvalue() == ""
    counted = recount.sessions_in(home / "journal")
    page = sections(file.read_text(encoding="utf-8"))
    return Told(counted, json.loads(said.getvalue()), page, recount.week_of(counted, ending))


def write(sessions: list[SessionLog], folder: Path) -> None:
    folder.mkdir()
    for number, log in enumerate(sessions):
        (folder / f"{log.day} {number:02}.yaml").write_text(session_text(log), encoding="utf-8")


def differences(said: object, counted: object, place: str = "week") -> list[str]:
    """Where two trees of facts differ, numbers to a billionth."""
    if isinstance(said, dict) and isinstance(counted, dict):
        missing = [f"{place}.{key}: only one has it" for key in said.keys() ^ counted.keys()]
        both = [key for key in said if key in counted]
        return missing + [
            found
            for key in both
            for found in differences(said[key], counted[key], f"{place}.{key}")
        ]
    if isinstance(said, list) and isinstance(counted, list):
        if len(said) != len(counted):
            return [f"{place}: {len(said)} said, {len(counted)} counted"]
        pairs = enumerate(zip(said, counted, strict=True))
        return [found for n, pair in pairs for found in differences(*pair, f"{place}[{n}]")]
    numbers = isinstance(said, float) or isinstance(counted, float)
    same = said == pytest.approx(counted, rel=1e-9, abs=1e-9) if numbers else said == counted
    return [] if same else [f"{place}: {said!r} said, {counted!r} counted"]


def test_the_json_is_recounted(told: Told) -> None:
    assert differences(told.json, told.facts) == []


def test_a_wrong_number_would_be_found() -> None:
    said = {"a": [{"b": 1.0, "c": "x"}], "d": 3}
    assert differences(said, said) == []
    assert differences(said, {"a": [{"b": 1.001, "c": "x"}], "d": 4})[0].startswith("week.a[0].b")
    assert len(differences(said, {"a": [], "e": 3})) == 3


# The page: all its words with a figure in them, and where the marks of its plots stand


def shown(found: list[str], counted: list[str], what: str) -> list[str]:
    """What should be found: as many of the counted as there is room for, and how many more."""
    said = [words for words in found if not words.startswith("More ")]
    left = len(counted) - len(said)
    return counted[: len(said)] + ([f"More {what} in the journal: {left}."] if left else [])


def test_the_page_is_recounted(told: Told) -> None:
    found, facts = told.page, told.facts
    checked = {"At the lesson"}

    def words(title: str) -> list[str]:
        checked.add(title)
        return found[title].words if title in found else []

    assert words("") == expected.top(facts)
    assert words("One thing for next week") == expected.next_thing(facts)
    assert words("Minutes by day") == words("Playing by kind") == []
    asked = words("Asked and done")
    if facts["asked"]:
        cells = [each for each in asked if "More exercises" not in each][:-1]
        left = len(facts["asked"]) - len(cells) // 4
        assert cells == expected.asked(facts)[: len(cells)]
        assert (f"More exercises in the journal: {left}." in asked) == (left > 0)
    for one in facts["tuning"]:
        title = f"Tuning of the {one['instrument']}, each note over the week"
        assert words(title) in ([expected.tuning_words(one)], [])
    for title, counted, what in (
        ("Trouble spots", expected.spots(facts), "trouble spots"),
        ("Air and vibrato", expected.air(facts), "figures"),
        ("Your own words", expected.remarks(facts), "remarks"),
        ("To ask at the lesson", expected.to_ask(facts), "questions"),
    ):
        assert words(title) == shown(words(title), counted, what)
        assert (title in found) == bool(counted)
    gains = words("Better than last week")
    if facts["better"]:
        assert gains == shown(gains, expected.better(facts), "gains")
    else:
        assert gains == ["Nothing for sure yet."]
    scales = words("Scales and arpeggios")
    rows = len(found["Scales and arpeggios"].plots[0].said("evenness-words")) if scales else 0
    left = len(facts["techniques"]) - rows
    assert [f"More keys and articulations in the journal: {left}."] == scales[:-1] or left == 0
    evenness = {title for title in found if title.startswith("Evenness round by round")}
    assert set(found) <= checked | evenness, "no section goes unread"


def test_the_minutes_are_drawn_as_counted(told: Told) -> None:
    found, facts = told.page, told.facts
    (plot,) = found["Minutes by day"].plots
    assert plot.said("words") == expected.minutes(facts)
    if facts["minutes"] < 1:
        return
    value_of = reading(plot, "ytick")
    for place, day in enumerate(facts["days"]):
        bars = [bar_ends(plot, f"{name}-{place}") for name in ("playing", "rests")]
        heights = [abs(value_of(high) - value_of(low)) for low, high in bars]
        rests = day["minutes"] - day["played_minutes"]
        assert heights == pytest.approx([day["played_minutes"], rests], abs=0.02)
    if facts["kinds"]:
        (plot,) = found["Playing by kind"].plots
        assert plot.said("words") == expected.kinds(facts)
        assert plot.words()[: len(facts["kinds"])] == [
            kind["kind"].replace("knot", "trouble spot") for kind in facts["kinds"]
        ]


def test_the_tuning_is_drawn_as_counted(told: Told) -> None:
    found, facts = told.page, told.facts
    for one in facts["tuning"]:
        section = found.get(f"Tuning of the {one['instrument']}, each note over the week")
        if section is None or not section.plots:
            assert section is None or not expected.mapped(one)
            continue
        (plot,) = section.plots
        value_of = reading(plot, "ytick")
        notes = expected.mapped(one)
        drawn = [value_of(plot.places(f"mark-{place}")[0][1]) for place in range(len(notes))]
        assert drawn == pytest.approx([note["cents"]["median"] for note in notes], abs=0.02)
        assert plot.named(f"mark-{len(notes)}") is None
        marked = {n: text(mark) for n in range(len(notes))
                  if (mark := plot.named(f"words-{n}")) is not None}  # fmt: skip
        assert marked == expected.marked_notes(one)


def test_the_scales_are_drawn_as_counted(told: Told) -> None:
    found, facts = told.page, told.facts
    if not facts["techniques"]:
        assert "Scales and arpeggios" not in found
        return
    (plot,) = found["Scales and arpeggios"].plots
    said = plot.said("evenness-words")
    scales = expected.shown_scales(facts, len(said))
    assert said == [expected.evenness_words(scale) for scale in scales]
    assert plot.said("tempo-words") == [expected.tempo_words(scale) for scale in scales]
    even = reading(plot.within("evenness"), "xtick")
    tempo = reading(plot.within("tempo"), "xtick")
    for place, scale in enumerate(scales):
        if scale["evenness_ms"]:
            ((x, _),) = plot.places(f"evenness-{place}")
            assert even(x) == pytest.approx(scale["evenness_ms"]["median"], abs=0.02)
        if scale["evenness_change"]:
            ((x, _),) = plot.places(f"evenness-before-{place}")
            assert even(x) == pytest.approx(scale["evenness_change"]["before"], abs=0.02)
        if scale["secure_bpm"]:
            ((x, _),) = plot.places(f"tempo-{place}")
            assert tempo(x) == pytest.approx(scale["secure_bpm"], abs=0.05)


def test_the_rounds_are_drawn_as_counted(told: Told) -> None:
    found, facts = told.page, told.facts
    title = next((each for each in found if each.startswith("Evenness round by round")), None)
    if title is None:
        return
    key = title.removeprefix("Evenness round by round, ").replace("no key", "")
    (plot,) = found[title].plots
    ms_of = reading(plot, "ytick")
    now = [s for s in told.sessions
           if facts["first_day"] <= recount.day_of(s).isoformat() <= facts["ending"]]  # fmt: skip
    rounds = [round_ for round_ in recount.rounds_of(now)
              if round_["kind"] in recount.SCALES and round_.get("key", "") == key]  # fmt: skip
    counted = recount.evenness(rounds)
    names = [each["articulation"] for each in rounds if "evenness_ms" in each.get("measures", {})]
    drawn = [
        (x, ms_of(y), name)
        for name in dict.fromkeys(names)
        for x, y in plot.places(f"rounds-{name.replace(' ', '-')}")
    ]
    in_order = sorted(drawn)
    assert [ms for _, ms, _ in in_order] == pytest.approx([ms for ms, _ in counted], abs=0.02)
    assert [name for _, _, name in in_order] == names


def reading(plot: Plot, axis: str) -> Callable[[float], float]:
    """From a place on the drawing to the value its axis gives it."""
    start, slope = plot.axis(axis)
    return lambda place: start + slope * place


def bar_ends(plot: Plot, name: str) -> tuple[float, float]:
    """The lower and upper edge of a bar."""
    bar = plot.named(name)
    assert bar is not None
    (path,) = bar
    heights = [float(y) for y in re.findall(r"[ML] [\d.]+ ([\d.]+)", path.get("d", ""))]
    return max(heights), min(heights)
