"""What comes late or is slow to speak, rushing and dragging, evenness."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import TypeVar

import numpy as np

from trainer.coach import thresholds
from trainer.coach.advice import Topic
from trainer.coach.finger_changes import why_hard
from trainer.coach.marks import Marks, NoteMark
from trainer.coach.observations.back_syllable import in_back_syllable
from trainer.coach.observations.group_places import in_group_places
from trainer.coach.observations.observation import (
    NoteStep,
    Observation,
    by_pair,
    chance_of_one_more,
    recent,
    steps_of,
)
from trainer.figures.enough import TEMPO_NOTES
from trainer.figures.note_figures import LATE_MS
from trainer.music.note import Start

_STRUCK = (Start.TONGUED, Start.BACK_TONGUED, Start.LEGATO_TONGUE)


def in_timing(marks: Marks, earlier: Sequence[Marks]) -> Iterator[Observation]:
    """What is late, early, uneven, or too fast or slow; not a constant lead."""
    yield from _tempo(marks)
    if marks.blurred:
        return
    rounds = recent(marks, earlier)
    back = list(in_back_syllable(rounds))
    uneven = [] if back else list(in_group_places(marks))
    yield from back
    yield from uneven
    if not back and not uneven:
        late_notes = list(_late_notes(rounds))
        yield from late_notes
        yield from _crossings(rounds, {place for seen in late_notes for place in seen.note_indices})
        yield from _spread(marks)
    yield from _slow_to_speak(rounds)


_At = TypeVar("_At", int, tuple[int, int])
"""A pitch, or two, as MIDI numbers."""


def _late_places(places: Mapping[_At, Sequence[NoteStep]]) -> list[_At]:
    """Those late by habit: more than once, and so much later than the other pitches as chance
    brings about in few rounds, all places looked at (Bonferroni). A pitch counts once, since a room
    may do the same to it each time it comes."""
    off_ms = {at: placed for at, steps in places.items() if (placed := _placed(steps))}
    late = [at for at, each in off_ms.items() if _is_usually_late(each)]
    pitches: dict[int, list[float]] = defaultdict(list)
    for step in (step for at in off_ms if at not in late for step in places[at]):
        if step.to.off_ms is not None:
            pitches[step.to.written.midi].append(step.to.off_ms)
    others_ms = [float(np.clip(np.median(each), -LATE_MS, LATE_MS)) for each in pitches.values()]
    return [
        at
        for at in late
        if len(off_ms[at]) >= thresholds.HABIT_TIMES
        and len(places) * _chance(_usual(off_ms[at]), others_ms) < thresholds.LATE_CHANCE
    ]


def _is_usually_late(off_ms: Sequence[float]) -> bool:
    """Mostly, one slip left out; what was late no more than twice was so each time."""
    twice_only = sum(off >= LATE_MS for off in off_ms) <= thresholds.HABIT_TIMES
    each_time = _often(off_ms) == len(off_ms)
    return _usual(off_ms) >= LATE_MS and (each_time or not twice_only)


def _chance(late_ms: float, others_ms: Sequence[float]) -> float:
    return chance_of_one_more(
        late_ms, others_ms, thresholds.PITCHES_SPREAD_MS, thresholds.PITCHES_KNOWN
    )


def _often(off_ms: Sequence[float]) -> int:
    return sum(off > LATE_MS / 2 for off in off_ms)


def _usual(off_ms: Sequence[float]) -> float:
    """The middle value, the smaller of two: one slip never makes it."""
    return sorted(off_ms)[(len(off_ms) - 1) // 2]


def _crossings(rounds: Sequence[Marks], explained: set[int]) -> Iterator[Observation]:
    pairs = by_pair(rounds)
    for between in _late_places(pairs):
        steps = pairs[between]
        here = [step for step in steps if step.now and step.to.off_ms is not None]
        if not here or any(step.to.index in explained for step in here):
            continue
        if not _were_held_off(steps):
            yield _crossing(here, _placed(steps))


def _crossing(here: Sequence[NoteStep], off_ms: Sequence[float]) -> Observation:
    frm, to = here[0].frm.written, here[0].to.written
    late_ms = _usual(off_ms)
    return Observation(
        Topic.CROSSING,
        late_ms / LATE_MS,
        (f"{frm}–{to}: late by {_listed(off_ms)} ms",),
        tuple(sorted({index for step in here for index in (step.frm.index, step.to.index)})),
        amount=late_ms,
        frm=frm,
        to=to,
        times=_often(off_ms),
        chances=len(off_ms),
        detail=why_hard(frm, to) or "",
    )


def _late_notes(rounds: Sequence[Marks]) -> Iterator[Observation]:
    """Notes that come late whichever neighbour they follow: the note is slow, not the fingers."""
    arrivals: dict[int, list[NoteStep]] = defaultdict(list)
    for step in steps_of(rounds):
        if step.to.off_ms is not None:
            arrivals[step.to.written.midi].append(step)
    late_pairs = _late_places(by_pair(rounds))
    for midi in _late_places(arrivals):
        steps = arrivals[midi]
        here = [step.to for step in steps if step.now]
        if here and not _were_held_off(steps) and _from_all_sides(steps, late_pairs):
            off_ms = _placed(steps)
            late_ms = _usual(off_ms)
            yield Observation(
                Topic.LATE_NOTE,
                late_ms / LATE_MS,
                (f"{here[0].written}: late by {_listed(off_ms)} ms, wherever it came from",),
                tuple(note.index for note in here),
                amount=late_ms,
                frm=here[0].written,
                times=_often(off_ms),
                chances=len(off_ms),
            )


def _from_all_sides(steps: Sequence[NoteStep], late_pairs: Sequence[tuple[int, int]]) -> bool:
    """Late from each neighbour; a note with a single neighbour, if leaving it is in time."""
    sides: dict[tuple[int, int], list[NoteStep]] = defaultdict(list)
    for step in steps:
        sides[step.between].append(step)
    if len(sides) > 1:
        return all(_usual(_placed(side)) >= LATE_MS / 2 for side in sides.values())
    return not sides.keys() & set(late_pairs)


def _placed(steps: Sequence[NoteStep]) -> list[float]:
    return [step.to.off_ms for step in steps if step.to.off_ms is not None]


def _were_held_off(steps: Sequence[NoteStep]) -> bool:
    """Whether what comes late was struck in time, as far as the note before tells."""
    late_ms = _usual(_placed(steps) or [0.0])
    return 2000 * _usual([step.to.gap_over_s for step in steps]) >= late_ms > 0


def _slow_to_speak(rounds: Sequence[Marks]) -> Iterator[Observation]:
    """Struck notes whose tone stands long after their stroke; that is no lateness."""
    by_pitch: dict[int, list[NoteMark]] = defaultdict(list)
    for note in (note for marks in rounds for note in marks.heard):
        if note.asked_start in _STRUCK:
            by_pitch[note.written.midi].append(note)
    heard_so = {} if rounds[-1].rung_over else _heard_slow(by_pitch)
    for midi, took_s in (_held_off(by_pitch) | heard_so).items():
        here = [note for note in rounds[-1].heard if note.written.midi == midi]
        if here:
            yield Observation(
                Topic.SLOW_TO_SPEAK,
                max(1.0, float(np.median(took_s)) / thresholds.SLOW_TO_SPEAK_S),
                (f"{here[0].written}: {_listed([1000 * s for s in took_s])} ms until it speaks",),
                tuple(note.index for note in here),
                amount=float(np.median(took_s)),
                frm=here[0].written,
                times=len(took_s),
                chances=len(by_pitch[midi]),
            )


def _heard_slow(by_pitch: Mapping[int, Sequence[NoteMark]]) -> dict[int, list[float]]:
    """The pitches whose strokes were heard so long before their tone clearly oftener than not, and
    how long it took, in seconds.

    What was heard says nothing where no stroke was surely heard, the gap before it was shorter than
    usual, or the whole sound or its own harmonics stood meanwhile: that is the room's doing.
    """
    delays_s = [
        note.speaking_s
        for notes in by_pitch.values()
        for note in notes
        if note.speaking_s is not None
    ]
    usual_s = float(np.median(delays_s)) if delays_s else 0.0
    limit_s = max(thresholds.SLOW_TO_SPEAK_S, usual_s + thresholds.SLOWER_TO_SPEAK_S)
    slow_s = {
        midi: [
            note.speaking_s
            for note in notes
            if note.speaking_s is not None and note.speaking_s >= limit_s
            if note.heard_start is not None
            if note.gap_over_s >= 0.0 and (note.attack_s or 0.0) >= thresholds.SLOW_RISE_S
            if not _came_with_its_stroke(note)
        ]
        for midi, notes in by_pitch.items()
    }
    return {
        midi: took_s
        for midi, took_s in slow_s.items()
        if 2 * len(took_s) - len(by_pitch[midi]) >= thresholds.HABIT_TIMES
    }


def _came_with_its_stroke(note: NoteMark) -> bool:
    """Whether its own tone came sooner, against the others', than its stroke did; of a line's first
    note, which has no other before it, that isn't known."""
    if note.index == 0 or note.tone_late_ms is None or not note.from_lines_ms:
        return False
    return note.tone_late_ms < note.from_lines_ms[0]


def _held_off(by_pitch: Mapping[int, Sequence[NoteMark]]) -> dict[int, list[float]]:
    """The pitches whose tone comes late by habit though the note before had stopped in time, in the
    mean of the gaps, and how late it came, in seconds: in a room their strokes are hidden."""
    late_ms = {midi: late for midi, notes in by_pitch.items() if (late := _tones_late(notes))}
    held = [
        midi
        for midi, late in late_ms.items()
        if len(late) >= thresholds.HABIT_TIMES and _usual(late) >= 1000 * thresholds.TONE_HELD_OFF_S
    ]
    others_ms = [
        float(np.clip(np.median(late), -LATE_MS, LATE_MS))
        for midi, late in late_ms.items()
        if midi not in held
    ]
    return {
        midi: [late / 1000 for late in late_ms[midi] if late >= 1000 * thresholds.HELD_OFF_S]
        for midi in held
        if _stopped_in_time(by_pitch[midi])
        and len(late_ms) * _chance(_usual(late_ms[midi]), others_ms) < thresholds.LATE_CHANCE
    }


def _tones_late(notes: Sequence[NoteMark]) -> list[float]:
    return [note.tone_late_ms for note in notes if note.tone_late_ms is not None]


def _stopped_in_time(notes: Sequence[NoteMark]) -> bool:
    """Whether the gaps before late tones were longer in the mean, and the whole sound, where it
    tells, as late as they; nothing stopped before the first note of a line."""
    after = [note for note in notes if note.index > 0]
    gaps_s = [note.gap_over_s for note in after if note.tone_late_ms is not None]
    if len(gaps_s) < thresholds.HABIT_TIMES:
        return False
    spoke_ms = [note.from_lines_ms[-1] for note in after if note.from_lines_ms]
    if spoke_ms and _usual(spoke_ms) < 1000 * thresholds.TONE_HELD_OFF_S:
        return False
    counted_s = np.clip(gaps_s, None, thresholds.LONGEST_GAP_S)
    return float(np.mean(counted_s)) >= thresholds.HELD_OFF_S


def _tempo(marks: Marks) -> Iterator[Observation]:
    """Faster or slower than asked, or changing on the way."""
    if marks.measures.tempo_bpm is None or len(marks.heard) < TEMPO_NOTES or _moved_by_hall(marks):
        return
    against_asked = _sure_share(marks.measures.tempo_bpm / marks.tempo_bpm - 1, marks.tempo_error)
    change = _sure_share(marks.tempo_change or 0.0, marks.tempo_change_error)
    if change == 0.0 and abs(marks.tempo_change or 0.0) > abs(against_asked):
        return  # a room put some notes elsewhere: no one tempo explains them
    steady = abs(against_asked) / thresholds.TEMPO_SHARE
    changing = abs(change) / thresholds.TEMPO_CHANGE_SHARE
    if max(steady, changing) < 1:
        return
    amount = change if changing > steady else against_asked
    yield Observation(
        Topic.RUSHING if amount > 0 else Topic.DRAGGING,
        max(steady, changing),
        (
            f"asked {marks.tempo_bpm:.0f}, played {marks.measures.tempo_bpm:.1f}",
            f"the end against the beginning: {100 * (marks.tempo_change or 0.0):+.1f} %",
        ),
        amount=amount,
        detail="changing" if changing > steady else "steady",
    )


def _moved_by_hall(marks: Marks) -> bool:
    """Whether a hall put the ordinary notes so far from the line that no tempo explains them."""
    return marks.rung_over and _clearly_uneven(marks)


def _clearly_uneven(marks: Marks) -> bool:
    limit_ms = marks.evenness_limit_ms * thresholds.CLEARLY
    return marks.spread_ms is not None and marks.spread_ms > limit_ms


def _sure_share(share: float, error: float) -> float:
    """The share, or nothing where it may be chance."""
    return share if abs(share) >= thresholds.CERTAIN * error else 0.0


def _spread(marks: Marks) -> Iterator[Observation]:
    """Ordinary notes spread too far, where most have a sure place and no hall moves them."""
    limit = marks.evenness_limit_ms
    placed = sum(note.off_ms is not None for note in marks.heard)
    if 2 * placed <= len(marks.heard) or marks.rung_over:
        return
    if marks.spread_ms is not None and _clearly_uneven(marks):
        far = sorted(marks.heard, key=lambda note: -abs(note.off_ms or 0.0))[:4]
        yield Observation(
            Topic.EVENNESS,
            marks.spread_ms / limit,
            (f"ordinary notes spread by {marks.spread_ms:.0f} ms; {limit:.0f} is the line",),
            tuple(sorted(note.index for note in far)),
            amount=marks.spread_ms,
            detail="all",
        )


def _listed(values: Sequence[float]) -> str:
    return ", ".join(f"{value:.0f}" for value in values[-6:])
