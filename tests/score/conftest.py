"""The outside libraries the scores are compared with warn of their own affairs when loaded."""

import warnings

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import music21  # noqa: F401
    import partitura  # noqa: F401
    import pretty_midi  # noqa: F401
