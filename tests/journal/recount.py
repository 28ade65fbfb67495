"""The week counted a second time, from the YAML files alone.

Written from the sentences of the README, the field's arithmetic and what each figure is said to
be; it imports nothing from the trainer, and shares with it only PyYAML, Python's `statistics` and
SciPy's rank-sum test.
"""

from __future__ import annotations

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
    facts: Facts = {
        "first_day": days[0].isoformat(),
        "ending": ending.isoformat(),
        "student": next((s["student"] for s in reversed(now) if s.get("student")), ""),
        "days": [one_day(day, [s for s in now if day_of(s) == day]) for day in days],
        "kinds": kinds(rounds_of(now)),
        "asked": asked(now),
        "tuning": tuning(now),
        "techniques": techniques(rounds_of(now), rounds_of(before)),
        "troubles": troubles(rounds_of(now)),
        "knots": knots(rounds_of(now), rounds_of(before)),
        "air": air(now, before),
        "judged_rounds": len(judged),
        "secure_rounds": sum(judged),
        "remarks": [remark for session in now for remark in remarks(session)],
        "sessions": len(now),
        "rounds": len(rounds_of(now)),
        "minutes": sum(length_s(session) for session in now) / 60,
        "days_practised": len({day_of(session) for session in now}),
    }
    facts["better"] = better(facts["techniques"], now, before)
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
    these = one_by_one(now)
    open_before = [
        knot | {"rounds": 0}
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
            said.append(
                f"{scale_name(scale)}: held twice at {held:g}, {held_before:g} the week before."
            )
        moved = scale["evenness_change"]
        if moved and moved["clear"] and moved["change"] < 0:
            said.append(
                f"{scale_name(scale)}: more even, {moved['before'] + moved['change']:.0f} ms "
                f"against {moved['before']:.0f} ms the week before."
            )
    then, since = session_medians(before), session_medians(now)
    for instrument, number in sorted(since):
        was, is_now = then.get((instrument, number), []), since[instrument, number]
        if len(was) < 5 or len(is_now) < 5:
            continue
        old, new = statistics.median(was), statistics.median(is_now)
        if abs(old) >= 10 > abs(new) and chance_says_no(was, is_now):
            said.append(
                f"{SHARPS[number % 12]}{number // 12 - 1} of the {instrument}: from {old:+.0f} to "
                f"{new:+.0f} cents, medians of {len(was)} and {len(is_now)} sessions."
            )
    return said


def step_words(step: Facts) -> str:
    if not step["before"]:
        return f"the opening {step['written']}"
    return f"the step {step['before']} to {step['written']}"


def trouble_words(step: Facts) -> str:
    how = [f"{step['missed']} missed"] if step["missed"] else []
    how += [f"{step['blips']} with a false note between"] if step["blips"] else []
    return f"went wrong {failed(step)} of {step['passes']} times: {', '.join(how)}"


def next_thing(facts: Facts) -> Facts:
    def say(sentence: str, evidence: str) -> Facts:
        return {"sentence": sentence, "evidence": [evidence]}

    if not facts["sessions"]:
        return say("Begin with the routine's first exercise tomorrow.",
                   "Nothing is written down for these seven days.")  # fmt: skip
    if facts["judged_rounds"] < 5:
        return say(
            "Let the trainer listen to a few more rounds; so far it has heard too little to say.",
            f"{facts['judged_rounds']} of {facts['rounds']} rounds could be judged.",
        )
    for step in facts["troubles"]:
        if failed(step) >= 3 and failed(step) / step["passes"] >= 0.15:
            return say(
                f"Begin each day with {step_words(step)}, slowly, before the whole exercise.",
                f"It {trouble_words(step)}.",
            )
    off = [n for one in facts["tuning"] for n in one["notes"] if stands_off(n["cents"])]
    if off:
        worst = max(off, key=lambda note: (abs(note["cents"]["median"]), note["midi"]))
        cents = worst["cents"]
        return say(
            f"Hold {worst['written']} long against the drone and listen: it stands "
            f"{'sharp' if cents['median'] > 0 else 'flat'}.",
            f"Median {cents['median']:+.0f} cents of {cents['count']} notes; the middle half lay "
            f"from {cents['low']:+.0f} to {cents['high']:+.0f}.",
        )
    over = [
        (scale["evenness_ms"]["median"] / scale["aim_ms"], scale)
        for scale in facts["techniques"]
        if scale["evenness_ms"] and scale["aim_ms"] and scale["evenness_ms"]["count"] >= 5
    ]
    if over and max(share for share, _ in over) > 1:
        scale = max(over, key=lambda pair: pair[0])[1]
        return say(
            f"Play {scale_name(scale)} at a tempo where it runs evenly, then let it grow.",
            f"Its onsets spread {scale['evenness_ms']['median']:.0f} ms (median of "
            f"{scale['evenness_ms']['count']} rounds); asked were {scale['aim_ms']:.0f} ms.",
        )
    left = [
        a for a in facts["asked"] if a["days_asked"] >= 3 and a["days_done"] * 2 < a["days_asked"]
    ]
    if left:
        worst = min(left, key=lambda each: each["days_done"] / each["days_asked"])
        return say(
            f"Put {worst['title']} first: it was left out most.",
            f"Asked for on {worst['days_asked']} days, played on {worst['days_done']}.",
        )
    return say(
        "Go on as it is: nothing stood out that needs a week of its own.",
        f"{facts['secure_rounds']} of {facts['judged_rounds']} judged rounds were secure.",
    )


def stands_off(cents: Facts) -> bool:
    same_side = cents["low"] > 0 or cents["high"] < 0
    return cents["count"] >= 8 and abs(cents["median"]) >= 10 and same_side
