"""Names for sounds that come without them, as in a MIDI file."""

from __future__ import annotations

from trainer.music.key import Key, Mode
from trainer.music.pitch import ACCIDENTALS, LETTER_SEMITONES, Pitch

_FIFTHS = "FCGDAEB"
_FLATTEST = {Mode.MAJOR: -3, Mode.MINOR: -2}
"""How far below the key's signature the twelve names begin on the line of fifths: in C major from
E flat to G sharp, in A minor from B flat to D sharp (common practice, no source)."""
_SHARPS_FOLLOW = 7
"""Letters; the eighth fifth needs one sharp more."""


def spelled(midi: int, key: Key | None) -> Pitch:
    """A sounding note in the spelling of its key; C major's where there is none."""
    signature = key.signature if key is not None else 0
    flattest = signature + _FLATTEST[key.mode if key is not None else Mode.MAJOR]
    place = flattest + (_place(midi) - flattest) % 12
    letter, alter = _FIFTHS[(place + 1) % 7], (place + 1) // _SHARPS_FOLLOW
    if alter not in ACCIDENTALS:
        place -= 12 if alter > 0 else -12
        letter, alter = _FIFTHS[(place + 1) % 7], (place + 1) // _SHARPS_FOLLOW
    octave = (midi - alter - LETTER_SEMITONES[letter]) // 12 - 1
    return Pitch(letter, alter, octave)


def _place(midi: int) -> int:
    """A place on the line of fifths (C is 0, G is 1) that sounds as this note."""
    return (midi % 12) * 7 % 12
