"""The quick answer while the round sounds: which note, how many cents, on the beat or not."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from itertools import pairwise
from statistics import median

import numpy as np

from trainer.ear.analysis.features import LOWER_SEMITONES, lowest_of
from trainer.ear.analysis.frames import HOP_S, WINDOW_S, Samples, Track, frames
from trainer.ear.analysis.salience import Mask
from trainer.ear.heard import WRONG_SEMITONES, LiveReading
from trainer.ear.live.own_partials import OwnPartials
from trainer.ear.live.residual_echo import ResidualEchoStream
from trainer.music.note import Note
from trainer.music.ornaments import realised
from trainer.music.tuning import Tuning

CLEAR = 0.72
"""Frames this clear are tones; silent air reads below 0.3, a steady tone above 0.95."""
CLEAR_CENTS = 0.93
"""Of clearer ones the period's cents may be shown; what rings of the note before pulls others'."""
CLEAR_ALONE, SETTLES_S, STANDS_OVER_S = 0.97, 0.05, 0.2
"""What is so clear sounds alone, and a note that began so long ago has settled; where it stands is
the median over a cycle of a vibrato of 5 Hz. Of recorded notes played within 10 cents single
readings stood beyond that at some moment of 46 in a hundred dry and 60 in a room of 0.8 s, these of
13 and 14; of 64 notes 25 cents off these find 59 and 31, and none where a hall drowns them (our own
measurement)."""
QUIETEST_DB = -60.0
RINGING = 3
"""So many notes before the one that sounds may ring into it, in a room of 0.8 s half a second."""
LOOK_AHEAD = 3
"""Among how many of the notes to come the sounding one is looked for."""
STEADY_FRAMES = 3
"""A new note counts once so many frames in a row agree: with a 5 ms hop and a 21 ms window the
answer stands some 30 ms after the onset."""
STEADY_FRAMES_NEXT = 1
"""The note due next is believed sooner, as by a listener who knows the piece."""
SHORTEST_S = 0.09
"""No note is over sooner; a sixteenth at 160 lasts 94 ms."""
PARTNERS_DB = 9.0
"""A loudspeaker and a room change notes by so much against each other; our own estimate."""


class LiveEar:
    """Follows the expected notes through a round; feed it the microphone as it comes."""

    def __init__(
        self,
        expected: Sequence[Note],
        tempo_bpm: float,
        tuning: Tuning,
        sample_rate_hz: int,
        first_beat_s: float,
        softest_db: float = -math.inf,
    ) -> None:
        """softest_db: re full scale; until something louder sounds the player is silent, and what
        sounds is somebody's next door."""
        self._softest_db = softest_db
        self._tuning = tuning
        self._rate = sample_rate_hz
        self._player, self._partner = _FrameStream(sample_rate_hz), _FrameStream(sample_rate_hz)
        self._own = OwnPartials(sample_rate_hz, tuning)
        self._beside = ResidualEchoStream(sample_rate_hz, tuning.a4_hz)
        beat_s = 60.0 / tempo_bpm
        self._sounded = realised(expected, beat_s)
        self._midi = [tuning.placed_midi(note.pitch) for note in self._sounded.notes]
        self._lowest_midi = lowest_of(self._midi) - LOWER_SEMITONES
        self._places_s = [first_beat_s + float(note.beat) * beat_s for note in self._sounded.notes]
        self._same_until = _last_of_same(self._midi)
        self._index: int | None = None
        self._before: deque[float] = deque(maxlen=RINGING)
        """The pitches that sounded before it, which may ring on."""
        self._since_s = 0.0
        """When the note that sounds was first heard."""
        self._stood: deque[tuple[float, float]] = deque()
        """Its times and cents of late."""
        self._candidate: int | None = None
        self._agreeing = 0
        self._candidate_s = 0.0
        self._begun_s: list[float] = []
        """When of late, without a break, the own partials of the note due next told of it."""
        self._began_among_others = False
        """They told of the note that sounds; the period was nobody's."""

    def feed(self, samples: Samples, beside: Samples | None = None) -> tuple[LiveReading, ...]:
        """New readings, one for each 5 ms of sound; samples follow on those of the last call.

        beside: as loud as what may be in them of another's sound, the partner's; of the same shape.
        Nothing softer than that is believed to be the player, nor, up to PARTNERS_DB above it, what
        has the partner's pitch and none that is due.
        """
        self._own.feed(samples)
        cut, times_s = self._player.feed(samples)
        cut_beside, _ = self._partner.feed(np.zeros_like(samples) if beside is None else beside)
        if not times_s.size:
            return ()
        track = frames(cut, self._rate, self._tuning.a4_hz)
        besides = self._beside.feed(cut_beside, track.size)
        above_db = track.level_db - np.maximum(besides.level_db, QUIETEST_DB)
        heard = np.isfinite(track.midi) & (track.clarity >= CLEAR) & (above_db > 0)
        heard &= track.midi > self._lowest_midi
        heard = self._since_the_player_began(heard, track.level_db)
        partners = besides.has(track.midi) & (above_db < PARTNERS_DB)
        return tuple(
            self._reading(*one)
            for one in zip(
                times_s,
                track.midi,
                track.level_db,
                heard,
                partners,
                track.clarity,
                above_db >= PARTNERS_DB,
                strict=True,
            )
        )

    def _since_the_player_began(self, heard: Mask, level_db: Track) -> Mask:
        """What was heard, without what sounded before anything was loud enough."""
        loud = heard & (level_db > self._softest_db)
        if loud.any():
            self._softest_db = -math.inf
        return heard & np.logical_or.accumulate(loud)

    def _reading(
        self,
        time_s: float,
        midi: float,
        level_db: float,
        heard: bool,
        partners: bool,
        clarity: float,
        clear_of_partner: bool,
    ) -> LiveReading:
        match = self._match(time_s, midi) if heard else None
        if match is None and clear_of_partner:
            among_others = self._among_others(time_s, level_db)
            if among_others is not None:
                return among_others
        if not heard or (partners and self._due(midi) is None):
            return LiveReading(float(time_s), None, None, level_db, None, None)
        off_beat_ms = self._follow(time_s, match)
        cents = self._cents(midi)
        if cents is not None and clarity < CLEAR_ALONE:
            own = self._own_cents(time_s) if clear_of_partner else None
            cents = cents if own is None and clarity >= CLEAR_CENTS else own
        settled_cents = self._settled(time_s, cents) if clarity >= CLEAR_ALONE else None
        written = self._written()
        free = written is not None and written.free
        index = None if written is None else written.index
        return LiveReading(
            float(time_s),
            midi,
            cents,
            level_db,
            index,
            None if free else off_beat_ms,
            settled_cents,
        )

    def _among_others(self, time_s: float, level_db: float) -> LiveReading | None:
        """The note that began among others that ring, and goes on where they have one period
        together that is nobody's, or none."""
        off_beat_ms = self._begins_among_others(time_s)
        cents = self._own_cents(time_s) if self._began_among_others else None
        written = self._written()
        if self._index is None or written is None or cents is None:
            return None
        midi = self._midi[self._index] + cents / 100
        place_ms = None if written.free else off_beat_ms
        return LiveReading(float(time_s), midi, cents, level_db, written.index, place_ms)

    def _begins_among_others(self, time_s: float) -> float | None:
        """Move on to the note due next where its own partials tell that it began."""
        here = self._index
        if here is None or here + 1 == len(self._midi):
            return None
        due, others = self._midi[here + 1], (*self._before, self._midi[here])
        if due in others or not self._own.begun(time_s + WINDOW_S / 2, due, others):
            self._begun_s.clear()
            return None
        self._begun_s.append(time_s)
        if len(self._begun_s) < STEADY_FRAMES:
            return None
        return self._move_to(here + 1, self._begun_s[0], among_others=True)

    def _move_to(self, index: int, since_s: float, *, among_others: bool) -> float:
        """Go on to a note; its place against the beat."""
        if self._index is not None:
            self._before.append(self._midi[self._index])
        self._index, self._candidate, self._agreeing = index, None, 0
        self._since_s, self._began_among_others = since_s, among_others
        self._stood.clear()
        self._begun_s.clear()
        return 1000 * (since_s - self._places_s[index])

    def _written(self) -> Note | None:
        """The written note that what sounds belongs to."""
        if self._index is None:
            return None
        return self._sounded.written[self._sounded.owners[self._index]]

    def _cents(self, midi: float) -> float | None:
        """Against the note that sounds; None of another pitch."""
        if self._index is None or abs(midi - self._midi[self._index]) >= 1.0:
            return None
        return 100 * (midi - self._midi[self._index])

    def _own_cents(self, time_s: float) -> float | None:
        """The same by the partials the note has for itself; None where it has none."""
        if self._index is None:
            return None
        midi = self._midi[self._index]
        others = tuple(other for other in self._before if other != midi)
        return self._own.cents(time_s + WINDOW_S / 2, midi, others)

    def _settled(self, time_s: float, cents: float | None) -> float | None:
        """Where the note has stood of late; None before it has settled."""
        if cents is None or time_s - self._since_s < SETTLES_S:
            return None
        self._stood.append((time_s, cents))
        while time_s - self._stood[0][0] > STANDS_OVER_S:
            self._stood.popleft()
        return median(cents for _, cents in self._stood)

    def _follow(self, time_s: float, match: int | None) -> float | None:
        """Move on to the note that sounds; its place against the beat when it is new."""
        if match is None or match == self._index or self._rings(match, time_s):
            self._agreeing = 0
            self._candidate = None
            self._go_on_by_the_beat(time_s)
            return None
        if match != self._candidate:
            self._candidate, self._agreeing, self._candidate_s = match, 0, time_s
        self._agreeing += 1
        next_due = self._index is not None and match == self._index + 1
        if self._agreeing < (STEADY_FRAMES_NEXT if next_due else STEADY_FRAMES):
            return None
        return self._move_to(match, self._candidate_s, among_others=False)

    def _rings(self, match: int, time_s: float) -> bool:
        """A note to come has the pitch of one before, and this one can't be over yet. The one due
        next is doubted only where this one began among what rings."""
        if self._index is None or time_s - self._since_s >= SHORTEST_S:
            return False
        doubted_from = self._index + (1 if self._began_among_others else 2)
        return match >= doubted_from and self._midi[match] in self._before

    def _go_on_by_the_beat(self, time_s: float) -> None:
        """Of notes of one pitch in a row the one due is believed to sound: its stroke isn't heard
        so quickly, so of its place nothing is said."""
        here = self._index
        while here is not None and here < self._same_until[here]:
            if time_s < self._places_s[here + 1]:
                break
            here += 1
        self._index = here

    def _match(self, time_s: float, midi: float) -> int | None:
        """The sounding note: this one, one of the next, or wherever the beat says we are."""
        match = self._due(midi)
        if match is not None:
            return match
        due = int(np.searchsorted(self._places_s, time_s)) - 1
        around = range(max(0, due - LOOK_AHEAD), min(len(self._midi), due + LOOK_AHEAD))
        fits = [i for i in around if abs(midi - self._midi[i]) < WRONG_SEMITONES]
        return min(fits, key=lambda index: abs(index - due)) if fits else None

    def _due(self, midi: float) -> int | None:
        """This note or one of the next, where the pitch fits."""
        here = 0 if self._index is None else self._index
        near = range(here, min(here + 1 + LOOK_AHEAD, len(self._midi)))
        fits = (i for i in near if abs(midi - self._midi[i]) < WRONG_SEMITONES)
        return next(fits, None)


def _last_of_same(midi: Sequence[float]) -> list[int]:
    """For each note the last of those after it, without a break, that have its pitch."""
    last = list(range(len(midi)))
    for here, after in reversed(list(pairwise(range(len(midi))))):
        if midi[here] == midi[after]:
            last[here] = last[after]
    return last


class _FrameStream:
    """Cuts a growing stream into the same frames as a whole take, holding one window of it."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate = sample_rate_hz
        self._window = round(WINDOW_S * sample_rate_hz)
        self._hop = round(HOP_S * sample_rate_hz)
        self._held: Samples = np.zeros(0, np.float32)
        self._held_from = 0

    def feed(self, samples: Samples) -> tuple[Samples, Track]:
        """The sound of the frames that became whole, and their times from the first sample ever
        fed; nothing where there are none."""
        held = np.concatenate([self._held, samples])
        count = max(0, (held.size - self._window) // self._hop + 1)
        used = count * self._hop
        whole = held[: used - self._hop + self._window] if count else held[:0]
        centres = self._held_from + self._window / 2 + self._hop * np.arange(count)
        self._held = held[used:].copy()
        self._held_from += used
        return whole, centres / self._rate
