"""The one place where this bench touches the trainer: what it hears, and what its coach says.

What is heard is read from the object that `trainer listen --json` prints. A start that comes
without a certainty counts as said with certainty 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trainer.coach.judge import judge
from trainer.coach.words import advise
from trainer.commands.take_report import take_json
from trainer.ear.hear import hear
from trainer.ear.heard import Take
from trainer.ear.live.live_ear import LiveEar
from trainer.ear.transcribe import transcribe
from trainer.figures.round_measures import note_counts
from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import Pitch, sharp_name
from trainer.music.tuning import Tuning
from trainer.player.room import in_room
from trainer.routine.round import Aims, Round, RoundKind
from trainer.sound.click import Tap, click

Sound = NDArray[np.float64]

RATE = 44100
BLOCK = 1470
"""Samples that come at once: 30 looks a second."""
NOT_JUDGED = "not judged"
IN_PEACE = frozenset({"everything asked for was heard"})
WITHHELD = frozenset({"the sound itself could not be judged", "nothing was heard"})
_AIMS = Aims()


@dataclass(frozen=True)
class Asked:
    """A line as the student has it on the stand; every sequence has one entry a note."""

    midis: tuple[int, ...]
    beats: tuple[Fraction, ...]
    length: Fraction
    """Of every note, in beats ..."""
    slurred: tuple[bool, ...]
    bpm: float
    double: bool = False
    """Tongued notes alternate front and back strokes."""
    timed: bool = True
    """False: only the order of the pitches is known."""
    lengths: tuple[Fraction, ...] = ()
    """... but for those that differ."""


@dataclass(frozen=True)
class Heard:
    """One note of the contract of `trainer listen`."""

    index: int | None
    state: str
    midi: float | None
    onset_s: float | None
    start: str | None
    """slurred, legato tongue, tongued, breath, silent air, not judged; None where none is said."""
    certainty: float
    speaks_s: float | None
    """Where the tone stands; None where the ear doesn't tell it from the onset."""


@dataclass(frozen=True)
class Said:
    """The coach's one thing."""

    topic: str
    sentence: str
    notes: tuple[int, ...]
    heard: tuple[Heard, ...]
    """What it rests on."""


@dataclass(frozen=True)
class Shown:
    """One quick answer: the note that is believed to sound, and its cents."""

    time_s: float
    index: int
    cents: float


@dataclass(frozen=True)
class SaidNote:
    """An expected note, or an extra, as it is said afterwards; no times where it was missed."""

    index: int | None
    onset_s: float | None
    end_s: float | None
    cents: float | None


@dataclass(frozen=True)
class Followed:
    """One take as it was shown while it sounded, and as it is said afterwards."""

    shown: tuple[Shown, ...]
    said: tuple[SaidNote, ...]


def in_order(midis: Sequence[int]) -> Asked:
    """Notes of one beat each, tongued, known only by their order, as `--notes` gives them."""
    count = len(midis)
    beats = tuple(map(Fraction, range(count)))
    return Asked(tuple(midis), beats, Fraction(1), (False,) * count, 60.0, timed=False)


def heard_told(sound: Sound, asked: Asked) -> list[Heard]:
    """What is heard by an ear that knows what was asked."""
    return _notes(_take(sound, asked))


def heard_untold(sound: Sound) -> list[Heard]:
    """What is heard by an ear that knows nothing."""
    return _notes(transcribe(sound.astype(np.float32), RATE, Tuning()))


def said_of(sound: Sound, asked: Asked) -> Said:
    """What the coach says first of a round it has no history of; none of its notes is held so long
    that the coach would follow what it does inside."""
    round_ = _round(asked)
    take = _take(sound, asked)
    advice = advise(round_, take, judge(round_, take))
    return Said(str(advice.topic), advice.sentence, advice.note_indices, tuple(_notes(take)))


def followed(sound: Sound, asked: Asked, first_beat_s: float) -> Followed:
    """The quick answers while a line sounds, and what is said of it."""
    samples, expected = sound.astype(np.float32), _expected(asked)
    ear = LiveEar(expected, asked.bpm, Tuning(), RATE, first_beat_s)
    shown = [
        Shown(reading.time_s, reading.note_index, reading.cents)
        for first in range(0, samples.size, BLOCK)
        for reading in ear.feed(samples[first : first + BLOCK])
        if reading.note_index is not None and reading.cents is not None
    ]
    take = hear(samples, RATE, expected, asked.bpm, Tuning(), first_beat_s)
    said = [SaidNote(n.index, n.onset_s, n.end_s, n.cents) for n in take.notes]
    return Followed(tuple(shown), tuple(said))


def _take(sound: Sound, asked: Asked) -> Take:
    samples = sound.astype(np.float32)
    return hear(samples, RATE, _expected(asked), asked.bpm, Tuning(), None, timed=asked.timed)


def _round(asked: Asked) -> Round:
    slurs = sum(asked.slurred)
    articulation = Articulation.DOUBLE if asked.double else Articulation.SINGLE
    return Round(
        exercise_id="line",
        title="a line of recorded notes",
        kind=RoundKind.TECHNIQUE,
        number=1,
        key=None,
        articulation=Articulation.SLURRED if 2 * slurs > len(asked.slurred) else articulation,
        tempo_bpm=asked.bpm,
        notes=_expected(asked),
        beats_per_bar=4,
        aims=_AIMS,
        partner=None,
    )


def _expected(asked: Asked) -> tuple[Note, ...]:
    return tuple(
        Note(
            index,
            Pitch.parse(sharp_name(midi)),
            beat,
            asked.lengths[index] if asked.lengths else asked.length,
            Start.SLURRED if slurred else _stroke(asked, index),
        )
        for index, (midi, beat, slurred) in enumerate(
            zip(asked.midis, asked.beats, asked.slurred, strict=True)
        )
    )


def _stroke(asked: Asked, index: int) -> Start:
    return Start.BACK_TONGUED if asked.double and index % 2 else Start.TONGUED


def _notes(take: Take) -> list[Heard]:
    return [
        Heard(
            index=note["index"],
            state=note["state"],
            midi=note["midi"],
            onset_s=note["onset_s"],
            start="legato tongue" if note.get("legato") else note["start"],
            certainty=_certainty(note),
            speaks_s=note.get("speaks_s"),
        )
        for note in take_json(take, note_counts(take))["notes"]
    ]


def _certainty(note: dict[str, Any]) -> float:
    certainty = note.get("start_certainty")
    return 1.0 if certainty is None else float(certainty)


def our_room(sound: Sound, decay_s: float, wet_db: float, seed: int) -> Sound:
    """The project's own room."""
    return in_room(sound.astype(np.float32), RATE, decay_s, seed, wet_db).astype(np.float64)


def click_sound() -> Sound:
    """One beat of the trainer's own click."""
    return click(Tap.BEAT, RATE).astype(np.float64)
