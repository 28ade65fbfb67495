"""The command line: what may be said to `trainer`, and its exit status."""

from __future__ import annotations

import argparse
import os
import sys
import traceback
from collections.abc import Sequence
from contextlib import suppress
from typing import TextIO

from trainer.app.paths import user_paths
from trainer.commands import desk, journal, practice, studio, takes
from trainer.commands import keys_page as keys
from trainer.commands import listen as listening
from trainer.commands import music_files as score
from trainer.commands.plain_output import plain_output
from trainer.commands.plain_parser import HELP, PlainParser
from trainer.disk.outside_text import visible
from trainer.disk.private import private_appending
from trainer.errors import TrainerError

MATRIX_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""What numpy's matrix libraries are told when it is loaded: OpenBLAS, OpenMP, Apple's Accelerate.
The ear's matrices are small; threads that wait for one another over them cost it twice its time."""
FAMILIES = (practice, keys, takes, desk, score, listening, journal, studio)


STOPPED = 130
"""Exit status after Ctrl-C, as shells give it (128 and the number of SIGINT)."""
OWN_FAULT = 70
"""Exit status of a fault of our own (EX_SOFTWARE of BSD's sysexits.h)."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status says whether it went well (0), or what was asked can't
    be done (1); 2 is for words on the command line that are not understood, 130 for Ctrl-C, 70 for
    a fault of the trainer's own, which the log tells.
    """
    for name in MATRIX_THREADS:
        os.environ.setdefault(name, "1")
    with plain_output():
        try:
            options = _understood(sys.argv[1:] if arguments is None else list(arguments))
            status: int = options.command(options)
            sys.stdout.flush()
        except TrainerError as error:
            return _ended(str(error), 1)
        except BrokenPipeError:
            return _ended("", 1)
        except KeyboardInterrupt:
            return _ended("Stopped.", STOPPED)
        except OSError as error:
            if error.filename is not None:
                return _own_fault(error)
            return _ended(f"What was said can't be written: {error.strerror or error}.", 1)
        except Exception as error:  # the last net: a sentence instead of a traceback
            return _own_fault(error)
    return status


def _ended(words: str, status: int) -> int:
    """Say why it ended, where that can still be said; what can't be printed is dropped."""
    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        _drop(sys.stdout)
    try:
        if words:
            print(words, file=sys.stderr)
            sys.stderr.flush()
    except (OSError, ValueError):
        _drop(sys.stderr)
    return status


def _drop(stream: TextIO) -> None:
    """Let the stream lead nowhere, so that Python doesn't complain of it on the way out."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _own_fault(fault: Exception) -> int:
    log = user_paths(os.environ).log_file
    try:
        with private_appending(log) as file:
            told = visible("".join(traceback.format_exception(fault)))
            file.write(told.encode("utf-8", "replace"))
        where = f"{log} says what: please send it on."
    except OSError:
        where = f"It is: {type(fault).__name__}: {fault}"
    return _ended(f"Something went wrong in the trainer itself. {where}", OWN_FAULT)


def _understood(words: list[str]) -> argparse.Namespace:
    """What is asked; options alone are for today's practice."""
    parser = _parser()
    alone = (
        bool(words) and words[0] not in HELP and all(one not in parser.commands() for one in words)
    )
    if alone and words[0].startswith("-"):
        words = ["practise", *words]
    return parser.parse_args(words)


def _parser() -> PlainParser:
    parser = PlainParser(prog="trainer", description="A practice partner for flute students.")
    parser.set_defaults(
        command=practice.practise_today, routine=None, level=None, player=None, lines=False
    )
    commands = parser.add_subparsers(title="commands", metavar="")
    for family in FAMILIES:
        family.add_to(commands)
    return parser
