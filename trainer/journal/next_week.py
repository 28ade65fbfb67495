"""The one thing for next week: a sentence with its evidence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from trainer.journal.technique import ENOUGH_ROUNDS, technique_words
from trainer.journal.trouble import Trouble
from trainer.journal.tuning_map import OUT_OF_TUNE_CENTS, NoteTuning
from trainer.journal.week_summary import Week

# From how often or how far something is worth a week's care: common practice, no source.
FAILED_OFTEN = 3
FAILED_SHARE = 0.15
ENOUGH_NOTES = 8
"""Of fewer a median says little (common practice, no source)."""
ASKED_OFTEN_DAYS = 3
"""Asked for less often, nothing was left out (common practice, no source)."""


@dataclass(frozen=True)
class NextThing:
    """What to care for in the week to come."""

    sentence: str
    evidence: tuple[str, ...]


def next_thing(week: Week) -> NextThing:
    """The first that applies: too little practice, wrong notes, tuning, evenness, left out."""
    for look in _LOOKS:
        found = look(week)
        if found is not None:
            return found
    return NextThing(
        "Go on as it is: nothing stood out that needs a week of its own.",
        (f"{week.secure_rounds} of {week.judged_rounds} judged rounds were secure.",),
    )


def _too_little(week: Week) -> NextThing | None:
    if not week.sessions:
        return NextThing(
            "Begin with the routine's first exercise tomorrow.",
            ("Nothing is written down for these seven days.",),
        )
    if week.judged_rounds < ENOUGH_ROUNDS:
        return NextThing(
            "Let the trainer listen to a few more rounds; so far it has heard too little to say.",
            (f"{week.judged_rounds} of {week.rounds} rounds could be judged.",),
        )
    return None


def _wrong_notes(week: Week) -> NextThing | None:
    often = [
        trouble
        for trouble in week.troubles
        if trouble.failed >= FAILED_OFTEN and trouble.share >= FAILED_SHARE
    ]
    if not often:
        return None
    return NextThing(
        f"Begin each day with {step_words(often[0])}, slowly, before the whole exercise.",
        (f"It {trouble_words(often[0])}.",),
    )


def step_words(trouble: Trouble) -> str:
    """'the step F#5 to G5'."""
    if not trouble.before:
        return f"the opening {trouble.written}"
    return f"the step {trouble.before} to {trouble.written}"


def trouble_words(trouble: Trouble) -> str:
    """'went wrong 6 of 28 times: 4 missed, 2 with a false note between'."""
    parts = [(trouble.missed, "missed"), (trouble.blips, "with a false note between")]
    how = ", ".join(f"{count} {words}" for count, words in parts if count)
    return f"went wrong {trouble.failed} of {trouble.passes} times: {how}"


def _out_of_tune(week: Week) -> NextThing | None:
    out = [note for tuning in week.tuning for note in tuning.notes if _stands_off(note)]
    if not out:
        return None
    worst = max(out, key=lambda note: (abs(note.cents.median), note.midi))
    cents, side = worst.cents, "sharp" if worst.cents.median > 0 else "flat"
    return NextThing(
        f"Hold {worst.written} long against the drone and listen: it stands {side}.",
        (
            f"Median {cents.median:+.0f} cents of {cents.count} notes; the middle half lay from "
            f"{cents.low:+.0f} to {cents.high:+.0f}.",
        ),
    )


def _stands_off(note: NoteTuning) -> bool:
    """Heard often, far out, and nearly always on the same side."""
    cents = note.cents
    far = abs(cents.median) >= OUT_OF_TUNE_CENTS
    return cents.count >= ENOUGH_NOTES and far and cents.low * cents.high > 0


def _uneven(week: Week) -> NextThing | None:
    over = {
        item: item.evenness_ms.median / item.aim_ms
        for item in week.techniques
        if item.evenness_ms and item.aim_ms and item.evenness_ms.count >= ENOUGH_ROUNDS
    }
    worst = max(over, key=lambda item: over[item], default=None)
    if worst is None or over[worst] <= 1 or worst.evenness_ms is None or worst.aim_ms is None:
        return None
    return NextThing(
        f"Play {technique_words(worst)} at a tempo where it runs evenly, then let it grow.",
        (
            f"Its onsets spread {worst.evenness_ms.median:.0f} ms (median of "
            f"{worst.evenness_ms.count} rounds); asked were {worst.aim_ms:.0f} ms.",
        ),
    )


def _left_out(week: Week) -> NextThing | None:
    left = [
        asked
        for asked in week.asked
        if asked.days_asked >= ASKED_OFTEN_DAYS and 2 * asked.days_done < asked.days_asked
    ]
    if not left:
        return None
    worst = min(left, key=lambda asked: asked.days_done / asked.days_asked)
    return NextThing(
        f"Put {worst.title} first: it was left out most.",
        (f"Asked for on {worst.days_asked} days, played on {worst.days_done}.",),
    )


_LOOKS: tuple[Callable[[Week], NextThing | None], ...] = (
    _too_little,
    _wrong_notes,
    _out_of_tune,
    _uneven,
    _left_out,
)
