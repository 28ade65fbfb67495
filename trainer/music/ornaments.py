"""Grace notes and ornaments as they are played: each written note as the notes that sound."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from trainer.music.note import Note, Ornament, Start
from trainer.music.pitch import LETTERS, Pitch

GRACE_S = 0.09
"""A grace note lasts about so long at any tempo (common practice, no source)."""
ORNAMENT_NOTE_S = 0.1
"""... and so each note of a turn, a mordent or a trill: five trills a second, a student's (common
practice, no source)."""
MOST_SHARE = Fraction(1, 2)
"""Grace notes take no more of the note before them, or of their own."""
TIME_PARTS = 1000
"""A beat is divided so finely where seconds become beats."""


@dataclass(frozen=True)
class Realised:
    """Notes as they sound, numbered in order."""

    notes: tuple[Note, ...]
    owners: tuple[int, ...]
    """For each, the place of the written note it belongs to."""
    written: tuple[Note, ...]

    @property
    def may_be_left_out(self) -> tuple[bool, ...]:
        """For each, whether it is a grace note or one of the quick notes of an ornament."""
        return tuple(one == other for one, other in pairwise([*self.owners, len(self.written)]))


def realised(notes: Sequence[Note], beat_s: float) -> Realised:
    """The notes with their graces before them and their ornaments written out.

    Grace notes come before the beat and take their time from the note before; where there is none
    to take it from, they come on the beat. Trills begin on their main note and end there.
    """
    groups = [_ornamented(note, beat_s) for note in notes]
    for place, note in enumerate(notes):
        if note.graces:
            before = groups[place - 1] if place else []
            _put_before(before, groups[place], note, beat_s)
    flat = [(owner, note) for owner, group in enumerate(groups) for note in group]
    return Realised(
        tuple(replace(note, index=index) for index, (_, note) in enumerate(flat)),
        tuple(owner for owner, _ in flat),
        tuple(notes),
    )


def neighbours_of(pitch: Pitch, signature: int, upper_sign: int | None) -> tuple[Pitch, Pitch]:
    """The notes above and below in a key signature; a sign over a trill changes the one above."""
    above, below = (_step(pitch, by, signature) for by in (1, -1))
    return (above if upper_sign is None else replace(above, alter=upper_sign)), below


def _step(pitch: Pitch, by: int, signature: int) -> Pitch:
    octave, place = divmod(7 * pitch.octave + LETTERS.index(pitch.letter) + by, 7)
    letter = LETTERS[place]
    order = "FCGDAEB"
    sharp, flat = letter in order[: max(0, signature)], letter in order[7 + min(0, signature) :]
    return Pitch(letter, 1 if sharp else -1 if flat else 0, octave)


def _ornamented(note: Note, beat_s: float) -> list[Note]:
    """The note as its ornament has it played, on its own place and in its own time."""
    if note.ornament is None or len(note.neighbours) < 2:
        return [replace(note, graces=(), ornament=None)]
    above, below = note.neighbours[:2]
    main = note.pitch
    match note.ornament:
        case Ornament.TRILL:
            seconds = float(note.length) * beat_s
            turns = max(1, round(seconds / ORNAMENT_NOTE_S) // 2)
            return _in_turn(note, [main, above] * turns + [main], note.length / (2 * turns + 1))
        case Ornament.TURN:
            pitches = [above, main, below, main]
        case Ornament.INVERTED_TURN:
            pitches = [below, main, above, main]
        case Ornament.MORDENT:
            pitches = [main, below, main]
        case Ornament.INVERTED_MORDENT:
            pitches = [main, above, main]
    return _in_turn(note, pitches, min(note.length / len(pitches), _beats(ORNAMENT_NOTE_S, beat_s)))


def _in_turn(note: Note, pitches: Sequence[Pitch], each: Fraction) -> list[Note]:
    """So many quick notes; the last one stands until the note ends."""
    last = len(pitches) - 1
    plain = replace(note, graces=(), ornament=None, neighbours=())
    return [
        replace(
            plain,
            pitch=pitch,
            beat=note.beat + place * each,
            length=each if place < last else note.length - last * each,
            start=note.start if place == 0 else Start.SLURRED,
            mark=note.mark if place == 0 else None,
            breath_after=note.breath_after and place == last,
            fermata=note.fermata and place == last,
            stop_after=note.stop_after and place == last,
        )
        for place, pitch in enumerate(pitches)
    ]


def _put_before(before: list[Note], group: list[Note], note: Note, beat_s: float) -> None:
    """Grace notes put before the first of a group, their time taken where there is some."""
    wanted = len(note.graces) * _beats(GRACE_S, beat_s)
    if before:
        room = (note.beat - before[-1].beat) * MOST_SHARE
        begins, all_beats = note.beat - min(wanted, room), min(wanted, room)
        if before[-1].beat + before[-1].length > begins:
            before[-1] = replace(before[-1], length=begins - before[-1].beat)
    else:
        begins, all_beats = note.beat, min(wanted, group[0].length * MOST_SHARE)
        first = group[0]
        group[0] = replace(first, beat=begins + all_beats, length=first.length - all_beats)
    each = all_beats / len(note.graces)
    graces = [
        Note(0, pitch, begins + place * each, each, note.start if place == 0 else Start.SLURRED)
        for place, pitch in enumerate(note.graces)
    ]
    last = graces[-1].pitch.midi
    start = Start.LEGATO_TONGUE if last == group[0].pitch.midi else Start.SLURRED
    group[0] = replace(group[0], start=start)
    group[:0] = [
        replace(after, start=Start.LEGATO_TONGUE) if one.pitch.midi == after.pitch.midi else after
        for one, after in pairwise([replace(graces[0], pitch=_NO_PITCH), *graces])
    ]


_NO_PITCH = Pitch("C", 0, 0)
"""Below every flute: nothing repeats it."""


def _beats(seconds: float, beat_s: float) -> Fraction:
    return Fraction(round(TIME_PARTS * seconds / beat_s), TIME_PARTS)
