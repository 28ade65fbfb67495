"""From where on a microphone's sound is too soft, cut off or too noisy to be heard well.

The look at a new microphone (`sound.level_check`) and what is said after a round go by the same
limits. Levels in dB re full scale, never sound pressure.
"""

from __future__ import annotations

TOO_SOFT_DB = -52.0
"""Louder notes (the level that a quarter of the tone reaches) softer than this are too soft. Down
to here every note of a made flute was heard in a room of 0.3 s, in 16 bits, over noise at -90, -78
and -70 dB, and 84, 78 and 76 of 84 starts were told right; at -62 dB no note was lost either, but
starts fell to 76 and 73 over the first two (our own measurement). Our own estimate."""

CLIPPED_SHARE = 0.0005
"""More samples than this at full scale are heard as crackle. Our own estimate."""

NOISE_BELOW_TONE_DB = 15.0
"""Noise no further below the tone than this is in the way of soft notes and of starts. Our own
estimate."""
