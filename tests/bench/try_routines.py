"""Play shipped routines whole with the played-in flutist, without a sound card, and say what came.

    python -m tests.bench.try_routines [NAME ...] [--habits student] [--day 2026-03-02]

For each routine: its length on that day, the rounds played, notes asked for and heard, rounds whose
aims were judged and met, and the words the trainer chose. The exit status is 1 where a round was
lost to a fault of our own, where a round heard fewer than half its notes, or where the routine did
not reach its end.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from contextlib import closing
from datetime import UTC, date, datetime, timedelta

from trainer.app.open_session import OWN_FAULT, open_session, planned_for
from trainer.app.paths import HOME_VARIABLE, user_paths
from trainer.app.simulated_flutist import SimulatedFlutist, play_through
from trainer.app.todays_routine import SHIPPED_ROUTINES
from trainer.ear.heard import State
from trainer.journal.log import RoundLog
from trainer.journal.read import read_sessions
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES
from trainer.routine.load import load_routine
from trainer.session.beginning import Beginning
from trainer.sound.simulated import SimulatedPort

FEWEST_HEARD = 0.5


def main() -> int:
    """Play the routines; 0 where all went well."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("names", nargs="*", metavar="NAME")
    parser.add_argument("--habits", default="student", choices=sorted(EXAMPLES))
    parser.add_argument("--day", type=date.fromisoformat, default=date(2026, 3, 2))
    options = parser.parse_args()
    names = options.names or [file.stem for file in sorted(SHIPPED_ROUTINES.glob("*.yaml"))]
    print("| routine | minutes | exercises | rounds | notes heard | aims met | took | topics |")
    print("|---|---|---|---|---|---|---|---|")
    return max([_tried(name, options.habits, options.day) for name in names])


def _tried(name: str, habits: str, day: date) -> int:
    routine, problems = load_routine(SHIPPED_ROUTINES / f"{name}.yaml")
    if routine is None:
        print(f"| {name} | {problems[0].sentence()} |")
        return 1
    planned = planned_for(routine, day, ())
    began = time.monotonic()
    rounds, faults = _played(routine, planned, habits, day)
    asked = sum(len(planned_one.rounds) for planned_one in planned)
    heard = [note.state is not State.MISSED for one in rounds for note in _expected(one)]
    deaf = [one for one in rounds if _share_heard(one) < FEWEST_HEARD]
    judged = [one.secure for one in rounds if one.secure is not None]
    minutes = sum(one.minutes for one in planned)
    topics = Counter(one.topic or "-" for one in rounds).most_common(4)
    print(
        f"| {name} | {minutes:.0f} | {sum(bool(one.rounds) for one in planned)} "
        f"| {len(rounds)} | {sum(heard)} of {len(heard)} | {sum(judged)} of {len(judged)} "
        f"| {time.monotonic() - began:.0f} s "
        f"| {', '.join(f'{topic} {count}' for topic, count in topics)} |",
        flush=True,
    )
    for one in deaf:
        print(f"  few notes heard: {one.exercise_id}, round {one.number} ({one.kind})")
    for fault in faults:
        print(f"  {fault}")
    return int(bool(deaf or faults or len(rounds) < asked))


def _expected(one: RoundLog) -> list:
    return [note for note in one.notes if note.state is not State.EXTRA]


def _share_heard(one: RoundLog) -> float:
    notes = _expected(one)
    return sum(note.state is not State.MISSED for note in notes) / max(1, len(notes))


def _played(routine, planned, habits: str, day: date) -> tuple[tuple[RoundLog, ...], list[str]]:
    """The rounds as the journal kept them, and what went wrong with the trainer itself."""
    port = SimulatedPort()
    started = datetime(day.year, day.month, day.day, 9, tzinfo=UTC)

    def now() -> datetime:
        return started + timedelta(seconds=port.now_frame() / port.sample_rate_hz)

    with tempfile.TemporaryDirectory() as home, closing(port):
        paths = user_paths({HOME_VARIABLE: home})
        stand_in = SimulatedFlutist(Flutist(EXAMPLES[habits], seed=1), port)
        session = open_session(
            routine, planned, port, paths, Beginning(now=now, round_begins=stand_in.round_begins)
        )
        play_through(session, port)
        notices = [text for text in session.view().notices if OWN_FAULT in text]
        sessions, _ = read_sessions(paths.journal, day, day)
    return tuple(one for log in sessions for one in log.rounds), notices


if __name__ == "__main__":
    sys.exit(main())
