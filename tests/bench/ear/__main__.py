"""`python -m tests.bench.ear`: this ear beside other libraries, into tests/bench/RESULTS.md.

Some minutes on one core. With `--ours` only this ear is run, and the tables are printed, not kept.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.bench.ear.report import report
from tests.bench.ear.run import run

RESULTS = Path(__file__).parents[1] / "RESULTS.md"
BEGIN, END = "<!-- ear: begin -->", "<!-- ear: end -->"


def kept(before: str, section: str) -> str:
    """The results page with the ear's own section put in place of the old one."""
    block = f"{BEGIN}\n{section}\n{END}"
    if BEGIN in before and END in before:
        head, rest = before.split(BEGIN, 1)
        return head + block + rest.split(END, 1)[1]
    return (before.rstrip() + "\n\n" if before else "# Results\n\n") + block + "\n"


def main() -> None:
    """Run, and keep or print the tables."""
    ours_only = "--ours" in sys.argv[1:]
    section = report(run(ours_only=ours_only))
    if ours_only:
        print(section)
        return
    before = RESULTS.read_text() if RESULTS.exists() else ""
    RESULTS.write_text(kept(before, section))
    print(f"written to {RESULTS}")


if __name__ == "__main__":
    main()
