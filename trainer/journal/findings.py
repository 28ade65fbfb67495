"""What went wrong in a week often enough to be worth the next one, and still does.

From these alone the week's one thing is chosen, for the student, the page and the studio. What was
wrong only on earlier days of the week has healed and is not among them; nor is what the student
heard differently.

All are weighed in one unit: how much, times how often. 1 is twice what is worth a word, every time;
of what is simply right or wrong, every other time.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import pairwise
from statistics import median

from trainer.ear.heard import State
from trainer.figures.note_figures import LATE_MS, NOTE_CENTS, late_limit_ms
from trainer.journal.log import NoteLog, RoundLog, SessionLog, judged
from trainer.journal.stuck import OpenKnot, StuckTempo, still_wrong
from trainer.journal.technique import ENOUGH_ROUNDS, Technique, secure_tempo, technique_words
from trainer.journal.trouble import KnotWork, knot_name
from trainer.journal.tuning_map import OUT_OF_TUNE_CENTS, TuningMap, session_medians
from trainer.music.note import Articulation
from trainer.music.pitch import Pitch
from trainer.routine.round import RoundKind
from trainer.wording.sentence_list import CARES

NORMAL_SD = 1.4826
"""A normal distribution's standard deviation in median absolute deviations: 1 / Φ⁻¹(3/4)."""
ENOUGH_PLACED = 8
"""Notes whose places say what a round's ordinary spread is. Our own estimate."""
FAILED_OFTEN = 3
"""From how often something is worth a week's care (common practice, no source)."""
FAILED_SHARE = 0.15
"""... and from which share of the times (common practice, no source)."""
BEYOND_USUAL = 3.0
"""... and so many times this player's usual share. Our own estimate."""
ENOUGH_NOTES = 8
"""Of fewer a median says little (common practice, no source)."""
FULL_SHARE = 0.5
"""Wrong every other time weighs 1. Our own estimate."""
TWICE = 2.0
"""... as does whatever is twice what is worth a word: each threshold has its source, and the
distances over them are all that different things have in common. Our own estimate."""
LATEST_DAYS = 2
"""What was well on the last days it was played has healed. Our own estimate."""
LATEST_ROUNDS = 3
"""The same for evenness. Our own estimate."""
HABIT_DAYS = 2
"""Days on which the same was said, in FAILED_OFTEN rounds at least: one bad day makes no habit.
Our own estimate."""
AT_A_PLACE = frozenset(
    {
        "notes",
        "crossing between two notes",
        "a note that speaks late",
        "false note between fingerings",
    }
)
"""Habits that are told by their place, where that is known."""
HABIT_SHARE = 0.5
"""... and this share of the days on which anything was. Our own estimate."""
STILL_SHARE = 1 / 3
"""Said less than so much as on its other days, it has healed but for a slip. Our own estimate."""
BEGIN_SHARE = 0.6
"""A step is begun at so much of the tempo it failed at. Our own estimate."""
WRONG_WEIGHT = 1.2
"""Of things of one size the right notes come first. Common practice, no source."""
UNEVEN_WEIGHT = 0.75
"""Unevenness usually comes from something else, which goes first. Common practice, no source."""
SPOT_WEIGHT, TEMPO_WEIGHT = 0.5, 0.3
"""An open spot, and a tempo that doesn't rise, beside what is counted. Our own estimate."""


class FindingKind(StrEnum):
    """What kind of thing it is."""

    SPOT = "trouble spot"
    OPENING = "first note"
    NOTE = "note out of tune"
    HABIT = "habit"
    UNEVEN = "uneven"
    TEMPO = "tempo that does not rise"


@dataclass(frozen=True)
class WeekFinding:
    """One thing that went wrong, and still does."""

    kind: FindingKind
    what: str
    """'C5–D5', 'C#6', 'tuning of the high notes', 'D major, slurred', 'rope ladder, slurred'."""
    weight: float
    """How much, times how often; the heaviest is the week's one thing."""
    times: int
    """How often it went wrong ..."""
    chances: int
    """... of so many."""
    bpm: float | None = None
    """The tempo to begin at."""
    sharp: bool | None = None
    """Of a note out of tune."""
    times_before: int = 0
    """The same of a trouble spot in the week before ..."""
    chances_before: int = 0
    """... 0 where it wasn't met then."""


def findings(
    now: Sequence[SessionLog],
    before: Sequence[SessionLog],
    worked: Sequence[KnotWork],
    tuning: Sequence[TuningMap],
    techniques: Sequence[Technique],
    open_spots: Sequence[OpenKnot],
    tempos: Sequence[StuckTempo],
) -> tuple[WeekFinding, ...]:
    """All that still goes wrong, the heaviest first; `now`: the week's sessions, oldest first."""
    played, earlier = _played(now), _played(before)
    steps = tuple(_steps(played, earlier))
    spots = tuple(_spots(worked, open_spots, steps, played, earlier))
    named = {spot.what for spot in spots}
    places = (
        *spots,
        *(step for step in steps if not any(inside_spot(step.what, name) for name in named)),
    )
    found = (
        *places,
        *_notes(tuning, now),
        *(habit for habit in _habits(played) if not (places and habit.what in AT_A_PLACE)),
        *_uneven(techniques, played),
        *(_tempo(each) for each in tempos),
    )
    return tuple(sorted(found, key=lambda each: (-each.weight, each.kind, each.what)))


Played = tuple[date, RoundLog]


def _played(sessions: Iterable[SessionLog]) -> list[Played]:
    return [(log.day, round_) for log in sessions for round_ in log.rounds]


# Steps -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Pass:
    """One time over a step."""

    day: date
    wrong: bool
    """Missed, or a false note before it."""
    late_ms: float
    """0 where it was in time, or could not be placed."""
    bpm: float

    @property
    def failed(self) -> bool:
        return self.wrong or self.late_ms > 0

    @property
    def weight(self) -> float:
        return WRONG_WEIGHT / FULL_SHARE if self.wrong else self.late_ms / (TWICE * LATE_MS)


def _steps(played: Iterable[Played], earlier: Iterable[Played]) -> Iterator[WeekFinding]:
    """Neighbouring notes that fail more often than this player's others, up or down."""
    heaviest: dict[str, WeekFinding] = {}
    for found in _each_way(played, earlier):
        before = heaviest.get(found.what)
        if before is None or found.weight > before.weight:
            heaviest[found.what] = found
    yield from heaviest.values()


def _each_way(played: Iterable[Played], earlier: Iterable[Played]) -> Iterator[WeekFinding]:
    passes, passes_before = _by_step(played), _by_step(earlier)
    all_failed = sum(each.failed for of_it in passes.values() for each in of_it)
    all_passes = sum(map(len, passes.values()))
    for step, of_it in passes.items():
        failed = sum(each.failed for each in of_it)
        others = all_passes - len(of_it)
        usual = (all_failed - failed) / others if others else 0.0
        least = max(FAILED_SHARE, BEYOND_USUAL * usual)
        if failed >= FAILED_OFTEN and min(failed / len(of_it), _latest_share(of_it)) >= least:
            yield _step(step, of_it, passes_before.get(step, []))


def _by_step(played: Iterable[Played]) -> dict[_Step, list[_Pass]]:
    """Every time over each step, but for trouble spots being practised and what was disputed."""
    passes: dict[_Step, list[_Pass]] = defaultdict(list)
    for day, round_ in played:
        if round_.kind is not RoundKind.KNOT and not round_.disagreed:
            for step, each in _passes(day, round_):
                passes[step].append(each)
    return passes


_Step = tuple[str, str]
"""The written note before, empty for the first of a round, and the note."""


def _step(step: _Step, passes: Sequence[_Pass], passes_before: Sequence[_Pass]) -> WeekFinding:
    before, written = step
    bpm = float(round(BEGIN_SHARE * median(each.bpm for each in passes if each.failed)))
    return WeekFinding(
        FindingKind.SPOT if before else FindingKind.OPENING,
        _name(step) if before else written,
        sum(each.weight for each in passes) / len(passes),
        sum(each.failed for each in passes),
        len(passes),
        bpm if before else None,
        times_before=sum(each.failed for each in passes_before),
        chances_before=len(passes_before),
    )


def _latest_share(passes: Sequence[_Pass]) -> float:
    days = sorted({each.day for each in passes})[-LATEST_DAYS:]
    latest = [each.failed for each in passes if each.day in days]
    return sum(latest) / len(latest)


def _passes(day: date, round_: RoundLog) -> Iterator[tuple[_Step, _Pass]]:
    """Each judged note with the step to it."""
    late_ms = _late_ms(round_)
    before = ""
    for note in round_.notes:
        if note.state is State.EXTRA or note.written is None:
            continue
        if note.state is not State.NOT_JUDGED and before != note.written:
            wrong = note.state is State.MISSED or note.blip
            off_ms = note.off_ms if late_ms is not None and note.off_ms is not None else 0.0
            late = off_ms if late_ms is not None and off_ms > late_ms else 0.0
            yield (before, note.written), _Pass(day, wrong, late, round_.tempo_bpm)
        before = note.written


def _name(step: _Step) -> str:
    """'C5–D5', the lower first."""
    return "–".join(sorted(step, key=lambda name: (Pitch.parse(name).midi, name)))


def _late_ms(round_: RoundLog) -> float | None:
    """From where on a note of the round is late; None where no place can be judged."""
    off_ms = [note.off_ms for note in round_.notes if _has_place(note)]
    if len(off_ms) < ENOUGH_PLACED or round_.articulation is Articulation.AIR_ONLY:
        return None
    placed = [off for off in off_ms if off is not None]
    middle = median(placed)
    spread = NORMAL_SD * median(abs(off - middle) for off in placed)
    return late_limit_ms(spread)


def _has_place(note: NoteLog) -> bool:
    return note.off_ms is not None and note.state is State.PLAYED


def _spots(
    worked: Sequence[KnotWork],
    open_spots: Sequence[OpenKnot],
    steps: Sequence[WeekFinding],
    played: Sequence[Played],
    earlier: Sequence[Played],
) -> Iterator[WeekFinding]:
    """The trouble spots still open: a step inside still fails, or, where none is known to, the
    spot's own rounds do."""
    titles = dict.fromkeys(
        [knot.title for knot in worked if not knot.solved] + [spot.title for spot in open_spots]
    )
    for title in filter(_is_named, titles):
        inside = [step for step in steps if inside_spot(step.what, title)]
        own = [each for each in played if _is_of(each[1], title)]
        own_before = [each for each in earlier if _is_of(each[1], title)]
        rounds = [round_ for _, round_ in own]
        bpm = secure_tempo(rounds) or min((each.tempo_bpm for each in rounds), default=None)
        if inside:
            yield _spot_of_steps(title, inside, bpm)
        elif still_wrong(own):
            yield _spot_of_rounds(title, own, own_before, bpm)


def _spot_of_steps(title: str, inside: Sequence[WeekFinding], bpm: float | None) -> WeekFinding:
    """A spot as its failing steps have it, but for the tempo that its own rounds came to."""
    return WeekFinding(
        FindingKind.SPOT,
        title,
        max([SPOT_WEIGHT, *(step.weight for step in inside)]),
        sum(step.times for step in inside),
        sum(step.chances for step in inside),
        bpm or inside[0].bpm,
        times_before=sum(step.times_before for step in inside),
        chances_before=sum(step.chances_before for step in inside),
    )


def _spot_of_rounds(
    title: str, own: Iterable[Played], before: Iterable[Played], bpm: float | None
) -> WeekFinding:
    """A spot as its own rounds have it."""
    now, earlier = (judged(round_ for _, round_ in each) for each in (own, before))
    return WeekFinding(
        FindingKind.SPOT,
        title,
        SPOT_WEIGHT,
        now.count(False),
        len(now),
        bpm,
        times_before=earlier.count(False),
        chances_before=len(earlier),
    )


def _is_named(title: str) -> bool:
    """Whether its notes are known: 'C5–D5'; older files may tell a title alone."""
    return "–" in title


def _is_of(round_: RoundLog, title: str) -> bool:
    return round_.kind is RoundKind.KNOT and knot_name(round_) == title


def share_a_step(one: str, other: str) -> bool:
    """Whether two spots have two neighbouring notes in common."""
    return any(inside_spot("–".join(pair), one) for pair in pairwise(other.split("–")))


def inside_spot(step: str, title: str) -> bool:
    """Whether a step 'C5–D5' is one of a spot's, 'B4–C5–D5'."""
    names = title.split("–")
    return any({a, b} == set(step.split("–")) for a, b in pairwise(names))


# Tuning, habits, evenness, tempo -----------------------------------------------------------------


def _notes(tuning: Sequence[TuningMap], now: Sequence[SessionLog]) -> Iterator[WeekFinding]:
    """Notes heard often, far out, nearly always on the same side, and on the last days too."""
    medians = session_medians(now)
    for map_ in tuning:
        for note in map_.notes:
            cents = note.cents
            latest = medians.get((map_.instrument, note.midi), [])[-LATEST_DAYS:]
            still = all(
                abs(each) >= OUT_OF_TUNE_CENTS and each * cents.median > 0 for each in latest
            )
            off = abs(cents.median) >= OUT_OF_TUNE_CENTS and cents.low * cents.high > 0
            if cents.count >= ENOUGH_NOTES and off and still:
                yield WeekFinding(
                    FindingKind.NOTE,
                    note.written,
                    abs(cents.median) / (TWICE * NOTE_CENTS),
                    cents.count,
                    cents.count,
                    sharp=cents.median > 0,
                )


def _habits(played: Sequence[Played]) -> Iterator[WeekFinding]:
    """What was said on most days, and on the last ones hardly less than on those."""
    said: dict[str, Counter[date]] = defaultdict(Counter)
    strengths: dict[str, list[float]] = defaultdict(list)
    for day, round_ in played:
        if round_.secure is not None and not round_.disagreed:
            said[round_.topic][day] += 1
            strengths[round_.topic].append(round_.strength or 1.0)
    days = sorted({day for each in said.values() for day in each})
    for topic, on in said.items():
        often = len(on) >= max(HABIT_DAYS, HABIT_SHARE * len(days))
        often = often and len(strengths[topic]) >= FAILED_OFTEN
        lately = sum(on[day] for day in days[-LATEST_DAYS:]) / LATEST_DAYS
        still = lately >= STILL_SHARE * on.total() / len(on)
        if topic in CARES and often and still:
            weight = len(on) / len(days) * median(strengths[topic]) / TWICE
            yield WeekFinding(FindingKind.HABIT, topic, weight, len(on), len(days))


def _uneven(techniques: Sequence[Technique], played: Sequence[Played]) -> Iterator[WeekFinding]:
    """Keys and articulations less even than asked, also in their last rounds."""
    for item in techniques:
        if item.evenness_ms is None or item.aim_ms is None:
            continue
        rounds = [
            (round_.measures.evenness_ms, round_.tempo_bpm)
            for _, round_ in played
            if (round_.key, round_.articulation) == (item.key, item.articulation)
            and round_.kind in (RoundKind.TECHNIQUE, RoundKind.CLIMB)
            and round_.measures is not None
            and round_.measures.evenness_ms is not None
        ]
        latest = median(ms for ms, _ in rounds[-LATEST_ROUNDS:])
        usual = min(item.evenness_ms.median, latest)
        if len(rounds) >= ENOUGH_ROUNDS and usual > item.aim_ms:
            over = sum(ms > item.aim_ms for ms, _ in rounds)
            yield WeekFinding(
                FindingKind.UNEVEN,
                technique_words(item),
                UNEVEN_WEIGHT * usual / item.aim_ms / TWICE,
                over,
                len(rounds),
                float(round(0.85 * item.tempo_bpm.median)),
            )


def _tempo(stuck: StuckTempo) -> WeekFinding:
    return WeekFinding(
        FindingKind.TEMPO,
        stuck.what,
        TEMPO_WEIGHT,
        stuck.tries,
        stuck.tries,
        stuck.held_bpm,
    )
