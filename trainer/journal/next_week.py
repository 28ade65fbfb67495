"""The one thing for next week: a sentence and one line that says why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from trainer.journal.findings import FindingKind, WeekFinding
from trainer.journal.technique import ENOUGH_ROUNDS
from trainer.journal.week_summary import Week
from trainer.wording.sentence_list import CARES, say

ASKED_OFTEN_DAYS = 3
"""Asked for less often, nothing was left out (common practice, no source)."""
FEWEST_DAYS, MOST_DAYS = 3, 6
"""For how many days a thing is advised: as many as were practised, within these (common practice,
no source)."""
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven")


@dataclass(frozen=True)
class NextThing:
    """What to care for in the week to come."""

    sentence: str
    evidence: tuple[str, ...]
    """Why, in one line."""


def next_thing(week: Week) -> NextThing:
    """The heaviest finding; before it too little practice, after it what was left out."""
    if (little := _too_little(week)) is not None:
        return little
    if week.findings:
        first = week.findings[0]
        return _SAID[first.kind](first, days_words(_days(week)))
    return _left_out(week) or _nothing_kept_on(week)


def _days(week: Week) -> int:
    return min(max(week.days_practised, FEWEST_DAYS), MOST_DAYS)


def days_words(days: int) -> str:
    """'five days'."""
    name = _NUMBERS[days] if days < len(_NUMBERS) else f"{days}"
    return f"{name} day{'s' * (days != 1)}"


def _too_little(week: Week) -> NextThing | None:
    if not week.sessions:
        return NextThing(say("begin"), (say("nothing kept"),))
    if week.judged_rounds < ENOUGH_ROUNDS:
        share = f"{week.judged_rounds} of {week.rounds}"
        return NextThing(say("listen more"), (say("hardly judged", share=share),))
    return None


def _spot(found: WeekFinding, days: str) -> NextThing:
    bpm = f"{found.bpm or 0:.0f}"
    return NextThing(say("spot first", spot_note=found.what, bpm=bpm, days=days), _wrong(found))


def _opening(found: WeekFinding, days: str) -> NextThing:
    return NextThing(say("opening first", a_note=found.what, days=days), _wrong(found))


def _wrong(found: WeekFinding) -> tuple[str, ...]:
    return (say("went wrong", share=_share(found)),)


def _note(found: WeekFinding, days: str) -> NextThing:
    side = "sharp" if found.sharp else "flat"
    sentence = say("hold a note", a_note=found.what, days=days)
    return NextThing(sentence, (say("was off", side=side),))


def _habit(found: WeekFinding, days: str) -> NextThing:
    sentence = say("habit", care=CARES[found.what].words, days=days)
    return NextThing(sentence, (say("was said", share=_share(found)),))


def _uneven(found: WeekFinding, days: str) -> NextThing:
    sentence = say("even first", what=found.what, bpm=f"{found.bpm or 0:.0f}", days=days)
    return NextThing(sentence, (say("was uneven", share=_share(found)),))


def _tempo(found: WeekFinding, days: str) -> NextThing:
    why = (say("tempo tried", count=found.times),)
    if found.bpm is None:
        return NextThing(say("tempo stuck, none held", what=found.what, days=days), why)
    sentence = say("tempo stuck", what=found.what, bpm=f"{found.bpm:.0f}", days=days)
    return NextThing(sentence, why)


_SAID: dict[FindingKind, Callable[[WeekFinding, str], NextThing]] = {
    FindingKind.SPOT: _spot,
    FindingKind.OPENING: _opening,
    FindingKind.NOTE: _note,
    FindingKind.HABIT: _habit,
    FindingKind.UNEVEN: _uneven,
    FindingKind.TEMPO: _tempo,
}


def _share(found: WeekFinding) -> str:
    return f"{found.times} of {found.chances}"


def _nothing_kept_on(week: Week) -> NextThing:
    if 2 * week.secure_rounds >= week.judged_rounds:
        return NextThing(say("go on"), (say("nothing kept going wrong"),))
    share = f"{week.secure_rounds} of {week.judged_rounds}"
    sentence = say("each once more", days=days_words(_days(week)))
    return NextThing(sentence, (say("rounds went wrong", share=share),))


def _left_out(week: Week) -> NextThing | None:
    left = [
        asked
        for asked in week.asked
        if asked.days_asked >= ASKED_OFTEN_DAYS and 2 * asked.days_done < asked.days_asked
    ]
    if not left:
        return None
    worst = min(left, key=lambda asked: asked.days_done / asked.days_asked)
    count = days_words(worst.days_asked)
    return NextThing(say("left out", what=worst.title), (say("was left out", count=count),))
