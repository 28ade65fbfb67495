"""Free listening: what was played, without expected notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trainer.ear.analysis.features import Features, FeatureStream
from trainer.ear.analysis.frames import Samples
from trainer.ear.analysis.stretches import pieces
from trainer.ear.heard import HeardNote, State, Take
from trainer.ear.segments.blown_tones import are_several_tones, is_hardly_blown, is_no_flute
from trainer.ear.segments.mixtures import mixtures, without
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import note_segments
from trainer.ear.segments.segment_measures import Evidence, MeasurementCache, evidence
from trainer.ear.signal_warnings import sound_warnings
from trainer.music.pitch import Pitch, sharp_name
from trainer.music.tuning import Tuning

SEVERAL_TONES = (
    "Several notes sound at once here, so none is told. Say what you played, and your line is "
    "found among them."
)
NO_FLUTE = "What sounds here seems to be strings or a voice and no flute, so no note is told."


def transcribe(samples: Samples, sample_rate_hz: int, tuning: Tuning) -> Take:
    """Every note played, in order: index counts them, expected stays None, cents are from the
    nearest note of the tuning's tempered scale. Where several tones sound at once throughout, or
    struck or plucked strings or a voice alone, none is a flute's.
    """
    stream = FeatureStream(sample_rate_hz, tuning)
    for piece in pieces(samples, sample_rate_hz):
        stream.feed(piece)
    features = stream.finished()
    sounds = note_segments(features, features.course)
    found = without(features, sounds, mixtures(features, sounds))
    unheard = _why_unheard(features, found)
    if unheard:
        found = ()
    measured = evidence(features, found, [None] * len(found), MeasurementCache())
    notes = tuple(_named(measured, number, tuning) for number in range(len(found)))
    return Take(
        sample_rate_hz=sample_rate_hz,
        a4_hz=tuning.a4_hz,
        first_beat_s=notes[0].onset_s or 0.0 if notes else 0.0,
        notes=notes,
        room=features.room,
        warnings=(*unheard, *sound_warnings(features)),
    )


def _why_unheard(features: Features, found: Sequence[NoteSegment]) -> tuple[str, ...]:
    """Why none of the sounds is a flute's, as a sentence; none where they may be."""
    if are_several_tones(features, found):
        return (SEVERAL_TONES,)
    falls = is_hardly_blown(features, found)
    return (NO_FLUTE,) if is_no_flute(features, found, falls=falls) else ()


def _named(measured: Evidence, number: int, tuning: Tuning) -> HeardNote:
    note, cents = measured.heard(number), None
    if note.midi is not None and measured.knows_cents(number):
        nearest = Pitch.parse(sharp_name(round(note.midi)))
        cents = 100 * (note.midi - nearest.midi) - tuning.offset_cents(nearest)
    return replace(note, index=number, state=State.PLAYED, cents=cents)
