"""The command line: what may be said to `trainer`, and its exit status."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from trainer.commands import desk, journal, practice, studio, takes
from trainer.commands import keys_page as keys
from trainer.commands import listen as listening
from trainer.commands import music_files as score
from trainer.errors import TrainerError

FAMILIES = (practice, keys, takes, desk, score, listening, journal, studio)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status says whether it went well (0), or what was asked can't
    be done (1); 2 is for words on the command line that are not understood.
    """
    options = _parser().parse_args(arguments)
    try:
        status: int = options.command(options)
    except TrainerError as error:
        print(error, file=sys.stderr)
        return 1
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    return status


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="trainer", description="A practice partner for flute students."
    )
    parser.set_defaults(
        command=practice.practise_today, routine=None, level=None, player=None, lines=False
    )
    commands = parser.add_subparsers(title="commands", metavar="")
    for family in FAMILIES:
        family.add_to(commands)
    return parser
