"""Any two things said that cannot both be true, as sentences for whoever has to look.

Of a round: the sentence, its evidence, the next step, what is marked on the music, what the journal
keeps. Of a session: its end against its rounds, and against where the next one begins. Of a week:
the one thing against what is shown beneath it, and the same week as text, data and page and in the
studio's text, table and data.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path

from tests.bench.invented_weeks import SaidAtTheEnd, SaidOfRound
from trainer.coach.advice import ABOUT, IN_THE_WAY, NO_FAULT, UNJUDGED, NextStep, Topic
from trainer.journal.findings import FindingKind
from trainer.journal.lesson_page import lesson_page
from trainer.journal.log import SessionLog
from trainer.journal.next_week import next_thing
from trainer.journal.week_summary import Week
from trainer.journal.week_text import spot_lines, week_json, week_pages, week_text
from trainer.routine.round import RoundKind
from trainer.studio.folders import StudentFolder
from trainer.studio.lessons import Lesson, LessonDay, lessons_text
from trainer.studio.overview import Overview, student_week
from trainer.studio.overview_text import overview_csv, overview_json, overview_text, stuck_words
from trainer.wording.sentence_list import SENTENCES

PRAISES_TEMPO = ("That was easy", "That went well", "Settled", "Well done", "That held", "Smooth")
BLAMES_TEMPO = ("Too fast", "Clean first", "Too much slipped", "Not ready", "This isn't helping")
NOWHERE = Path("/nowhere")
"""A folder with nothing from a teacher in it."""
TENTH_ROUNDED = 0.051
"""Minutes to a tenth, and a hair."""
UNWRAPPED = 500
"""Columns in which every sentence has a line of its own."""
ENOUGH_JUDGED = 10
"""Rounds of which a share says something."""


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
    sentence, evidence = each.advice.sentence, each.advice.evidence
    all_clean = sentence.startswith(("All clean", "What I could hear was clean"))
    all_clean = all_clean and " but " not in sentence
    unsure = why.startswith("I wasn't sure of every note")
    rules = {
        "found fault with, and then praised or faster": topic in IN_THE_WAY
        and (step is NextStep.FASTER or why.startswith(PRAISES_TEMPO)),
        "easy, beside something found": fault and why.startswith(("That was easy", "That went")),
        "praised, and then slower or taken apart": praised
        and not felt
        and not unsure
        and step in (NextStep.TAKE_OUT, NextStep.SLOWER),
        "all of it praised, and not sure of every note": unsure and sentence.startswith("All "),
        "praised, and then blamed": praised and not felt and why.startswith(BLAMES_TEMPO),
        "the student disagreed, and is praised or blamed all the same": topic is Topic.LEFT_OPEN
        and why.startswith((*PRAISES_TEMPO, *BLAMES_TEMPO)),
        "the student disagreed, and is praised": each.disputed and praised,
        "the journal keeps another word than was said": not climbs
        and not each.log.disagreed
        and each.log.secure is not expected,
        "the journal keeps another sentence than was said": not each.log.disagreed
        and each.log.advice != sentence,
        "the journal calls a tempo held that was found fault with": climbs
        and bool(each.log.secure)
        and topic in IN_THE_WAY,
        "all clean, and notes are marked": all_clean and bool(each.advice.note_indices),
        "all clean, and the figures name what was not": all_clean
        and any(line.startswith("not clean") for line in evidence),
        "better than last round, and said again": f"better than last round: {ABOUT[topic]}"
        in evidence,
        "taken apart though nothing was said": step is NextStep.TAKE_OUT and not fault,
    }
    yield from (words for words, broken in rules.items() if broken)


def of_the_ends(ends: Sequence[SaidAtTheEnd]) -> Iterator[str]:
    """Contradictions between a session's end, its rounds, and where the next session begins."""
    for end in ends:
        yield from (f"{words}: {' '.join(end.words)}" for words in _of_an_end(end))
    for before, after in pairwise(ends):
        said, held = before.climb
        begins = after.began_bpm
        if "tomorrow starts a little lower" in said and held and not begins < held:
            yield f"begins no lower than was said: {said} / {begins:g}"


def _of_an_end(end: SaidAtTheEnd) -> Iterator[str]:
    text = " ".join(end.words)
    last = {
        each.exercise_id: each
        for each in end.rounds
        if each.kind is not RoundKind.KNOT and each.topic not in UNJUDGED
    }
    titles = [each.title for each in last.values()]
    ended_well = {
        each.title if titles.count(each.title) == 1 else each.exercise_id
        for each in last.values()
        if each.topic is Topic.SECURE
    }
    left = {each.to_mind for each in last.values() if each.topic not in NO_FAULT}
    heard = [each for each in end.rounds if each.topic not in UNJUDGED]
    spots = {each.spot: each.topic for each in heard if each.spot}
    open_spots = {
        "–".join(map(str, spot)) for spot, topic in spots.items() if topic not in NO_FAULT
    }
    best = re.search(r"Best today: (.+?)\.(?: |$)", text)
    if best and best[1] not in ended_well:
        yield "best, and found fault with at the end"
    if "on from here" in text and (left or open_spots):
        yield "on from here, and something is left"
    spot = re.search(r"Tomorrow first: ([^,]+),", text)
    if spot and spot[1] not in open_spots:
        yield "tomorrow first, though it ended smooth"
    mind = re.search(r"Tomorrow: (listen to|think of) (.+?)\.(?: |$)", text)
    if mind and f"{mind[1]} {mind[2]}" not in left:
        yield "tomorrow something that was put right"


def of_a_week(week: Week) -> Iterator[str]:
    """Contradictions in what is said of a week."""
    thing, text = next_thing(week), week_text(week)
    lines = spot_lines(week)
    goes_on = thing.sentence == SENTENCES["go on"].words
    if goes_on and any("went wrong" in line or "stuck" in line for line in lines):
        yield "go on, above what goes wrong"
    if goes_on and week.findings:
        yield "go on, though something was found"
    often_wrong = 2 * week.secure_rounds < week.judged_rounds >= ENOUGH_JUDGED
    if (
        goes_on
        and often_wrong
        and not any("Some rounds went wrong" in why for why in thing.evidence)
    ):
        yield f"go on, with {week.secure_rounds} of {week.judged_rounds} rounds clean"
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
        if any(each.startswith(f"{spot} has been open") for each in week.to_ask):
            yield "clean now, and open"
        if spot in thing.sentence:
            yield "the one thing is clean now"
    yield from _begun_at(thing.sentence, text)
    if week.rounds != sum(day.rounds for day in week.days):
        yield "rounds differ between lines"
    unwrapped = week_text(week, width=UNWRAPPED).splitlines()
    told_lines = [line for line in unwrapped if line.strip() and not _drawn(line)]
    for line in dict.fromkeys(told_lines):
        if told_lines.count(line) > 1:
            yield f"said twice: {line.strip()}"


def _begun_at(sentence: str, text: str) -> Iterator[str]:
    """The tempo that a spot is to be begun at, wherever it is said."""
    begin = re.search(r"Begin with (\S+), slowly, at (\d+)", sentence)
    if begin:
        tempos = set(re.findall(rf"{re.escape(begin[1])}, slowly, at (\d+)", text))
        if tempos - {begin[2]}:
            yield f"begun at two tempos: {begin[2]} and {tempos}"


def of_the_studio(week: Week, sessions: Sequence[SessionLog], *, page: bool) -> Iterator[str]:
    """Contradictions between a student's week, the studio and, where asked, the lesson page."""
    folder = StudentFolder("Invented", NOWHERE, (NOWHERE,))
    student = student_week(folder, tuple(sessions), (), week.ending)
    found = Overview(week.first_day, week.ending, (student,), ())
    thing = next_thing(week)
    day = lessons_text(LessonDay(week.ending, (Lesson(student, week, None),)))
    lesson = " ".join(day.split())
    stuck, text = stuck_words(student), overview_text(found)
    if stuck and thing.sentence == SENTENCES["go on"].words:
        yield f"go on, and the studio says: {stuck[0]}"
    clean = [line.split(" is clean now")[0] for line in spot_lines(week) if " is clean" in line]
    for spot in clean:
        if any(words.startswith(f"{spot} in") for words in stuck):
            yield f"clean now, and the studio says it still goes wrong: {spot}"
    for words in stuck:
        if words not in " ".join(text.split()):
            yield f"the studio's text leaves out: {words}"
    if thing.sentence not in lesson:
        yield "the day of lessons says another thing than the week"
    yield from _begun_at(thing.sentence, lesson)
    minutes = f"{week.minutes:.0f}"
    row = next(csv.DictReader(io.StringIO(overview_csv(found))))
    students = overview_json(found)["students"]
    assert isinstance(students, list)
    told = {
        "the week": re.findall(r"days(?: \(last week \d\))?, (\d+) minutes", week_text(week)),
        "the day of lessons": re.findall(r"(\d+) minutes on", lesson),
        "the studio": re.findall(rf" {minutes}  ", text) and [minutes],
        "the data": [f"{students[0]['minutes']:.0f}"],
        "the week's data": [f"{week_json(week)['minutes']:.0f}"],
    }
    for where, figures in told.items():
        if figures[:1] != [minutes]:
            yield f"minutes differ: {minutes} and in {where} {figures}"
    if abs(float(row["minutes"]) - week.minutes) > TENTH_ROUNDED:
        yield f"minutes differ: {week.minutes} and in the table {row['minutes']}"
    if int(row["days"]) != week.days_practised:
        yield "days differ between the week and the table"
    done = re.search(r"exercises done: (\d+) of (\d+)(?:; not played: ([^.]*))?", lesson)
    if done and int(done[2]) - int(done[1]) != len(list(filter(None, (done[3] or "").split(", ")))):
        yield "exercises done and not played don't add up"
    if page:
        yield from _of_the_page(week, sessions, minutes)


def _of_the_page(week: Week, sessions: Sequence[SessionLog], minutes: str) -> Iterator[str]:
    words = re.sub(r"<[^>]+>", " ", lesson_page(week, sessions))
    plain = " ".join(words.replace("♯", "#").replace("♭", "b").split())
    for said in (next_thing(week).sentence, *spot_lines(week), *week.to_ask):
        if said[:40] not in plain.replace("&#x27;", "'"):
            yield f"the page leaves out: {said}"
    if f"{minutes} minute" not in plain:
        yield "the page has other minutes"


def _drawn(line: str) -> bool:
    """A line of a chart."""
    return any(sign in line for sign in "█▄▀■□─·♯♭") or line.replace(" ", "").isalnum()
