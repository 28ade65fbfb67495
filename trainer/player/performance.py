"""What the played-in flutist hands over: the sound, and the truth about it."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.music.note import Start
from trainer.sound.port import Samples


@dataclass(frozen=True)
class TrueNote:
    """One note that really sounded; times in seconds from the start of the samples."""

    index: int
    """The expected note it was played for."""
    midi: int
    """The key of what sounded: another than the expected one after a wrong note. In silent air
    the fingering's, which nobody hears."""
    onset_s: float
    """Slurred: the middle of the change of pitch. Tongued: the stroke lets go. Breath: the puff
    begins."""
    end_s: float
    """Slurred into the next: the next onset. Else the air has stopped."""
    cents: float
    """Mean pitch rendered against the tuning of the key that sounded, change-overs left out;
    sharp is positive."""
    level_db: float
    """RMS level of the tone from onset to end, breath noise left out, dBFS; −inf in silent air."""
    start: Start
    tone_onset_s: float
    """When the tone begins to rise: later than the onset after a breath, or when it is slow to
    speak."""


@dataclass(frozen=True)
class Performance:
    """One round as the flutist played it."""

    samples: Samples
    """Mono, shape (samples,)."""
    sample_rate_hz: int
    first_beat_s: float
    """Where beat 0 falls in the samples."""
    truth: tuple[TrueNote, ...]
    """The expected notes that were played, in order; a missed note is absent."""
    blips: tuple[TrueNote, ...] = ()
    """False notes between two fingerings; their index is that of the note they lead to."""
