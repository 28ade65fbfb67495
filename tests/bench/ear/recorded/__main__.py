"""The ear on recorded notes, in rooms and through microphones it was not fitted on.

    python -m tests.bench.ear.recorded [--part NAME …] [--held-out | --all] [--quick]
                                       [--seed N] [--player NAME] [--halls]
                                       [--json FILE] [--plot FILE] [--write]

Two minutes on one core with `--quick`, up to a quarter of an hour without. Without `--all` only
pitches are played of which no single note may be fitted on. Needs ../shared/recordings and librosa;
pyroomacoustics, espeak-ng, fluidsynth and pyrnnoise where they are installed.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from time import process_time

from tests.bench.ear.recorded.notes import RECORDED, SOUNDFONTS, Part
from tests.bench.ear.recorded.plan import Plan
from tests.bench.ear.recorded.report import CLAIMING, PARTS, Tables, certainty
from tests.bench.ear.recorded.rooms import GENERATORS
from tests.bench.ear.recorded.shared import RECORDINGS
from tests.bench.ear.recorded.table import printed
from tests.bench.results import write_section

CERTAINTY = "certainty"
PLAYERS = f"{RECORDED}, {', '.join(SOUNDFONTS)}, or SOUNDFONT:PROGRAM of any other"


def main() -> None:
    """Play what is wanted; print, and keep where asked."""
    options = _options()
    if not RECORDINGS.is_dir():
        sys.exit(f"no recordings at {RECORDINGS}: nothing can be played")
    part = Part.ALL if options.all else Part.HELD_OUT
    plan = Plan(part, options.quick, options.seed, options.player, options.halls)
    print(_head(plan), flush=True)
    tables: Tables = {}
    for some in run(plan, options.part or [*PARTS, CERTAINTY], options.plot):
        tables |= some
        print("\n" + _printed(some), flush=True)
        if options.json:
            kept = {"plan": _head(plan), "tables": tables}
            options.json.write_text(json.dumps(kept, indent=1, ensure_ascii=False) + "\n")
    if options.write:
        main_ones = {name: rows for name, rows in tables.items() if " by " not in name}
        write_section("Recorded notes, one run", f"{_head(plan)}\n\n{_printed(main_ones)}")


def run(plan: Plan, parts: list[str], plot: Path | None = None) -> Iterator[Tables]:
    """The tables of one part after the other; certainty is counted over those in which starts are
    said."""
    claiming = []
    wanted = [*parts, *(CLAIMING if CERTAINTY in parts else ())]
    for name, (play, tabulate) in PARTS.items():
        if name not in wanted:
            continue
        began = process_time()
        records = list(play(plan))
        took_s = process_time() - began
        print(f"… {name}: {len(records)} takes, {took_s:.0f} s", file=sys.stderr, flush=True)
        if name in CLAIMING:
            claiming += records
        if name in parts:
            yield tabulate(records)
    if CERTAINTY in parts:
        yield certainty(claiming, plot)


def _printed(tables: Tables) -> str:
    return "\n\n".join(printed(name, rows) for name, rows in tables.items())


def _head(plan: Plan) -> str:
    size = "quick" if plan.quick else "complete"
    return (
        f"`python -m tests.bench.ear.recorded`, {size}, {plan.part} pitches, {plan.player} notes, "
        f"seed {plan.seed}; "
        f"rooms by {', '.join(GENERATORS)}."
    )


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--part", action="append", choices=[*PARTS, CERTAINTY])
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--held-out", action="store_true", help="held-out pitches (the default)")
    which.add_argument("--all", action="store_true", help="every pitch")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--player", default=RECORDED, help=PLAYERS)
    parser.add_argument("--halls", action="store_true", help="in halls, from the middle of them")
    parser.add_argument("--json", type=Path, metavar="FILE")
    parser.add_argument("--plot", type=Path, metavar="FILE", help="the reliability plot, SVG")
    parser.add_argument("--write", action="store_true", help="the tables by room into RESULTS.md")
    return parser.parse_args()


if __name__ == "__main__":
    main()
