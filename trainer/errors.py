"""The faults a person can meet, each with a sentence that says how to mend it.

    TrainerError
    ├── SoundError        no device, no permission, a rate the device refuses, an unreadable file
    ├── JournalError      a practice folder that can't be read or written
    ├── StudioError       a studio's folder that can't be read, a student it doesn't hold
    └── ScoreError        a score that can't be read, used or engraved

Mistakes in a routine file are not exceptions: loading returns them as values
(`trainer.routine.problem.Problem`), all at once.
"""


class TrainerError(Exception):
    """Base of every fault we raise on purpose; its message is fit to be shown to a student."""


class SoundError(TrainerError):
    """Sound can't come in or go out; the message says how to mend it."""


class JournalError(TrainerError):
    """The practice journal can't be read or written; the message says where and how to mend it."""


class ScoreError(TrainerError):
    """A score can't be read, used or engraved; the message says what to do instead."""


class StudioError(TrainerError):
    """A studio's folder can't be read, or holds no such student; the message says what to do."""


class PaperError(TrainerError):
    """Pages can't be put on paper on this machine."""
