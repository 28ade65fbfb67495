"""The demo: practise now, with your own flute or with a played-in flutist in an invented studio."""

from __future__ import annotations

import argparse
import os
import sys
from contextlib import closing
from datetime import date
from pathlib import Path

from demo.weeks import STUDENT, write_weeks
from trainer import cli
from trainer.app.open_session import local_now, open_session, planned_for
from trainer.app.paths import HOME_VARIABLE, Paths, user_paths
from trainer.app.simulated_flutist import SimulatedFlutist, play_through
from trainer.app.todays_routine import SHIPPED_ROUTINES
from trainer.errors import TrainerError
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES, planted
from trainer.routine.load import load_routine
from trainer.routine.model import Routine
from trainer.session.beginning import Beginning
from trainer.sound.simulated import SimulatedPort

STUDIO = Path(__file__).parent / "studio"
SHORT_ROUTINE = SHIPPED_ROUTINES / "first_try.yaml"
WEEKS_ROUTINE = SHIPPED_ROUTINES / "busy_day.yaml"


def main() -> int:
    """Run the demo; the exit status is 0 when all went well."""
    options = _options()
    if not options.headless and not options.player and _has_microphone():
        print("demo: a microphone was found; this is your own practice, kept in your own journal.")
        return cli.main([])
    os.environ.setdefault(HOME_VARIABLE, str(STUDIO))
    invented = user_paths(os.environ).of_invented_flutist
    _invent_the_weeks(invented)
    if options.headless:
        os.environ[HOME_VARIABLE] = str(invented.journal.parent)
        return _headless(user_paths(os.environ), options.player or "student", options.seed)
    return cli.main(
        ["practise", "--routine", str(SHORT_ROUTINE), "--player", options.player or "student"]
    )


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="demo/run", description=__doc__)
    parser.add_argument(
        "--player",
        nargs="?",
        const="student",
        choices=sorted(EXAMPLES),
        help="a played-in flutist with these habits takes the student's place",
    )
    parser.add_argument(
        "--headless", action="store_true", help="no terminal, faster than real time"
    )
    parser.add_argument("--seed", type=int, default=1, help="another morning of the same flutist")
    return parser.parse_args()


def _has_microphone() -> bool:
    from trainer.sound.devices import list_devices

    try:
        return any(device.input_channels > 0 for device in list_devices())
    except TrainerError as error:
        print(f"demo: {error}", file=sys.stderr)
        return False


def _invent_the_weeks(paths: Paths) -> None:
    if paths.journal.is_dir() and any(paths.journal.iterdir()):
        return
    written = write_weeks(loaded(WEEKS_ROUTINE), paths, date.today())
    print(f"demo: wrote {written} invented sessions of {STUDENT} to {paths.journal}")


def _headless(paths: Paths, habits: str, seed: int) -> int:
    routine = loaded(SHORT_ROUTINE)
    port = SimulatedPort()
    stand_in = SimulatedFlutist(Flutist(EXAMPLES[habits], seed), port)
    with closing(port):
        session = open_session(
            routine,
            planned_for(routine, date.today(), ()),
            port,
            paths,
            Beginning(now=local_now, student=STUDENT, round_begins=stand_in.round_begins),
        )
        play_through(session, port)
    print(f"Planted in the played-in flutist: {', '.join(planted(EXAMPLES[habits])) or 'nothing'}")
    print(f"Journal: {session.view().journal_path}")
    print()
    return cli.main(["week"])


def loaded(file: Path) -> Routine:
    """A shipped routine; the program ends with every mistake where it has any."""
    routine, problems = load_routine(file)
    if routine is None:
        raise SystemExit("\n".join(problem.sentence() for problem in problems))
    return routine


if __name__ == "__main__":
    sys.exit(main())
