"""Coverage-guided fuzzing of routine files: no traceback, no blow-up, a sentence for every mistake.

    nice -n 19 python -m tests.bench.fuzz_routine MINUTES [FOLDER]

The fuzzer is atheris (PyPI; libFuzzer underneath): it keeps every input that reaches new code of
`trainer.routine` and changes those further, with the words of the language as its dictionary. It
begins with the shipped routines, the hundred broken files and the routines to begin from. What it
keeps stays in FOLDER (a temporary one by default), so that a later run goes on from there. Inputs
of even length are files, which may include another; the rest are read as text.

Prints the number of inputs, the slowest one, and what was found; the exit status is 1 where an
input raised, took longer than SLOWEST_S of processor time, or was refused without a sentence.
"""

from __future__ import annotations

import argparse
import multiprocessing
import runpy
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

PROJECT = Path(__file__).parents[2]
LONGEST_INPUT = 8000
SLOWEST_S = 10
"""Of one input, in processor time; instrumented code is some five times slower than plain."""
MEMORY_MB = 1500
DAY = date(2026, 3, 2)


def main() -> int:
    """Fuzz for so many minutes; 0 where nothing was found."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("minutes", type=float)
    parser.add_argument("folder", type=Path, nargs="?")
    options = parser.parse_args()
    folder = options.folder or Path(tempfile.mkdtemp(prefix="fuzz-routine-"))
    corpus = _seeded(folder)
    context = multiprocessing.get_context("spawn")
    worker = context.Process(target=_fuzz, args=(options.minutes, folder, corpus))
    worker.start()
    worker.join()
    tally = folder / "tally.txt"
    print(tally.read_text(encoding="utf-8") if tally.exists() else "no input was tried")
    found = [*folder.glob("crash-*"), *folder.glob("timeout-*"), *folder.glob("oom-*")]
    print(f"found: {', '.join(map(str, found)) or 'nothing'}; kept inputs in {corpus}")
    return 1 if found or worker.exitcode else 0


def _seeded(folder: Path) -> Path:
    """A corpus to begin with, and the dictionary."""
    corpus = folder / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    broken = runpy.run_path(str(PROJECT / "tests" / "routine" / "broken.py"))
    texts = [file.read_text(encoding="utf-8") for file in (PROJECT / "routines").glob("*.yaml")]
    texts += [broken["GOOD"], *(one.text for one in broken["BROKEN"])]
    for number, text in enumerate(texts):
        (corpus / f"seed-{number}").write_bytes(text.encode()[:LONGEST_INPUT])
    (folder / "words.txt").write_text("\n".join(_dictionary()), encoding="utf-8")
    return corpus


def _dictionary() -> list[str]:
    from trainer.routine.reference import reference

    lines = [line.strip() for line in reference().split("`")[1::2]]
    words = {word for line in lines for word in (line, *line.split()) if word}
    plain = sorted(
        word for word in words if word.isascii() and '"' not in word and "\\" not in word
    )
    return [f'"{word}"' for word in plain if "\n" not in word]


def _fuzz(minutes: float, folder: Path, corpus: Path) -> None:
    """In a process of its own, for libFuzzer ends the process it runs in."""
    import atheris

    with atheris.instrument_imports(include=["trainer.routine", "trainer.music", "yaml"]):
        from trainer.routine.load import load_routine, read_routine
        from trainer.routine.plan import plan
        from trainer.routine.problem_report import describe

    home = folder / "home"
    home.mkdir(exist_ok=True)
    (home / "warm_up.yaml").write_text("title: T\nexercises:\n- {scale: s, key: C}\n")
    count, slowest_s, began = 0, 0.0, time.monotonic()

    def one_input(raw: bytes) -> None:
        nonlocal count, slowest_s
        started = time.process_time()
        if len(raw) % 2:
            routine, problems = read_routine(raw.decode("utf-8", "replace"), "f.yaml")
        else:
            (home / "main.yaml").write_bytes(raw)
            routine, problems = load_routine(home / "main.yaml")
        if (routine is None) != any(problem.serious for problem in problems):
            raise AssertionError("refused without a mistake, or taken with one")
        if not all(problem.what and problem.mend for problem in problems):
            raise AssertionError(f"a mistake without a mending: {describe(problems)}")
        if any(len(problem.sentence()) > 1000 for problem in problems):
            raise AssertionError("a sentence without end")
        if routine is not None:
            plan(routine, DAY, seed=3)
        took_s = time.process_time() - started
        count, slowest_s = count + 1, max(slowest_s, took_s)
        if took_s > SLOWEST_S:
            raise AssertionError(f"{took_s:.1f} s for one input")
        if count % 500 == 0:
            minutes_run = (time.monotonic() - began) / 60
            (folder / "tally.txt").write_text(
                f"{count} inputs in {minutes_run:.1f} minutes, {len(list(corpus.iterdir()))} kept, "
                f"slowest {slowest_s:.2f} s of processor time (instrumented)"
            )

    atheris.Setup(
        [
            sys.argv[0],
            str(corpus),
            f"-artifact_prefix={folder}/",
            f"-max_total_time={round(60 * minutes)}",
            f"-max_len={LONGEST_INPUT}",
            f"-dict={folder / 'words.txt'}",
            f"-timeout={6 * SLOWEST_S}",
            f"-rss_limit_mb={MEMORY_MB}",
            f"-report_slow_units={6 * SLOWEST_S}",
            "-verbosity=0",
        ],
        one_input,
    )
    atheris.Fuzz()


if __name__ == "__main__":
    sys.exit(main())
