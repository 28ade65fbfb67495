"""The devices there are at this moment, asked in a process of its own.

PortAudio knows only what was plugged in when it was loaded, and a dead sound server keeps whoever
asks it waiting for ever.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import asdict

from trainer.errors import SoundError
from trainer.sound.devices import Device, list_devices
from trainer.sound.engine import module_folders

PROGRAM = (
    "import sys; sys.path[:] = sys.argv[1:]; from trainer.sound.devices_now import main; main()"
)
LIMIT_S = 10.0
"""A sound server that hasn't answered by then is dead."""
UNANSWERED = "The sound system doesn't say which devices there are."


def devices_now() -> tuple[Device, ...]:
    """Every device. Raises SoundError where the sound system doesn't answer."""
    asked = [sys.executable, "-P", "-c", PROGRAM, *module_folders(sys.path)]
    try:
        answer = subprocess.run(asked, capture_output=True, timeout=LIMIT_S, check=True)
        return tuple(Device(**each) for each in json.loads(answer.stdout.splitlines()[-1]))
    except (OSError, subprocess.SubprocessError, ValueError, TypeError, IndexError) as error:
        raise SoundError(UNANSWERED) from error


def main() -> None:
    """In the process of its own: the devices as JSON."""
    found = list_devices()
    sys.stdout.write(json.dumps([asdict(device) for device in found]))
