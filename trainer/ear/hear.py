"""From a take and its expected notes to what was heard, note by note."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.ear.analysis.frames import Samples
from trainer.ear.analysis.stretches import pieces
from trainer.ear.echo.canceller import KnownSound
from trainer.ear.heard import Take
from trainer.ear.take_listener import TakeListener
from trainer.music.note import Note
from trainer.music.tuning import Tuning


def hear(
    samples: Samples,
    sample_rate_hz: int,
    expected: Sequence[Note],
    tempo_bpm: float,
    tuning: Tuning,
    first_beat_s: float | None,
    *,
    timed: bool = True,
    clicks: Sequence[KnownSound] = (),
) -> Take:
    """What was played of the expected notes (sounding pitch) and beside them.

    samples: mono, shape (samples,). first_beat_s: where beat 0 falls in them; None where it isn't
    known. With timed False the notes say only which pitches come in which order. clicks: what the
    trainer itself played, with times in the samples; its leak is taken out first.
    """
    listening = TakeListener(sample_rate_hz, expected, tempo_bpm, tuning, clicks, timed=timed)
    listening.learn(samples, 0)
    for piece in pieces(samples, sample_rate_hz):
        listening.feed(piece)
    return listening.take(first_beat_s)
