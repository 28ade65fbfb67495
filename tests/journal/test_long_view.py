"""The long view, counted again from the YAML in plain Python."""

from __future__ import annotations

import json
import random
import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta, timezone
from itertools import groupby
from pathlib import Path
from statistics import median, quantiles
from typing import Any

import pytest
import yaml

from demo.made_rounds import plain_round
from trainer.cli import main
from trainer.coach.advice import Topic
from trainer.journal.bests import KeyRest, resting_keys
from trainer.journal.encode import session_text
from trainer.journal.index import ask_index
from trainer.journal.log import NoteLog, RoundLog, SessionLog
from trainer.journal.long_text import long_json, long_text, steps
from trainer.journal.long_view import LongView, long_view
from trainer.journal.outline import PiecePlayed
from trainer.journal.periods import By, periods_between, usual_first_day
from trainer.music.note import Articulation
from trainer.routine.round import RoundKind

FIRST, LAST = date(2026, 2, 10), date(2026, 11, 25)
HERE = timezone(timedelta(hours=1))
KEYS = ("D major", "B flat major", "G minor", "")
KINDS = (RoundKind.TECHNIQUE, RoundKind.CLIMB, RoundKind.PASSAGE, RoundKind.LONG_TONES)


def sessions() -> Iterator[SessionLog]:
    lucky = random.Random(4)
    for number in range((LAST - FIRST).days + 1):
        day = FIRST + timedelta(days=number)
        if day.weekday() == 6 or lucky.random() < 0.3 or day.month == 7:
            continue
        for at in (17,) if lucky.random() < 0.9 else (8, 17):
            started = datetime(day.year, day.month, day.day, at, 5, tzinfo=HERE)
            rounds = tuple(a_round(lucky, started, number) for _ in range(lucky.randrange(1, 7)))
            yield SessionLog(
                started=started,
                student="Ilse Varn",
                rounds=rounds,
                elapsed_s=round(lucky.uniform(300, 2400)),
                session_id=f"{started}",
            )


def a_round(lucky: random.Random, started: datetime, number: int) -> RoundLog:
    kind = lucky.choice(KINDS)
    notes = [
        NoteLog(name, cents=round(lucky.gauss(25 - number / 15, 5), 1))
        for name in lucky.sample(("C6", "D6", "A5"), 2)
    ]
    return plain_round(
        notes,
        started=started,
        seconds=round(lucky.uniform(10, 60), 1),
        exercise_id="x",
        title="Tide table" if kind is RoundKind.PASSAGE else "x",
        kind=kind,
        key=lucky.choice(KEYS) if kind in KINDS[:2] else "",
        articulation=lucky.choice((Articulation.SLURRED, Articulation.DOUBLE)),
        tempo_bpm=float(60 + 4 * lucky.randrange(0, 5) + 8 * (number > 200)),
        evenness_ms=round(abs(lucky.gauss(30 - number / 20, 2)), 1),
        topic=lucky.choice((Topic.SECURE, Topic.EVENNESS, None)),
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("journal")
    for log in sessions():
        (folder / f"{log.started:%Y-%m-%d_%H-%M-%S}.yaml").write_text(session_text(log))
    return folder


@pytest.fixture(scope="module")
def state(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("state")


@pytest.fixture
def view(folder: Path, state: Path) -> Callable[[By, date, date], LongView]:
    def asked(by: By, first: date, last: date) -> LongView:
        found, problems = ask_index(lambda i: long_view(i, by, first, last), [folder], state)
        assert problems == ()
        return found

    return asked


# Again, in plain Python


def plain_sessions(folder: Path) -> list[tuple[date, dict[str, Any]]]:
    return [
        (date.fromisoformat(file.name[:10]), yaml.safe_load(file.read_text()))
        for file in sorted(folder.glob("*.yaml"))
    ]


def month_again(day: date) -> str:
    return f"{day:%Y-%m}"


def week_again(day: date) -> str:
    year, week, _ = day.isocalendar()
    return f"{year}-{week:02}"


PERIOD_OF = {By.MONTH: month_again, By.WEEK: week_again, By.YEAR: lambda day: f"{day.year}"}


def spread_again(values: list[float]) -> dict[str, float] | None:
    if not values:
        return None
    low, _, high = quantiles(values, n=4, method="inclusive") if values[1:] else values * 3
    return {"median": median(values), "low": low, "high": high, "count": len(values)}


def second_fastest(rounds: list[dict[str, Any]]) -> float | None:
    secure = sorted(r["tempo_bpm"] for r in rounds if r.get("secure"))
    return secure[-2] if secure[1:] else None


CASES = [
    (By.MONTH, FIRST, LAST),
    (By.WEEK, date(2026, 9, 7), LAST),
    (By.MONTH, date(2026, 4, 15), date(2026, 9, 30)),
    (By.WEEK, date(2026, 6, 24), date(2026, 8, 11)),
    (By.YEAR, FIRST, LAST),
]


@pytest.mark.parametrize(("by", "first", "last"), CASES)
def test_every_number_of_the_long_view(
    folder: Path, view: Callable[..., LongView], by: By, first: date, last: date
) -> None:
    told: Any = json.loads(json.dumps(long_json(view(by, first, last))))
    shown = [(day, each) for day, each in plain_sessions(folder) if first <= day <= last]
    names = [PERIOD_OF[by](date.fromisoformat(each["first_day"])) for each in told["periods"]]
    assert names == sorted(set(names))
    by_period = {name: [] for name in names} | {  # type: ignore[var-annotated]
        name: list(each) for name, each in groupby(shown, lambda s: PERIOD_OF[by](s[0]))
    }
    assert list(by_period) == names, "no session outside the periods"
    columns = list(by_period.values())
    check_time(told, columns)
    check_courses(told, columns)
    check_tuning(told, columns)
    check_bests(told, [(d, s) for d, s in plain_sessions(folder) if d <= last])


def check_time(told: Any, columns: list[list[tuple[date, dict[str, Any]]]]) -> None:
    for spent, column in zip(told["time"], columns, strict=True):
        rounds = [r for _, s in column for r in s["rounds"]]
        a_day: dict[date, float] = defaultdict(float)
        for day, s in column:
            a_day[day] += max(s["elapsed_s"], sum(r["seconds"] for r in s["rounds"])) / 60
        assert spent["sessions"] == len(column)
        assert spent["days_practised"] == len(a_day)
        assert spent["minutes"] == pytest.approx(sum(a_day.values()))
        assert spent["played_minutes"] == pytest.approx(sum(r["seconds"] for r in rounds) / 60)
        assert spent["rounds"] == len(rounds)
        assert spent["judged_rounds"] == sum("secure" in r for r in rounds)
        assert spent["secure_rounds"] == sum(r.get("secure", False) for r in rounds)
        assert spent["minutes_a_day"] == pytest.approx(spread_again(list(a_day.values())))


def check_courses(told: Any, columns: list[list[tuple[date, dict[str, Any]]]]) -> None:
    assert told["courses"]
    for course in told["courses"]:
        scale, name = course["piece"]

        def belongs(r: dict[str, Any], scale: bool = scale, name: str = name) -> bool:
            if not scale:
                return bool(r["kind"] == "passage") and r["title"] == name
            keyed = r["kind"] in ("technique", "speed climb")
            return keyed and name in (r.get("key", ""), "all keys")

        rounds = [
            [r for _, s in column for r in s["rounds"]
             if belongs(r) and r["articulation"] == course["articulation"]]
            for column in columns
        ]  # fmt: skip
        usual = median(r["tempo_bpm"] for each in rounds for r in each)
        assert course["rounds"] == sum(map(len, rounds))
        assert course["usual_tempo_bpm"] == usual
        assert course["held_bpm"] == [second_fastest(each) for each in rounds]
        evenness = [
            [
                r["measures"]["evenness_ms"]
                for r in each
                if abs(r["tempo_bpm"] - usual) <= usual / 10
            ]
            for each in rounds
        ]
        assert course["evenness_ms"] == [pytest.approx(spread_again(each)) for each in evenness]


def check_tuning(told: Any, columns: list[list[tuple[date, dict[str, Any]]]]) -> None:
    names = {84: "C6", 86: "D6", 81: "A5"}
    assert [note["midi"] for note in told["tuning"]] == [81, 84, 86]
    for note in told["tuning"]:
        for cents, column in zip(note["cents"], columns, strict=True):
            medians = []
            for _, session in column:
                heard = [n["cents"] for r in session["rounds"] for n in r["notes"]
                         if n["note"] == names[note["midi"]]]  # fmt: skip
                medians += [median(heard)] if heard else []
            assert cents == pytest.approx(spread_again(medians))


def check_bests(told: Any, everything: list[tuple[date, dict[str, Any]]]) -> None:
    secure: dict[tuple[bool, str, str], list[tuple[float, date]]] = defaultdict(list)
    for day, session in everything:
        for r in session["rounds"]:
            if r.get("secure") and r["kind"] != "long tones":
                scale = r["kind"] != "passage"
                name = r.get("key", "") if scale else r["title"]
                secure[scale, name, r["articulation"]].append((r["tempo_bpm"], day))
    expected = {}
    for place, rounds in secure.items():
        fastest = sorted((tempo for tempo, _ in rounds), reverse=True)[1:2]
        for held in fastest:
            days = sorted(day for tempo, day in rounds if tempo >= held)
            expected[place] = (held, str(days[1]))
    assert expected
    assert expected == {
        (*best["piece"], best["articulation"]): (best["tempo_bpm"], best["held_on"])
        for best in told["bests"]
    }


def test_one_lucky_round_is_no_best(tmp_path: Path) -> None:
    started = datetime(2026, 11, 2, 17, tzinfo=HERE)
    for hour, tempo in ((8, 80.0), (12, 84.0), (17, 120.0)):
        at = started.replace(hour=hour)
        round_ = plain_round([], started=at, seconds=20, exercise_id="x", title="x",
                             key="D major", tempo_bpm=tempo, topic=Topic.SECURE)  # fmt: skip
        log = SessionLog(started=at, rounds=(round_,), session_id=str(at))
        (tmp_path / f"2026-11-02_{hour:02}-00-00.yaml").write_text(session_text(log))
    view, _ = ask_index(
        lambda index: long_view(index, By.WEEK, date(2026, 11, 2), LAST), [tmp_path], tmp_path / "s"
    )
    assert [best.tempo_bpm for best in view.bests] == [84]


def test_trends_are_told_of_what_was_planted(view: Callable[..., LongView]) -> None:
    """Evenness and tuning get better all year; minutes come as they come."""
    found = view(By.MONTH, FIRST, LAST)
    pooled = next(course for course in found.courses if course.piece.name == "all keys")
    assert pooled.evenness_trend
    assert pooled.evenness_trend.clear
    assert pooled.evenness_trend.a_period < 0
    assert all(note.trend and note.trend.clear and note.trend.a_period < 0 for note in found.tuning)
    assert found.minutes_trend is None or not found.minutes_trend.clear
    text = long_text(found)
    assert "nearer, steadily" in text
    assert "↘ steadily" in text


def test_few_months_say_nothing_of_a_trend(view: Callable[..., LongView]) -> None:
    found = view(By.MONTH, date(2026, 8, 1), LAST)
    assert found.minutes_trend is None
    assert "6 whole months are needed to say" in long_text(found)
    assert "steadily" not in long_text(found)


def test_the_text_shows_the_minutes_and_fits(view: Callable[..., LongView]) -> None:
    found = view(By.MONTH, FIRST, LAST)
    text = long_text(found)
    assert max(map(len, text.splitlines())) <= 80
    for period, spent in zip(found.periods, found.time, strict=True):
        (line,) = [
            line for line in text.splitlines() if line.startswith(f"  {period.first_day:%b %Y} ")
        ]
        if spent.sessions:
            assert re.search(rf"\b{spent.minutes:.0f} min, {spent.days_practised} day", line)
        else:
            assert line.endswith("·")


@pytest.mark.parametrize("by", list(By))
def test_periods_cover_every_day_once(by: By) -> None:
    lucky = random.Random(2)
    for _ in range(200):
        first = date(2024, 1, 1) + timedelta(days=lucky.randrange(900))
        last = first + timedelta(days=lucky.randrange(400))
        periods = periods_between(by, first, last)
        days = [
            each.first_day + timedelta(days=n)
            for each in periods
            for n in range((each.last_day - each.first_day).days + 1)
        ]
        assert days == [first + timedelta(days=n) for n in range((last - first).days + 1)]
        for each in periods:
            names = {PERIOD_OF[by](each.first_day), PERIOD_OF[by](each.last_day)}
            before, after = each.first_day - timedelta(days=1), each.last_day + timedelta(days=1)
            outside = {PERIOD_OF[by](before), PERIOD_OF[by](after)}
            assert len(names) == 1
            assert each.whole == (not names & outside)


def test_the_usual_view_is_twelve_periods() -> None:
    for last in (LAST, date(2026, 1, 31), date(2024, 2, 29), date(2026, 12, 31)):
        for by in (By.WEEK, By.MONTH):
            assert len(periods_between(by, usual_first_day(last, by), last)) == 12


def test_keys_that_sound_alike_are_one_and_resting_keys_come_longest_first() -> None:
    visits = {
        PiecePlayed(True, "G flat major"): LAST - timedelta(days=31),
        PiecePlayed(True, "D major"): LAST - timedelta(days=30),
        PiecePlayed(True, "A minor"): LAST - timedelta(days=90),
        PiecePlayed(False, "E major"): LAST,
    }
    rests = resting_keys(visits, LAST)
    assert rests[:2] == (
        KeyRest("A minor", LAST - timedelta(days=90)),
        KeyRest("F sharp major", LAST - timedelta(days=31)),
    )
    assert {rest.last_day for rest in rests[2:]} == {None}
    assert len(rests) == 23
    assert "D major" not in {rest.key for rest in rests}
    assert resting_keys({}, LAST) == ()


def test_steps_rise_with_the_values() -> None:
    assert steps([1, None, 2, 3]) == "▁·▅█" or steps([1, None, 2, 3]) == "▁·▄█"
    assert steps([5, 5]) == "▁▁"
    assert steps([None]) == "·"


def test_the_command(
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("TRAINER_HOME", str(tmp_path))
    (tmp_path / "journal").symlink_to(folder)
    assert main(["journal", "long", "--to", str(LAST)]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Ilse Varn, 1 February 2026 to 25 November 2026, by month")
    assert main(["journal", "long", "--from", "2026-11-02", "--to", str(LAST), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["by"] == "week"
    assert len(found["periods"]) == 4
    assert main(["journal", "long", "--from", "2030-01-01"]) == 0
    assert "0 sessions" in capsys.readouterr().out
