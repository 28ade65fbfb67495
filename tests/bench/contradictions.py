"""Any two things said that cannot both be true, as sentences for whoever has to look.

Of a round: the sentence, the next step, what is marked on the music, what the journal keeps. Of a
week: the one thing, what is shown beneath it, and the same week on the page and in the studio.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tests.bench.invented_weeks import SaidOfRound
from trainer.coach.advice import IN_THE_WAY, NO_FAULT, NextStep, Topic
from trainer.journal.findings import FindingKind
from trainer.journal.next_week import next_thing
from trainer.journal.week_summary import Week
from trainer.journal.week_text import spot_lines, week_json, week_pages, week_text
from trainer.routine.round import RoundKind
from trainer.wording.sentence_list import SENTENCES

PRAISES_TEMPO = ("That was easy", "That went well", "Settled", "Well done", "Smooth")
BLAMES_TEMPO = ("Too fast", "Too much slipped", "Not ready", "This isn't helping")


def of_a_session(said: Sequence[SaidOfRound]) -> Iterator[str]:
    """Contradictions in what was said of each round."""
    for each in said:
        for words in _of_a_round(each):
            yield f"{words}: {each.advice.sentence} / {each.proposal.why}"


def _of_a_round(each: SaidOfRound) -> Iterator[str]:
    topic, step, why = each.advice.topic, each.proposal.step, each.proposal.why
    fault, climbs = topic not in NO_FAULT, each.round.kind is RoundKind.CLIMB
    praised, felt = topic is Topic.SECURE, bool(each.log.felt)
    expected = None if topic in NO_FAULT - {Topic.SECURE} else not fault
    rules = {
        "found fault with, and then praised or faster": topic in IN_THE_WAY
        and (step is NextStep.FASTER or why.startswith(PRAISES_TEMPO)),
        "praised, and then slower or taken apart": praised
        and not felt
        and step in (NextStep.TAKE_OUT, NextStep.SLOWER),
        "praised, and then blamed": praised and not felt and why.startswith(BLAMES_TEMPO),
        "the student disagreed, and is praised or blamed all the same": topic is Topic.LEFT_OPEN
        and why.startswith((*PRAISES_TEMPO, *BLAMES_TEMPO)),
        "the student disagreed, and is praised": each.disputed and praised,
        "the journal keeps another word than was said": not climbs
        and not each.log.disagreed
        and each.log.secure is not expected,
        "the journal calls a tempo held that was found fault with": climbs
        and bool(each.log.secure)
        and topic in IN_THE_WAY,
        "all clean, and notes are marked": each.advice.sentence.startswith("All clean")
        and " but " not in each.advice.sentence
        and bool(each.advice.note_indices),
        "taken apart though nothing was said": step is NextStep.TAKE_OUT and not fault,
    }
    yield from (words for words, broken in rules.items() if broken)


def of_a_week(week: Week) -> Iterator[str]:
    """Contradictions in what is said of a week."""
    thing, text = next_thing(week), week_text(week)
    lines = spot_lines(week)
    goes_on = thing.sentence == SENTENCES["go on"].words
    if goes_on and any("went wrong" in line for line in lines):
        yield "go on, above what goes wrong"
    if goes_on and week.findings:
        yield "go on, though something was found"
    if not any(thing.sentence in " ".join(page.split()) for page in week_pages(week)):
        yield "the text says another thing than the week"
    told = week_json(week)["next_thing"]
    if not isinstance(told, dict) or told["sentence"] != thing.sentence:
        yield "the data say another thing than the week"
    first = week.findings[0] if week.findings else None
    if first is not None and first.kind is FindingKind.NOTE:
        name = f"{first.what} of the"
        if any(gain.startswith(name) for gain in week.better):
            yield "the one thing, and better"
    clean = [line.split(" is clean now")[0] for line in lines if " is clean now" in line]
    wrong = [line.split(" went wrong")[0] for line in lines if " went wrong" in line]
    for spot in clean:
        if any(set(each.split("–")) <= set(spot.split("–")) for each in wrong):
            yield "clean now, and went wrong"
    told_lines = [line for line in text.splitlines() if line.strip() and not _drawn(line)]
    for line in dict.fromkeys(told_lines):
        if told_lines.count(line) > 1:
            yield f"said twice: {line.strip()}"


def _drawn(line: str) -> bool:
    """A line of a chart."""
    return any(sign in line for sign in "█▄▀■□─·♯♭") or line.replace(" ", "").isalnum()
