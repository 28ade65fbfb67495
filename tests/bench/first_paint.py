"""How long until the trainer's first screen is painted, beside the smallest Textual app.

    python -m tests.bench.first_paint [--runs 9] [--beside CHECKOUT] [--write]

From the start of the process to the words on the terminal (a pty): the first question of a first
morning; Today with nothing practised yet; Today after nine weeks of practice every day, of which
yesterday's is new to the program. All take turns, so that a busy machine is busy for each; figures
are medians. CHECKOUT: another checkout of the trainer, measured in the same run. `--write` puts
'First paint' into RESULTS.md.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from shutil import copytree
from statistics import median
from tempfile import TemporaryDirectory

from demo.weeks import write_weeks
from tests.bench.results import write_section
from tests.bench.terminal import Seen, in_terminal
from trainer.app.paths import HOME_VARIABLE, user_paths
from trainer.app.settings import Settings, write_settings
from trainer.app.todays_routine import FIRST_ROUTINE, SHIPPED_ROUTINES
from trainer.routine.load import load_routine

PROJECT = Path(__file__).parents[2]
WEEKS = 9
RUNS = 9
QUESTION = "Which flute do you play?"
SMALLEST = f"""
from textual.app import App
from textual.widgets import Static
class Smallest(App):
    def compose(self):
        yield Static("{QUESTION}")
Smallest().run()
"""


@dataclass(frozen=True)
class Start:
    """One way of starting a program."""

    command: tuple[str, ...]
    environment: Mapping[str, str]
    folder: Path
    """Where it is started: not in a checkout, which Python would take its modules from."""
    words: str
    """On the terminal once the first screen is painted."""
    before: Callable[[], object] = lambda: None
    """Done before each start."""

    def seen(self) -> Seen:
        """Start it, and end it once the words are there."""
        self.before()
        environment = {**os.environ, **self.environment}
        return in_terminal(self.command, environment, self.words, folder=self.folder)


def homes(scratch: Path) -> dict[str, tuple[Path, str]]:
    """A trainer's home of each kind, and what its first screen says."""
    routine, problems = load_routine(SHIPPED_ROUTINES / FIRST_ROUTINE)
    assert routine is not None, problems
    empty, settled, practised = scratch / "empty", scratch / "settled", scratch / "practised"
    empty.mkdir()
    for home in (settled, practised):
        write_settings(user_paths({HOME_VARIABLE: str(home)}).config_file, Settings())
    paths = user_paths({HOME_VARIABLE: str(practised)})
    write_weeks(routine, paths, date.today(), weeks=WEEKS, days_a_week=7)
    return {
        "first morning": (empty, QUESTION),
        "Today, nothing practised": (settled, routine.title),
        f"Today, after {WEEKS} weeks of practice every day": (practised, routine.title),
    }


def starts(scratch: Path, checkouts: Mapping[str, Path]) -> dict[str, Start]:
    """Everything that is started, by name; each checkout has homes of its own."""
    small = scratch / "smallest.py"
    small.write_text(SMALLEST)
    found = {"smallest Textual app": Start((sys.executable, str(small)), {}, scratch, QUESTION)}
    (scratch / "homes").mkdir()
    for name, (made, words) in homes(scratch / "homes").items():
        for checkout, folder in checkouts.items():
            home = copytree(made, scratch / checkout / made.name)
            where = {HOME_VARIABLE: str(home), "PYTHONPATH": str(folder)}
            command = (sys.executable, "-m", "trainer")
            found[f"{name}{checkout}"] = Start(command, where, scratch, words, partial(renew, home))
    return found


def renew(home: Path) -> None:
    """Yesterday's session is new to the trainer, as it is on any morning."""
    for file in sorted((home / "journal").glob("*.yaml"))[-1:]:
        file.touch()


def measured(every: Mapping[str, Start], runs: int) -> dict[str, list[Seen]]:
    """All starts by turns; the first turn, from a cold cache, isn't counted."""
    seen: dict[str, list[Seen]] = defaultdict(list)
    for turn in range(runs + 1):
        for name, start in every.items():
            one = start.seen()
            print(f"{turn} {name}: {one.wall_s:.2f} s, {one.processor_s:.2f} s", flush=True)
            if turn:
                seen[name].append(one)
    return seen


def section(seen: Mapping[str, list[Seen]]) -> str:
    """The figures as a table."""
    walls = {name: median(one.wall_s for one in some) for name, some in seen.items()}
    works = {name: median(one.processor_s for one in some) for name, some in seen.items()}
    smallest = next(iter(seen))
    rows = [
        f"| {name} | {wall_s:.2f} s | {wall_s / walls[smallest]:.1f} | {works[name]:.2f} s | "
        f"{works[name] / works[smallest]:.1f} |"
        for name, wall_s in walls.items()
    ]
    runs = len(seen[smallest])
    return (
        f"`python -m tests.bench.first_paint`: medians of {runs} starts, by turns, from the "
        f"start of the process to the words on the terminal; {os.cpu_count()} cores, load "
        f"{os.getloadavg()[0]:.1f} at the end. Processor time is that of the program's own process "
        "up to then.\n\n| | first paint | against the smallest | processor | against the smallest "
        "|\n|---|---:|---:|---:|---:|\n" + "\n".join(rows)
    )


def main() -> None:
    """Measure, and write down where asked."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=RUNS)
    parser.add_argument("--beside", type=Path, metavar="CHECKOUT")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    checkouts = {"": PROJECT}
    if options.beside is not None:
        checkouts[", before"] = options.beside.resolve()
    with TemporaryDirectory() as name:
        text = section(measured(starts(Path(name), checkouts), options.runs))
    print(text)
    if options.write:
        write_section("First paint", text)


if __name__ == "__main__":
    main()
