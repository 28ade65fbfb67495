"""What the screen calls an exercise on a day, and the line that says what is asked."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.music.articulations import AnyArticulation
from trainer.music.key import Key
from trainer.music.layout import PATTERNS, STEPWISE, End, Pattern
from trainer.music.scales import ArpeggioKind
from trainer.routine.articulation_words import ALL_SIX, PATTERN_SETS
from trainer.routine.exercise_notes import chord_form, scale_form
from trainer.routine.model import (
    Arpeggio,
    AsWritten,
    DifferentEveryRound,
    Exercise,
    FromTo,
    FullRange,
    InOrder,
    KeyedExercise,
    LongTones,
    OctaveCount,
    RangeAsked,
    Scale,
    Voicing,
    VoicingForm,
)
from trainer.routine.practice_way import way_in_words

_COUNTS = {1: "one octave", 2: "two octaves", 3: "three octaves"}
_ON_ANOTHER_DEGREE = {
    ArpeggioKind.DOMINANT_SEVENTH,
    ArpeggioKind.DIMINISHED,
    ArpeggioKind.DIMINISHED_SEVENTH,
    ArpeggioKind.HALF_DIMINISHED,
    ArpeggioKind.DOMINANT_NINTH,
}


def title_of(exercise: Exercise, key: Key | None) -> str:
    """The teacher's title, or one made from the key and the range."""
    if exercise.title is not None:
        return exercise.title
    if isinstance(exercise, Voicing) and exercise.roots:
        return f"Harmonics on {' '.join(map(str, exercise.roots))}"
    if not isinstance(exercise, KeyedExercise) or key is None:
        return exercise.id
    match exercise:
        case Scale():
            name = _scale_name(exercise, key)
            parts = [name, _pattern(exercise.pattern), _range(exercise.range)]
        case Arpeggio():
            parts = [_chord_name(exercise, key), _pattern(exercise.pattern), _range(exercise.range)]
        case Voicing(form=VoicingForm.OCTAVES):
            parts = [f"{key}, octaves"]
        case Voicing(form=VoicingForm.SAME_NAMES):
            parts = [f"{key}, low, middle and high"]
        case Voicing(form=VoicingForm.HARMONICS):
            parts = [f"{key}, harmonic and true note"]
        case Voicing():
            parts = [f"{key}, register by register"]
        case LongTones():
            parts = [exercise.id if exercise.pitches else f"Long tones in {key}"]
        case _:
            parts = [str(key)]
    return ", ".join(part for part in parts if part)


def _tonic(key: Key) -> str:
    return key.name.removesuffix(f" {key.mode}")


def _scale_name(exercise: Scale, key: Key) -> str:
    return f"{_tonic(key)} {scale_form(exercise, key)}"


def _chord_name(exercise: Arpeggio, key: Key) -> str:
    chord = chord_form(exercise, key)
    if chord in _ON_ANOTHER_DEGREE:
        return f"{chord} in {key}".capitalize().replace(key.name.lower(), key.name)
    return f"{_tonic(key)} {chord} arpeggio"


def _pattern(pattern: Pattern) -> str:
    if pattern == STEPWISE:
        return ""
    names = {degrees: name for name, degrees in PATTERNS.items()}
    written = "-".join(str(degree + 1) for degree in pattern)
    return f"in {names.get(pattern, written)}"


def _range(asked: RangeAsked) -> str:
    match asked:
        case FullRange(End.TOP):
            return "full range"
        case FullRange():
            return "full range, bottom first"
        case OctaveCount(count):
            return _COUNTS[count]
        case FromTo(low, high):
            return f"{low} to {high}"


def detail_of(exercise: Exercise, drawn: Sequence[AnyArticulation]) -> str:
    """What is asked: 'slurred, single at 60', 'single, backwards, from 60 towards 120'."""
    how = _how(exercise, drawn) + (", in practice rhythms" if any(exercise.figures) else "")
    how += "".join(f", {way_in_words(way)}" for way in exercise.ways)
    how += f", {exercise.unjudged}" if exercise.unjudged is not None else ""
    if exercise.climb is not None:
        return f"{how}, from {exercise.climb.from_bpm:g} towards {exercise.climb.to_bpm:g}"
    to = f" to {exercise.end_bpm:g}" if exercise.end_bpm is not None else ""
    until = f", {exercise.until}" if exercise.until is not None else ""
    return f"{how} at {exercise.tempo_bpm:g}{to}{until}"


def _how(exercise: Exercise, drawn: Sequence[AnyArticulation]) -> str:
    match exercise.articulations:
        case AsWritten():
            return "as written"
        case DifferentEveryRound():
            return f"a different articulation every round, {len(drawn)} rounds"
        case InOrder(articulations) if articulations == ALL_SIX and len(drawn) == len(ALL_SIX):
            return "all six articulations"
    if len(set(drawn)) == 1 and len(drawn) > 1:
        return f"{drawn[0]}, {len(drawn)} rounds"
    named = (name for name, patterns in PATTERN_SETS.items() if patterns == tuple(drawn))
    return next(named, ", ".join(map(str, drawn)))


def duration_in_words(seconds: float) -> str:
    """'30 seconds', '2 minutes', '1 minute 30 seconds'."""
    minutes, rest = divmod(round(seconds), 60)
    parts = [_counted(minutes, "minute")] if minutes else []
    return " ".join([*parts, *([_counted(rest, "second")] if rest or not parts else [])])


def _counted(count: int, unit: str) -> str:
    return f"{count} {unit}" if count == 1 else f"{count} {unit}s"
