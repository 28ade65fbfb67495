"""What should stand on the lesson page, from the recounted facts alone."""

from __future__ import annotations

import re
from datetime import date

from .recount import ARTICULATIONS, Facts, pairs_of

MAP_NEEDS = 3
"""Times a note must be heard to stand in the tuning map."""


def signs(words: str) -> str:
    """Sharp and flat signs in the names of notes."""
    return re.sub(r"\b[A-G](##?|bb?)\d\b", lambda found: note_sign(found.group()), words)


def note_sign(name: str) -> str:
    return name[0] + name[1:].replace("#", "♯").replace("b", "♭")


def minus(words: str) -> str:
    return words.replace("-", "−")


def cut(words: str, length: int) -> str:
    return words if len(words) <= length else words[: length - 1] + "…"


def several(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def top(facts: Facts) -> list[str]:
    first, last = date.fromisoformat(facts["first_day"]), date.fromisoformat(facts["ending"])
    whose = f"{facts['student']}: " if facts["student"] else ""
    days, minutes_now = facts["days_practised"], round(facts["minutes"])
    clean = share_of(facts["secure_rounds"], facts["judged_rounds"])
    clean_before = share_of(facts["secure_before"], facts["judged_before"])
    return [
        f"{whose}{first.day} {first:%B} to {last.day} {last:%B} {last.year}",
        f"{days} of 7 days{was(days, facts['days_before'])}",
        several(facts["sessions"], "session"),
        several(minutes_now, "minute") + was(minutes_now, round(facts["minutes_before"])),
        several(facts["rounds"], "round"),
        f"{clean or 'no'} rounds clean{was(clean or 'no', clean_before)}",
    ]  # fmt: skip


def share_of(count: int, of: int) -> str:
    return f"{count} of {of}" if of else ""


def was(now: int | str, before: int | str) -> str:
    return f" (last week {before})" if before and before != now else ""


def next_thing(facts: Facts) -> list[str]:
    thing = facts["next_thing"]
    return [signs(cut(each, 120)) for each in (thing["sentence"], *thing["evidence"])]


def minutes(facts: Facts) -> list[str]:
    return [f"{day['minutes']:.0f}" if day["sessions"] else "none" for day in facts["days"]]


def kinds(facts: Facts) -> list[str]:
    return [f"{kind['played_minutes']:.1f} min, {kind['rounds']}×" for kind in facts["kinds"]]


def asked(facts: Facts) -> list[str]:
    cells, titles = [], [each["title"] for each in facts["asked"]]
    for each in facts["asked"]:
        whole = f"{each['exercise_id']}: {each['title']}"
        done, of = each["days_done"], each["days_asked"]
        cells += [
            each["title"] if titles.count(each["title"]) == 1 else cut(whole, 40),
            f"{'■' * done}{'□' * (of - done)} {done} of {of}",
            f"{each['rounds']}",
            f"{each['played_minutes']:.0f}",
        ]
    return cells


def mapped(instrument: Facts) -> list[Facts]:
    return [note for note in instrument["notes"] if note["cents"]["count"] >= MAP_NEEDS]


def tuning_words(instrument: Facts) -> str:
    words = "▲ sharp or ▼ flat by 10 cents or more, ○ less; the bar holds half of the times."
    for note in sorted(filter(apart, instrument["notes"]), key=lambda note: -abs(apart(note)))[:3]:
        up, down = note["rising"], note["falling"]
        words += (
            f" {note['written']} is at {cents(up['median'])} going up and "
            f"{cents(down['median'])} coming down."
        )
    rare = [n["written"] for n in instrument["notes"] if n["cents"]["count"] < MAP_NEEDS]
    if rare:
        words += f" Heard too seldom to say: {cut(' '.join(map(note_sign, rare)), 80)}."
    return signs(words)


def apart(note: Facts) -> float:
    return note["apart_cents"] or 0.0


def cents(value: float) -> str:
    return "0" if round(value) == 0 else minus(f"{value:+.0f}")


def marked_notes(instrument: Facts) -> dict[int, str]:
    """Figures above or below the notes that stand out, by their place."""
    medians = [note["cents"]["median"] for note in mapped(instrument)]
    return {n: minus(f"{c:+.0f}") for n, c in enumerate(medians) if abs(c) >= 10}


def shown_scales(facts: Facts, count: int) -> list[Facts]:
    """The most played, by key and articulation."""
    most = sorted(facts["techniques"], key=lambda scale: -scale["rounds"])[:count]
    return sorted(most, key=lambda s: (s["key"], ARTICULATIONS.index(s["articulation"])))


def evenness_words(scale: Facts) -> str:
    found, change = scale["evenness_ms"], scale["evenness_change"]
    if not found:
        return "not heard"
    words = f"{found['median']:.0f} ({found['count']})"
    if change and not change["clear"]:
        return f"{words} → as before"
    if change:
        arrow = "↘" if change["change"] < 0 else "↗"
        return f"{words} {arrow} {minus(format(change['change'], '+.0f'))} ms"
    return words


def tempo_words(scale: Facts) -> str:
    now, before = scale["secure_bpm"], scale["secure_before_bpm"]
    if now is None:
        return "–" if before is None else "not this week"
    if before is None:
        return f"{now:g}"
    if now == before:
        return f"{now:g} →"
    return f"{now:g} {'↗' if now > before else '↘'} {minus(format(now - before, '+g'))}"


def spots(facts: Facts) -> list[str]:
    """What still goes wrong, what is clean now, what was left alone; five lines at most."""
    lines = [
        f"{each['what']} went wrong {each['times']} of {each['chances']} times"
        + (
            f", last week {each['times_before']} of {each['chances_before']}"
            if each["chances_before"]
            else ""
        )
        for each in facts["findings"]
        if each["kind"] in ("trouble spot", "first note")
    ]
    lines += [
        f"{each['what'][0].upper()}{each['what'][1:]} is stuck at {each['bpm']:g}"
        for each in facts["findings"]
        if each["kind"] == "tempo that does not rise" and each["bpm"] is not None
    ]
    named = {pair for each in facts["findings"] for pair in pairs_of(each["what"])}
    for knot in facts["knots"]:
        if named & set(pairs_of(knot["title"])) or "–" not in knot["title"]:
            continue
        if not knot["rounds"]:
            lines.append(f"{knot['title']} was open last week, and not practised since")
        elif knot["solved"]:
            held, before = knot["secure_bpm"], knot["secure_before_bpm"]
            tempo = f" at {held:g}" if held else ""
            if held and before and held != before:
                tempo += f", last week at {before:g}"
            lines.append(f"{knot['title']} is clean now{tempo}")
    return [signs(line) for line in lines[:5]]


def better(facts: Facts) -> list[str]:
    return [signs(cut(each, 120)) for each in facts["better"]]


def air(facts: Facts) -> list[str]:
    lines = []
    for name, key, change_key, unit in (
        ("between two breaths", "breath_gap_s", "breath_gap_change", " s"),
        ("long notes, end against start", "held_drift_cents", "held_drift_change", " cents"),
        ("vibrato, pulses a second", "vibrato_hz", "vibrato_hz_change", ""),
        ("vibrato, to each side", "vibrato_cents", "vibrato_cents_change", " cents"),
    ):
        found, change = facts["air"][key], facts["air"][change_key]
        if found:
            line = f"{name} {tenths(found['median'])}{unit}"
            if change:
                was = f"last week {tenths(change['before'])}"
                line += f", {was if change['clear'] else 'as last week'}"
            lines.append(line)
    return lines


def tenths(value: float) -> str:
    words = f"{value:.1f}"
    return "0.0" if words == "-0.0" else minus(words)


def to_ask(facts: Facts) -> list[str]:
    return [signs(cut(each, 120)) for each in facts["to_ask"]]


def remarks(facts: Facts) -> list[str]:
    lines = []
    for each in facts["remarks"]:
        day = date.fromisoformat(each["day"])
        said = ". ".join(filter(None, (each["felt"], " ".join(each["remark"].split()))))
        lines.append(f"{day:%a} {day.day}: {cut(said, 180)}")
    return lines
