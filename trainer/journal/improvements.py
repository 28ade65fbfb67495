"""What got better against the week before, a sentence each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import median

from trainer.journal.held_notes import ENOUGH_SESSIONS
from trainer.journal.log import SessionLog
from trainer.journal.statistics import clearly_changed
from trainer.journal.technique import Technique, technique_words
from trainer.journal.tuning_map import OUT_OF_TUNE_CENTS, session_medians
from trainer.music.pitch import sharp_name
from trainer.wording.sentence_list import say


def got_better(
    now: Sequence[SessionLog], before: Sequence[SessionLog], techniques: Sequence[Technique]
) -> tuple[str, ...]:
    """What improved on the week before by more than chance, each a sentence."""
    return (*_better_technique(techniques), *_better_tuning(now, before))


def _better_technique(techniques: Sequence[Technique]) -> Iterator[str]:
    for item in techniques:
        if item.secure_bpm and item.secure_before_bpm and item.secure_bpm > item.secure_before_bpm:
            yield say(
                "faster now",
                what=technique_words(item),
                bpm=f"{item.secure_bpm:g}",
                bpm_before=f"{item.secure_before_bpm:g}",
            )
        change = item.evenness_change
        if change and change.clear and change.change < 0:
            yield say("more even now", what=technique_words(item))


def _better_tuning(now: Sequence[SessionLog], before: Sequence[SessionLog]) -> Iterator[str]:
    medians_before = session_medians(before)
    for (instrument, midi), medians in sorted(session_medians(now).items()):
        earlier = medians_before.get((instrument, midi), [])
        if min(len(medians), len(earlier)) < ENOUGH_SESSIONS:
            continue
        was, is_now = median(earlier), median(medians)
        was_off = abs(was) >= OUT_OF_TUNE_CENTS > abs(is_now)
        if was_off and clearly_changed(earlier, medians):
            side = "sharp" if was > 0 else "flat"
            yield say("note in tune now", a_note=sharp_name(midi), instrument=instrument, side=side)
