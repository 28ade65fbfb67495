"""What is said over two weeks of students whose truth is known: is it right, and never otherwise?

    python -m tests.bench.coach_blind [--seeds 0:300] [--write] [--detail]

Each student has habits that come and go (tests/bench/invented_weeks.py). Counted is whether the
week's one thing is among the two largest troubles there are, whether it says 'go on' where there
is none, whether it ever names one that has healed, and every contradiction between two things said
of a round, a session, a week, its text, its page's words and the studio's line.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from tests.bench.contradictions import of_a_session, of_a_week, of_the_ends, of_the_studio
from tests.bench.invented_weeks import (
    ENDING,
    Habit,
    HabitKind,
    InventedStudent,
    habit_words,
    invented_student,
    practise,
)
from tests.bench.results import write_section
from trainer.journal.findings import FindingKind, WeekFinding
from trainer.journal.next_week import next_thing
from trainer.journal.week_summary import week
from trainer.music.pitch import Pitch

LARGEST = 2
PAGES = 10
"""Of so many students one has the page drawn, which costs as much as the two weeks."""
TOPICS = {
    HabitKind.LATE: {"crossing between two notes", "a note that speaks late", "evenness"},
    HabitKind.BLIP: {"false note between fingerings"},
    HabitKind.MISS: {"notes"},
    HabitKind.NOTE: {"tuning"},
    HabitKind.HIGH: {"tuning of the high notes", "tuning"},
    HabitKind.WEAK_K: {"back syllable"},
    HabitKind.UNEVEN: {"evenness"},
    HabitKind.RUSHING: {"rushing"},
}
"""What may truly be said of each habit."""


@dataclass(frozen=True)
class Blind:
    """One student's two weeks."""

    student: InventedStudent
    sentence: str
    found: tuple[WeekFinding, ...]
    right: bool | None
    """Among the two largest; None where there is no trouble."""
    goes_on: bool
    healed: bool
    """It names something that has gone."""
    contradictions: tuple[str, ...]


def blind(seed: int) -> Blind:
    """Practise, and look at all that was said."""
    student = invented_student(seed)
    done = practise(student)
    summary = week(done.sessions, ENDING)
    first = summary.findings[0] if summary.findings else None
    largest = student.still[:LARGEST]
    gone = first is not None and not any(is_about(first, each) for each in student.still)
    return Blind(
        student,
        next_thing(summary).sentence,
        summary.findings,
        None
        if not student.still
        else first is not None and any(is_about(first, h) for h in largest),
        first is None,
        gone and first is not None and any(is_about(first, habit) for habit in student.healed),
        (
            *of_a_session(done.said),
            *of_the_ends(done.ends),
            *of_a_week(summary),
            *of_the_studio(summary, done.sessions, page=seed % PAGES == 0),
        ),
    )


def is_about(found: WeekFinding, habit: Habit) -> bool:
    """Whether the finding is this habit."""
    match found.kind:
        case FindingKind.SPOT:
            names = found.what.split("–")
            pairs = [set(pair) for pair in pairwise(names)]
            return set(habit.where) in pairs
        case FindingKind.HABIT:
            return found.what in TOPICS[habit.kind]
        case FindingKind.NOTE if habit.kind is HabitKind.HIGH:
            return bool(found.sharp) and Pitch.parse(found.what).midi >= 84
        case FindingKind.NOTE:
            return habit.where == (found.what,)
        case FindingKind.UNEVEN:
            return habit.kind in (HabitKind.UNEVEN, HabitKind.RUSHING)
        case FindingKind.TEMPO:
            return True
        case _:
            return False


def rows(found: Sequence[Blind]) -> Iterator[str]:
    """The table, in Markdown."""
    with_ = [each for each in found if each.right is not None]
    without = [each for each in found if each.right is None]
    right, on = sum(bool(each.right) for each in with_), sum(each.goes_on for each in without)
    kinds = Counter(words for each in found for words in each.contradictions)
    yield "| what | students | asked | found |"
    yield "|---|---:|---:|---:|"
    yield (
        f"| the one thing is among the two largest troubles | {len(with_)} | ≥ 90 % "
        f"| {right} ({100 * right / max(1, len(with_)):.1f} %) |"
    )
    yield (
        f"| 'go on' where there is none | {len(without)} | ≥ 95 % "
        f"| {on} ({100 * on / max(1, len(without)):.1f} %) |"
    )
    yield f"| names something healed | {len(found)} | 0 | {sum(each.healed for each in found)} |"
    yield f"| contradictions | {len(found)} | 0 | {sum(kinds.values())} |"


def _detail(each: Blind) -> str:
    student = each.student
    truth = " | ".join(
        f"{name}: {habit_words(student, habits)}"
        for name, habits in (("still", student.still), ("healed", student.healed))
    )
    verdict = (
        "healed!" if each.healed else {True: "right", False: "WRONG", None: "none"}[each.right]
    )
    lines = [f"{student.seed} {verdict} | {truth} | {each.sentence}"]
    lines += [f"    {found.weight:.2f} {found.kind}: {found.what}" for found in each.found[:4]]
    return "\n".join([*lines, *(f"    CONTRADICTION {words}" for words in each.contradictions)])


def main() -> None:
    """Practise every seed, print, and write down where asked."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seeds", default="0:300")
    parser.add_argument("--detail", action="store_true", help="print what was wrong")
    parser.add_argument("--write", action="store_true", help="write into RESULTS.md")
    options = parser.parse_args()
    first, last = map(int, options.seeds.split(":"))
    found = []
    for seed in range(first, last):
        each = blind(seed)
        found.append(each)
        wrong = each.right is False or each.healed or bool(each.contradictions)
        wrong = wrong or (each.right is None and not each.goes_on)
        if options.detail and wrong:
            print(_detail(each), flush=True)
    section = (
        f"`python -m tests.bench.coach_blind --seeds {options.seeds}`: two weeks each, habits that "
        "come and go, good days and bad; seeds on which nothing was chosen.\n\n"
        + "\n".join(rows(found))
    )
    print(section)
    if options.write:
        write_section("The coach's blind test", section)


if __name__ == "__main__":
    main()
