"""Grace notes and ornaments as they sound; their pitches as music21 (PyPI) realises them."""

from fractions import Fraction

import music21
import pytest

from trainer.music.key import major_keys, minor_keys
from trainer.music.note import Note, Ornament, Start
from trainer.music.ornaments import GRACE_S, neighbours_of, realised
from trainer.music.pitch import Pitch

PUBLISHED = {
    Ornament.TRILL: music21.expressions.Trill,
    Ornament.TURN: music21.expressions.Turn,
    Ornament.INVERTED_TURN: music21.expressions.InvertedTurn,
    Ornament.MORDENT: music21.expressions.Mordent,
    Ornament.INVERTED_MORDENT: music21.expressions.InvertedMordent,
}


def note(name: str, beat: int, length=1, **signs) -> Note:
    return Note(0, Pitch.parse(name), Fraction(beat), Fraction(length), Start.TONGUED, **signs)


def ornamented(name: str, ornament: Ornament, signature: int = 0, length=2) -> Note:
    around = neighbours_of(Pitch.parse(name), signature, None)
    return note(name, 0, length, ornament=ornament, neighbours=around)


def music21_pitches(name: str, ornament: Ornament, signature: int) -> list[str]:
    written = music21.note.Note(name, quarterLength=2)
    key = music21.key.KeySignature(signature)
    before, main, after = PUBLISHED[ornament]().realize(written, keySig=key)
    every = [*before, *([main] if main is not None else []), *after]
    return [n.nameWithOctave.replace("-", "b") for n in every]


@pytest.mark.parametrize("signature", [key.signature for key in (*major_keys(), *minor_keys())])
@pytest.mark.parametrize("ornament", [one for one in Ornament if one is not Ornament.TRILL])
def test_the_notes_of_turns_and_mordents_are_those_of_music21(ornament, signature):
    for name in ("C5", "E5", "F4", "B5"):
        ours = realised([ornamented(name, ornament, signature)], 1.0).notes
        published = music21_pitches(name, ornament, signature)
        assert [str(one.pitch) for one in ours][: len(published)] == published


def test_a_trill_has_the_notes_of_music21_and_comes_to_rest_on_its_main_note():
    ours = realised([ornamented("E5", Ornament.TRILL, signature=-2)], 1.0).notes
    assert {str(one.pitch) for one in ours} == set(music21_pitches("E5", Ornament.TRILL, -2))
    assert [str(ours[0].pitch), str(ours[-1].pitch)] == ["E5", "E5"]
    assert sum(one.length for one in ours) == 2


def test_a_sign_over_a_trill_changes_the_note_above():
    assert [str(p) for p in neighbours_of(Pitch.parse("E5"), 0, 1)] == ["F#5", "D5"]
    assert [str(p) for p in neighbours_of(Pitch.parse("C5"), 2, None)] == ["D5", "B4"]
    assert [str(p) for p in neighbours_of(Pitch.parse("B4"), 2, None)] == ["C#5", "A4"]


def test_grace_notes_come_before_the_beat_and_carry_the_stroke():
    graces = (Pitch.parse("A4"), Pitch.parse("B4"))
    sounded = realised([note("G4", 0), note("C5", 1, graces=graces)], 1.0)
    assert [str(one.pitch) for one in sounded.notes] == ["G4", "A4", "B4", "C5"]
    assert sounded.owners == (0, 1, 1, 1)
    assert [float(one.beat) for one in sounded.notes] == pytest.approx(
        [0, 1 - 2 * GRACE_S, 1 - GRACE_S, 1]
    )
    assert sounded.notes[0].length == 1 - Fraction(2 * GRACE_S).limit_denominator(1000)
    assert [one.start for one in sounded.notes[1:]] == [
        Start.TONGUED, Start.SLURRED, Start.SLURRED,
    ]  # fmt: skip


def test_grace_notes_at_the_beginning_come_on_the_beat():
    first, main = realised([note("C5", 0, graces=(Pitch.parse("D5"),))], 1.0).notes
    assert (first.beat, main.beat + main.length) == (0, 1)


def test_plain_notes_stay_as_they_are():
    plain = [note("G4", 0), note("A4", 1)]
    assert [one.pitch for one in realised(plain, 1.0).notes] == [one.pitch for one in plain]
    assert realised(plain, 1.0).owners == (0, 1)
