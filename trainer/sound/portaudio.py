"""The device library: the only module that imports it, and what its errors mean in plain words."""

from __future__ import annotations

import importlib
import sys
from typing import Any

from trainer.errors import SoundError

LIBRARY = "sounddevice"

INSTALL_WORDS = {
    "linux": "install it with `apt install libportaudio2` (Debian, Ubuntu)",
    "darwin": "install it with `brew install portaudio`",
}

ERROR_WORDS: tuple[tuple[str, str], ...] = (
    (
        "-9997",
        "the device refuses this sample rate; set it to 48000 in the system's sound settings",
    ),
    ("-9998", "the device hasn't the channels asked for; choose another with `trainer devices`"),
    ("-9996", "there is no such device; plug it in, or choose one from `trainer devices`"),
    ("-9985", "another program holds the device; close it and try again"),
    ("-9993", "input and output can't run together; choose both from the same sound system"),
    ("-9988", "the stream was closed by the system; plug the device in again and restart"),
    ("Error querying device", "there is no sound device; plug one in, or start the sound server"),
    ("No input/output device matching", "no device has this name; `trainer devices` lists them"),
    ("No input device matching", "no microphone has this name; `trainer devices` lists them"),
    ("No output device matching", "no loudspeaker has this name; `trainer devices` lists them"),
    ("Multiple", "several devices have this name; write more of it, as `trainer devices` does"),
    ("permission", "the system forbids it; allow this terminal the microphone in its settings"),
    ("Connection refused", "the sound server is gone; start it again"),
    ("Unanticipated host error", "the sound system gave up; check that it runs, then try again"),
)
"""Part of the library's message (PaErrorCode of portaudio.h, or its words) → what to do."""


def device_library() -> Any:
    """The sounddevice module, loaded when first needed: without PortAudio its import fails.

    Raises SoundError, saying how to install what is missing.
    """
    try:
        return importlib.import_module(LIBRARY)
    except (ImportError, OSError) as error:
        how = INSTALL_WORDS.get(sys.platform, "install PortAudio for your system")
        raise SoundError(f"The sound library PortAudio is missing: {how}.") from error


def explained(what: str, error: BaseException) -> SoundError:
    """A device error as a sentence: what couldn't be done, and how to mend it."""
    text = str(error).strip()
    for mark, words in ERROR_WORDS:
        if mark.lower() in text.lower():
            return SoundError(f"{what}: {words}.")
    return SoundError(f"{what}: {text or type(error).__name__}.")
