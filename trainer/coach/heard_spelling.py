"""The note a player would read for what sounded."""

from __future__ import annotations

from collections.abc import Mapping

from trainer.music.key import Key
from trainer.music.pitch import Pitch, sharp_name
from trainer.routine.round import Round

_FLATS = {"C#": "Db", "D#": "Eb", "F#": "Gb", "G#": "Ab", "A#": "Bb"}

NamesByKey = Mapping[Key | None, Mapping[int, str]]
"""Under each key signature: pitch class, 0 for C, to the name it has in the music."""


def names_by_key(round_: Round) -> NamesByKey:
    """How the round spells its own notes, as far as each of its key signatures holds."""
    names: dict[Key | None, dict[int, str]] = {}
    for note in round_.notes:
        key = round_.bars.at(note.beat).key
        names.setdefault(key, {})[note.pitch.midi % 12] = note.pitch.name
    return names


def written(midi: int, key: Key | None, names: NamesByKey) -> Pitch:
    """The written note for a MIDI number, spelled as the music under this key or the key itself
    spells it."""
    return Pitch.named(names.get(key, {}).get(midi % 12) or _name_in(key, midi), midi)


def _name_in(key: Key | None, midi: int) -> str:
    sharp = Pitch.parse(sharp_name(midi)).name
    return _FLATS.get(sharp, sharp) if key is not None and key.signature < 0 else sharp
