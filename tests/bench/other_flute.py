"""Takes of a flutist the coach's thresholds were not worked out on: the ear's made flute, scripted.

`tests.ear.made_flute` was written apart from the player the trainer carries; here its notes are
moved, bent, weakened and broken as a fault asks, and what was touched is kept for checking.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from tests.ear.made_flute import Blown, Sound, blown, in_a_room, microphoned, sounded
from trainer.ear.hear import hear
from trainer.ear.heard import Take
from trainer.music.note import Note, Start
from trainer.routine.round import Round

RATE = 44100
FIRST_S = 0.5
BREAK_MIDI = 73.5
"""Between C#5 and D5."""
ROOM_S = 0.3


@dataclass(frozen=True)
class Script:
    """One round as it will be played."""

    round: Round
    notes: tuple[Blown, ...]
    owner: tuple[int, ...]
    """For each blown note, the expected note it answers."""
    touched: frozenset[int] = frozenset()
    """Expected notes a fault touched."""
    squeezed: bool = False
    """The top is to be pinched when it sounds."""


Fault = Callable[[Script, np.random.Generator], Script]


def clean(round_: Round, dice: np.random.Generator) -> Script:
    """The round played by a person: a lead, a spread, a little pitch of one's own."""
    midis = [note.pitch.midi for note in round_.notes]
    by_start = {
        start: blown(midis, round_.tempo_bpm, start, dice)
        for start in sorted({note.start for note in round_.notes})
    }
    lead_s, spread_s = dice.normal(-0.01, 0.015), dice.uniform(0.003, 0.008)
    notes = []
    for note in round_.notes:
        own = by_start[note.start][note.index]
        place_s = float(note.beat) * round_.beat_s + lead_s + dice.normal(0, spread_s)
        notes.append(
            replace(
                own, onset_s=FIRST_S + place_s, cents=float(dice.normal(0, 4)), start=note.start
            )
        )
    return Script(round_, _ended(round_, notes), tuple(range(len(notes))))


def _ended(round_: Round, notes: Sequence[Blown]) -> tuple[Blown, ...]:
    """Each note up to the next; a planned breath is taken out of the note before it."""
    last = round_.notes[-1]
    end_s = notes[-1].onset_s + float(last.length) * round_.beat_s
    ends = [*(note.onset_s for note in notes[1:]), end_s]
    result = []
    for place, (note, end) in enumerate(zip(notes, ends, strict=True)):
        gap_s = note.gap_s
        if place and round_.notes[min(place, len(round_.notes)) - 1].breath_after:
            gap_s = min(0.3, 0.4 * (note.onset_s - notes[place - 1].onset_s))
        result.append(replace(note, end_s=end, gap_s=gap_s))
    return tuple(result)


def take_of(script: Script, dice: np.random.Generator, *, roomy: bool) -> Take:
    """The script made sound, recorded, and heard."""
    sound = sounded(script.notes, RATE, dice)
    if script.squeezed:
        sound = _squeezed(script.notes, sound, dice)
    if roomy:
        sound = in_a_room(sound, RATE, ROOM_S, dice)
    round_ = script.round
    return hear(
        microphoned(sound, dice), RATE, round_.notes, round_.tempo_bpm, round_.tuning, FIRST_S
    )


# Faults ------------------------------------------------------------------------------------------


def _changed(script: Script, change: Callable[[Blown, Note, Note | None], Blown | None]) -> Script:
    """Every note changed as a fault asks; None leaves it."""
    notes, touched = list(script.notes), set(script.touched)
    asked = script.round.notes
    for place, (note, index) in enumerate(zip(notes, script.owner, strict=True)):
        before = asked[index - 1] if index else None
        other = change(note, asked[index], before)
        if other is not None:
            notes[place] = other
            touched.add(index)
    joined = [replace(note, end_s=after.onset_s) for note, after in pairwise(notes)]
    return replace(script, notes=(*joined, notes[-1]), touched=frozenset(touched))


def flat_low(script: Script, dice: np.random.Generator) -> Script:
    size = dice.uniform(18, 28)
    return _changed(
        script,
        lambda note, asked, _: (
            replace(note, cents=note.cents - size * (74 - asked.pitch.midi) / 14)
            if asked.pitch.midi < 74
            else None
        ),
    )


def sharp_top(script: Script, dice: np.random.Generator) -> Script:
    size = dice.uniform(20, 32)
    return _changed(
        script,
        lambda note, asked, _: (
            replace(note, cents=note.cents + size * (asked.pitch.midi - 85) / 11)
            if asked.pitch.midi > 85
            else None
        ),
    )


def all_sharp(script: Script, dice: np.random.Generator) -> Script:
    size = dice.uniform(13, 20) * dice.choice([-1, 1])
    return _changed(script, lambda note, *_: replace(note, cents=note.cents + size))


def late_break(script: Script, dice: np.random.Generator) -> Script:
    late_s = dice.uniform(0.042, 0.065)

    def change(note: Blown, asked: Note, before: Note | None) -> Blown | None:
        if before is None:
            return None
        low, high = sorted((before.pitch.midi, asked.pitch.midi))
        return replace(note, onset_s=note.onset_s + late_s) if low < BREAK_MIDI < high else None

    return _changed(script, change)


def slow_note(script: Script, dice: np.random.Generator) -> Script:
    asked = script.round.notes
    often = [n.pitch.midi for n in asked[2:-2] if sum(o.pitch == n.pitch for o in asked) > 1]
    slow, late_s = int(dice.choice(often)), dice.uniform(0.042, 0.06)
    return _changed(
        script,
        lambda note, asked, _: (
            replace(note, onset_s=note.onset_s + late_s)
            if asked.pitch.midi == slow and asked.index
            else None
        ),
    )


def blip(script: Script, dice: np.random.Generator) -> Script:
    """A short false note at one step, both ways."""
    asked = script.round.notes
    place = int(dice.integers(3, len(asked) - 4))
    step = {asked[place].pitch.midi, asked[place + 1].pitch.midi}
    false_midi = max(step) + int(dice.choice([1, 2]))
    notes: list[Blown] = []
    owner: list[int] = []
    touched = set(script.touched)
    for note, index in zip(script.notes, script.owner, strict=True):
        here = index and {asked[index - 1].pitch.midi, asked[index].pitch.midi} == step
        if here and note.start is Start.SLURRED and notes:
            from_s = note.onset_s - dice.uniform(0.03, 0.042)
            notes[-1] = replace(notes[-1], end_s=from_s)
            false = replace(note, midi=false_midi, onset_s=from_s, end_s=note.onset_s, dip_db=0.0)
            notes.append(false)
            owner.append(index)
            touched |= {index - 1, index}
        notes.append(note)
        owner.append(index)
    return replace(script, notes=tuple(notes), owner=tuple(owner), touched=frozenset(touched))


def weak_back(script: Script, dice: np.random.Generator) -> Script:
    weaker = dice.uniform(5, 8)
    return _changed(
        script,
        lambda note, asked, _: (
            replace(note, level_db=note.level_db - weaker)
            if asked.start is Start.BACK_TONGUED
            else None
        ),
    )


def rushing(script: Script, dice: np.random.Generator) -> Script:
    return _bent(script, dice.uniform(0.07, 0.1))


def dragging(script: Script, dice: np.random.Generator) -> Script:
    return _bent(script, -dice.uniform(0.07, 0.1))


def _bent(script: Script, gain: float) -> Script:
    """The tempo grows evenly from 1 to 1 + gain."""
    seconds = script.round.seconds

    def at(time_s: float) -> float:
        share = (time_s - FIRST_S) / seconds
        return FIRST_S + seconds * float(np.log1p(gain * max(share, -0.1)) / gain)

    notes = tuple(replace(n, onset_s=at(n.onset_s), end_s=at(n.end_s)) for n in script.notes)
    return replace(script, notes=notes, touched=frozenset(script.owner))


def uneven_fours(script: Script, dice: np.random.Generator) -> Script:
    late_s, place = dice.uniform(0.022, 0.034), int(dice.integers(1, 4))
    return _changed(
        script,
        lambda note, asked, _: (
            replace(note, onset_s=note.onset_s + late_s) if asked.beat % 1 * 4 == place else None
        ),
    )


def wrong_note(script: Script, dice: np.random.Generator) -> Script:
    """One named note a semitone off, in every octave; never onto its neighbour."""
    asked = script.round.notes
    names = sorted({note.pitch.name for note in asked[1:-1]})
    sounding = {note.pitch.midi % 12 for note in asked}
    choices = [
        (name, shift)
        for name in names
        for shift in (-1, 1)
        if (next(n for n in asked if n.pitch.name == name).pitch.midi + shift) % 12 not in sounding
    ]
    name, shift = choices[int(dice.integers(len(choices)))]
    return _changed(
        script,
        lambda note, asked, _: (
            replace(note, midi=note.midi + shift)
            if asked.pitch.name == name and 60 <= note.midi + shift <= 100
            else None
        ),
    )


def breathes(script: Script, dice: np.random.Generator) -> Script:
    """Two breaths in the middle of the line, each costing time."""
    asked = script.round.notes
    places = [
        n.index for n in asked[4:-6] if not n.breath_after and not asked[n.index - 1].breath_after
    ]
    first = int(dice.choice(places[: len(places) // 2 - 2]))
    second = int(dice.choice(places[len(places) // 2 + 2 :]))
    notes, touched, late_s = [], set(script.touched), 0.0
    for note, index in zip(script.notes, script.owner, strict=True):
        if index - 1 in (first, second):
            pause_s = dice.uniform(0.3, 0.42)
            late_s += pause_s
            touched |= {index - 1, index}
            note = replace(
                note, start=Start.TONGUED, gap_s=pause_s, dip_db=0.0, attack_s=0.02, change_s=0.012
            )
        notes.append(replace(note, onset_s=note.onset_s + late_s, end_s=note.end_s + late_s))
    return replace(script, notes=tuple(notes), touched=frozenset(touched))


def fades(script: Script, dice: np.random.Generator) -> Script:
    lost, last = dice.uniform(10, 13), len(script.round.notes) - 1
    return _changed(
        script,
        lambda note, asked, _: replace(note, level_db=note.level_db - lost * asked.index / last),
    )


def pinched_top(script: Script, _: np.random.Generator) -> Script:
    high = {note.index for note in script.round.notes if note.pitch.midi >= 86}
    return replace(script, squeezed=True, touched=script.touched | high)


def tongued(script: Script, dice: np.random.Generator) -> Script:
    """Every note of a slurred round tongued."""
    step_s = float(script.round.notes[0].length) * script.round.beat_s
    struck = blown([n.midi for n in script.notes], 15 / step_s, Start.TONGUED, dice)
    notes = tuple(
        replace(one, onset_s=note.onset_s, end_s=note.end_s, cents=note.cents)
        for one, note in zip(struck, script.notes, strict=True)
    )
    return replace(script, notes=notes, touched=frozenset(script.owner))


def drops_notes(script: Script, dice: np.random.Generator) -> Script:
    """Some notes don't come: the note before lasts on, or silence stands there."""
    count = max(4, round(0.13 * len(script.notes)))
    places = dice.choice(np.arange(2, len(script.notes) - 2, 2), count, replace=False)
    kept = [p for p in range(len(script.notes)) if p not in set(places.tolist())]
    notes = [script.notes[p] for p in kept]
    joined = [replace(n, end_s=a.onset_s) for n, a in pairwise(notes)]
    lost = {script.owner[p] for p in places}
    return replace(
        script,
        notes=(*joined, notes[-1]),
        owner=tuple(script.owner[p] for p in kept),
        touched=script.touched | frozenset(lost),
    )


def _squeezed(
    notes: Sequence[Blown], sound: Sound, dice: np.random.Generator
) -> NDArray[np.float64]:
    """From D6 up the fundamental weakened by a high-pass above it, and hiss added."""
    out = sound.copy()
    for note in notes:
        if note.midi < 86:
            continue
        first, end = round(note.onset_s * RATE), min(round(note.end_s * RATE), sound.size)
        hz = 440 * 2 ** ((note.midi - 69) / 12)
        sos = signal.butter(2, min(2.0 * hz, 0.4 * RATE), "high", fs=RATE, output="sos")
        pad = max(0, first - 2000)
        thin = signal.sosfilt(sos, sound[pad:end])[first - pad :]
        old = np.sqrt(np.mean(sound[first:end] ** 2)) + 1e-12
        thin *= old / (np.sqrt(np.mean(thin**2)) + 1e-12)
        hiss = signal.sosfilt(
            signal.butter(1, (600, 6000), "band", fs=RATE, output="sos"),
            dice.standard_normal(end - first),
        )
        hiss *= old * 10 ** (-22 / 20) / hiss.std()
        fade = np.minimum(
            1.0, np.minimum(np.arange(end - first), np.arange(end - first)[::-1]) / 200
        )
        out[first:end] = (1 - fade) * sound[first:end] + fade * (thin + hiss)
    return out
