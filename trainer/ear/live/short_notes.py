"""How a room rings on after a few short notes with silence between them."""

from __future__ import annotations

from trainer.ear.analysis.features import FeatureStream
from trainer.ear.analysis.frames import Samples
from trainer.ear.heard import Room
from trainer.music.tuning import Tuning


def room_heard(samples: Samples, sample_rate_hz: int) -> Room | None:
    """The room around them; None where no sound ends in silence. samples: shape (samples,)."""
    stream = FeatureStream(sample_rate_hz, Tuning())
    stream.feed(samples)
    return stream.finished().room
