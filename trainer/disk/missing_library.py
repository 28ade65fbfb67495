"""How to add a library that is missing, as it is true for the way the trainer was installed."""

from __future__ import annotations

import sys

OUR_NAME = "flute-practice-trainer"


def install_words(*libraries: str, prefix: str = sys.prefix) -> str:
    """The command that puts these beside the trainer; none of them is the trainer's own name,
    under which an index may hold anything.
    """
    names = " ".join(libraries)
    if "pipx" in prefix.replace("\\", "/").split("/"):
        return f"pipx inject {OUR_NAME} {names}"
    return f"'{sys.executable}' -m pip install {names}"
