"""Where the note of a sound of one pitch may start: at its beginning, and again inside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.features import Features, HeldSpectra
from trainer.ear.segments.again_network import AGAIN, BEGINNING, STRIDE, fitted
from trainer.ear.segments.held_picture import (
    Picture,
    against_loudest,
    held_spectra,
    pitch_levels_db,
)
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.seam_patch import LONG_S, STEP_S
from trainer.ear.segments.seam_view import PITCH_STEPS

AROUND_STEPS = 16
"""Steps of the picture to either side of a sound that are looked at with it ..."""
LEAD_STEPS, AFTER_STEPS = 64, 125
"""... and from so many before a sound to so many after its pitch was first seen, where what is
looked for is its own beginning."""
EDGE_S = 0.06
"""So near its beginning and its end a sound has no other stroke: a note slow to speak sways so long
(recorded single notes need 50 ms in the median, our own measurement); sixteenths at 160 last 94."""
LEAST_DIP_DB = 2.0
"""Shallower ones every tone has."""
APART = 6
STROKES_APART_S = APART * STRIDE * STEP_S
"""Places of the network that two strokes lie apart at least: twenty a second nobody plays."""
LEAST_ODDS = -7.0
"""Less likely ones aren't looked at."""
SUREST = 8.0
"""Log odds beyond which nothing is known."""
STRETCH_STEPS = 64
"""A picture's levels are measured and kept so many steps at a time."""
SPECTRA_KEPT = 24
"""The spectra of so many stretches are kept: two in three times those of a stretch are asked for
again, for another pitch, hardly ever after so many others (our own measurement)."""


@dataclass(frozen=True)
class Reattack:
    """A place inside a sound where the same note may start again."""

    at_s: float
    log_odds: float
    """That it does, when that is as likely as not."""


def new_starts(segment: NoteSegment, features: Features) -> list[Reattack]:
    """Where the same note may start again inside a sound, in order of time."""
    if segment.length_s < 2 * EDGE_S:
        return []
    first, end = steps_of(segment)
    odds = _again_odds(features, first, end, _pitch(segment))
    places = highest(odds)
    times_s = STEP_S * (first + STRIDE * places)
    return [
        Reattack(at_s, float(np.clip(odds[place], -SUREST, SUREST)))
        for place, at_s in zip(places, times_s.tolist(), strict=True)
        if segment.from_s + EDGE_S < at_s < segment.to_s - EDGE_S
    ]


def likeliest_beginning(
    segment: NoteSegment, features: Features, before_s: float = LEAD_STEPS * STEP_S
) -> Reattack | None:
    """Where a sound itself most likely begins, about where its pitch was first seen or up to so
    long before, whatever rings there; None at the edge of what was heard, and before it."""
    seen_step = round(segment.from_s / STEP_S)
    first = max(0, seen_step - LEAD_STEPS)
    end = min(steps_of(segment)[1], seen_step + AFTER_STEPS)
    if end <= first:
        return None
    odds = _odds(features, BEGINNING, first, end, _pitch(segment))
    earliest = max(0, round((segment.from_s - max(0.0, before_s)) / STEP_S) - first) // STRIDE
    latest = (round((segment.from_s + EDGE_S) / STEP_S) - first) // STRIDE
    if not odds[earliest:latest].size:
        return None
    place = earliest + int(odds[earliest:latest].argmax())
    at_s = STEP_S * (first + STRIDE * place)
    return Reattack(at_s, float(np.clip(odds[place], -SUREST, SUREST)))


def has_dip(segment: NoteSegment, envelope: Envelope) -> bool:
    """Whether the level dips inside a sound, as it does at most strokes: what never dips is one
    note unless more were asked."""
    level = envelope.between(envelope.wide_db, segment.from_s, segment.to_s)
    edge = round(EDGE_S / envelope.step_s)
    before = np.maximum.accumulate(level)
    after = np.maximum.accumulate(level[::-1])[::-1]
    depth_db = (np.minimum(before, after) - level)[edge:-edge]
    return bool((depth_db >= LEAST_DIP_DB).any())


def steps_of(segment: NoteSegment) -> tuple[int, int]:
    """From which step of a take's grid to which a sound is looked at."""
    first = max(0, round(segment.from_s / STEP_S) - AROUND_STEPS)
    return first, round(segment.to_s / STEP_S) + AROUND_STEPS


def highest(odds: NDArray[np.floating]) -> NDArray[np.int64]:
    """Which places, of log odds of shape (places,), are higher than those near them; in order."""
    top = ndimage.maximum_filter1d(odds, 2 * APART + 1)
    return np.flatnonzero((odds == top) & (odds > LEAST_ODDS))


def _again_odds(features: Features, first: int, end: int, pitch: int) -> NDArray[np.float32]:
    """That a pitch is struck again at each place from one step to another. Where the room fills the
    gaps, or nothing tells whether it does, both networks are asked: of 243 places in tunes in halls
    that the one takes for strokes the other doubts 32 of 67 that are none, 6 of 176 that are one
    (our own measurement, recorded notes and a SoundFont's)."""
    odds = _odds(features, AGAIN, first, end, pitch)
    if features.room is not None and not features.room.blurs:
        return odds
    return (odds + _odds(features, BEGINNING, first, end, pitch)) / np.float32(2)


def _odds(
    features: Features, network: str, first: int, end: int, pitch: int
) -> NDArray[np.float32]:
    """What a network says of a pitch from one step to another, once for each and for as much of it
    as was heard."""
    heard = min(features.samples.size, _samples_to(end, features.sample_rate_hz))
    sound = network, first, end, pitch, heard
    if sound not in features.seen:
        picture = against_loudest(_levels_db(features, first, end, pitch))
        features.seen[sound] = fitted(network).log_odds(picture, pitch / PITCH_STEPS)
    return features.seen[sound]


def _pitch(segment: NoteSegment) -> int:
    return round(segment.midi * PITCH_STEPS)


def _levels_db(features: Features, first: int, end: int, pitch: int) -> Picture:
    """From one step to another, in stretches, each measured once; shape (ROWS, steps)."""
    numbers = range(first // STRETCH_STEPS, -(-end // STRETCH_STEPS))
    levels_db = np.concatenate([_stretch_db(features, n, pitch) for n in numbers], axis=1)
    before = first - numbers[0] * STRETCH_STEPS
    return levels_db[:, before : before + end - first]


def _stretch_db(features: Features, number: int, pitch: int) -> Picture:
    first, end = number * STRETCH_STEPS, (number + 1) * STRETCH_STEPS
    rate = features.sample_rate_hz
    heard = min(features.samples.size, _samples_to(end, rate))
    stretch = "held", first, end, pitch, heard
    if stretch not in features.seen:
        hz = features.tuning.midi_hz(pitch / PITCH_STEPS)
        of = _spectra(features, first, end, heard)
        features.seen[stretch] = pitch_levels_db(of, rate, first, end, hz)
    return features.seen[stretch]


def _spectra(features: Features, first: int, end: int, heard: int) -> HeldSpectra:
    """What a stretch's levels are made of, kept for the next pitches that are asked for there."""
    stretch, kept = (first, end, heard), features.spectra
    if stretch not in kept:
        if len(kept) == SPECTRA_KEPT:
            del kept[next(iter(kept))]
        kept[stretch] = held_spectra(features.samples, features.sample_rate_hz, first, end)
    return kept[stretch]


def _samples_to(end: int, sample_rate_hz: int) -> int:
    """How many samples of a take are looked at for the steps up to an end."""
    return round((end * STEP_S + LONG_S) * sample_rate_hz)
