"""The microphone and loudspeaker the student has set."""

from __future__ import annotations

from trainer.app.paths import Paths
from trainer.app.settings_applied import settings_or_usual
from trainer.sound.stream import Wanted


def devices_set(paths: Paths, *, listens: bool = True) -> Wanted:
    """What to ask of the sound system; the usual where the settings can't be read."""
    settings, _ = settings_or_usual(paths)
    microphone, loudspeaker = settings.devices
    return Wanted(microphone, loudspeaker, listens)
