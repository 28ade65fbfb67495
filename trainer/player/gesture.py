"""What lips, tongue, fingers and breath do over time: notes as blown → control tracks.

Tracks run at `CONTROL_HZ`; the tone and the breath are made from them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from trainer.music.note import Start

Track = NDArray[np.float64]

CONTROL_HZ = 4000
_AIR_EDGE_S = 0.005
"""How fast the tongue lets the air go and stops it."""
_PUFF_EDGE_S, _PUFF_S = 0.025, 0.25
"""How fast a puff of breath swells and, in silent air, spends itself: our own estimate."""
_TUBE_Q = 30.0
"""Sharpness of the tube's resonance, from which its ringing follows: our own estimate."""
_SCOOP_CENTS, _SCOOP_S = -10.0, 0.012
"""How flat a fresh tone starts and how soon it settles: our own estimate."""
_WANDER_POINTS_HZ = 25
"""The wander of pitch and level has so many corners a second."""
_WANDER_CENTS = 0.9
"""Spread of a held tone without vibrato; our own estimate."""
_WANDER_DB = 0.25
_GUSTS_DB = 1.0
"""Unsteadiness of pitch, tone and air that nobody would call a fault: our own estimate."""
_VIBRATO_BEGINS_S, _VIBRATO_FULL_S = 0.2, 0.45
"""After the note's beginning; our own estimate."""
_VIBRATO_FROM_S = 0.5
_PULSE_FULL_S = 0.15
"""A pulse asked for is there at once."""
_HEARD_S, _MENDED_S = 0.5, 0.4
"""A player hears a note before mending it, and mends it gradually: our own estimate."""
_VIBRATO_DB_PER_CENT = 0.12
"""Level moves with pitch in a breath vibrato; size our own estimate."""


@dataclass(frozen=True)
class BlownNote:
    """One tone, or one puff, exactly as it shall sound."""

    hz: float
    level_db: float
    """RMS level of the steady tone, dBFS; in silent air, of the tone there would have been."""
    onset_s: float
    end_s: float
    start: Start
    joined: bool
    """The air goes on from the note before."""
    tone_after_s: float
    """From the onset to the first sound of the tone."""
    attack_s: float
    """Rise of the tone, start to full; for a joined note only used after a late tone."""
    release_s: float
    """Fall of tone and air up to the end, when the next is not joined. Up to 5 ms: the tongue
    stops the air, and the tube rings on."""
    key_s: float = 0.012
    """How long the pitch takes to change. A key takes 10 ms pushed and 16 ms sprung (Almeida,
    Chow, Smith & Wolfe 2009, JASA 126:1521)."""
    dip_db: float = 0.0
    """How far the tone dips at a joined onset."""
    dip_s: float = 0.03
    stroke_db: float = 0.0
    """The consonant against its usual strength."""
    pinched: float = 0.0
    """0 to 1, see the habit of that name."""
    sag_cents: float = 0.0
    """How far the pitch sinks from the onset to the end; the middle stays in place."""
    inhales: bool = False
    """A breath is taken in the gap after it."""
    swell_db: float = 0.0
    """How far it grows above its level."""
    swell_peak: float = 0.5
    """Where it is loudest, 0 to 1."""
    swell_cents_per_db: float = 0.0
    """How far the pitch follows the swell."""
    bright_db: float = 0.0
    """What each octave of harmonics gains on the fundamental."""
    settles_cents: float = 0.0
    """How far off it begins, before it is brought in; also the way it bends back."""

    @property
    def tone_onset_s(self) -> float:
        """When the tone begins."""
        return self.onset_s + self.tone_after_s


@dataclass(frozen=True)
class Tracks:
    """Control tracks of one round, each of shape (points,) at `CONTROL_HZ`."""

    time_s: Track
    place: Track
    """Index of the note now fingered, fractional while the fingers move."""
    cents: Track
    """Pitch moved by attack, vibrato and wander, against the note's own frequency."""
    tone: Track
    """Envelope of the tone, 0 to about 1."""
    air: Track
    """Envelope of the air, 0 to about 1."""


def tracks(
    notes: list[BlownNote],
    length_s: float,
    vibrato_hz: float,
    vibrato_cents: float,
    random: np.random.Generator,
    *,
    at_once: bool = False,
) -> Tracks:
    """Control tracks for notes in order of onset; at_once: the vibrato begins with each note."""
    time_s = np.arange(round(length_s * CONTROL_HZ)) / CONTROL_HZ
    pulse = _vibrato(notes, time_s, vibrato_hz, random, at_once) * vibrato_cents
    grown_db = _swells_db(notes, time_s)
    tone, air = _envelopes(notes, time_s)
    swell_db = _wander(time_s, random) * _WANDER_DB + pulse * _VIBRATO_DB_PER_CENT
    return Tracks(
        time_s=time_s,
        place=_place(notes, time_s),
        cents=_wander(time_s, random) * _WANDER_CENTS + pulse + _bends(notes, time_s),
        tone=tone * 10 ** ((swell_db + grown_db - _dips_db(notes, time_s)) / 20),
        air=air * 10 ** ((_wander(time_s, random) * _GUSTS_DB + grown_db) / 20),
    )


def along(tracks: Tracks, per_note: Track) -> Track:
    """A quantity given per note, followed through the fingers' changes."""
    return np.asarray(np.interp(tracks.place, np.arange(len(per_note)), per_note))


def at_rate(track: Track, sample_rate_hz: int, count: int) -> NDArray[np.float64]:
    """A control track at the sample rate, straight from point to point, shape (count,)."""
    shares = _shares(sample_rate_hz)
    points, samples = len(shares) - 1, shares.shape[1]
    groups = -(-count // samples)
    missing = max(0, groups * points + 1 - len(track))
    known = np.concatenate([track, np.repeat(track[-1:], missing)])
    rows = np.lib.stride_tricks.sliding_window_view(known, points + 1)[::points][:groups]
    return np.asarray((rows @ shares).reshape(-1)[:count])


@cache
def _shares(sample_rate_hz: int) -> Track:
    """What each control point gives to each sample until both rates meet again, shape
    (points + 1, samples)."""
    shared = math.gcd(CONTROL_HZ, sample_rate_hz)
    points, samples = CONTROL_HZ // shared, sample_rate_hz // shared
    away = np.arange(samples) * points / samples - np.arange(points + 1)[:, None]
    return np.asarray(np.maximum(0, 1 - np.abs(away)))


def _place(notes: list[BlownNote], time_s: Track) -> Track:
    times, places = [notes[0].onset_s], [0.0]
    for index, note in enumerate(notes[1:], start=1):
        middle_s = note.onset_s if note.joined else note.onset_s - note.key_s / 2
        times += [middle_s - note.key_s / 2, middle_s + note.key_s / 2]
        places += [index - 1, index]
    straight = np.interp(time_s, times, places)
    whole = np.floor(straight)
    return np.asarray(whole + _smooth(straight - whole))


def _envelopes(notes: list[BlownNote], time_s: Track) -> tuple[Track, Track]:
    """Envelopes of tone and air, dips left out."""
    tone, ring, air = np.zeros_like(time_s), np.zeros_like(time_s), np.zeros_like(time_s)
    for note, after in zip(notes, [*notes[1:], None], strict=True):
        here = _between(note.onset_s, note.end_s)
        since_s, left_s = time_s[here] - note.onset_s, note.end_s - time_s[here]
        goes_on = after is not None and after.joined
        begins = np.ones_like(since_s) if note.joined else _air_begins(note, since_s)
        fades = np.ones_like(since_s) if goes_on else _smooth(left_s / note.release_s)
        air[here] = begins * fades
        if note.start is not Start.SILENT_AIR:
            stopped = goes_on or note.release_s <= _AIR_EDGE_S
            tone[here] = _speaks(note, since_s) * (1 if stopped else fades)
            if not goes_on:
                _let_ring(ring, time_s, note, float(tone[here][-1]))
    return tone + ring * (1 - tone), air


def _air_begins(note: BlownNote, since_s: Track) -> Track:
    """The tongue lets the air go at once; a puff swells, and without a tone spends itself."""
    if note.start not in (Start.BREATH, Start.SILENT_AIR):
        return _smooth(since_s / _AIR_EDGE_S)
    swell = _smooth(since_s / _PUFF_EDGE_S)
    return swell * np.exp(-since_s / _PUFF_S) if note.start is Start.SILENT_AIR else swell


def _let_ring(ring: Track, time_s: Track, note: BlownNote, from_level: float) -> None:
    """The tube sounds on for a moment when the tongue has stopped the jet."""
    decay_s = _TUBE_Q / (np.pi * note.hz)
    here = _between(note.end_s, note.end_s + 8 * decay_s)
    ring[here] += from_level * np.exp(-(time_s[here] - note.end_s) / decay_s)


def _speaks(note: BlownNote, since_s: Track) -> Track:
    """How the tone begins, from the note's onset on."""
    if note.joined and note.tone_after_s == 0:
        return np.ones_like(since_s)
    rise = _smooth((since_s - note.tone_after_s) / note.attack_s)
    if note.joined:  # the tone before breaks off while the new one hesitates
        return np.maximum(rise, _smooth(1 - since_s / note.key_s))
    return rise


def _dips_db(notes: list[BlownNote], time_s: Track) -> Track:
    dips = np.zeros_like(time_s)
    for note in notes:
        if note.joined and note.dip_db > 0:
            here = _between(note.onset_s - note.dip_s, note.onset_s + note.dip_s)
            away = (time_s[here] - note.onset_s) / note.dip_s
            dips[here] += note.dip_db * _smooth(1 - np.abs(away))
    return dips


def _bends(notes: list[BlownNote], time_s: Track) -> Track:
    """A new jet starts a little flat and settles at once; a poorly carried note sinks."""
    bends = np.zeros_like(time_s)
    for note in notes:
        here = _between(note.onset_s, note.end_s)
        share = (time_s[here] - note.onset_s) / (note.end_s - note.onset_s)
        bends[here] = note.sag_cents * (0.5 - share)
        bends[here] += note.swell_cents_per_db * _swell_db(note, share)
        bends[here] += _settling_cents(note, time_s[here])
        if not note.joined:
            since_s = np.maximum(time_s[here] - note.tone_onset_s, 0)
            bends[here] += _SCOOP_CENTS * np.exp(-since_s / _SCOOP_S)
    return bends


def _swells_db(notes: list[BlownNote], time_s: Track) -> Track:
    """How far each note has grown above its level."""
    grown = np.zeros_like(time_s)
    for note in notes:
        if note.swell_db:
            here = _between(note.onset_s, note.end_s)
            share = (time_s[here] - note.onset_s) / (note.end_s - note.onset_s)
            grown[here] = _swell_db(note, share)
    return grown


def _swell_db(note: BlownNote, share: Track) -> Track:
    """Straight up to the peak and down again, in decibels."""
    peak = min(max(note.swell_peak, 1e-6), 1 - 1e-6)
    return np.asarray(note.swell_db * np.interp(share, [0, peak, 1], [0, 1, 0]))


def _settling_cents(note: BlownNote, time_s: Track) -> Track:
    """Off at first, then brought in once it was heard."""
    mending_s = np.maximum(time_s - note.onset_s - _HEARD_S, 0)
    return np.asarray(note.settles_cents * np.exp(-mending_s / _MENDED_S))


def _vibrato(
    notes: list[BlownNote],
    time_s: Track,
    rate_hz: float,
    random: np.random.Generator,
    at_once: bool,
) -> Track:
    """The pulse, −1 to 1, on the notes long enough for one."""
    begins_s, full_s = (0.0, _PULSE_FULL_S) if at_once else (_VIBRATO_BEGINS_S, _VIBRATO_FULL_S)
    cycles = rate_hz * (1 + 0.03 * _wander(time_s, random))
    phase = 2 * np.pi * (np.cumsum(cycles) / CONTROL_HZ + random.random())
    depth = np.zeros_like(time_s)
    for note in notes:
        if note.end_s - note.onset_s > _VIBRATO_FROM_S:
            here = _between(note.onset_s, note.end_s)
            since_s = time_s[here] - note.onset_s
            grown = (since_s - begins_s) / (full_s - begins_s)
            depth[here] = _smooth(grown) * _smooth((note.end_s - time_s[here]) / 0.05)
    return depth * np.sin(phase)


def _wander(time_s: Track, random: np.random.Generator) -> Track:
    """Slow, small unsteadiness of unit standard deviation."""
    count = int(time_s[-1] * _WANDER_POINTS_HZ) + 3
    points = random.standard_normal(count)
    return np.asarray(np.interp(time_s * _WANDER_POINTS_HZ, np.arange(count), points))


def _between(from_s: float, to_s: float) -> slice:
    return slice(max(0, round(from_s * CONTROL_HZ)), max(0, round(to_s * CONTROL_HZ)))


def _smooth(share: Track) -> Track:
    """0 to 1 without a corner (raised cosine), clipped outside."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(share, 0, 1)))
