"""A scripted player: takes made note by note, human first, with a fault planted where asked.

Human spread: onsets 4 to 10 ms (professional pianists' scales spread by 8 to 9 ms, Jabusch 2006),
pitch 4 cents (Kopiez 2003: 6.5 between two professionals), a lead of some tens of milliseconds
(Repp 2005), a slip in every second round, a note in fifty that the ear could not judge. Sizes of
the planted faults are our own: what a teacher in the room would notice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pytest

from trainer.coach.advice import Topic
from trainer.ear.heard import HeardNote, State, Take
from trainer.music.articulations import articulated
from trainer.music.instrument import instrument_named
from trainer.music.key import Key, Mode
from trainer.music.layout import full_range, ladder
from trainer.music.note import Articulation, Start
from trainer.music.rhythm import laid_out
from trainer.music.scales import ScaleKind, scale_within
from trainer.routine.round import Aims, Round, RoundKind

TONICS = ("C", "Db", "D", "Eb", "E", "F", "G", "Ab", "A", "Bb")
TECHNIQUE_AIMS = Aims(cents=15, evenness_ms=22, clean=0.93)


@dataclass(frozen=True)
class Fault:
    """What is planted, and the topic a coach must name for it."""

    topic: Topic
    articulation: Articulation = Articulation.SLURRED
    sharp_top_cents: float = 0.0
    """Reached at C7, growing evenly from D6."""
    flat_low_cents: float = 0.0
    """Reached at C4, growing evenly from D5 down."""
    off_cents: float = 0.0
    sharp_note: tuple[str, float] | None = None
    """Every note of this letter, in any spelling, cents."""
    late_ms: float = 0.0
    """At the one step chosen, up and down."""
    blip_share: float = 0.0
    """At the one step chosen, up and down."""
    slow_note_ms: float = 0.0
    """At one note chosen, wherever it comes from."""
    weak_back_db: float = 0.0
    late_back_ms: float = 0.0
    tempo_share: float = 0.0
    """Faster than asked from the start."""
    tempo_change: float = 0.0
    """Gained from the first note to the last."""
    group_ms: float = 0.0
    """The second of every four comes so much late."""
    twos_ms: float = 0.0
    """Every second note comes so much late."""
    spread_ms: float = 0.0
    """Ordinary spread in place of the human one."""
    wrong_share: float = 0.0
    """How often one named note is taken a semitone too low."""
    missed_share: float = 0.0
    wrong_start: Start | None = None
    fade_db: float = 0.0


FAULTS: dict[str, Fault] = {
    "sharp top": Fault(Topic.TUNING_HIGH, sharp_top_cents=28),
    "flat low": Fault(Topic.TUNING_LOW, flat_low_cents=24),
    "headjoint in": Fault(Topic.TUNING, off_cents=15),
    "headjoint out": Fault(Topic.TUNING, off_cents=-15),
    "one sharp note": Fault(Topic.TUNING, sharp_note=("A", 25)),
    "late step": Fault(Topic.CROSSING, late_ms=50),
    "blip at a step": Fault(Topic.BLIP, blip_share=1.0),
    "slow note": Fault(Topic.LATE_NOTE, slow_note_ms=50),
    "weak back": Fault(Topic.BACK_SYLLABLE, Articulation.DOUBLE, weak_back_db=6),
    "late back, reversed": Fault(Topic.BACK_SYLLABLE, Articulation.REVERSE_DOUBLE, late_back_ms=25),
    "rushing": Fault(Topic.RUSHING, tempo_change=0.09),
    "too fast": Fault(Topic.RUSHING, Articulation.SINGLE, tempo_share=0.06),
    "dragging": Fault(Topic.DRAGGING, tempo_change=-0.09),
    "uneven fours": Fault(Topic.EVENNESS, group_ms=28),
    "limping in twos": Fault(Topic.EVENNESS, Articulation.SINGLE, twos_ms=45),
    "uneven": Fault(Topic.EVENNESS, spread_ms=34),
    "wrong note": Fault(Topic.NOTES, wrong_share=0.8),
    "drops notes": Fault(Topic.NOTES, Articulation.SINGLE, missed_share=0.16),
    "tongued, not slurred": Fault(Topic.START, wrong_start=Start.TONGUED),
    "slurred, not tongued": Fault(Topic.START, Articulation.SINGLE, wrong_start=Start.SLURRED),
    "fading": Fault(Topic.FADING, fade_db=10),
}
CLEAN = Fault(Topic.SECURE)


def make_round(
    tonic: str = "D",
    tempo_bpm: float = 72.0,
    articulation: Articulation = Articulation.SLURRED,
    number: int = 1,
    aims: Aims = TECHNIQUE_AIMS,
) -> Round:
    """A major scale over the full range of a C flute in sixteenths."""
    flute = instrument_named("C flute")
    run = scale_within(tonic, ScaleKind.MAJOR, flute.lowest, flute.highest)
    return Round(
        exercise_id="scale of the day",
        title=f"{tonic} major, full range",
        kind=RoundKind.TECHNIQUE,
        number=number,
        key=Key(tonic, Mode.MAJOR),
        articulation=articulation,
        tempo_bpm=tempo_bpm,
        notes=articulated(laid_out(full_range(ladder(run))), articulation),
        beats_per_bar=4,
        aims=aims,
        partner=None,
    )


def make_take(
    round_: Round, seed: int, fault: Fault = CLEAN, slips: bool = True, warnings: Sequence[str] = ()
) -> Take:
    """One round as heard; the same player (seed) has the same habits in every round."""
    player = np.random.default_rng(seed)
    own = _Own.drawn(player)
    margin = min(4, (len(round_.notes) - 1) // 2)
    place = int(player.integers(margin, len(round_.notes) - margin))
    random = np.random.default_rng([seed, round_.number])
    notes = _human(round_, own, fault, random)
    notes = _planted(round_, notes, fault, place, random)
    if slips and random.random() < 0.5:
        notes = _slipped(notes, random)
    unclear = random.random(len(notes)) < 0.02
    notes = [
        HeardNote(note.index, note.expected, State.NOT_JUDGED)
        if lost and note.index is not None
        else note
        for note, lost in zip(notes, unclear, strict=True)
    ]
    return Take(48000, 440.0, 1.0, tuple(notes), warnings=tuple(warnings))


@dataclass(frozen=True)
class _Own:
    """What is this player's own, and no fault."""

    spread_ms: float
    lead_ms: float
    wander_ms: float
    top_cents: float
    low_cents: float

    @classmethod
    def drawn(cls, random: np.random.Generator) -> _Own:
        return cls(
            spread_ms=random.uniform(4, 10),
            lead_ms=random.normal(-10, 20),
            wander_ms=random.uniform(0, 6),
            top_cents=random.uniform(-2, 4),
            low_cents=random.uniform(-4, 1),
        )


def _human(round_: Round, own: _Own, fault: Fault, random: np.random.Generator) -> list[HeardNote]:
    count, seconds = len(round_.notes), round_.seconds
    spread_ms = fault.spread_ms or own.spread_ms
    beats = np.array([float(note.beat) * round_.beat_s for note in round_.notes])
    # tempo t(x) = 1 + share + change·x/seconds, x the time played; onset to second order
    played = beats / (1 + fault.tempo_share)
    played = played - fault.tempo_change * played**2 / (2 * seconds)
    wander = own.wander_ms * np.sin(2 * np.pi * (beats / random.uniform(4, 12) + random.random()))
    onsets = 1.0 + played + (own.lead_ms + wander + random.normal(0, spread_ms, count)) / 1000
    cents = fault.off_cents + random.normal(0, 4, count)
    level = -24 + np.cumsum(random.normal(0, 0.3, count)) + random.normal(0, 1.0, count)
    return [
        HeardNote(
            index=note.index,
            expected=note.pitch,
            state=State.PLAYED,
            midi=note.pitch.midi + (cents[i] + _tendency(note.pitch.midi, own, fault)) / 100,
            onset_s=float(onsets[i]),
            end_s=float(onsets[i] + 0.9 * float(note.length) * round_.beat_s),
            cents=float(cents[i] + _tendency(note.pitch.midi, own, fault)),
            level_db=float(level[i] - fault.fade_db * i / count + (note.pitch.midi - 78) / 8),
            start=_heard_start(note.start, fault),
            attack_s=0.03,
        )
        for i, note in enumerate(round_.notes)
    ]


def _tendency(midi: int, own: _Own, fault: Fault) -> float:
    high, low = max(0, midi - 85) / 11, max(0, 74 - midi) / 14
    return high * (own.top_cents + fault.sharp_top_cents) + low * (
        own.low_cents - fault.flat_low_cents
    )


def _heard_start(asked: Start, fault: Fault) -> Start:
    if fault.wrong_start is not None:
        return fault.wrong_start
    return Start.TONGUED if asked is Start.BACK_TONGUED else asked


def _planted(
    round_: Round, notes: list[HeardNote], fault: Fault, place: int, random: np.random.Generator
) -> list[HeardNote]:
    step = {round_.notes[place].pitch.midi, round_.notes[place + 1].pitch.midi}
    slow = round_.notes[place].pitch.midi
    named = round_.notes[place].pitch.name
    result: list[HeardNote] = []
    for before, note in zip([None, *notes[:-1]], notes, strict=True):
        asked = round_.notes[note.index or 0]
        at_step = before is not None and {_midi(before), _midi(note)} == step
        late = fault.late_ms * at_step + fault.slow_note_ms * (_midi(note) == slow)
        late += fault.group_ms * (asked.beat % 1 * 4 == 1)
        late += fault.twos_ms * (asked.index % 2)
        back = asked.start is Start.BACK_TONGUED
        late += fault.late_back_ms * back
        sharp = 0.0
        if fault.sharp_note is not None and asked.pitch.letter == fault.sharp_note[0]:
            sharp = fault.sharp_note[1]
        changed = replace(
            note,
            onset_s=(note.onset_s or 0.0) + late / 1000,
            cents=(note.cents or 0.0) + sharp,
            level_db=(note.level_db or 0.0) - fault.weak_back_db * back,
            blip=at_step and random.random() < fault.blip_share,
        )
        if asked.pitch.name == named and random.random() < fault.wrong_share:
            result += _replaced(changed, -1)
        elif random.random() < fault.missed_share and 0 < asked.index < len(notes) - 1:
            result.append(HeardNote(note.index, note.expected, State.MISSED))
        else:
            result.append(changed)
    return result


def _midi(note: HeardNote) -> int | None:
    return note.expected.midi if note.expected is not None else None


def _replaced(note: HeardNote, semitones: int) -> list[HeardNote]:
    """Missed, with another note in its place."""
    sounded = replace(
        note,
        index=None,
        expected=None,
        state=State.EXTRA,
        midi=(note.midi or 0.0) + semitones,
        cents=None,
        instead_of=note.index,
    )
    return [HeardNote(note.index, note.expected, State.MISSED), sounded]


def _slipped(notes: list[HeardNote], random: np.random.Generator) -> list[HeardNote]:
    """One slip somewhere: a blip, a late note, a note missed, a wrong one, one out of tune."""
    played = [i for i, note in enumerate(notes) if note.state is State.PLAYED][1:-1]
    at = int(random.choice(played))
    note = notes[at]
    slips: list[list[HeardNote]] = [
        [replace(note, blip=True)],
        [replace(note, onset_s=(note.onset_s or 0.0) + random.uniform(0.04, 0.12))],
        [HeardNote(note.index, note.expected, State.MISSED)],
        _replaced(note, int(random.choice([-2, -1, 1, 2]))),
        [replace(note, cents=(note.cents or 0.0) + random.choice([-30.0, 30.0]))],
    ]
    return notes[:at] + slips[int(random.integers(len(slips)))] + notes[at + 1 :]


def any_round(seed: int, articulation: Articulation, number: int = 1) -> Round:
    """A key and a tempo by the seed."""
    random = np.random.default_rng([seed, 7])
    tonic = TONICS[int(random.integers(len(TONICS)))]
    return make_round(tonic, float(random.integers(60, 121)), articulation, number)


@pytest.fixture(scope="session")
def rounds() -> Callable[..., Round]:
    return make_round


@pytest.fixture(scope="session")
def takes() -> Callable[..., Take]:
    return make_take


@pytest.fixture(scope="session")
def seeded_round() -> Callable[..., Round]:
    return any_round


@pytest.fixture(scope="session")
def faults() -> dict[str, Fault]:
    return FAULTS
