"""Problems as text for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.routine.problem import Problem


def describe(problems: Sequence[Problem]) -> str:
    """All problems, one a line, mistakes first, with a closing line that counts them."""
    mistakes = [problem for problem in problems if problem.serious]
    doubts = [problem for problem in problems if not problem.serious]
    lines = [problem.sentence() for problem in (*mistakes, *doubts)]
    return "\n".join([*lines, _closing(len(mistakes), len(doubts))])


def _closing(mistakes: int, doubts: int) -> str:
    if mistakes:
        return f"{_counted(mistakes, 'mistake')} to fix before this can be played."
    if doubts:
        return f"It can be played; {_counted(doubts, 'thing')} to look at again."
    return "Nothing is wrong."


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
