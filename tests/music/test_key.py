"""Keys against music21 and the circle of fifths."""

from __future__ import annotations

import warnings

import pytest

from trainer.music.key import CYCLES, Key, Mode, cycle, key_on, major_keys, minor_keys
from trainer.music.pitch import Pitch

# The fifteen major keys by signature: Gardner, Essentials of Music Theory
MAJORS = "Cb Gb Db Ab Eb Bb F C G D A E B F# C#"
MINORS = "Ab Eb Bb F C G D A E B F# C# G# D# A#"


def test_fifteen_majors_and_fifteen_minors_by_signature():
    assert " ".join(key.tonic for key in major_keys()) == MAJORS
    assert " ".join(key.tonic for key in minor_keys()) == MINORS
    for keys in (major_keys(), minor_keys()):
        assert [key.signature for key in keys] == list(range(-7, 8))


def test_signatures_relatives_and_parallels_agree_with_music21():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21
    for key in (*major_keys(), *minor_keys()):
        theirs = music21.key.Key(key.tonic.replace("b", "-"), key.mode.value)
        assert key.signature == theirs.sharps
        assert key.relative.tonic == theirs.relative.tonic.name.replace("-", "b")
        assert key.relative.mode.value == theirs.relative.mode
        if key.parallel is not None:
            assert key.parallel.signature == theirs.parallel.sharps
        else:
            assert abs(theirs.parallel.sharps) > 7


def test_names_in_words():
    assert str(Key("Eb", Mode.MAJOR)) == "E flat major"
    assert str(Key("F#", Mode.MINOR)) == "F sharp minor"
    assert str(Key("C", Mode.MAJOR)) == "C major"


@pytest.mark.parametrize(("tonic", "mode"), [("Fb", Mode.MAJOR), ("Gb", Mode.MINOR)])
def test_a_key_beyond_seven_signs_is_refused(tonic, mode):
    assert key_on(tonic, mode) is None
    with pytest.raises(ValueError, match="would need more than seven sharps or flats"):
        Key(tonic, mode)


@pytest.mark.parametrize("tonic", ["H", "C1", "", "C major"])
def test_a_word_that_is_no_tonic_is_refused(tonic):
    with pytest.raises(ValueError, match="is not a tonic: write a letter and # or b"):
        Key(tonic, Mode.MAJOR)


@pytest.mark.parametrize("mode", list(Mode))
@pytest.mark.parametrize(
    ("name", "semitones"), [("circle of fifths", 7), ("circle of fourths", 5), ("chromatic", 1)]
)
def test_a_cycle_goes_once_through_all_twelve_keys(name, semitones, mode):
    keys = cycle(name, mode, tonic="D")
    sounds = [Pitch.parse(f"{key.tonic}4").midi % 12 for key in keys]
    assert sounds == [(2 + semitones * turn) % 12 for turn in range(12)]
    assert {key.mode for key in keys} == {mode}
    assert all(abs(key.signature) <= 6 for key in keys)


def test_the_circle_of_fifths_from_c():
    tonics = [key.tonic for key in cycle("circle of fifths")]
    assert " ".join(tonics) == "C G D A E B F# Db Ab Eb Bb F"


def test_a_cycle_begins_as_spelled():
    assert cycle("chromatic", tonic="Gb")[0] == Key("Gb", Mode.MAJOR)


def test_an_unknown_cycle_is_refused_with_the_known_ones():
    with pytest.raises(ValueError, match="write circle of fifths, circle of fourths, chromatic"):
        cycle("thirds")
    assert CYCLES == ("circle of fifths", "circle of fourths", "chromatic")
