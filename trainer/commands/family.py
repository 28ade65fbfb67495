"""What a family of commands adds itself to."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    Commands: TypeAlias = argparse._SubParsersAction[argparse.ArgumentParser]
