"""The overview of a studio, from one student to a school of two thousand over a school year.

    python -m tests.bench.studio_cost [--students 1 30 200 2000]

Writes 'Studio' into RESULTS.md. Each figure is that of a process of its own.
"""

from __future__ import annotations

import argparse
import shutil
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.bench.child import Cost, cost_of, typical
from tests.bench.invented_school import SCHOOL_WEEKS, write_school
from tests.bench.results import write_section

LAST = date(2026, 11, 25)
NEXT = LAST + timedelta(days=1)
RUNS = 3


def measure(sizes: list[int], scratch: Path) -> None:
    """Write a school of each size, measure, and put the section into RESULTS.md."""
    rows = []
    for size in sizes:
        school = scratch / f"school {size}"
        files = write_school(school, LAST, size)
        rows.append(_row(size, files, school, str(scratch / f"home {size}")))
        print(rows[-1], flush=True)
        shutil.rmtree(school)
        shutil.rmtree(scratch / f"home {size}")
    write_section("Studio", body(rows))


def body(rows: list[str]) -> str:
    """The section's text round the rows of its table."""
    return "\n".join(
        (
            f"A school year of {SCHOOL_WEEKS} weeks, a file a session of some twelve rounds; each "
            "cell is seconds, seconds of processor, MB at the most. `python -m "
            "tests.bench.studio_cost`.",
            "",
            "| students, files, MB | first overview | again | after a day's practice | one "
            "student's page | day list of 12 | index, MB |",
            "|---|---:|---:|---:|---:|---:|---:|",
            *rows,
            "",
            HOW_FAR,
        )
    )


HOW_FAR = """\
The first overview reads six weeks' files without their notes; later ones look at the names of all
files, at size and time of change of six weeks' files, and read what is new. Time grows with the
students, some 5 ms of processor each from the index and some 3 ms for each new file; memory hardly
grows. So one machine shows a school of two thousand in some ten seconds of processor, and one of
ten thousand in a minute. A general engine (DuckDB, Polars) takes over not here but where the
question is about every note of everybody: the notes of this school year are some forty million, and
reading them from their YAML takes some 12 ms a file, more than an hour of processor. For that,
export once (`trainer journal export`, a row a note), keep the table in a column file, and ask the
engine. Where many people look at one school at a time, a database server does.\
"""


def _row(size: int, files: int, school: Path, home: str) -> str:
    stored_mb = sum(file.stat().st_size for file in school.rglob("*.yaml")) / 1e6
    overview = ("studio", school, "--ending", LAST)
    first = cost_of(overview, home)
    again = typical([cost_of(overview, home) for _ in range(RUNS)])
    for student in school.iterdir():
        _one_more_day(student)
    later = cost_of(("studio", school, "--ending", NEXT), home)
    names = sorted(student.name for student in school.iterdir())
    page = cost_of(("studio", school, names[0], "--ending", NEXT), home)
    lessons = cost_of(("studio", school, *names[:12], "--day", "--ending", NEXT), home)
    index_mb = sum(file.stat().st_size for file in Path(home).rglob("*.sqlite")) / 1e6
    cells = " | ".join(_figures(cost) for cost in (first, again, later, page, lessons))
    return f"| {size}, {files}, {stored_mb:.0f} | {cells} | {index_mb:.0f} |"


def _one_more_day(student: Path) -> None:
    """The last session once more, on the day after."""
    last = sorted(student.glob("*.yaml"))[-1]
    day = last.name[:10]
    text = last.read_text(encoding="utf-8").replace(day, str(NEXT))
    last.with_name(last.name.replace(day, str(NEXT))).write_text(text, encoding="utf-8")


def _figures(cost: Cost) -> str:
    return f"{cost.wall_s:.1f}, {cost.processor_s:.1f}, {cost.peak_mb:.0f}"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--students", type=int, nargs="+", default=[1, 30, 200, 2000])
    with TemporaryDirectory() as place:
        measure(parser.parse_args().students, Path(place))
