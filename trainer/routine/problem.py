"""A mistake or a doubt in a routine file: where it stands, what it is and how to mend it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import SequenceMatcher, get_close_matches

from trainer.routine.number_words import COUNTS, IN_GROUPS
from trainer.routine.other_words import MEANT, composed

LONGEST_SENTENCE = 400
"""Characters; a longer one loses its middle."""


@dataclass(frozen=True)
class Problem:
    """One mistake (`serious`) or one thing the teacher may not have meant (not `serious`)."""

    file: str
    """The file's name as a person would say it: 'morning.yaml'."""
    line: int | None
    """Line in the file, from 1; None where the file as a whole is meant."""
    column: int | None
    """Column in the line, from 1; None where the file as a whole is meant."""
    what: str
    """What is wrong, a whole sentence: "'artculations' is not known here."."""
    mend: str
    """How to mend it, a whole sentence: "Did you mean 'articulations'?"."""
    serious: bool = True
    """True where the routine can't be played until it is mended."""

    def sentence(self) -> str:
        """All of it on one line, as `trainer check` prints it."""
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        return " ".join(f"{place}: {_shown(self.what)} {_shown(self.mend)}".split())


def _shown(sentence: str) -> str:
    """A sentence that quotes something endless is cut in its middle."""
    if len(sentence) <= LONGEST_SENTENCE:
        return sentence
    return f"{sentence[: LONGEST_SENTENCE - 60]} … {sentence[-50:]}"


def listed(names: Iterable[str], last_word: str = "or") -> str:
    """Names as a sentence lists them: 'slurred, single or double'."""
    *most, last = list(names)
    return f"{', '.join(most)} {last_word} {last}" if most else last


def nearest(written: str, known: Iterable[str]) -> str | None:
    """The known word a person most likely meant, or None where nothing comes near."""
    known = list(known)
    typed = composed(written).lower().replace("-", " ").strip()
    meant = next((word for word in MEANT.get(typed, ()) if word in known), None)
    if meant is not None:
        return meant
    matches = get_close_matches(written.lower(), known, n=3, cutoff=0.6)
    return next((match for match in matches if _same_words(typed, match)), None)


SAME_WORD = 0.6
"""How alike two spellings of one word are, as `difflib` counts it; our own choice."""
OTHERWISE_BEGUN = 0.75
"""... where their first letters differ: 'halves' are no 'quavers' ..."""
NEARLY = 0.85
"""... and all of a phrase, whatever its blanks."""


def _same_words(typed: str, known: str) -> bool:
    """Not one word put in the place of another: 'triple tongue' is no way to write 'legato tongue'.

    A word misspelled, too many or left out is; blanks don't count. A number is never another.
    """
    ours, theirs = typed.split(), known.lower().replace("-", " ").split()
    if not {*COUNTS, *IN_GROUPS}.intersection(ours) <= set(theirs):
        return False
    squeezed = SequenceMatcher(None, "".join(ours), "".join(theirs)).ratio()
    if (
        len(ours) == len(theirs) == 1
        and ours[0][:1] != theirs[0][:1]
        and squeezed < OTHERWISE_BEGUN
    ):
        return False
    return squeezed >= NEARLY or _all_among(ours, theirs) or _all_among(theirs, ours)


def _all_among(words: list[str], others: list[str]) -> bool:
    return all(
        any(SequenceMatcher(None, word, other).ratio() >= SAME_WORD for other in others)
        for word in words
    )
