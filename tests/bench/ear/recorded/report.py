"""The parts of the bench, each from its records to its tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from tests.bench.ear.recorded import (
    bad_microphones,
    coached,
    held,
    live,
    patterned,
    performances,
    silence,
    starts,
)
from tests.bench.ear.recorded.count import reliability
from tests.bench.ear.recorded.plan import Plan
from tests.bench.ear.recorded.plot import reliability_plot
from tests.bench.ear.recorded.table import Record, Row, counted, gathered, said, share, shares

Tables = dict[str, list[Row]]


def _held(records: Sequence[Record]) -> Tables:
    rows = [
        record
        | {
            "no extra": not record["extra"],
            "no extra untold": not record["extra untold"],
            "heard": not record["missed"],
            "heard untold": not record["unheard untold"],
        }
        for record in records
    ]
    what = ("no extra", "no extra untold", "heard", "heard untold")
    return {
        "Held notes: files without an extra note": shares(rows, ("kind", "room"), *what),
        "Held notes by generator": shares(rows, ("generator",), *what),
        "Held notes by microphone": shares(rows, ("microphone",), *what),
    }


def _tails(records: Sequence[Record]) -> Tables:
    rows = [
        record
        | {
            "no note after": not record["after"],
            "no note after, untold": not record["after untold"],
            "not taken for the next": not record["taken for the next"],
        }
        for record in records
    ]
    what = ("no note after", "no note after, untold", "not taken for the next")
    return {"Tails: takes without a note after the sound's end": shares(rows, ("room",), *what)}


def _lines(records: Sequence[Record]) -> Tables:
    return {
        "Detached lines, asked as played": counted(records, "room"),
        "Detached lines by generator": counted(records, "generator"),
        "Detached lines by microphone": counted(records, "microphone"),
    }


def _repeated(records: Sequence[Record]) -> Tables:
    return {
        "Repeated notes, told how many": counted(records, "room"),
        "Repeated notes, told, by speed": counted(records, "per second"),
        "Repeated notes, told nothing": _without_starts(counted(records, "room", count="untold")),
        "Repeated notes, told nothing, by speed": _without_starts(
            counted(records, "per second", count="untold")
        ),
    }


def _without_starts(rows: list[Row]) -> list[Row]:
    return [
        {n: v for n, v in row.items() if n not in ("starts right of judged", "not judged")}
        for row in rows
    ]


def _pairs(records: Sequence[Record]) -> Tables:
    return {
        "Pairs of asked and played": counted(records, "room", "as asked"),
        "Pairs by what was played": counted(records, "played", "as asked"),
        "Pairs by what was asked": counted(records, "asked", "as asked"),
    }


def _real(records: Sequence[Record]) -> Tables:
    name = "Recorded slurs (legato: phrases fitted on)"
    return {name: counted(records, "played", "asked", "room")}


def _patterns(records: Sequence[Record]) -> Tables:
    return {
        "Patterns played as asked, by room": counted(records, "room"),
        "Patterns played as asked, by pattern": counted(records, "asked"),
        "Patterns by pattern and room": counted(records, "asked", "room"),
    }


def _coach(records: Sequence[Record]) -> Tables:
    planted = [record for record in records if not record["clean"]]
    clean = [record for record in records if record["clean"]]
    return {
        "Coach: the planted fault said first": shares(planted, ("room",), "right", "withheld"),
        "Coach: clean takes in peace": shares(clean, ("planted", "room"), "right", "withheld"),
        "Coach by fault": gathered(
            records,
            ("planted",),
            lambda some: {
                "takes": len(some),
                "right": share(sum(r["right"] for r in some), len(some)),
                "said instead": said([r for r in some if not r["right"]]) or "–",
            },
        ),
    }


def _clean(records: Sequence[Record]) -> Tables:
    return {
        "Clean lines in peace": shares(records, ("room",), "right", "withheld"),
        "What was said of the others": [
            {
                name: record[name]
                for name in ("number", "room", "generator", "microphone", "sentence")
            }
            for record in records
            if not record["right"]
        ],
    }


def _slow(records: Sequence[Record]) -> Tables:
    def row(some: Sequence[Record]) -> Row:
        slow_notes = sum(r["slow notes"] for r in some)
        return {
            "takes": len(some),
            "called uneven": share(sum(r["called uneven"] for r in some), len(some)),
            "named slow": share(sum(r["named slow"] for r in some), len(some)),
            "both places right": share(sum(r["both places"] for r in some), slow_notes),
            "onset nearer the stroke": share(sum(r["nearer the stroke"] for r in some), slow_notes),
            "said": said(some),
        }

    return {"Even lines with notes slow to speak": gathered(records, ("in time", "room"), row)}


def _performances(records: Sequence[Record]) -> Tables:
    def row(some: Sequence[Record]) -> Row:
        mean = {name: sum(r[name] for r in some) / len(some) for name in ("note F", "onset F")}
        return {
            "takes": len(some),
            "tones": sum(r["notes"] for r in some),
            "note F, 50 ms and 50 cents": mean["note F"],
            "onset F, 25 ms after the lag": mean["onset F"],
            "lag ms": 1000 * sum(r["lag"] for r in some) / len(some),
            "called missed": sum(r["missed"] for r in some),
            "before the sound": sum(r["before the sound"] for r in some),
        }

    return {"Tunes performed in halls": gathered(records, ("room", "told"), row)}


def _silence(records: Sequence[Record]) -> Tables:
    def row(some: Sequence[Record]) -> Row:
        return {
            "takes": len(some),
            "none told": share(sum(not r["told"] for r in some), len(some)),
            "none untold": share(sum(not r["untold"] for r in some), len(some)),
            "notes told": sum(r["told"] for r in some),
            "notes untold": sum(r["untold"] for r in some),
        }

    return {
        "No flute: takes in which no note is heard": gathered(records, ("sound",), row),
        "No flute, by room": gathered(records, ("room",), row),
    }


def _live(records: Sequence[Record]) -> Tables:
    def row(some: Sequence[Record]) -> Row:
        notes = sum(r["notes"] for r in some)
        what = ("missed", "not shown", "shown in vain", "cents apart")
        return {"takes": len(some), "notes": notes} | {n: sum(r[n] for r in some) for n in what}

    return {"Shown while playing against said afterwards": gathered(records, ("of", "room"), row)}


def _microphones(records: Sequence[Record]) -> Tables:
    keys = "microphone", "room"
    return {
        "Bad microphones, clean lines": counted(records, *keys),
        "What is said through bad microphones": shares(
            records, keys, "nothing false", "told of it"
        ),
    }


PARTS: dict[
    str, tuple[Callable[[Plan], Iterator[Record]], Callable[[Sequence[Record]], Tables]]
] = {
    "held": (held.held, _held),
    "tails": (held.tails, _tails),
    "lines": (starts.lines, _lines),
    "repeated": (starts.repeated, _repeated),
    "pairs": (starts.pairs, _pairs),
    "real": (starts.real, _real),
    "patterns": (patterned.patterns, _patterns),
    "coach": (coached.coach, _coach),
    "clean": (coached.clean, _clean),
    "slow": (coached.slow, _slow),
    "microphones": (bad_microphones.microphones, _microphones),
    "performances": (performances.performances, _performances),
    "silence": (silence.silence, _silence),
    "live": (live.live, _live),
}
"""What is played, and the tables made of it."""
CLAIMING = ("lines", "repeated", "pairs", "real")
"""Parts in which starts are said."""


def certainty(records: Sequence[Record], plot: Path | None) -> Tables:
    """How many of the starts said with some certainty are right, in each room; and a plot."""
    rooms = list(dict.fromkeys(record["room"] for record in records))
    rows = []
    for room in rooms:
        claims = [
            claim
            for record in records
            if record["room"] == room
            for claim in record["count"].claims
        ]
        rows += [{"room": room} | row for row in reliability(claims) if row["starts"]]
    if plot is not None:
        reliability_plot(rows, plot)
    return {"Certainty: share of starts right": rows}
