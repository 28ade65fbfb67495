"""Planted finger trouble: is the knot found within three rounds, and none where there is none?

    python -m tests.bench.knots [--scripted 200] [--by-sound 20] [--write]

Scripted takes are those of tests/coach (late or blipping at one step), with seeds no threshold was
worked out on; by sound, three rounds are played by `other_flute`, half of them in a room.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from tests.bench import other_flute as other
from tests.bench.planted_takes import SCALE, TONICS, round_of
from tests.bench.results import write_section
from tests.coach.conftest import CLEAN, FAULTS, any_round, make_take
from trainer.coach.judge import judge
from trainer.coach.knots import Knot, knots_in
from trainer.coach.marks import Marks
from trainer.music.note import Articulation

ROUNDS = 3
SCRIPTED_FROM, SOUND_FROM = 30_000, 40_000
SCRIPTED = {"late step": FAULTS["late step"], "blip at a step": FAULTS["blip at a step"]}


def scripted(seed: int, name: str | None) -> tuple[Knot, ...]:
    """The knots after three scripted rounds; the place of the fault follows from the seed."""
    marks: list[Marks] = []
    for number in range(1, ROUNDS + 1):
        round_ = any_round(seed, Articulation.SLURRED, number)
        marks.append(judge(round_, make_take(round_, seed, SCRIPTED[name] if name else CLEAN)))
        if found := knots_in(marks):
            return found
    return ()


def by_sound(seed: int, fault: other.Fault | None) -> tuple[tuple[Knot, ...], frozenset[int]]:
    """The knots after three rounds heard, and the written pitches of the notes touched."""
    dice = np.random.default_rng([seed, 13])
    tempo, key = int(dice.integers(60, 101)), dice.choice(TONICS)
    roomy = bool(dice.random() < 0.5)
    habit = int(dice.integers(1 << 30))
    marks: list[Marks] = []
    touched: frozenset[int] = frozenset()
    for number in range(1, ROUNDS + 1):
        round_ = round_of(SCALE.format(key=key, tempo=tempo, articulation="slurred"))
        round_ = replace(round_, number=number)
        script = other.clean(round_, dice)
        if fault is not None:
            script = fault(script, np.random.default_rng(habit))
            touched = frozenset(round_.notes[i].pitch.midi for i in script.touched)
        marks.append(judge(round_, other.take_of(script, dice, roomy=roomy)))
        if found := knots_in(marks):
            return found, touched
    return (), touched


def rows(scripted_seeds: Sequence[int], sound_seeds: Sequence[int]) -> Iterator[str]:
    """One row for each kind of trouble, and for none."""
    yield "| takes | planted | players | a knot found within three rounds | false knots |"
    yield "|---|---|---:|---:|---:|"
    for name in SCRIPTED:
        found = [scripted(seed, name) for seed in scripted_seeds]
        hit = sum(len(knots) > 0 for knots in found)
        more = sum(len(knots) > 1 for knots in found)
        yield f"| scripted | {name} | {len(found)} | {_share(hit, len(found))} | {more} |"
    clean = [scripted(seed + 5_000, None) for seed in scripted_seeds]
    false = sum(len(knots) > 0 for knots in clean)
    yield f"| scripted | nothing | {len(clean)} | – | {_share(false, len(clean))} |"
    for name, fault in (("late over the break", other.late_break), ("blip", other.blip)):
        heard = [by_sound(seed, fault) for seed in sound_seeds]
        hit = sum(any(_at(knot, touched) for knot in knots) for knots, touched in heard)
        false = sum(any(not _at(knot, touched) for knot in knots) for knots, touched in heard)
        yield f"| by sound | {name} | {len(heard)} | {_share(hit, len(heard))} | {false} |"
    still = [by_sound(seed + 500, None)[0] for seed in sound_seeds]
    false = sum(len(knots) > 0 for knots in still)
    yield f"| by sound | nothing | {len(still)} | – | {_share(false, len(still))} |"
    yield "| asked | | | ≥ 90 % | ≤ 2 % |"


def _at(knot: Knot, touched: frozenset[int]) -> bool:
    return bool({pitch.midi for pitch in knot.pitches} & touched)


def _share(count: int, total: int) -> str:
    return f"{count} ({100 * count / max(1, total):.1f} %)"


def main() -> None:
    """The table, printed, and written down where asked."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--scripted", type=int, default=200)
    parser.add_argument("--by-sound", type=int, default=20)
    parser.add_argument("--write", action="store_true", help="write into RESULTS.md")
    options = parser.parse_args()
    head = (
        f"`python -m tests.bench.knots --scripted {options.scripted} --by-sound {options.by_sound}`"
        f", on {datetime.now(UTC):%Y-%m-%d %H:%M} UTC. Scripted players have one slip in every "
        "second round and a note in fifty that can't be judged; half of those by sound play in a "
        f"room of {other.ROOM_S} s.\n"
    )
    scripted_seeds = range(SCRIPTED_FROM, SCRIPTED_FROM + options.scripted)
    sound_seeds = range(SOUND_FROM, SOUND_FROM + options.by_sound)
    section = head + "\n" + "\n".join(rows(scripted_seeds, sound_seeds))
    print(section)
    if options.write:
        write_section("Knots", section)


if __name__ == "__main__":
    main()
