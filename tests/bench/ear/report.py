"""The results as a page: first what must be shown, then the tables."""

from __future__ import annotations

import os
import platform
from collections.abc import Sequence

import numpy as np

from tests.bench.ear.readers import versions
from tests.bench.ear.run import HALLS, SLOW_BPM, ReaderResult, Results
from tests.bench.ear.takes import LEAK_DB, ROOM_S, ROOMS_S, SEEDS, STARTS, TEMPOS
from trainer.music.note import Start

STROKES = STARTS[:-1]
DETACHED = ("tongued", "legato tongue", "breath")


def report(results: Results) -> str:
    """The ear's section of RESULTS.md."""
    parts = [
        f"`python -m tests.bench.ear` on {platform.machine()}, {os.cpu_count()} cores: "
        f"{versions()}.",
        f"Made flute (tests/ear/made_flute.py), seeds {SEEDS} used nowhere else, sixteenths at "
        f"{', '.join(map(str, TEMPOS))}, C4 to C7 and back; room: {ROOM_S:g} s, tail 6 dB below "
        "the direct sound. Recorded notes: the half no constant was chosen by. "
        "Recorded phrases: not held out, the weights of the starts were fitted on "
        "them. pYIN on the stitched runs tells how hard each room is.",
        "### What it must show",
        _bars(results),
        "### Onsets: F ±25 ms / F ±50 ms / median error in ms",
        _by_place(results.readers, _onset_cell),
        "### Notes (mir_eval): F by onset and pitch / with ends too",
        _by_place(results.readers, _note_cell),
        "### Cents: median / 95th / gross",
        _by_place(results.readers, _cents_cell),
        "Told readers can't err by an octave on a note that was played; untold ones can.",
        "### How notes started, told ear: rows played, columns heard, %",
        *(_confusion(results, room_s) for room_s in ROOMS_S),
        "### Scripted takes: event named and no other note lost",
        _stumbles(results),
        "### Distance to the Cramér–Rao bound, C4–C7, untold",
        _table(
            ["length ms", "signal to noise dB", "median cents", "95th", "gross", "times the bound"],
            [
                [
                    f"{1000 * row.seconds:.0f}",
                    f"{row.snr_db:.0f}",
                    f"{row.median_cents:.3f}",
                    f"{row.at_95_cents:.3f}",
                    _percent(row.gross),
                    f"{row.times_bound:.2f}",
                ]
                for row in results.bounds
            ],
        ),
        "### Processor time, seconds per second of sound",
        _table(["reader", "cost"], [[r.name, f"{r.cpu:.3f}"] for r in results.readers]),
        f"pYIN only at {SLOW_BPM}.",
    ]
    return "\n\n".join(parts)


def _bars(results: Results) -> str:
    told = results.readers[0]
    rows = []
    for room_s, least, most_ms in ((0.0, 0.995, 2.0), (ROOM_S, 0.98, 5.0)):
        scores = [s for start in STROKES if (s := told.onsets[start, room_s]) is not None]
        place = "dry" if room_s == 0 else "room"
        worst = min(s.f25 for s in scores)
        rows.append([f"onset F ±25, {place}, worst articulation", f"{worst:.3f}", f"≥ {least}"])
        median_ms = max(s.median_ms for s in scores)
        rows.append([f"onset median error, {place}", f"{median_ms:.1f} ms", f"≤ {most_ms:g} ms"])
    leak = [s.f25 for s in results.leak.values() if s is not None]
    rows.append([f"onset F ±25, click leak {LEAK_DB:g} dB", f"{min(leak):.3f}", "≥ 0.995"])
    for room_s, least in ((0.0, 0.99), (ROOM_S, 0.97)):
        place = "dry" if room_s == 0 else "room"
        share = _slurred_or_not(results, room_s)
        rows.append([f"slurred or not, {place}", _percent(share), f"≥ {least:.0%}"])
        for start, names in (
            (Start.LEGATO_TONGUE, ("legato tongue",)),
            (Start.TONGUED, ("tongued",)),
            (Start.BREATH, ("breath",)),
        ):
            counts = results.starts[room_s][start]
            share = sum(counts[name] for name in names) / counts.total()
            bar = "≥ 95%" if start is Start.BREATH else "≥ 90%"
            rows.append([f"{start}, heard so, {place}", _percent(share), bar])
        rows.append([f"silent air, {place}", _percent(results.silent_air[room_s]), "≥ 95%"])
        stumbles = results.stumbles[room_s]
        rows.append(
            [f"scripted takes, {place}", _percent(np.mean(list(stumbles.values()))), "≥ 95%"]
        )
        odd_even = results.odd_even[room_s]
        rows.append(
            [
                f"odd/even, {place}, worst",
                f"{odd_even.ms:.1f} ms, {odd_even.db:.2f} dB",
                "2 ms, 0.5 dB",
            ]
        )
        hz, cents, found = results.vibrato[room_s]
        rows.append(
            [
                f"vibrato, {place}, worst",
                f"{hz:.2f} Hz, {cents:.1f} cents, found {found:.0%}",
                "0.2 Hz, 2 cents",
            ]
        )
        rows.append([f"trill rate, {place}, worst", f"{results.trill[room_s]:.2f} Hz", "≤ 0.3 Hz"])
        rows.append([f"quick answer in 60 ms, {place}", _percent(results.quick[room_s]), "all"])
    first = results.bounds[0]
    rows.append(["cents, 125 ms at 30 dB, median", f"{first.median_cents:.3f}", "≤ 0.1"])
    rows.append(["cents, 125 ms at 30 dB, 95th", f"{first.at_95_cents:.3f}", "≤ 0.5"])
    rows.append(["times the Cramér–Rao bound", f"{first.times_bound:.2f}", "≤ 2"])
    rows.append(["gross errors at 10 dB", _percent(results.bounds[-1].gross), "none"])
    if results.recorded_cents is not None:
        median, at_95 = results.recorded_cents
        rows.append(
            ["cents, recorded notes", f"median {median:.2f}, 95th {at_95:.2f}", "median ≤ 2"]
        )
    for hall in HALLS:
        if hall in results.runs:
            score = results.runs[hall]
            rows.append(
                [
                    f"note F, stitched recorded notes, {_room(hall)}",
                    f"{score.told_f:.3f}, lag removed {score.told_f_lag_removed:.3f}, "
                    f"untold {score.untold_f:.3f}{_beside(score.pyin_f)}",
                    "≥ 0.90, ≥ 0.92",
                ]
            )
            rows.append([f"detached, stitched, {_room(hall)}", _percent(score.detached), "≥ 95%"])
    for kind, share in results.phrases.items():
        bar = "≤ 5%" if kind == "legato" else "≥ 95%"
        rows.append([f"heard detached, recorded {kind}", _percent(share), bar])
    cost = results.cost
    rows.append(
        [
            "while the round sounds, share of a core",
            f"{_percent(cost.live_share)} (the quick answer {_percent(cost.quick_share)})",
            "≤ 5%",
        ]
    )
    rows.append(
        [
            "two-minute take, from the last sample on",
            f"{cost.after_round_s:.2f} s (from a file, at once: {cost.at_once_s:.2f} s)",
            "≤ 0.5 s",
        ]
    )
    rows.append(
        ["live ear's growth from the 5th minute to the 15th", f"{cost.growth_kb:.0f} kB", "flat"]
    )
    for room_s, shares in results.otherwise.items():
        place = "dry" if room_s == 0 else "room"
        for (start, wanted), share in shares.items():
            rows.append(
                [f"{start}, asked {wanted}: heard as played, {place}", _percent(share), "–"]
            )
    return _table(["what", "measured", "asked"], rows)


def _slurred_or_not(results: Results, room_s: float) -> float:
    right, total = 0, 0
    for start, counts in results.starts[room_s].items():
        total += counts.total()
        if start is Start.SLURRED:
            right += counts["slurred"]
        else:
            right += sum(counts[name] for name in DETACHED)
    return right / total


def _onset_cell(result: ReaderResult, start: Start, room_s: float) -> str:
    score = result.onsets[start, room_s]
    if score is None:
        return ""
    return f"{score.f25:.3f} / {score.f50:.3f} / {score.median_ms:.1f}"


def _note_cell(result: ReaderResult, start: Start, room_s: float) -> str:
    score = result.notes[start, room_s]
    return "" if score is None else f"{score.f:.3f} / {score.f_with_ends:.3f}"


def _cents_cell(result: ReaderResult, start: Start, room_s: float) -> str:
    score = result.cents[start, room_s]
    if score is None:
        return ""
    return f"{score.median:.2f} / {score.at_95:.1f} / {_percent(score.gross)}"


def _by_place(results: Sequence[ReaderResult], cell) -> str:  # type: ignore[no-untyped-def]
    """One table a room; readers without an answer are left out."""
    tables = []
    for room_s in ROOMS_S:
        rows = [[r.name, *(cell(r, start, room_s) for start in STARTS)] for r in results]
        place = "dry" if room_s == 0 else f"room {room_s:g} s"
        tables.append(_table([place, *map(str, STARTS)], [row for row in rows if any(row[1:])]))
    return "\n\n".join(tables)


def _confusion(results: Results, room_s: float) -> str:
    heard = ["slurred", "legato tongue", "tongued", "breath", "not found"]
    rows = []
    for start, counts in results.starts[room_s].items():
        rows.append([str(start), *(f"{100 * counts[h] / counts.total():.1f}" for h in heard)])
    return _table(["dry" if room_s == 0 else f"room {room_s:g} s", *heard], rows)


def _stumbles(results: Results) -> str:
    kinds = list(results.stumbles[0.0])
    rows = [
        ["dry" if room_s == 0 else "room", *(_percent(shares[kind]) for kind in kinds)]
        for room_s, shares in results.stumbles.items()
    ]
    return _table(["", *kinds], rows)


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in rows)])


def _room(hall: tuple[float, float]) -> str:
    rt60_s, wet_db = hall
    return f"{rt60_s:g} s, {wet_db:+g} dB" if rt60_s else "dry"


def _beside(pyin_f: float | None) -> str:
    return "" if pyin_f is None else f"; pYIN {pyin_f:.3f}"


def _percent(share: float) -> str:
    return f"{100 * share:.1f}%"
