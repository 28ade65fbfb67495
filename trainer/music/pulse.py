"""The beat of a round: how the tempo runs through it, and what marks it for the ear."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise

from trainer.music.note import Note


class Timbre(StrEnum):
    """What the click sounds like; all of them stay out of the flute's strong harmonics."""

    TICK = "tick"
    """Bright and short."""
    GLASS = "glass"
    """High, and rings a little."""
    BRUSH = "brush"
    """A hiss without pitch."""
    KNOCK = "knock"
    """Low, below the flute; needs headphones or a loudspeaker with some bass."""


@dataclass(frozen=True)
class ClickPart:
    """What the click does in a round, after the count-in."""

    subdivisions: int = 1
    """Taps to a beat; those within the beat are softer."""
    sounding_bars: int = 0
    """So many bars it sounds, then it drops out for `silent_bars`, over and over; 0: never."""
    silent_bars: int = 0
    only_counts_in: bool = False
    """It sounds before the first beat alone."""
    timbre: Timbre = Timbre.TICK
    level_db: float = 0.0
    """Louder or softer than usual."""

    def sounds_in(self, bar: int) -> bool:
        """False in a bar, from 0, in which the player is alone with the pulse."""
        if bar >= 0 and self.only_counts_in:
            return False
        if bar < 0 or not self.sounding_bars or not self.silent_bars:
            return True
        return bar % (self.sounding_bars + self.silent_bars) < self.sounding_bars


PLAIN_CLICK = ClickPart()


@dataclass(frozen=True)
class Pace:
    """A tempo, or one that changes evenly from beat to beat until `beats` are over.

    Before the first beat it is the first tempo, after the last the other.
    """

    from_bpm: float
    to_bpm: float
    beats: float
    stops: tuple[tuple[float, float], ...] = ()
    """(beat at which time stands, for how many beats), in order: fermatas and caesuras."""
    changes: tuple[tuple[float, float], ...] = ()
    """(beat, tempo from there on), in order; where there are any, it doesn't change evenly."""

    @property
    def steady(self) -> bool:
        """True when the tempo never changes."""
        return not self.changes and (self.from_bpm == self.to_bpm or self.beats <= 0)

    def seconds_at(self, beat: float) -> float:
        """When a beat comes, from the first one; where time stands at it, when it goes on."""
        return self._moving_s(beat) + sum(
            self._stands_s(stop) for stop in self.stops if stop[0] <= beat
        )

    def arrives_at(self, beat: float) -> float:
        """When a beat is reached, from the first one, before any stop that stands there."""
        return self._moving_s(beat) + sum(
            self._stands_s(stop) for stop in self.stops if stop[0] < beat
        )

    def beat_at(self, seconds: float) -> float:
        """The beat that comes so long after the first one; just before it while time stands."""
        waited_s = 0.0
        for stop in self.stops:
            reached_s = self._moving_s(stop[0]) + waited_s
            if seconds < reached_s:
                break
            if seconds < reached_s + self._stands_s(stop):
                return stop[0] - JUST_BEFORE
            waited_s += self._stands_s(stop)
        return self._moving_beat(seconds - waited_s)

    def _stands_s(self, stop: tuple[float, float]) -> float:
        at_beat, beats = stop
        return beats * 60.0 / self.bpm_at(at_beat)

    def bpm_at(self, beat: float) -> float:
        """The tempo at a beat."""
        if self.steady:
            return self.from_bpm
        if self.changes:
            return next((bpm for at, bpm in reversed(self.changes) if at <= beat), self.from_bpm)
        share = min(1.0, max(0.0, beat / self.beats))
        return self.from_bpm + share * (self.to_bpm - self.from_bpm)

    def _moving_s(self, beat: float) -> float:
        """When a beat comes if time never stands: the integral of 60 over the tempo."""
        if self.steady or beat <= 0:
            return beat * 60.0 / self.from_bpm
        if self.changes:
            return sum(60.0 / bpm * (min(beat, end) - begin)
                       for begin, end, bpm in self._stretches() if begin < beat)  # fmt: skip
        inside = min(beat, self.beats)
        slope = (self.to_bpm - self.from_bpm) / self.beats
        seconds = 60.0 / slope * math.log1p(slope * inside / self.from_bpm)
        return seconds + (beat - inside) * 60.0 / self.to_bpm

    def _moving_beat(self, seconds: float) -> float:
        """The beat that comes so long after the first one, if time never stands."""
        if self.steady or seconds <= 0:
            return seconds * self.from_bpm / 60.0
        if self.changes:
            return self._beat_in_stretches(seconds)
        last_s = self._moving_s(self.beats)
        inside_s = min(seconds, last_s)
        slope = (self.to_bpm - self.from_bpm) / self.beats
        beat = self.from_bpm / slope * math.expm1(slope * inside_s / 60.0)
        return beat + (seconds - inside_s) * self.to_bpm / 60.0

    def _stretches(self) -> list[tuple[float, float, float]]:
        """(first beat, last beat, tempo) of each stretch in one tempo; the last has no end."""
        begins = [0.0, *(beat for beat, _ in self.changes)]
        tempos = [self.from_bpm, *(bpm for _, bpm in self.changes)]
        return list(zip(begins, [*begins[1:], math.inf], tempos, strict=True))

    def _beat_in_stretches(self, seconds: float) -> float:
        left_s = seconds
        for begin, end, bpm in self._stretches():
            lasts_s = (end - begin) * 60.0 / bpm
            if left_s <= lasts_s:
                return begin + left_s * bpm / 60.0
            left_s -= lasts_s
        raise ValueError(f"no beat comes after {seconds} s")


JUST_BEFORE = 1e-6
"""Of a beat: where the beat stands while time does."""
TIMED_PARTS = 1_000_000
"""A beat is divided this finely when a changing tempo is written down as fractions."""


def timed(notes: Sequence[Note], pace: Pace) -> tuple[Note, ...]:
    """The notes with beats of one length, the first tempo's: each begins and ends when it should.

    Whatever reckons with one tempo for a round may be given these.
    """
    if pace.steady and not pace.stops:
        return tuple(notes)

    def even(seconds: float) -> Fraction:
        return Fraction(round(seconds * pace.from_bpm / 60.0 * TIMED_PARTS), TIMED_PARTS)

    def placed(note: Note) -> Note:
        begins = even(pace.seconds_at(float(note.beat)))
        end = float(note.beat + note.length)
        ends = even(pace.seconds_at(end) if note.fermata else pace.arrives_at(end))
        return replace(note, beat=begins, length=ends - begins)

    return tuple(placed(note) for note in notes)


HELD_SHARE = 1
"""A fermata is held as long again as its note (common practice, no source) ..."""
FEWEST_HELD_BEATS, MOST_HELD_BEATS = 1, 4
"""... but at least and at most for so many beats."""
CAESURA_BEATS = 1
"""How long the music stops at a caesura (common practice, no source)."""


def tempo_changes_of(notes: Sequence[Note]) -> tuple[tuple[float, float], ...]:
    """(beat, tempo from there on against the round's) of every note that begins another tempo.

    The first note's own comes at beat 0, so that what leads to it is in its tempo.
    """
    found: list[tuple[float, float]] = []
    share = 1.0
    for note in notes:
        if note.tempo_share != share:
            share = note.tempo_share
            found.append((float(note.beat) if found or note is not notes[0] else 0.0, share))
    return tuple(found)


def begins_anew_after(notes: Sequence[Note]) -> frozenset[int]:
    """Indices of notes after which the beat is the player's to find: it waited, or it changed."""
    changed = {before.index for before, after in pairwise(notes)
               if before.tempo_share != after.tempo_share}  # fmt: skip
    return frozenset(changed | {note.index for note in notes if note.time_stands_after})


def stops_of(notes: Sequence[Note]) -> tuple[tuple[float, float], ...]:
    """Where time stands in these notes, and for how many beats."""
    stops: dict[float, float] = {}
    for note in notes:
        if note.time_stands_after:
            held = min(max(HELD_SHARE * float(note.length), FEWEST_HELD_BEATS), MOST_HELD_BEATS)
            beats = held if note.fermata else CAESURA_BEATS
            stops[float(note.beat + note.length)] = beats
    return tuple(sorted(stops.items()))
