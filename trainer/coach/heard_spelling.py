"""The note a player would read for what sounded."""

from __future__ import annotations

from trainer.music.key import Key
from trainer.music.pitch import Pitch, sharp_name
from trainer.routine.round import Round

_FLATS = {"C#": "Db", "D#": "Eb", "F#": "Gb", "G#": "Ab", "A#": "Bb"}


def written(round_: Round, sounded_midi: float, transposed: int) -> Pitch:
    """The written note for a fractional MIDI number, spelled as the round or its key spells it.

    `transposed`: semitones from written to sounding.
    """
    midi = round(sounded_midi) - transposed
    spelled = {note.pitch.midi % 12: note.pitch.name for note in round_.notes}
    return Pitch.named(spelled.get(midi % 12) or _name_in(round_.key, midi), midi)


def _name_in(key: Key | None, midi: int) -> str:
    sharp = Pitch.parse(sharp_name(midi)).name
    return _FLATS.get(sharp, sharp) if key is not None and key.signature < 0 else sharp
