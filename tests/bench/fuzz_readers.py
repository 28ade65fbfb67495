"""Coverage-guided fuzzing of every reader of files: a sentence for every fault, and nothing else.

    nice -n 19 python -m tests.bench.fuzz_readers READER MINUTES [FOLDER]

READER is one of: yaml, session, message, settings, musicxml, packed, abc, midi, heard-midi.
The fuzzer is atheris (PyPI; libFuzzer underneath). It begins with good files and those of
`tests.bench.attack`; what reaches new code stays in FOLDER, so that a later run goes on from there.
The routine has a program of its own, `fuzz_routine`. An input is a finding where it raises what is
no sentence of ours, or takes longer than SLOWEST_S of processor time; libFuzzer then keeps it in
FOLDER and stops.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.bench import attack

LONGEST_INPUT = 8000
SLOWEST_S = 10.0
"""Of one input, in processor time; instrumented code is some five times slower than plain."""
MEMORY_MB = 1500

Read = Callable[[bytes], None]


def told(*words: str) -> None:
    """A fault is a sentence, and how to mend it another. Raises AssertionError for silence."""
    if not all(words):
        raise AssertionError("a fault without words")


def yaml_reader(_: Path) -> Read:
    """The one reader for YAML, on each of its ways."""
    from trainer.disk.strict_yaml import (
        StrictYamlError,
        lines_of,
        node_tree,
        python_complaint,
        yaml_content,
    )

    def read(data: bytes) -> None:
        text = data.decode("utf-8", "surrogateescape")
        for way in (yaml_content, node_tree, lambda text: lines_of(text, [("rounds", 0), ("a",)])):
            try:
                way(text)
            except StrictYamlError as fault:
                told(fault.what, fault.mend)
        python_complaint(text)

    return read


def session_reader(folder: Path) -> Read:
    """A session's file, and its skimming, which must say the same of what is wrong."""
    from trainer.journal.read import read_session
    from trainer.journal.skim import skim_session

    file = folder / "2026-11-20.yaml"

    def read(data: bytes) -> None:
        file.write_bytes(data)
        log, problems = read_session(file)
        assert log is not None or problems
        skimmed, told = skim_session(file)
        assert (skimmed is None) == (log is None)
        assert bool(told) == bool(problems)

    return read


def message_reader(folder: Path) -> Read:
    """A message from a teacher, beside a good one."""
    from trainer.journal.from_teacher import FOLDER, notes_from_teacher

    home = folder / FOLDER
    home.mkdir(exist_ok=True)
    (home / "good.yaml").write_text(attack.GOOD_MESSAGE)

    def read(data: bytes) -> None:
        (home / "hostile.yaml").write_bytes(data)
        notes, problems = notes_from_teacher(folder)
        assert any(note.words == "Good words." for note in notes)
        assert len(notes) == 2 or problems

    return read


def settings_reader(folder: Path) -> Read:
    """What the student has set."""
    from trainer.app.settings import read_settings
    from trainer.errors import TrainerError

    file = folder / "config.yaml"

    def read(data: bytes) -> None:
        file.write_bytes(data)
        try:
            settings = read_settings(file)
            assert settings.names
            assert settings.a4_hz is None or settings.a4_hz > 0
        except TrainerError as fault:
            told(str(fault))

    return read


def score_reader(folder: Path, name: str) -> Read:
    """A score, as far as the exercise that is made of it."""
    import argparse as arguments

    from trainer.commands import music_files
    from trainer.errors import TrainerError
    from trainer.score import abc, excerpt, exercise, midi, musicxml  # noqa: F401  (to be followed)

    file = folder / name
    parser = arguments.ArgumentParser()
    music_files.add_to(parser.add_subparsers())
    options = parser.parse_args(["import", str(file)])
    nowhere = Path(os.devnull).open("w")  # noqa: SIM115  (as long as the process)

    def read(data: bytes) -> None:
        file.write_bytes(data)
        said, sys.stdout = sys.stdout, nowhere
        try:
            options.command(options)
        except TrainerError as fault:
            told(str(fault))
        finally:
            sys.stdout = said

    return read


def heard_midi_reader(folder: Path) -> Read:
    """A MIDI file as expected notes."""
    from trainer.commands.expected_notes import from_midi
    from trainer.errors import TrainerError

    file = folder / "notes.mid"

    def read(data: bytes) -> None:
        file.write_bytes(data)
        try:
            assert from_midi(file)
        except TrainerError as fault:
            told(str(fault))

    return read


def seeds(reader: str) -> dict[str, bytes]:
    """Files to begin with."""
    poison = {
        name: data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass")
        for name, data in attack.POISON.items()
    }
    scores = {
        name: data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass")
        for name, data in attack.SCORES.items()
    }
    match reader:
        case "musicxml":
            found = scores | {"good": attack.score().encode()}
        case "packed":
            found = attack.PACKED | {"good": attack.zipped({"a.xml": attack.score().encode()})}
        case "abc":
            found = {
                name: data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass")
                for name, data in attack.ABCS.items()
            } | {"good": (attack.TUNE + "GABc|{d}c2(3def|[1 !trill!G4:|[2 Z|]").encode()}
        case "midi" | "heard-midi":
            found = attack.MIDIS | {"good": attack.midi(attack.PLAYED * 8 + attack.END)}
        case _:
            base = {kind: text.encode() for kind, text in attack.BASE.items()}
            found = poison | base | {"good": attack.GOOD_MESSAGE.encode()}
    return {name: data for name, data in found.items() if len(data) <= LONGEST_INPUT}


READERS: dict[str, Callable[[Path], Read]] = {
    "yaml": yaml_reader,
    "session": session_reader,
    "message": message_reader,
    "settings": settings_reader,
    "musicxml": lambda folder: score_reader(folder, "score.musicxml"),
    "packed": lambda folder: score_reader(folder, "score.mxl"),
    "abc": lambda folder: score_reader(folder, "score.abc"),
    "midi": lambda folder: score_reader(folder, "score.mid"),
    "heard-midi": heard_midi_reader,
}


def main() -> None:
    """Fuzz one reader for so many minutes."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("reader", choices=READERS)
    parser.add_argument("minutes", type=float)
    parser.add_argument("folder", type=Path, nargs="?")
    options = parser.parse_args()
    folder = options.folder or Path(tempfile.mkdtemp(prefix="fuzz-"))
    corpus, work = folder / "kept", folder / "work"
    for place in (corpus, work):
        place.mkdir(parents=True, exist_ok=True)
    for number, data in enumerate(seeds(options.reader).values()):
        (corpus / f"seed{number}").write_bytes(data)

    import atheris

    ours = ["trainer.disk", "trainer.journal", "trainer.score", "trainer.app", "trainer.commands"]
    with atheris.instrument_imports(include=[*ours, "yaml", "mido"]):
        read = READERS[options.reader](work)

    def one_input(data: bytes) -> None:
        began = time.process_time()
        read(data)
        spent_s = time.process_time() - began
        assert spent_s < SLOWEST_S, f"{spent_s:.1f} s"

    atheris.Setup(
        [
            sys.argv[0],
            str(corpus),
            f"-artifact_prefix={folder}/",
            f"-max_total_time={round(60 * options.minutes)}",
            f"-max_len={LONGEST_INPUT}",
            f"-rss_limit_mb={MEMORY_MB}",
            "-print_final_stats=1",
            "-verbosity=1",
        ],
        one_input,
    )
    atheris.Fuzz()


if __name__ == "__main__":
    main()
