"""Whether what sounds is blown, or struck, or spoken, or several tones at once.

A flute's tone is one and stands as long as the air does, and its partials are harmonic; a struck
or plucked string is there at once and falls evenly from its beginning on, a piano's partials lie
too high, speech lies lower than a flute goes, and of several tones none has a clear period. One
sound says little: a staccato note falls as well, an airy one is unclear. Only of a whole take is it
said who plays.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import islice

import numpy as np

from trainer.ear.analysis.envelope import Envelope
from trainer.ear.analysis.features import LOWER_SEMITONES, Features
from trainer.ear.analysis.frames import Frames, Track
from trainer.ear.analysis.harmonic_fit import middle
from trainer.ear.analysis.note_pitch import steady_part
from trainer.ear.analysis.order_statistics import median, quantile, slope
from trainer.ear.analysis.partials import HIGHEST_STRETCHED_HZ, stretch_cents
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.own_harmonics import levels_at

SHORTEST_S = 0.08
"""A shorter sound falls as soon as it has risen."""
LOUD_DB = 20.0
"""What is so much softer than the loudest sound says nothing of who plays: from pianissimo to
fortissimo recorded notes of one player lie within some 20 dB."""
ONE_TONE_CLEAR = 0.86
FEWEST, LEAST_CLEAR = 5, 0.5
"""Of 35 takes of one recorded and two sampled flutes (phrases, low, soft, staccato, in noise, in
halls of 1.8 s) each has at least 0.9 of its sounds so clear, of 9 of chords on pianos the most has
0.45; of a swell in a room two of three had not. Our own measurement."""
STANDING_SHARE = 0.7
"""Far away in halls of 2 s so many of a flute's sounds stand though fewer than half are clear: 0.79
at least in five quick, low tunes of a recorded and two sampled ones. Of 37 takes of chords on
pianos, guitars, harps and organs, choirs and televisions 14 begin with a clear sound: the most of
these has 0.62, but for one that is lower than a flute goes. Our own measurement."""
STANDS_DB, LATE_SHARE = 1.0, 0.25
"""A tone stands that in its last quarter is no softer than so much below its second, or is loudest
only after so much of its length."""
MOST_BLOWN = 0.45
"""Of 18 takes of pianos, guitars and harps, dry to 0.8 s, through walls and without, each has a
smaller share of sounds that stand so; of 20 takes of recorded flutes one has, staccatissimo, and of
15 of sampled ones that die away in their files 8 have. So nothing is said by this alone. Our own
measurement."""
STRETCHED_CENTS, STRETCHED_SHARE = 0.1, 0.9
FEWEST_PITCHES = 5
"""Such a share of a piano's pitches is stretched so much (Fletcher's B of 0.0002 is 0.17 cents),
and so many must be known. A room stretches a flute's too, the same note always the same: of 258
takes of recorded phrases seven, most of them staccato, in rooms from 0.7 s and halls, had three
quarters of their sounds above 0.1 cents, two of them nine tenths; counted by pitches none of 180
has, and six of seven takes of pianos of which so many were known do. Our own measurement."""
LOWEST_QUARTER, FALLING_CENTS, FEWEST_FALLING = 0.25, 0.2, 4
"""Where the sounds fall as a piano's do, fewer pitches will do, three quarters of them stretched by
so much; of three two were in six takes of 324 of tongued recorded phrases, in rooms from 0.4 s and
halls. A room stretches a flute's pitches up and down: of four and more the lowest quarter lies
lower in each of these takes; of 18 takes of pianos that went untold it lies above 0.2 in 10. Our
own measurement."""
FEWEST_RISING = 4
"""Sounds of strings of which it must be known how they rise."""
AT_ONCE_S = 0.005
"""Half of a string's sounds rise so fast from RISES_FROM_DB below where each is loudest to RISEN_DB
below: the envelope is smoothed over 8 ms, so that even a click takes 3. Half of the sounds of
guitars and harps take 3 to 5 ms at most where little rings; of 97 takes of recorded phrases,
staccatissimo and halls among them, half take 8 at least, of 36 lines of notes made to die away by
8 to 45 dB a second 13. Our own measurement."""
RISES_FROM_DB, RISEN_DB = 12.0, 3.0
"""See AT_ONCE_S."""
RISES_WITHIN_S = 0.15
RISES_BEFORE_S = 0.12
"""A sound is looked at from so long before it is known to sound, for so much of it."""
CUT_SHARE = 0.25
"""Where more sounds end at once, a gate cuts them: of strings none did, of a flute through a gate
three in ten to all. Our own measurement."""
ENDS_WITHIN_S = 0.15
"""A sound's end is looked for so long after it was last known to sound, and LAST_S before."""
LAST_S = 0.05
UNEVEN_DB = 1.5
"""A string's level stays so near a straight line as it falls, in the median of its sounds; a
staccato note stands, stops and rings on: 1.8 at least in 13 phrases. Our own measurement."""
EVEN_UNTIL = 0.92
"""The last of a sound is the next one's beginning."""
SHORTEST_FALL_S = 0.04
LOW_SHARE = 0.5
"""At least half of what sounds lies lower than the instrument goes where somebody speaks: of 12
takes of recorded speech, dry to 0.8 s, half to nine in ten of the sounds, of 134 of recorded and
sampled flutes, trills and halls of 1.8 s among them, less in all. Our own measurement."""
LOW_FALLING_SHARE = 0.2
"""Where hardly any sound stands so many will do. Of 38 takes of harps, guitars and pianos next door
that went untold 26 have more, of 72 of a flute in halls of 1.4 and 1.8 s none has any. Our own
measurement."""
FUNDAMENTAL_DB = 20.0
"""A low tone's own fundamental is at most so much softer than the whole of it: of recorded speech
nine tenths within 11 dB, strings half within 1. Two notes of a flute that ring together have a low
period too, and nothing there: 34 to 57 dB less, of nine tenths. Our own measurement."""
MOST_LOOKED_AT = 24
"""Sounds, spread over the take: more would cost time when the round is over and say no more."""
WELL_KNOWN_CENTS = 0.3
"""A stretch with a larger error says nothing."""
PIECE_S = 0.1
"""Half a wave of a vibrato, in which the pitch moves in a straight line and draws all partials
alike: over two waves three in ten of a recorded flute's long notes seemed stretched, and so did a
whole take of made ones (our own measurement)."""


def is_hardly_blown(features: Features, found: Sequence[NoteSegment]) -> bool:
    """Whether hardly any of a take's sounds stands as a blown tone does; looked at are no more than
    tell it."""
    telling = _telling(found)
    blown = (one for one in telling if _is_blown(features.frames, features.envelope, one))
    enough = math.ceil(MOST_BLOWN * len(telling))
    return sum(1 for _ in islice(blown, enough)) < enough


def is_no_flute(features: Features, found: Sequence[NoteSegment], *, falls: bool) -> bool:
    """Whether a take's sounds are a piano's or other struck or plucked strings', or lie too low;
    falls: whether they are hardly blown."""
    stretches = _stretches(features, found)
    many = LOW_FALLING_SHARE if falls else LOW_SHARE
    if _are_a_pianos(stretches) or _low_share(features, found) >= many:
        return True
    return falls and (_may_be_a_pianos(stretches) or _are_struck(features.envelope, found))


def is_piano(features: Features, found: Sequence[NoteSegment]) -> bool:
    """Whether a take's sounds are stretched as a piano's are."""
    return _are_a_pianos(_stretches(features, found))


def _low_share(features: Features, found: Sequence[NoteSegment]) -> float:
    """How much of what sounds lies lower than the instrument goes, as speech does; none where too
    few sounds tell it."""
    telling = _telling(found)
    low = sum(_is_low_tone(features, one) for one in telling)
    return low / len(telling) if len(telling) >= FEWEST else 0.0


def _stretches(features: Features, found: Sequence[NoteSegment]) -> Track:
    """How much each of a take's pitches is stretched of which that is known, in cents."""
    hz = features.tuning.midi_hz
    low = [one for one in _telling(found) if hz(one.midi) <= HIGHEST_STRETCHED_HZ]
    known: dict[int, list[float]] = {}
    for one in low[:: 1 + len(low) // MOST_LOOKED_AT]:
        cents = _stretch_cents(features, one)
        if cents is not None:
            known.setdefault(round(one.midi), []).append(cents)
    return np.array([median(np.array(each)) for each in known.values()])


def _are_a_pianos(stretches: Track) -> bool:
    stretched = int((stretches >= STRETCHED_CENTS).sum())
    return stretches.size >= FEWEST_PITCHES and stretched >= STRETCHED_SHARE * stretches.size


def _may_be_a_pianos(stretches: Track) -> bool:
    enough = stretches.size >= FEWEST_FALLING
    return enough and bool(quantile(stretches, LOWEST_QUARTER) >= FALLING_CENTS)


def _are_struck(envelope: Envelope, found: Sequence[NoteSegment]) -> bool:
    """Whether a take's sounds are there at once and fall evenly, as struck and plucked strings do.

    Through a noise gate a flute's may as well, but what a gate lets begin at once it ends at once.
    """
    rises = [(one, _rise_s(envelope, one)) for one in _telling(found)]
    known = [(one, rise_s) for one, rise_s in rises if rise_s is not None]
    if len(known) < FEWEST_RISING:
        return False
    if median(np.array([rise_s for _, rise_s in known])) > AT_ONCE_S + envelope.step_s / 2:
        return False
    if sum(_stops_at_once(envelope, one) for one, _ in known) > CUT_SHARE * len(known):
        return False
    uneven = (_uneven_db(envelope, one) for one, _ in known)
    uneven_db = np.array([each for each in uneven if each is not None])
    return uneven_db.size > 0 and median(uneven_db) < UNEVEN_DB


def are_several_tones(features: Features, found: Sequence[NoteSegment]) -> bool:
    """Whether too few of a take's sounds have one clear period for a flute to have made them.

    Far away in a hall a quick tune's own notes ring together: then the first of them is clear, as
    nothing rings yet, and most of them stand.
    """
    telling = _telling(found)
    clear = [_is_one_tone(features.frames, one) for one in telling]
    if len(telling) < FEWEST or sum(clear) >= LEAST_CLEAR * len(telling):
        return False
    standing = sum(_stands(features.envelope, one) for one in telling)
    return not clear[0] or standing < STANDING_SHARE * len(telling)


def lies_low(features: Features, segment: NoteSegment) -> bool:
    """Whether a sound's period is longer than the lowest note's, though an octave of it was found
    among the notes."""
    return _low_midi(features, segment) is not None


def _is_low_tone(features: Features, segment: NoteSegment) -> bool:
    """Whether it is one tone of that period, and not several notes that have it together."""
    midi = _low_midi(features, segment)
    if midi is None:
        return False
    _, levels_db = levels_at(features, midi, segment.from_s, segment.to_s)
    return levels_db.size > 0 and median(levels_db[0]) > segment.level_db - FUNDAMENTAL_DB


def _low_midi(features: Features, segment: NoteSegment) -> float | None:
    """The pitch of a sound's period; None where it has none, or none lower than the lowest note."""
    frames = features.frames
    midi = frames.midi[frames.at(segment.from_s) : frames.at(segment.to_s) + 1]
    midi = midi[np.isfinite(midi)]
    if not midi.size or median(midi) >= features.lowest_midi - LOWER_SEMITONES:
        return None
    return median(midi)


def _telling(found: Sequence[NoteSegment]) -> list[NoteSegment]:
    """The sounds that are long enough, and loud enough among the others."""
    long = [one for one in found if one.length_s >= SHORTEST_S]
    faint_db = max((one.level_db for one in long), default=0.0) - LOUD_DB
    return [one for one in long if one.level_db > faint_db]


def _is_one_tone(frames: Frames, segment: NoteSegment) -> bool:
    clarity = frames.clarity[frames.at(segment.from_s) : frames.at(segment.to_s) + 1]
    return median(clarity) >= ONE_TONE_CLEAR


def _stretch_cents(features: Features, segment: NoteSegment) -> float | None:
    """The middle one of its pieces, see `stretch_cents`; None where it isn't known well enough."""
    from_s, to_s = steady_part(segment.from_s, segment.to_s)
    rate = features.sample_rate_hz
    first, end = middle(round(from_s * rate), round(to_s * rate), rate)
    count = max(1, int((end - first) / rate / PIECE_S))
    pieces = np.array_split(features.samples[first:end], count)
    hz = features.tuning.midi_hz(segment.midi)
    known = [one for one in (stretch_cents(piece, rate, hz) for piece in pieces) if one is not None]
    if not known:
        return None
    stretches, errors = np.array(known).T
    error = float(np.sum(errors**-2) ** -0.5)
    return None if error > WELL_KNOWN_CENTS else median(stretches)


def _rise_s(envelope: Envelope, segment: NoteSegment) -> float | None:
    """How long it rises; None where it doesn't rise out of what was there before."""
    to_s = segment.from_s + min(RISES_WITHIN_S, segment.length_s)
    level_db = envelope.between(envelope.wide_db, segment.from_s - RISES_BEFORE_S, to_s)
    rise_db = level_db[: int(level_db.argmax()) + 1] - level_db.max()
    low, risen = (np.flatnonzero(rise_db < -db) for db in (RISES_FROM_DB, RISEN_DB))
    return None if low.size == 0 else float(risen[-1] - low[-1]) * envelope.step_s


def _stops_at_once(envelope: Envelope, segment: NoteSegment) -> bool:
    """Whether it falls at its end as fast as a string rises."""
    to_s = segment.to_s
    level_db = envelope.between(envelope.wide_db, to_s - LAST_S, to_s + ENDS_WITHIN_S)
    steps = round(AT_ONCE_S / envelope.step_s)
    falls_db = level_db[:-steps] - level_db[steps:]
    return bool(falls_db.max(initial=0.0) > RISES_FROM_DB - RISEN_DB)


def _uneven_db(envelope: Envelope, segment: NoteSegment) -> float | None:
    """How far its level lies from a straight line as it falls, root mean square; None where it is
    too short."""
    level_db = envelope.between(envelope.wide_db, segment.from_s, segment.to_s)
    loudest = int(level_db[: max(1, level_db.size // 2)].argmax())
    falling_db = level_db[loudest : int(EVEN_UNTIL * level_db.size)]
    if falling_db.size * envelope.step_s < SHORTEST_FALL_S:
        return None
    return float(np.std(falling_db - slope(falling_db, 1.0) * np.arange(falling_db.size)))


def _is_blown(frames: Frames, envelope: Envelope, segment: NoteSegment) -> bool:
    return _is_one_tone(frames, segment) and _stands(envelope, segment)


def _stands(envelope: Envelope, segment: NoteSegment) -> bool:
    level_db = envelope.between(envelope.wide_db, segment.from_s, segment.to_s)
    if int(level_db.argmax()) > LATE_SHARE * level_db.size:
        return True
    _, second, _, last = np.array_split(level_db, 4)
    return median(last) > median(second) - STANDS_DB
