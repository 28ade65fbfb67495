"""From a take and its expected notes to what was heard, note by note."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from trainer.ear.air import hear_silent_air
from trainer.ear.align import BLIP_S, Answer, align
from trainer.ear.boundary import Seam, Side, seam
from trainer.ear.course import course
from trainer.ear.envelope import Envelope, envelope, tone_stops
from trainer.ear.frames import Frames, Samples, Track, cleaned, frames
from trainer.ear.heard import HeardNote, State, Take, Tone
from trainer.ear.known import KnownSound, without_known
from trainer.ear.measure import measured
from trainer.ear.pitch import NotePitch, note_pitch, steady_part
from trainer.ear.sound_check import sound_warnings
from trainer.ear.sounds import Sound, new_starts, sounds, split_at
from trainer.ear.starts import kinds_of_start, onset_of
from trainer.music.note import Note, Start
from trainer.music.tuning import Tuning

JOINED_S = 0.09
"""A sound that ends this close before the next one may be slurred or tongued into it."""
RINGS_S = 0.3
LASTS_FOR_TWO = 1.5
WEAK_START = 0.35
CLEAR_TONE = 0.985
EARLIEST_S = 0.06
LATEST_S = 0.015
BREATH_FROM_S = 0.15
ATTACK_END_DB = 3.0


@dataclass(frozen=True)
class _Start:
    """How and when one sound starts."""

    onset_s: float
    attack_s: float
    kind: Start


@dataclass(frozen=True)
class Evidence:
    """Everything measured once for a take."""

    samples: Samples
    rate: int
    tuning: Tuning
    frames: Frames
    envelope: Envelope
    sounds: tuple[Sound, ...]
    starts: tuple[_Start, ...]
    breath_likely: bool
    """Starts without the tongue are among those asked for."""

    def ringing_hz(self, number: int) -> float | None:
        """The tone that may still ring under a sound."""
        if number == 0 or self.sounds[number].from_s - self.sounds[number - 1].to_s > RINGS_S:
            return None
        return self.tuning.midi_hz(self.sounds[number - 1].midi)

    def end_s(self, number: int) -> float:
        """When a sound ends: under a slur where the next one starts, else where its tone stops."""
        sound, onset_s = self.sounds[number], self.starts[number].onset_s
        latest_s = sound.to_s
        if number + 1 < len(self.sounds):
            following = self.sounds[number + 1]
            if following.from_s - sound.to_s < JOINED_S:
                latest_s = max(self.starts[number + 1].onset_s, onset_s + 0.005)
                if self.starts[number + 1].kind in (Start.SLURRED, Start.LEGATO_TONGUE):
                    return latest_s
        return tone_stops(self.envelope, onset_s, latest_s)


def hear(
    samples: Samples,
    sample_rate_hz: int,
    expected: Sequence[Note],
    tempo_bpm: float,
    tuning: Tuning,
    first_beat_s: float | None,
    *,
    timed: bool = True,
    clicks: Sequence[KnownSound] = (),
) -> Take:
    """What was played of the expected notes (sounding pitch) and beside them.

    samples: mono, shape (samples,). first_beat_s: where beat 0 falls in them; None where it isn't
    known. With timed False the notes' beats are a guide to their order only. clicks: what the
    trainer itself played, with times in the samples; its leak is taken out first.
    """
    known = without_known(samples, sample_rate_hz, clicks)
    breath_likely = any(note.start is Start.BREATH for note in expected)
    evidence = gather(known, sample_rate_hz, tuning, breath_likely)
    beat_s = 60.0 / tempo_bpm
    if expected and all(note.start is Start.SILENT_AIR for note in expected):
        notes = hear_silent_air(evidence.envelope, expected, beat_s, first_beat_s)
    else:
        notes = _answered(evidence, expected, beat_s)
    first_s = first_beat_s
    if first_s is None:
        first_s = _guessed_first_beat(notes, expected, beat_s)
    return Take(
        sample_rate_hz=sample_rate_hz,
        a4_hz=tuning.a4_hz,
        first_beat_s=first_s,
        notes=tuple(notes),
        measures=measured(notes, expected, beat_s, first_s if timed else None),
        breaths_s=_breaths(evidence),
        warnings=sound_warnings(samples, sample_rate_hz, evidence.frames),
    )


def gather(
    samples: Samples, sample_rate_hz: int, tuning: Tuning, breath_likely: bool = False
) -> Evidence:
    """Measure everything that doesn't depend on the expected notes' pitch and time."""
    samples = cleaned(samples, sample_rate_hz)
    track = frames(samples, sample_rate_hz, tuning.a4_hz)
    levels = envelope(samples, sample_rate_hz)
    heard = course(samples, sample_rate_hz, track, tuning.a4_hz)
    found = sounds(track, levels, heard)
    starts = _starts(samples, sample_rate_hz, tuning, levels, found, breath_likely)
    return Evidence(samples, sample_rate_hz, tuning, track, levels, found, starts, breath_likely)


def _starts(
    samples: Samples,
    rate: int,
    tuning: Tuning,
    levels: Envelope,
    found: tuple[Sound, ...],
    breath_likely: bool,
) -> tuple[_Start, ...]:
    joined = [False, *(after.from_s - before.to_s < JOINED_S for before, after in pairwise(found))]
    seams = [
        _seam(samples, rate, tuning, levels, found[number - 1] if joins else None, sound)
        for number, (sound, joins) in enumerate(zip(found, joined, strict=False))
    ]
    kinds = kinds_of_start(seams, joined[: len(seams)], breath_likely)
    return tuple(
        _Start(_near(onset_of(edge, kind), sound), _attack(levels, edge, sound, kind), kind)
        for edge, kind, sound in zip(seams, kinds, found, strict=True)
    )


def _seam(
    samples: Samples,
    rate: int,
    tuning: Tuning,
    levels: Envelope,
    before: Sound | None,
    sound: Sound,
) -> Seam:
    rough_s = sound.from_s
    if before is not None and before.to_s <= sound.from_s < before.to_s + BLIP_S:
        rough_s = (before.to_s + sound.from_s) / 2
    old = None if before is None else _side(before, tuning)
    return seam(samples, rate, levels, rough_s, old, _side(sound, tuning))


def _near(onset_s: float, sound: Sound) -> float:
    """The onset, held to where the course saw the note begin: in a hall that is the surer sign."""
    return float(np.clip(onset_s, sound.from_s - EARLIEST_S, sound.from_s + LATEST_S))


def _side(sound: Sound, tuning: Tuning) -> Side:
    return Side(sound.from_s, sound.to_s, tuning.midi_hz(sound.midi))


def _attack(levels: Envelope, edge: Seam, sound: Sound, kind: Start) -> float:
    """From the start of the rise to 3 dB below the note's steady level; under a slur from where the
    old tone ends, so that a note slow to speak shows."""
    joined = kind in (Start.SLURRED, Start.LEGATO_TONGUE) and edge.off_s is not None
    from_s = edge.off_s if joined and edge.off_s is not None else edge.begin_s
    rise = levels.between(levels.wide_db, from_s, sound.to_s)
    loud_db = float(np.percentile(rise, 70))
    return float(np.argmax(rise >= loud_db - ATTACK_END_DB)) * levels.step_s


def _answered(evidence: Evidence, expected: Sequence[Note], beat_s: float) -> list[HeardNote]:
    """Heard notes by onset; missed ones stand before the next note that was played."""
    midi = np.array([_sounding_midi(note, evidence.tuning) for note in expected])
    beats_s = np.array([float(note.beat) * beat_s for note in expected])
    lengths_s = np.array([float(note.length) * beat_s for note in expected])
    answers = align(evidence.sounds, midi, beats_s, lengths_s)
    again = _started_again(evidence, answers, midi, lengths_s)
    if again:
        evidence = _with_new_starts(evidence, again)
        answers = align(evidence.sounds, midi, beats_s, lengths_s)
    played = {a.index for a in answers if a.index is not None and not a.wrong}
    missed = [note for note in expected if note.index not in played]
    heard: list[HeardNote] = []
    blip = False
    for answer in answers:
        if _is_blip(evidence, answer):
            blip = True
            continue
        index = None if answer.wrong else answer.index
        while index is not None and missed and missed[0].index < index:
            heard.append(_missed(missed.pop(0)))
        heard.append(_heard(evidence, expected, answer, blip))
        blip = False
    return heard + [_missed(note) for note in missed]


def _started_again(
    evidence: Evidence, answers: Sequence[Answer], midi: Track, lengths_s: Track
) -> dict[int, float]:
    """Sounds that last too long where the same note was due twice and only one was found: there a
    weaker dip will do. Sound → where it is cut, in seconds."""
    played = {a.index for a in answers if a.index is not None and not a.wrong}
    again = {}
    for answer in answers:
        index = answer.index
        if index is None or answer.wrong:
            continue
        due = any(
            0 <= other < midi.size and other not in played and abs(midi[other] - midi[index]) < 0.5
            for other in (index - 1, index + 1)
        )
        sound = evidence.sounds[answer.sound]
        if due and sound.length_s > LASTS_FOR_TWO * lengths_s[index]:
            starts = [s for s in new_starts(sound, evidence.envelope) if s.strength > WEAK_START]
            if starts:
                again[answer.sound] = max(starts, key=lambda s: s.strength).at_s
    return again


def _with_new_starts(evidence: Evidence, again: dict[int, float]) -> Evidence:
    found: list[Sound] = []
    for number, sound in enumerate(evidence.sounds):
        found += split_at(sound, again[number]) if number in again else [sound]
    starts = _starts(
        evidence.samples,
        evidence.rate,
        evidence.tuning,
        evidence.envelope,
        tuple(found),
        evidence.breath_likely,
    )
    return replace(evidence, sounds=tuple(found), starts=starts)


def _sounding_midi(note: Note, tuning: Tuning) -> float:
    return note.pitch.midi + tuning.offset_cents(note.pitch) / 100


def _is_blip(evidence: Evidence, answer: Answer) -> bool:
    """A short extra sound squeezed in between two others."""
    sound = evidence.sounds[answer.sound]
    inside = 0 < answer.sound < len(evidence.sounds) - 1
    if answer.index is not None or not inside or sound.length_s >= BLIP_S:
        return False
    before, after = evidence.sounds[answer.sound - 1], evidence.sounds[answer.sound + 1]
    return sound.from_s - before.to_s < JOINED_S and after.from_s - sound.to_s < JOINED_S


def _missed(note: Note) -> HeardNote:
    return HeardNote(note.index, note.pitch, State.MISSED)


def _heard(evidence: Evidence, expected: Sequence[Note], answer: Answer, blip: bool) -> HeardNote:
    """The heard note of an answer."""
    heard = replace(heard_sound(evidence, answer.sound), blip=blip)
    if answer.index is None or answer.wrong:
        return replace(heard, instead_of=answer.index)
    note = expected[answer.index]
    cents = None
    if heard.midi is not None:
        cents = 100 * (heard.midi - _sounding_midi(note, evidence.tuning))
    return replace(heard, index=note.index, expected=note.pitch, state=State.PLAYED, cents=cents)


def heard_sound(evidence: Evidence, number: int) -> HeardNote:
    """One sound measured, answering no expected note yet."""
    sound, start = evidence.sounds[number], evidence.starts[number]
    onset_s, end_s = start.onset_s, evidence.end_s(number)
    pitch = note_pitch(
        evidence.samples,
        evidence.rate,
        evidence.frames,
        onset_s,
        end_s,
        sound.midi,
        evidence.tuning.a4_hz,
        ringing_hz=evidence.ringing_hz(number),
        clear=sound.clarity >= CLEAR_TONE,
    )
    return HeardNote(
        index=None,
        expected=None,
        state=State.EXTRA,
        midi=sound.midi if pitch is None else pitch.midi,
        onset_s=onset_s,
        end_s=end_s,
        cents_spread=None if pitch is None else pitch.spread_cents,
        drift_cents=None if pitch is None else pitch.drift_cents,
        level_db=_level(evidence, onset_s, end_s),
        start=start.kind,
        attack_s=start.attack_s,
        vibrato_hz=None if pitch is None else pitch.vibrato_hz,
        vibrato_cents=None if pitch is None else pitch.vibrato_cents,
        tone=None if pitch is None else _tone(pitch),
    )


def _level(evidence: Evidence, onset_s: float, end_s: float) -> float:
    """Mean power of the steady part, in dB re full scale."""
    part = evidence.envelope.between(evidence.envelope.wide_db, *steady_part(onset_s, end_s))
    return float(10 * np.log10(np.mean(10 ** (part / 10))))


def _tone(pitch: NotePitch) -> Tone:
    power = np.maximum(pitch.fit.amplitudes**2, 1e-14)
    order = np.arange(1, power.size + 1)
    return Tone(
        harmonic_balance_db=float(10 * np.log10(max(power[1:].sum(), 1e-14) / power[0])),
        noise_share_db=float(
            10 * np.log10(max(pitch.fit.noise_power, 1e-14) / pitch.fit.tone_power)
        ),
        brightness=float((order * power).sum() / power.sum()),
    )


def _guessed_first_beat(
    notes: Sequence[HeardNote], expected: Sequence[Note], beat_s: float
) -> float:
    """Where beat 0 would fall if the player were on time in the median."""
    starts_s = [
        note.onset_s - float(expected[note.index].beat) * beat_s
        for note in notes
        if note.index is not None and note.onset_s is not None
    ]
    return float(np.median(starts_s)) if starts_s else 0.0


def _breaths(evidence: Evidence) -> tuple[tuple[float, float], ...]:
    """Silences between sounds that are long enough for a breath."""
    return tuple(
        (before.to_s, after.from_s)
        for before, after in pairwise(evidence.sounds)
        if after.from_s - before.to_s >= BREATH_FROM_S
    )
