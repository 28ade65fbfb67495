"""The pitch inside one note: its mean, its spread, its drift and its vibrato."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainer.ear.analysis.frames import WINDOW_S, Frames, Samples, Track
from trainer.ear.analysis.harmonic_fit import HarmonicFit, harmonic_fit
from trainer.ear.analysis.hiss import hiss_db
from trainer.ear.analysis.partials import agreed_hz
from trainer.ear.analysis.ringing import without_ringing
from trainer.ear.heard import Tone
from trainer.music.tuning import A4_MIDI

CHANGE_OVER_S = 0.030
"""After a change the last note still rings in a room for some tens of ms: left out."""
CHANGE_OVER_SHARE = 0.25
"""Of a short note no more is left out at its beginning."""
RELEASE_S = 0.010
"""Left out at a note's end: the pitch sags as the air stops."""
SHORTEST_WITH_RINGING_S = 0.03
"""Two tones can't be told apart in less."""
LONGEST_WITH_RINGING_S = 0.25
VIBRATO_FROM_S = 0.45
"""Two cycles of a slow vibrato; a shorter note tells nothing about it."""
VIBRATO_HZ = (3.0, 9.0)
"""Well-known flutists' averages lie at 5 to 8 Hz (L. Garrison, Visualizing Vibrato, British Flute
Society 2012); searched a little further."""
SLOW_HZ, SLOW_CYCLES, SLOW_SHARE = 1.0, 4, 0.6
"""Exercises begin at one pulse a beat: slower ones down to this rate are a vibrato where there are
so many of them and they are so much of the movement. A single pitch fitted to a note that goes up
and down as slowly stood at one of its ends: recorded notes with two pulses a second of 12 cents
were read 12 cents off (our own measurement)."""
DRIFT_LONG_S, DRIFT_FROM_S = 0.9, 0.3
"""Of a note so long the beginning and the room's tail have no part in the drift: what rings of the
note before draws the pitch towards it, and dies away (our own estimate)."""
FEWEST_FRAMES = 4
"""Of which anything but one pitch can be told."""
TAIL_DB = 6.0
"""What is so much softer than the note's last third and stays so is the tail."""
VIBRATO_STEP_HZ = 0.05
"""Rates are tried so finely."""
LEAST_VIBRATO_CENTS = 2.0
VIBRATO_SHARE = 0.35
"""Share of the pitch's movement that one sine must explain to be called vibrato."""


@dataclass(frozen=True)
class NotePitch:
    """Pitch of one note as fractional MIDI numbers at the given A4, and cents."""

    midi: float
    """Mean; over whole vibrato cycles where there is one (Brown & Vaughn 1996, JASA 100:1728: the
    pitch heard is the mean of the modulation)."""
    spread_cents: float | None
    drift_cents: float | None
    vibrato_hz: float | None
    vibrato_cents: float | None
    tone: Tone
    hiss_db: float | None


def note_pitch(
    samples: Samples,
    sample_rate_hz: int,
    frames: Frames,
    onset_s: float,
    end_s: float,
    rough_midi: float,
    a4_hz: float,
    ringing_hz: float | None = None,
    clear: bool = True,
) -> NotePitch | None:
    """Measure the steady part of a note; None where too little of it is left.

    Where the note isn't clear, the one before it, ringing_hz, is taken out first.
    """
    from_s, to_s = steady_part(onset_s, end_s)
    rough_hz = a4_hz * 2 ** ((rough_midi - A4_MIDI) / 12)
    rate = sample_rate_hz
    first, end = max(0, round(from_s * rate)), min(round(to_s * rate), samples.size)
    if not clear and end - first > SHORTEST_WITH_RINGING_S * rate:
        longest = first + round(LONGEST_WITH_RINGING_S * rate)
        own, near_hz = without_ringing(
            samples[first : min(end, longest)], rate, rough_hz, ringing_hz
        )
    else:
        own, near_hz = samples[first:end], rough_hz
    fit = harmonic_fit(own, 0, own.size, near_hz, rate)
    if fit is None or abs(12 * np.log2(fit.hz / rough_hz)) > 1.0:
        return None
    midi = float(A4_MIDI + 12 * np.log2(agreed_hz(own, rate, fit.hz) / a4_hz))
    hiss = hiss_db(samples[first:end], rate)
    times_s, track = _track(frames, from_s, to_s, midi)
    if track.size < FEWEST_FRAMES:
        return NotePitch(midi, None, None, None, None, _tone(fit), hiss)
    from_middle_s = times_s - times_s.mean()
    drifts = _semitones_per_s(times_s, track)
    rest = track - track.mean() - drifts * from_middle_s
    vibrato = _vibrato(times_s, rest) if to_s - from_s >= VIBRATO_FROM_S else None
    if vibrato is not None:
        midi = _over_whole_cycles(times_s, track, vibrato[0])
    return NotePitch(
        midi=midi,
        spread_cents=float(100 * track.std()),
        drift_cents=_drift_cents(frames, times_s, track),
        vibrato_hz=None if vibrato is None else vibrato[0],
        vibrato_cents=None if vibrato is None else vibrato[1],
        tone=_tone(fit),
        hiss_db=hiss,
    )


def steady_part(onset_s: float, end_s: float) -> tuple[float, float]:
    """The note without the change-over at both ends."""
    length_s = end_s - onset_s
    lead_s = min(CHANGE_OVER_S, CHANGE_OVER_SHARE * length_s)
    return onset_s + lead_s, end_s - min(RELEASE_S, 0.1 * length_s)


def _track(frames: Frames, from_s: float, to_s: float, midi: float) -> tuple[Track, Track]:
    """Times and pitches of the frames that lie wholly inside and on the note."""
    first = frames.at(from_s + WINDOW_S / 2)
    end = frames.at(to_s - WINDOW_S / 2) + 1
    inside = frames.part(first, end)
    good = np.abs(inside.midi - midi) < 1.0
    return inside.times_s[good], inside.midi[good]


def _semitones_per_s(times_s: Track, track: Track) -> float:
    from_middle_s = times_s - times_s.mean()
    return float(from_middle_s @ track) / float(from_middle_s @ from_middle_s)


def _drift_cents(frames: Frames, times_s: Track, track: Track) -> float | None:
    """Along the straight line that fits what was blown of it, from its beginning to its end; None
    where too little of a long note has its pitch."""
    lasts_s = times_s[-1] - times_s[0]
    if lasts_s < DRIFT_LONG_S:
        return float(100 * _semitones_per_s(times_s, track) * lasts_s)
    level_db = frames.level_db[[frames.at(time_s) for time_s in times_s]]
    late = level_db[-level_db.size // 3 :]
    loud = np.flatnonzero(level_db >= np.median(late) - TAIL_DB)
    from_s, to_s = float(times_s[0]), float(times_s[loud[-1]])
    blown = (times_s >= from_s + DRIFT_FROM_S) & (times_s <= to_s)
    if np.count_nonzero(blown) < FEWEST_FRAMES:
        return None
    return float(100 * _semitones_per_s(times_s[blown], track[blown]) * (to_s - from_s))


def _vibrato(times_s: Track, rest: Track) -> tuple[float, float] | None:
    """Rate and half extent in cents of the sine that explains the movement best."""
    slowest_hz = max(SLOW_HZ, SLOW_CYCLES / float(times_s[-1] - times_s[0]))
    rates_hz = np.arange(min(slowest_hz, VIBRATO_HZ[0]), VIBRATO_HZ[1], VIBRATO_STEP_HZ)
    waves = np.exp(-2j * np.pi * np.outer(rates_hz, times_s))
    explained = np.abs(waves @ rest) ** 2 * 2 / rest.size
    best = int(explained.argmax())
    rate_hz = float(rates_hz[best])
    base = np.stack([np.cos(2 * np.pi * rate_hz * times_s), np.sin(2 * np.pi * rate_hz * times_s)])
    sine, *_ = np.linalg.lstsq(base.T, rest, rcond=None)
    window = np.sinc(rate_hz * WINDOW_S)  # a long window rounds the peaks off
    extent_cents = float(100 * np.hypot(*sine) / window)
    share = float(np.sum((base.T @ sine) ** 2) / max(float(rest @ rest), 1e-12))
    least_share = VIBRATO_SHARE if rate_hz >= VIBRATO_HZ[0] else SLOW_SHARE
    if extent_cents < LEAST_VIBRATO_CENTS or share < least_share:
        return None
    return rate_hz, extent_cents


def _over_whole_cycles(times_s: Track, track: Track, rate_hz: float) -> float:
    """Mean over as many whole cycles as fit, taken from the middle; over all where the pitch was
    lost there."""
    lasts_s = times_s[-1] - times_s[0]
    cycles = max(1, int(lasts_s * rate_hz))
    spare_s = (lasts_s - cycles / rate_hz) / 2
    inside = (times_s >= times_s[0] + spare_s) & (times_s <= times_s[-1] - spare_s)
    return float(track[inside].mean() if inside.any() else track.mean())


def _tone(fit: HarmonicFit) -> Tone:
    power = np.maximum(fit.amplitudes**2, 1e-14)
    order = np.arange(1, power.size + 1)
    return Tone(
        harmonic_balance_db=float(10 * np.log10(max(power[1:].sum(), 1e-14) / power[0])),
        noise_share_db=float(10 * np.log10(max(fit.noise_power, 1e-14) / fit.tone_power)),
        brightness=float((order * power).sum() / power.sum()),
    )
