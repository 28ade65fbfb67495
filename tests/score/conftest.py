"""The outside libraries the scores are compared with warn of their own affairs when loaded."""

import sys
import warnings

import pytest

with warnings.catch_warnings(), pytest.MonkeyPatch.context() as patched:
    warnings.simplefilter("ignore")
    import music21  # noqa: F401
    import pretty_midi  # noqa: F401

    # where partitura finds fluidsynth, it fetches a soundfont from the net as it is loaded
    patched.setitem(sys.modules, "fluidsynth", None)
    import partitura  # noqa: F401
