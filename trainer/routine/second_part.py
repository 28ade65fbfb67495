"""A part of the partner's own beside the student's: in thirds, in sixths, or in canon."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import groupby, pairwise

from trainer.music.bars import Bars
from trainer.music.key import Key, Mode
from trainer.music.layout import turning_notes
from trainer.music.note import Note
from trainer.music.pitch import LETTERS, OCTAVE, Pitch
from trainer.music.scales import SCALE_DEGREES, ScaleKind, scale_within
from trainer.routine.practice_way import moved
from trainer.routine.round import AS_IT_COMES, PartnerPart, Round

PARALLEL_STEPS: Mapping[PartnerPart, int] = {
    PartnerPart.THIRDS_ABOVE: 2,
    PartnerPart.THIRDS_BELOW: -2,
    PartnerPart.SIXTHS_ABOVE: 5,
    PartnerPart.SIXTHS_BELOW: -5,
}
"""Letter names from the student's note to the partner's."""

Letters = Mapping[str, int]
"""Each letter of a scale of seven notes, and its accidental in semitones."""

_OF_A_KEY = {
    Mode.MAJOR: (ScaleKind.MAJOR,),
    Mode.MINOR: (ScaleKind.NATURAL_MINOR, ScaleKind.HARMONIC_MINOR, ScaleKind.MELODIC_MINOR),
}
_LOWEST, _HIGHEST = Pitch("C", 0, 4), Pitch("C", 0, 7)


def has_seven_notes(form: ScaleKind) -> bool:
    """Whether thirds and sixths can be counted in its letters."""
    return len(SCALE_DEGREES.get(form, ())) == len(LETTERS)


def beside_scale(
    notes: Sequence[Note], part: PartnerPart, tonic: str, form: ScaleKind, low: Pitch, high: Pitch
) -> tuple[Note, ...]:
    """In thirds or sixths beside a scale: each way up and down in the form the student has there.

    low, high: how far the partner may go; a note beyond is taken an octave nearer.
    """
    turns = [0, *turning_notes([note.pitch for note in notes]), len(notes)]
    legs = [notes[first:end] for first, end in pairwise(turns)]
    return _beside(legs, part, _forms_of(tonic, (form,)), low, high)


def beside_melody(
    notes: Sequence[Note], part: PartnerPart, bars: Bars, key: Key, low: Pitch, high: Pitch
) -> tuple[Note, ...]:
    """In thirds or sixths beside a melody; in minor, each bar has its own form.

    key: where no signature says it.
    """
    return tuple(
        second
        for bar, inside in groupby(notes, lambda note: bars.at(note.beat))
        for here in [bar.key or key]
        for second in _beside(
            [list(inside)], part, _forms_of(here.tonic, _OF_A_KEY[here.mode]), low, high
        )
    )


def in_canon(notes: Sequence[Note], beats: int) -> tuple[Note, ...]:
    """The same line, so many beats later."""
    return tuple(moved(notes, beats))


def _forms_of(tonic: str, kinds: Sequence[ScaleKind]) -> list[Letters]:
    """What the letters may stand for, the likeliest first."""
    runs = [scale_within(tonic, kind, _LOWEST, _HIGHEST) for kind in kinds]
    ways = [way for run in runs for way in (run.ascending, run.descending)]
    return [{pitch.letter: pitch.alter for pitch in way} for way in ways]


def _beside(
    stretches: Sequence[Sequence[Note]],
    part: PartnerPart,
    forms: Sequence[Letters],
    low: Pitch,
    high: Pitch,
) -> tuple[Note, ...]:
    steps = PARALLEL_STEPS[part]
    return tuple(
        _plain(note, _within(_moved(note.pitch, steps, letters), low, high))
        for stretch in stretches
        for letters in [max(forms, key=lambda form: _shared(stretch, form))]
        for note in stretch
    )


def _shared(notes: Sequence[Note], letters: Letters) -> int:
    """How many of the notes the form has."""
    return sum(letters[note.pitch.letter] == note.pitch.alter for note in notes)


def _moved(pitch: Pitch, steps: int, letters: Letters) -> Pitch:
    octave, place = divmod(pitch.staff_step + steps, len(LETTERS))
    return Pitch(LETTERS[place], letters[LETTERS[place]], octave)


def _within(pitch: Pitch, low: Pitch, high: Pitch) -> Pitch:
    if pitch.midi > high.midi:
        return pitch.transposed(-OCTAVE)
    return pitch.transposed(OCTAVE) if pitch.midi < low.midi else pitch


def _plain(note: Note, pitch: Pitch) -> Note:
    """Graces and ornaments are the student's."""
    return replace(note, pitch=pitch, graces=(), ornament=None, neighbours=(), harmonic_of=None)


def as_round(round_: Round) -> Round:
    """The second part as a round of its own: what stands in the partner's music."""
    return replace(
        round_,
        notes=round_.second_part,
        second_part=(),
        partner_notes=(),
        ends_on_beat=round_.music_beats,
        manner=AS_IT_COMES,
    )
