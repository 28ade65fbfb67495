"""This ear beside other libraries: `python -m tests.bench.ear` writes 'The ear' into RESULTS.md.

A quarter of an hour on one core with librosa installed, some four minutes without. With `--ours`
only this ear is run, and the tables are printed, not kept.
"""

from __future__ import annotations

from argparse import ArgumentParser

from tests.bench.ear.plots import write_plots
from tests.bench.ear.report import report
from tests.bench.ear.run import run
from tests.bench.results import RESULTS, write_section


def main() -> None:
    """Run, and keep or print the tables."""
    parser = ArgumentParser(prog="python -m tests.bench.ear", description=__doc__)
    parser.add_argument("--ours", action="store_true", help="only this ear; nothing is kept")
    ours = parser.parse_args().ours
    results = run(ours_only=ours)
    body = report(results)
    if ours:
        print(body)
        return
    write_section("The ear", "\n\n".join([body, *write_plots(results)]))
    print(f"written to {RESULTS}")


if __name__ == "__main__":
    main()
