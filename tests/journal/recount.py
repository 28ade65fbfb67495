"""The week counted a second time, from the YAML files alone.

Written from the sentences of the README, the field's arithmetic and what each figure is said to
be; it imports nothing from the trainer, and shares with it only PyYAML, Python's `statistics` and
SciPy's rank-sum test.
"""

from __future__ import annotations

import itertools
import math
import re
import statistics
from collections import Counter
from datetime import UTC, date, timedelta
from pathlib import Path
from typing import Any

import pytest
import yaml
from scipy.stats import PermutationMethod, mannwhitneyu

Facts = dict[str, Any]

ARTICULATIONS = [
    "slurred", "legato tongue", "single", "air-only", "air-only silent", "double",
    "reverse double",
]  # fmt: skip
SCALES = ("technique", "speed climb")
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
SHARPS = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"]


def sessions_in(folder: Path) -> list[Facts]:
    """Every file of the folder, oldest first."""
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    files = sorted(folder.glob("*.yaml"))
    plain = [yaml.load(path.read_text(encoding="utf-8"), Loader=loader) for path in files]
    return sorted(plain, key=lambda session: session["started"].astimezone(UTC))


def day_of(session: Facts) -> date:
    day: date = session["started"].date()
    return day


def rounds_of(sessions: list[Facts]) -> list[Facts]:
    return [round_ for session in sessions for round_ in session.get("rounds") or []]


def week_of(sessions: list[Facts], ending: date) -> Facts:
    """What `trainer week --json` should say."""
    days = [ending - timedelta(days=back) for back in range(6, -1, -1)]
    days_before = [day - timedelta(days=7) for day in days]
    now = [session for session in sessions if day_of(session) in days]
    before = [session for session in sessions if day_of(session) in days_before]
    judged = [round_["secure"] for round_ in rounds_of(now) if "secure" in round_]
    judged_before = [round_["secure"] for round_ in rounds_of(before) if "secure" in round_]
    facts: Facts = {
        "first_day": days[0].isoformat(),
        "ending": ending.isoformat(),
        "student": next((s["student"] for s in reversed(now) if s.get("student")), ""),
        "days": [one_day(day, [s for s in now if day_of(s) == day]) for day in days],
        "days_before": len({day_of(session) for session in before}),
        "minutes_before": sum(length_s(session) for session in before) / 60,
        "kinds": kinds(rounds_of(now)),
        "asked": asked(now),
        "tuning": beside(tuning(now), tuning(before)),
        "techniques": techniques(rounds_of(now), rounds_of(before)),
        "troubles": troubles(rounds_of(now)),
        "knots": knots(rounds_of(now), rounds_of(before)),
        "air": air(now, before),
        "judged_rounds": len(judged),
        "secure_rounds": sum(judged),
        "judged_before": len(judged_before),
        "secure_before": sum(judged_before),
        "remarks": [remark for session in now for remark in remarks(session)],
        "sessions": len(now),
        "rounds": len(rounds_of(now)),
        "minutes": sum(length_s(session) for session in now) / 60,
        "days_practised": len({day_of(session) for session in now}),
    }
    facts["findings"] = findings(facts, now, before, lately(sessions, ending), ending)
    facts["better"] = better(facts["techniques"], now, before)
    facts["to_ask"] = to_ask(now, lately(sessions, ending), ending)
    facts["next_thing"] = next_thing(facts)
    return facts


def spread(values: list[float]) -> Facts | None:
    """Median and quartiles, interpolated linearly between values."""
    if not values:
        return None
    low, middle, high = statistics.quantiles(values * (2 if len(values) == 1 else 1), n=4,
                                             method="inclusive")  # fmt: skip
    assert middle == pytest.approx(statistics.median(values))
    return {"median": statistics.median(values), "low": low, "high": high, "count": len(values)}


def chance_says_no(before: list[float], now: list[float], chance: float = 0.01) -> bool:
    """Two-sided rank-sum test at 1 in 100, exact while there are at most 10,000 ways."""
    ways = math.comb(len(before) + len(now), len(now))
    method: Any = PermutationMethod(ways) if ways <= 10_000 else "asymptotic"
    return bool(mannwhitneyu(before, now, method=method).pvalue < chance)


# Time


def played_s(session: Facts) -> float:
    return sum(round_["seconds"] for round_ in session.get("rounds") or [])


def length_s(session: Facts) -> float:
    return max(session.get("elapsed_s", 0.0), played_s(session))


def one_day(day: date, sessions: list[Facts]) -> Facts:
    return {
        "day": day.isoformat(),
        "sessions": len(sessions),
        "rounds": len(rounds_of(sessions)),
        "minutes": sum(map(length_s, sessions)) / 60,
        "played_minutes": sum(map(played_s, sessions)) / 60,
    }


def kinds(rounds: list[Facts]) -> list[Facts]:
    seconds: dict[str, float] = {}
    for round_ in rounds:
        seconds[round_["kind"]] = seconds.get(round_["kind"], 0.0) + round_["seconds"]
    counts = Counter(round_["kind"] for round_ in rounds)
    return [
        {"kind": kind, "rounds": counts[kind], "played_minutes": seconds[kind] / 60}
        for kind in sorted(seconds, key=lambda kind: (-seconds[kind], kind))
    ]


def asked(sessions: list[Facts]) -> list[Facts]:
    ids = [each["exercise"] for session in sessions for each in session.get("asked") or []]
    return [asked_one(exercise, sessions) for exercise in dict.fromkeys(ids)]


def asked_one(exercise: str, sessions: list[Facts]) -> Facts:
    first_of_day: dict[date, Facts] = {}
    for session in sessions:
        for each in session.get("asked") or []:
            if each["exercise"] == exercise:
                first_of_day.setdefault(day_of(session), each)
    played = [
        (day_of(session), round_["seconds"])
        for session in sessions
        for round_ in session.get("rounds") or []
        if round_["exercise"] == exercise
    ]
    minutes = [each["minutes"] for each in first_of_day.values() if "minutes" in each]
    return {
        "exercise_id": exercise,
        "title": list(first_of_day.values())[-1].get("title") or exercise,
        "days_asked": len(first_of_day),
        "days_done": len({day for day, _ in played if day in first_of_day}),
        "minutes_asked": sum(minutes) if minutes else None,
        "played_minutes": sum(seconds for _, seconds in played) / 60,
        "rounds": len(played),
    }


# Tuning


def beside(maps: list[Facts], before: list[Facts]) -> list[Facts]:
    """Each note with where it was the week before."""
    was = {
        (one["instrument"], note["midi"]): note["cents"]["median"]
        for one in before
        for note in one["notes"]
    }
    for one in maps:
        for note in one["notes"]:
            note["before"] = was.get((one["instrument"], note["midi"]))
    return maps


def midi(written: str) -> int:
    letter, accidental, octave = re.fullmatch(r"([A-G])([#b]*)(-?\d)", written).groups()  # type: ignore[union-attr]
    return (
        12 * (int(octave) + 1) + SEMITONES[letter] + accidental.count("#") - accidental.count("b")
    )


def heard(sessions: list[Facts]) -> list[tuple[int, str, int, float]]:
    """MIDI number, spelling, semitones from the note asked for before, and cents."""
    found = []
    for round_ in rounds_of(sessions):
        before = None
        for note in round_.get("notes") or []:
            if note.get("state") == "extra":
                continue
            number = midi(note["note"])
            step = 0 if before is None else number - before
            before = number
            if note.get("state", "played") == "played" and "cents" in note:
                found.append((number, note["note"], step, note["cents"]))
    return found


def tuning(sessions: list[Facts]) -> list[Facts]:
    instruments = sorted({session.get("instrument", "flute") for session in sessions})
    maps = []
    for instrument in instruments:
        notes = heard([s for s in sessions if s.get("instrument", "flute") == instrument])
        if notes:
            numbers = sorted({number for number, *_ in notes})
            maps.append(
                {
                    "instrument": instrument,
                    "notes": [tuned(number, [n for n in notes if n[0] == number], both_ways(notes))
                              for number in numbers],
                }
            )  # fmt: skip
    return maps


def tuned(number: int, notes: list[tuple[int, str, int, float]], compared: int) -> Facts:
    names = Counter(name for _, name, _, _ in notes)
    most = max(names.values())
    up = [cents for _, _, step, cents in notes if step > 0]
    down = [cents for _, _, step, cents in notes if step < 0]
    apart = statistics.median(up) - statistics.median(down) if up and down else 0.0
    told = (
        len(up) >= 8
        and len(down) >= 8
        and abs(apart) >= 5
        and chance_says_no(down, up, 0.01 / compared)
    )
    return {
        "written": min(name for name, count in names.items() if count == most),
        "midi": number,
        "cents": spread([cents for *_, cents in notes]),
        "rising": spread(up),
        "falling": spread(down),
        "apart_cents": apart if told else None,
    }


def both_ways(notes: list[tuple[int, str, int, float]]) -> int:
    """How many notes were heard eight times going up and eight times coming down."""
    numbers = {number for number, *_ in notes}
    return sum(
        all(
            sum(other == number and step * way > 0 for other, _, step, _ in notes) >= 8
            for way in (1, -1)
        )
        for number in numbers
    )


def session_medians(sessions: list[Facts]) -> dict[tuple[str, int], list[float]]:
    medians: dict[tuple[str, int], list[float]] = {}
    for session in sessions:
        notes = heard([session])
        for number in {number for number, *_ in notes}:
            cents = [cents for other, _, _, cents in notes if other == number]
            key = (session.get("instrument", "flute"), number)
            medians.setdefault(key, []).append(statistics.median(cents))
    return medians


# Scales


def techniques(now: list[Facts], before: list[Facts]) -> list[Facts]:
    names = {(r.get("key", ""), r["articulation"]) for r in now if r["kind"] in SCALES}
    ordered = sorted(names, key=lambda name: (name[0], ARTICULATIONS.index(name[1])))
    return [technique(name, of_name(now, name), of_name(before, name)) for name in ordered]


def of_name(rounds: list[Facts], name: tuple[str, str]) -> list[Facts]:
    return [
        round_
        for round_ in rounds
        if round_["kind"] in SCALES and (round_.get("key", ""), round_["articulation"]) == name
    ]


def technique(name: tuple[str, str], now: list[Facts], before: list[Facts]) -> Facts:
    aims = [r["aims"]["evenness_ms"] for r in now if "evenness_ms" in r.get("aims", {})]
    return {
        "key": name[0],
        "articulation": name[1],
        "rounds": len(now),
        "tempo_bpm": spread([round_["tempo_bpm"] for round_ in now]),
        "evenness_ms": spread([ms for ms, _ in evenness(now)]),
        "evenness_change": evenness_change(evenness(before), evenness(now)),
        "aim_ms": min(aims) if aims else None,
        "secure_bpm": held_twice(now),
        "secure_before_bpm": held_twice(before),
    }


def evenness(rounds: list[Facts]) -> list[tuple[float, float]]:
    return [
        (round_["measures"]["evenness_ms"], round_["tempo_bpm"])
        for round_ in rounds
        if "evenness_ms" in round_.get("measures", {})
    ]


def evenness_change(before: list[tuple[float, float]], now: list[tuple[float, float]]) -> Any:
    """Five rounds in each week, at tempi within a tenth of each other."""
    if len(before) < 5 or len(now) < 5:
        return None
    tempo_before = statistics.median(bpm for _, bpm in before)
    tempo_now = statistics.median(bpm for _, bpm in now)
    if abs(tempo_now / tempo_before - 1) > 0.1:
        return None
    return change([ms for ms, _ in before], [ms for ms, _ in now])


def change(before: list[float], now: list[float]) -> Facts:
    was = statistics.median(before)
    return {
        "before": was,
        "change": statistics.median(now) - was,
        "clear": chance_says_no(before, now),
    }


def held_twice(rounds: list[Facts]) -> float | None:
    tempi = sorted(round_["tempo_bpm"] for round_ in rounds if round_.get("secure"))
    return tempi[-2] if len(tempi) > 1 else None


# Of one round


def measures_of(round_: Facts) -> Facts:
    """A round's measures from its notes' lines: what of them can be counted without onsets."""
    notes = round_["notes"]
    states = Counter(note.get("state", "played") for note in notes)
    off_ms = [note["off_ms"] for note in notes if "off_ms" in note]
    cents = [
        note["cents"]
        for note in notes
        if note.get("state", "played") == "played" and abs(note.get("cents", 99)) <= 65
    ]
    return {
        "played": states["played"],
        "missed": states["missed"],
        "extra": states["extra"],
        "evenness_ms": statistics.pstdev(off_ms) if len(off_ms) >= 6 else None,
        "cents_median": statistics.median(cents) if cents else None,
        "starts_unsure": sum(
            "start_certainty" in note and "start" not in note and "state" not in note
            for note in notes
        ),
    }


# Trouble


def troubles(rounds: list[Facts]) -> list[Facts]:
    found: dict[tuple[str, str], Facts] = {}
    for round_ in rounds:
        before = ""
        for note in round_.get("notes") or []:
            state = note.get("state", "played")
            if state == "extra":
                continue
            if state != "not judged":
                empty = {"before": before, "written": note["note"], "passes": 0, "missed": 0,
                         "blips": 0}  # fmt: skip
                step = found.setdefault((before, note["note"]), empty)
                step["passes"] += 1
                step["missed"] += state == "missed"
                step["blips"] += state == "played" and bool(note.get("blip"))
            before = note["note"]
    often = [step for step in found.values() if failed(step) >= 2]
    often.sort(key=lambda s: (-failed(s), -failed(s) / s["passes"], s["before"], s["written"]))
    return often[:6]


def failed(step: Facts) -> int:
    count: int = step["missed"] + step["blips"]
    return count


def knots(now: list[Facts], before: list[Facts]) -> list[Facts]:
    held_before = {knot["title"]: knot["secure_bpm"] for knot in one_by_one(before)}
    these = [
        knot | {"secure_before_bpm": held_before.get(knot["title"])} for knot in one_by_one(now)
    ]
    open_before = [
        knot | {"rounds": 0, "secure_bpm": None, "secure_before_bpm": knot["secure_bpm"]}
        for knot in one_by_one(before)
        if not knot["solved"] and knot["title"] not in [each["title"] for each in these]
    ]
    return these + open_before


def one_by_one(rounds: list[Facts]) -> list[Facts]:
    worked = [round_ for round_ in rounds if round_["kind"] == "knot"]
    names = dict.fromkeys(map(knot_name, worked))
    found = []
    for name in names:
        of_it = [r for r in worked if knot_name(r) == name]
        judged = [r["secure"] for r in of_it if "secure" in r]
        found.append(
            {
                "title": name,
                "rounds": len(of_it),
                "secure_bpm": held_twice(of_it),
                "solved": judged[-2:] == [True, True],
            }
        )
    return found


def knot_name(round_: Facts) -> str:
    """The pitches written down; the title where there are none."""
    return "–".join(round_.get("knot", [])) or str(round_.get("title", ""))


# Air


def air(now: list[Facts], before: list[Facts]) -> Facts:
    facts: Facts = {}
    for name, change_name, figures in (
        ("breath_gap_s", "breath_gap_change", gaps_s),
        ("held_drift_cents", "held_drift_change", drifts),
        ("vibrato_hz", "vibrato_hz_change", lambda s: of_notes(s, "vibrato_hz")),
        ("vibrato_cents", "vibrato_cents_change", lambda s: of_notes(s, "vibrato_cents")),
    ):
        weeks = [[statistics.median(figures(s)) for s in week if figures(s)]
                 for week in (before, now)]  # fmt: skip
        facts[name] = spread([value for session in now for value in figures(session)])
        facts[change_name] = change(*weeks) if min(map(len, weeks)) >= 5 else None
    return facts


def gaps_s(session: Facts) -> list[float]:
    gaps = []
    for round_ in session.get("rounds") or []:
        breaths = round_.get("breaths_s") or []
        gaps += [breaths[n + 1][0] - breaths[n][1] for n in range(len(breaths) - 1)]
    return gaps


def drifts(session: Facts) -> list[float]:
    return [
        note["drift"]
        for round_ in session.get("rounds") or []
        if round_["kind"] == "long tones"
        for note in round_.get("notes") or []
        if note.get("state", "played") == "played" and "drift" in note
    ]


def of_notes(session: Facts, key: str) -> list[float]:
    rounds = session.get("rounds") or []
    return [n[key] for round_ in rounds for n in round_.get("notes") or [] if key in n]


# Words


def remarks(session: Facts) -> list[Facts]:
    day = day_of(session).isoformat()
    said = []
    if (session.get("felt") or session.get("remark")) and not session.get("private"):
        said.append({"day": day, "felt": session.get("felt", ""),
                     "remark": session.get("remark", "")})  # fmt: skip
    for later in session.get("remarks") or []:
        if not later.get("private"):
            said.append({"day": day, "felt": "", "remark": later["remark"]})
    return said


def scale_name(scale: Facts) -> str:
    return f"{scale['key'] or 'no key'}, {scale['articulation']}"


def better(scales: list[Facts], now: list[Facts], before: list[Facts]) -> list[str]:
    said = []
    for scale in scales:
        held, held_before = scale["secure_bpm"], scale["secure_before_bpm"]
        if held and held_before and held > held_before:
            said.append(f"{scale_name(scale)}: {held:g} now, {held_before:g} last week.")
        moved = scale["evenness_change"]
        if moved and moved["clear"] and moved["change"] < 0:
            said.append(f"{scale_name(scale)}: more even than last week.")
    then, since = session_medians(before), session_medians(now)
    for instrument, number in sorted(since):
        was, is_now = then.get((instrument, number), []), since[instrument, number]
        if len(was) < 5 or len(is_now) < 5:
            continue
        old, new = statistics.median(was), statistics.median(is_now)
        if abs(old) >= 10 > abs(new) and chance_says_no(was, is_now):
            side = "sharp" if old > 0 else "flat"
            name = f"{SHARPS[number % 12]}{number // 12 - 1}"
            said.append(f"{name} of the {instrument}: in tune now, {side} last week.")
    return said


# What still goes wrong


CARES = {
    "notes": "Every new piece slower, so that no note gets lost",
    "evenness": None,
}
"""What the topics of the invented weeks let a week say; None: nothing."""


def lately(sessions: list[Facts], ending: date) -> list[Facts]:
    return [s for s in sessions if 0 <= (ending - day_of(s)).days < 42]


def findings(
    facts: Facts, now: list[Facts], before: list[Facts], six_weeks: list[Facts], ending: date
) -> list[Facts]:
    """Spots and steps, notes out of tune, habits, uneven scales, stuck tempos; the heaviest first:
    1 is twice what is worth a word each time, or wrong every other time.

    A share counts from three times and 15 %, three times this player's usual, and on the last two
    days that it was played.
    """
    steps = failing_steps(now, before)
    spots = open_spots(facts, now, before, six_weeks, steps)
    inside = {name for spot in spots for name in pairs_of(spot["what"])}
    found = spots + [step for step in steps if step["what"] not in inside]
    told = OF_A_PLACE if found else ()
    found += [habit for habit in habits(now) if habit["what"] not in told]
    found += notes_off(facts, now) + uneven(facts, now)
    found += stuck_tempos(six_weeks, ending)
    return sorted(found, key=lambda each: (-each["weight"], each["kind"], each["what"]))


OF_A_PLACE = (
    "notes", "crossing between two notes", "a note that speaks late",
    "false note between fingerings",
)  # fmt: skip


def finding(kind: str, what: str, weight: float, times: int, chances: int, **more: Any) -> Facts:
    plain = {"bpm": None, "sharp": None, "times_before": 0, "chances_before": 0}
    return plain | {"kind": kind, "what": what, "weight": weight, "times": times,
                    "chances": chances} | more  # fmt: skip


def pairs_of(title: str) -> list[str]:
    names = title.split("–")
    return [in_order(a, b) for a, b in itertools.pairwise(names)]


def in_order(a: str, b: str) -> str:
    return "–".join(sorted((a, b), key=lambda name: (midi(name), name)))


Passes = dict[tuple[str, str], list[tuple[date, bool, float, float]]]


def passes_of(sessions: list[Facts]) -> Passes:
    """Every time over each step: the day, whether it was wrong, how late it came, the tempo."""
    passes: Passes = {}
    for session in sessions:
        for round_ in session.get("rounds") or []:
            if round_["kind"] == "knot" or round_.get("disagreed"):
                continue
            limit, before = late_from(round_), ""
            for note in round_.get("notes") or []:
                state = note.get("state", "played")
                if state == "extra":
                    continue
                if state != "not judged" and before != note["note"]:
                    wrong = state == "missed" or bool(note.get("blip"))
                    off_ms = note.get("off_ms", 0.0)
                    late = off_ms if limit is not None and off_ms > limit else 0.0
                    passes.setdefault((before, note["note"]), []).append(
                        (day_of(session), wrong, late, round_["tempo_bpm"])
                    )
                before = note["note"]
    return passes


def failing_steps(now: list[Facts], week_before: list[Facts]) -> list[Facts]:
    """Each way by itself; of both ways the heavier."""
    passes, passes_before = passes_of(now), passes_of(week_before)
    bad = {step: [one for one in each if one[1] or one[2]] for step, each in passes.items()}
    all_passes, all_bad = sum(map(len, passes.values())), sum(map(len, bad.values()))
    found: dict[str, Facts] = {}
    for (before, written), each in passes.items():
        wrongs = bad[before, written]
        others = all_passes - len(each)
        least = max(0.15, 3 * (all_bad - len(wrongs)) / others if others else 0.0)
        last_days = sorted({day for day, *_ in each})[-2:]
        last = [one for one in each if one[0] in last_days]
        latest = sum(wrong or late > 0 for _, wrong, late, _ in last) / len(last)
        share = len(wrongs) / len(each)
        if len(wrongs) < 3 or share < least or latest < least:
            continue
        weight = sum(2.4 if wrong else late / 50 for _, wrong, late, _ in each) / len(each)
        bpm = float(round(0.6 * statistics.median(one[3] for one in wrongs)))
        name = in_order(before, written) if before else written
        one = finding(
            "trouble spot" if before else "first note",
            name,
            weight,
            len(wrongs),
            len(each),
            bpm=bpm if before else None,
            times_before=sum(
                wrong or late > 0 for _, wrong, late, _ in passes_before.get((before, written), [])
            ),
            chances_before=len(passes_before.get((before, written), [])),
        )
        if name not in found or one["weight"] > found[name]["weight"]:
            found[name] = one
    return list(found.values())


def late_from(round_: Facts) -> float | None:
    """25 ms, or three of the round's ordinary spreads: the median distance from its middle."""
    placed = [
        note["off_ms"]
        for note in round_.get("notes") or []
        if "off_ms" in note and note.get("state", "played") == "played"
    ]
    if len(placed) < 8 or round_["articulation"] == "air-only":
        return None
    middle = statistics.median(placed)
    return max(25.0, 3 * 1.4826 * statistics.median(abs(off - middle) for off in placed))


def goes_wrong_still(judged: list[tuple[date, bool]]) -> bool:
    """On its last day not right as often as right, and not right twice at the end."""
    last = [right for day, right in judged if day == judged[-1][0]]
    return bool(last) and last[-2:] != [True, True] and last.count(True) <= last.count(False)


def open_spots(
    facts: Facts,
    now: list[Facts],
    before: list[Facts],
    six_weeks: list[Facts],
    steps: list[Facts],
) -> list[Facts]:
    worked = [round_ for round_ in rounds_of(now) if round_["kind"] == "knot"]
    old: dict[tuple[str, str], list[tuple[date, Facts]]] = {}
    for session in six_weeks:
        for round_ in session.get("rounds") or []:
            if round_["kind"] == "knot":
                key = (round_["exercise"], knot_name(round_))
                old.setdefault(key, []).append((day_of(session), round_))
    titles = [knot["title"] for knot in facts["knots"] if not knot["solved"]]
    for (_, title), played in old.items():
        judged = [(day, round_["secure"]) for day, round_ in played if "secure" in round_]
        if len({day for day, _ in played}) > 1 and goes_wrong_still(judged):
            titles.append(title)
    found = []
    for title in dict.fromkeys(titles):
        if "–" not in title:
            continue
        inside = [step for step in steps if step["what"] in pairs_of(title)]
        rounds = [round_ for round_ in worked if knot_name(round_) == title]
        judged = [round_["secure"] for round_ in rounds if "secure" in round_]
        of_days = [
            (day_of(session), round_["secure"])
            for session in now
            for round_ in session.get("rounds") or []
            if round_["kind"] == "knot" and knot_name(round_) == title and "secure" in round_
        ]
        if not inside and not goes_wrong_still(of_days):
            continue
        judged_before = [
            round_["secure"]
            for round_ in rounds_of(before)
            if round_["kind"] == "knot" and knot_name(round_) == title and "secure" in round_
        ]
        then = (judged_before.count(False), len(judged_before))
        if inside:
            then = tuple(sum(s[k] for s in inside) for k in ("times_before", "chances_before"))
        bpm = held_twice(rounds) or min((r["tempo_bpm"] for r in rounds), default=None)
        found.append(
            finding(
                "trouble spot",
                title,
                max([0.5] + [step["weight"] for step in inside]),
                sum(step["times"] for step in inside) or judged.count(False),
                sum(step["chances"] for step in inside) or len(judged),
                bpm=bpm or inside[0]["bpm"],
                times_before=then[0],
                chances_before=then[1],
            )
        )
    return found


def notes_off(facts: Facts, now: list[Facts]) -> list[Facts]:
    medians = session_medians(now)
    found = []
    for one in facts["tuning"]:
        for note in one["notes"]:
            off = note["cents"]["median"]
            last = medians.get((one["instrument"], note["midi"]), [])[-2:]
            if stands_off(note["cents"]) and all(abs(c) >= 10 and c * off > 0 for c in last):
                count = note["cents"]["count"]
                found.append(
                    finding("note out of tune", note["written"], abs(off) / 32,
                            count, count, sharp=off > 0)
                )  # fmt: skip
    return found


def habits(now: list[Facts]) -> list[Facts]:
    said: dict[str, list[tuple[date, float]]] = {}
    for session in now:
        for round_ in session.get("rounds") or []:
            if "secure" in round_ and not round_.get("disagreed"):
                one = day_of(session), round_.get("strength") or 1.0
                said.setdefault(round_.get("topic", ""), []).append(one)
    days = sorted({day for each in said.values() for day, _ in each})
    found = []
    for topic, each in said.items():
        on = {day for day, _ in each}
        enough = len(on) >= max(2, len(days) / 2) and len(each) >= 3
        lately = sum(day in days[-2:] for day, _ in each) / 2
        if CARES.get(topic) and enough and lately >= len(each) / len(on) / 3:
            strong = statistics.median(strength for _, strength in each)
            share = len(on) / len(days)
            found.append(finding("habit", topic, share * strong / 2, len(on), len(days)))
    return found


def uneven(facts: Facts, now: list[Facts]) -> list[Facts]:
    found = []
    for scale in facts["techniques"]:
        if not scale["evenness_ms"] or not scale["aim_ms"]:
            continue
        of_it = of_name(rounds_of(now), (scale["key"], scale["articulation"]))
        all_ms = [ms for ms, _ in evenness(of_it)]
        middle = min(statistics.median(all_ms), statistics.median(all_ms[-3:]))
        if len(all_ms) >= 5 and middle > scale["aim_ms"]:
            over = sum(ms > scale["aim_ms"] for ms in all_ms)
            bpm = float(round(0.85 * scale["tempo_bpm"]["median"]))
            found.append(
                finding(
                    "uneven",
                    scale_name(scale),
                    0.75 * middle / scale["aim_ms"] / 2,
                    over,
                    len(all_ms),
                    bpm=bpm,
                )
            )
    return found


def stuck_tempos(six_weeks: list[Facts], ending: date) -> list[Facts]:
    pushed = ("technique", "speed climb", "passage")
    played: dict[tuple[str, str], list[tuple[int, Facts]]] = {}
    for session in six_weeks:
        for round_ in session.get("rounds") or []:
            if round_["kind"] in pushed:
                key = (round_["exercise"], round_["articulation"])
                played.setdefault(key, []).append(((ending - day_of(session)).days, round_))
    found = []
    for (exercise, articulation), rounds in played.items():
        late = [(ago, r) for ago, r in rounds if ago < 21]
        early = [r for ago, r in rounds if ago >= 21]
        held, before = held_twice([r for _, r in late]), held_twice(early)
        tries = [ago for ago, r in late
                 if r.get("secure") is False and r["tempo_bpm"] > (held or 0)]  # fmt: skip
        rose = held is not None and (before is None or held > before)
        enough = sum("secure" in r for r in early) >= 5 and len(tries) >= 5
        if enough and len(set(tries)) >= 3 and not rose:
            what = f"{exercise}, {articulation}"
            found.append(
                finding("tempo that does not rise", what, 0.3, len(tries), len(tries), bpm=held)
            )
    return found


def to_ask(now: list[Facts], six_weeks: list[Facts], ending: date) -> list[str]:
    """Own questions, what was heard otherwise, spots open for a week, tempos that don't rise."""
    told = []
    for session in now:
        remarks = [session, *(session.get("remarks") or [])]
        for each in remarks:
            if not each.get("private"):
                sentences = re.split(r"(?<=[.!?])", " ".join((each.get("remark") or "").split()))
                told += [each.strip() for each in sentences if each.strip(" .!?") and "?" in each]
    otherwise = dict.fromkeys(r["title"] for r in rounds_of(now) if r.get("disagreed"))
    if otherwise:
        told.append(f"You heard {' and '.join(otherwise)} differently. Play it at the lesson.")
    spots: dict[tuple[str, str], list[tuple[date, Any]]] = {}
    for session in six_weeks:
        for round_ in session.get("rounds") or []:
            if round_["kind"] == "knot":
                key = round_["exercise"], knot_name(round_)
                spots.setdefault(key, []).append((day_of(session), round_.get("secure")))
    first = min(map(day_of, now), default=date.min)
    for (_, title), played in spots.items():
        days = sorted(day for day, _ in played)
        judged = [(day, secure) for day, secure in played if secure is not None]
        if goes_wrong_still(judged) and days[-1] >= first and (days[-1] - days[0]).days >= 7:
            since = f"{days[0].day} {days[0]:%B}"
            told.append(f"{title} has been open since {since}. Ask for another way to practise it.")
    for stuck in stuck_tempos(six_weeks, ending):
        told.append(f"{stuck['what']} isn't getting faster. Ask what to change.")
    return list(dict.fromkeys(told))[:5]


NUMBERS = ["no", "one", "two", "three", "four", "five", "six", "seven"]


def in_words(days: int) -> str:
    return f"{NUMBERS[days]} day{'s' * (days != 1)}"


def next_thing(facts: Facts) -> Facts:
    def say(sentence: str, why: str) -> Facts:
        return {"sentence": sentence, "evidence": [why]}

    if not facts["sessions"]:
        return say("Begin with the routine's first exercise tomorrow.",
                   "Nothing was written down this week.")  # fmt: skip
    if facts["judged_rounds"] < 5:
        return say(
            "Let the trainer listen to a few more rounds first.",
            f"Only {facts['judged_rounds']} of {facts['rounds']} rounds could be judged.",
        )
    days = in_words(min(max(facts["days_practised"], 3), 6))
    for worst in facts["findings"][:1]:
        what, share = worst["what"], f"{worst['times']} of {worst['chances']}"
        bpm, side = worst["bpm"], "sharp" if worst["sharp"] else "flat"
        wrong = f"It went wrong {share} times this week."
        match worst["kind"]:
            case "trouble spot":
                return say(f"Begin with {what}, slowly, at {bpm:.0f}, on {days}.", wrong)
            case "first note":
                return say(
                    f"Begin with the first note, {what}: air first, then the tongue, on {days}.",
                    wrong,
                )
            case "note out of tune":
                return say(f"Hold {what} against the drone on {days}, and listen.",
                           f"It was {side} most of the time.")  # fmt: skip
            case "habit":
                return say(f"{CARES[what]}, first thing on {days}.",
                           f"It came up on {share} days.")  # fmt: skip
            case "uneven":
                return say(f"Play {what} at {bpm:.0f} until it is even, on {days}.",
                           f"{share} rounds were less even than asked.")  # fmt: skip
            case _:
                why = f"{worst['times']} faster rounds did not hold."
                if bpm is None:
                    return say(f"Stop pushing {what}: slower and clean, on {days}.", why)
                return say(f"Stop pushing {what}: play it at {bpm:.0f}, clean, on {days}.", why)
    left = [
        a for a in facts["asked"] if a["days_asked"] >= 3 and a["days_done"] * 2 < a["days_asked"]
    ]
    if left:
        worst = min(left, key=lambda each: each["days_done"] / each["days_asked"])
        return say(
            f"Put {worst['title']} first: it was left out most.",
            f"Asked for on {in_words(worst['days_asked'])}, and seldom played.",
        )
    if facts["secure_rounds"] * 2 < facts["judged_rounds"]:
        clean = f"{facts['secure_rounds']} of {facts['judged_rounds']}"
        return say(
            f"Play each round once more before you go on, on {days}.",
            f"{clean} rounds were clean, and no one thing kept going wrong.",
        )
    return say("Go on as you are.", "Nothing kept going wrong.")


def stands_off(cents: Facts) -> bool:
    same_side = cents["low"] > 0 or cents["high"] < 0
    return cents["count"] >= 8 and abs(cents["median"]) >= 10 and same_side
