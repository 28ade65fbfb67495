"""Every number the overview shows, counted again from the YAML in plain Python.

Nothing of the trainer's reading or counting is used here, only a YAML parser.
"""

from __future__ import annotations

import json
import re
from collections import defaultdict
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import yaml

from trainer.studio.overview import overview
from trainer.studio.overview_text import overview_json, overview_text

ENDING = date(2026, 11, 25)
WEEK = [ENDING - timedelta(days=back) for back in range(6, -1, -1)]
LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


def sessions_in(folder: Path) -> list[dict[str, Any]]:
    files = sorted(folder.glob("*.yaml"))
    found = [yaml.load(file.read_text(encoding="utf-8"), Loader=LOADER) for file in files]
    for session in found:
        assert isinstance(session["started"], datetime)
    # PyYAML turns times to UTC or keeps their offset; the file's own text has the local day
    for session, file in zip(found, files, strict=True):
        session["day"] = date.fromisoformat(
            re.search(r"^started: (\d{4}-\d\d-\d\d)", file.read_text("utf-8"), re.MULTILINE)[1]  # type: ignore[index]
        )
    return found


def last_rounds(sessions: list[dict[str, Any]], days: int) -> list[tuple[date, dict[str, Any]]]:
    return [
        (session["day"], round_)
        for session in sessions
        if 0 <= (ENDING - session["day"]).days < days
        for round_ in session["rounds"]
    ]


def second_fastest(rounds: list[dict[str, Any]]) -> float | None:
    tempos = sorted((r["tempo_bpm"] for r in rounds if r.get("secure") is True), reverse=True)
    return tempos[1] if len(tempos) > 1 else None


def knots_again(sessions: list[dict[str, Any]]) -> list[dict[str, Any]]:
    by_name: dict[tuple[str, str], list[tuple[date, dict[str, Any]]]] = defaultdict(list)
    for day, round_ in last_rounds(sessions, 42):
        if round_["kind"] == "knot":
            by_name[round_["exercise"], "–".join(round_["knot"])].append((day, round_))
    found = []
    for (exercise, title), played in by_name.items():
        days = sorted({day for day, _ in played})
        judged = [r["secure"] for _, r in played if "secure" in r]
        still = judged and judged[-2:] != [True, True] and days[-1] in WEEK
        if len(days) > 1 and still:
            found.append({"title": title, "exercise_id": exercise, "rounds": len(played),
                          "days": len(days), "first_day": str(days[0]),
                          "last_day": str(days[-1])})  # fmt: skip
    return found


def tempos_again(sessions: list[dict[str, Any]]) -> list[dict[str, Any]]:
    places = {
        (r["exercise"], r["articulation"])
        for _, r in last_rounds(sessions, 42)
        if r["kind"] in ("technique", "speed climb", "passage")
    }
    found = []
    for exercise, articulation in sorted(places):
        all_six = [
            (day, r)
            for day, r in last_rounds(sessions, 42)
            if (r["exercise"], r["articulation"]) == (exercise, articulation)
            and r["kind"] in ("technique", "speed climb", "passage")
        ]
        late = [(day, r) for day, r in all_six if (ENDING - day).days < 21]
        early = [r for day, r in all_six if (ENDING - day).days >= 21]
        held, before = second_fastest([r for _, r in late]), second_fastest(early)
        tries = [
            day for day, r in late if r.get("secure") is False and r["tempo_bpm"] > (held or 0)
        ]
        enough = sum("secure" in r for r in early) >= 5
        enough = enough and len(tries) >= 5 and len(set(tries)) >= 3
        if enough and (held is None or (before is not None and held <= before)):
            found.append({"exercise_id": exercise, "articulation": articulation,
                          "held_bpm": held, "held_before_bpm": before, "tries": len(tries),
                          "days": len(set(tries))})  # fmt: skip
    return found


def weeks_again(sessions: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Six weeks, the last of them ending with the day asked for."""
    found = []
    for back in (35, 28, 21, 14, 7, 0):
        last = ENDING - timedelta(days=back)
        logs = [each for each in sessions if last - timedelta(days=7) < each["day"] <= last]
        lasted_s = [max(e["elapsed_s"], sum(r["seconds"] for r in e["rounds"])) for e in logs]
        told = [r["secure"] for each in logs for r in each["rounds"] if "secure" in r]
        found.append({"ending": str(last), "minutes": pytest.approx(sum(lasted_s) / 60),
                      "days": len({each["day"] for each in logs}),
                      "judged_rounds": len(told), "clean_rounds": told.count(True)})  # fmt: skip
    return found


def test_every_number_of_the_overview(studio: Path, state: Path) -> None:
    told = overview_json(overview(studio, state, ENDING))
    students: Any = told["students"]
    assert [each["folder"] for each in students] == sorted(each.name for each in studio.iterdir())
    assert (told["first_day"], told["ending"]) == (str(WEEK[0]), str(ENDING))
    knots, tempos = 0, 0
    for student in students:
        sessions = sessions_in(studio / student["folder"])
        check_days(student, sessions)
        check_exercises(student, studio / student["folder"], sessions)
        assert student["knots"] == knots_again(sessions)
        assert student["tempos"] == tempos_again(sessions)
        assert student["weeks"] == weeks_again(sessions)
        knots += len(student["knots"])
        tempos += len(student["tempos"])
    assert knots, "the invented studio has an open knot"
    assert tempos, "the invented studio has a stuck tempo"


def check_days(student: dict[str, Any], sessions: list[dict[str, Any]]) -> None:
    assert [day["day"] for day in student["days"]] == list(map(str, WEEK))
    for day in student["days"]:
        of_day = [each for each in sessions if str(each["day"]) == day["day"]]
        played_s = [sum(r["seconds"] for r in each["rounds"]) for each in of_day]
        lasted_s = [max(each["elapsed_s"], s) for each, s in zip(of_day, played_s, strict=True)]
        assert day["sessions"] == len(of_day)
        assert day["rounds"] == sum(len(each["rounds"]) for each in of_day)
        assert day["minutes"] == pytest.approx(sum(lasted_s) / 60)
        assert day["played_minutes"] == pytest.approx(sum(played_s) / 60)
    week = [each for each in sessions if each["day"] in WEEK]
    assert student["minutes"] == pytest.approx(sum(day["minutes"] for day in student["days"]))
    assert student["days_practised"] == len({each["day"] for each in week})
    assert student["last_day"] == str(max(each["day"] for each in sessions))


def check_exercises(student: dict[str, Any], folder: Path, sessions: list[dict[str, Any]]) -> None:
    routine = yaml.safe_load((folder / "routines" / sessions[-1]["routine_file"]).read_text())
    kinds = ("long tones", "scale", "speed climb", "passage")
    ids = [next(entry[kind] for kind in kinds if kind in entry) for entry in routine["exercises"]]
    assert student["assigned"]["routine"] == routine["title"]
    assert [each["exercise_id"] for each in student["done"]] == ids
    for each in student["done"]:
        rounds = [
            (day, r) for day, r in last_rounds(sessions, 7) if r["exercise"] == each["exercise_id"]
        ]
        assert each["days_done"] == len({day for day, _ in rounds})
        assert each["rounds"] == len(rounds)
        assert each["played_minutes"] == pytest.approx(sum(r["seconds"] for _, r in rounds) / 60)
    assert student["exercises_done"] == sum(each["days_done"] > 0 for each in student["done"])


def test_the_text_shows_these_numbers(studio: Path, state: Path) -> None:
    found = overview(studio, state, ENDING)
    text = overview_text(found)
    for student in found.students:
        (line,) = [line for line in text.splitlines() if line.startswith(f"  {student.folder}  ")]
        if not student.practised:
            assert str(student.last_day.day) in line if student.last_day else True
            continue
        cells = line.removeprefix(f"  {student.folder}").split()
        expected = [f"{day.minutes:.0f}" if day.sessions else "·" for day in student.days]
        done = [str(student.exercises_done), "of", str(len(student.done))]
        assert cells == [*expected, f"{student.minutes:.0f}", *done]
    assert json.dumps(overview_json(found))
