"""The week and the long view over one year and over ten: what is shown costs, not what is stored.

    python -m tests.bench.long_reading [--runs 9]

Writes 'Long reading' into RESULTS.md. Runs over one and ten years take turns, each in a process of
its own, so that a busy machine is busy for both.
"""

from __future__ import annotations

import argparse
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.bench.child import Cost, cost_of, typical
from tests.bench.invented_school import write_years
from tests.bench.results import write_section

LAST = date(2026, 11, 25)
YEARS = (1, 10)
LONG = ("journal", "long", "--to", LAST)
COMMANDS: dict[str, tuple[object, ...]] = {
    "`trainer week`": ("week", "--ending", LAST),
    "`trainer journal long`, twelve months": LONG,
    "`… long --by week`, twelve weeks": (*LONG, "--by", "week"),
    "`… long --by month --from` ten years back": (
        *LONG, "--by", "month", "--from", LAST - timedelta(days=3650),
    ),
}  # fmt: skip


def measure(runs: int, scratch: Path) -> None:
    """Write the journals, measure, and put the section into RESULTS.md."""
    homes = {years: scratch / f"{years}" for years in YEARS}
    files = {years: write_years(home / "journal", LAST, years) for years, home in homes.items()}
    (scratch / "0" / "journal").mkdir(parents=True)
    empty = typical([cost_of(("week", "--ending", LAST), str(scratch / "0")) for _ in range(3)])
    first = {years: cost_of(LONG, str(home)) for years, home in homes.items()}
    costs: dict[tuple[str, int], list[Cost]] = {}
    for _ in range(runs):
        for name, words in COMMANDS.items():
            for years, home in homes.items():
                costs.setdefault((name, years), []).append(cost_of(words, str(home)))
    rows = [_row(name, *(typical(costs[name, years]) for years in YEARS)) for name in COMMANDS]
    index = next((homes[10] / "indexes").glob("*.sqlite")).stat().st_size / 1e6
    stored = sum(file.stat().st_size for file in (homes[10] / "journal").iterdir()) / 1e6
    body = "\n".join(
        (
            f"Daily sessions, {files[1]} files and {files[10]} files ({stored:.0f} MB); each "
            f"figure the median of {runs} processes, start of Python included (an empty journal's "
            f"week: {empty.wall_s:.2f} s, {empty.processor_s:.2f} s of processor, "
            f"{empty.peak_mb:.0f} MB). `python -m tests.bench.long_reading`.",
            "",
            "| command | one year: s, processor s, MB | ten years | the ratios |",
            "|---|---:|---:|---:|",
            *rows,
            f"| first build of the index | {_figures(first[1])} | {_figures(first[10])} | "
            f"{_ratios(first[1], first[10])} |",
            "",
            f"The index of ten years is {index:.0f} MB on disk. The last row but one shows ten "
            "times as much in the second column: it is there to see what showing costs.",
        )
    )
    write_section("Long reading", body)
    print(body)


def _row(name: str, one: Cost, ten: Cost) -> str:
    return f"| {name} | {_figures(one)} | {_figures(ten)} | {_ratios(one, ten)} |"


def _figures(cost: Cost) -> str:
    return f"{cost.wall_s:.2f}, {cost.processor_s:.2f}, {cost.peak_mb:.0f}"


def _ratios(one: Cost, ten: Cost) -> str:
    return (
        f"{ten.wall_s / one.wall_s:.2f}, {ten.processor_s / one.processor_s:.2f}, "
        f"{ten.peak_mb / one.peak_mb:.2f}"
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=9)
    with TemporaryDirectory() as place:
        measure(parser.parse_args().runs, Path(place))
