"""Reading a command line as people write one, and refusing it in plain words.

Options may stand before or after names, and before the command's own word; argparse, which does
the reading, would refuse some of these orders and says what it refuses in a programmer's words.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Sequence
from typing import Any, NoReturn

from trainer.commands.family import day, day_ahead
from trainer.commands.typed_day import is_month
from trainer.routine.problem import listed, nearest

NOT_UNDERSTOOD = 2
"""Exit status for words on the command line that are not understood, as argparse has it."""
HELP = ("-h", "--help")


class PlainParser(argparse.ArgumentParser):
    """A parser that takes options in any place and says what it misses in a sentence."""

    def __init__(self, *words: Any, **named: Any) -> None:
        super().__init__(*words, **named)
        self._positionals.title = "what is named"

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """As argparse does, once the words stand in the order that it reads; it knows them all."""
        found, unknown = super().parse_known_args(in_order(self, list(args or ())), namespace)
        if unknown:
            self.error(f"unrecognized arguments: {' '.join(unknown)}")
        return found, unknown

    def error(self, message: str) -> NoReturn:
        """Say what is not understood and where to look; ends the program."""
        where = f"What may follow is told by: {self.prog} --help"
        self.exit(NOT_UNDERSTOOD, f"{plainly(message, self._known_words())}\n{where}\n")

    def _known_words(self) -> tuple[str, ...]:
        return tuple(word for word in self._option_string_actions if word.startswith("--"))

    def commands(self) -> dict[str, argparse.ArgumentParser]:
        """The words that lead on to a parser of their own."""
        return next(
            (dict(action.choices) for action in self._actions
             if isinstance(action, argparse._SubParsersAction)), {},
        )  # fmt: skip

    def option(self, word: str) -> argparse.Action | None:
        """The option a word stands for, whole or cut short."""
        name = word.partition("=")[0]
        if name in self._option_string_actions:
            return self._option_string_actions[name]
        longer = [one for one in self._option_string_actions if one.startswith(name)]
        cut_short = name.startswith("--") and len(longer) == 1
        return self._option_string_actions[longer[0]] if cut_short else None


def in_order(parser: PlainParser, words: list[str]) -> list[str]:
    """The words with the command first, then names, then options with what belongs to them."""
    commands = parser.commands()
    if "--" in words:
        return words
    if commands:
        place = next((n for n, word in enumerate(words) if word in commands), None)
        return words if place is None else [words[place], *words[:place], *words[place + 1 :]]
    names: list[str] = []
    options: list[str] = []
    while words:
        count = _belonging(parser, words)
        (options if words[0].startswith("-") and words[0] != "-" else names).extend(
            [words[0], " ".join(words[1:count])] if _is_day(parser, words[0]) and count > 1
            else words[:count]
        )  # fmt: skip
        words = words[count:]
    return [*names, *options]


def _is_day(parser: PlainParser, word: str) -> bool:
    action = parser.option(word) if word.startswith("-") else None
    return action is not None and action.type in (day, day_ahead)


def _belonging(parser: PlainParser, words: Sequence[str]) -> int:
    """How many of the words belong together: an option and its values, or one name."""
    action = parser.option(words[0]) if words[0].startswith("-") else None
    if action is None or "=" in words[0]:
        return 1
    values = next((n for n, word in enumerate(words[1:]) if word.startswith("--")), len(words) - 1)
    if action.nargs in ("+", "*"):
        return 1 + values
    if _is_day(parser, words[0]):
        return 1 + min(values, _words_of_a_day(words[1:]))
    return 1 + min(values, 1 if action.nargs in (None, "?") else int(action.nargs))


def _words_of_a_day(words: Sequence[str]) -> int:
    """Of '29 November 2026 morning.yaml' the first three."""
    dated = len(words) > 1 and (
        (is_month(words[1]) and re.fullmatch(r"\d{1,2}\.?", words[0]))
        or (is_month(words[0]) and re.fullmatch(r"\d{1,2},?", words[1]))
    )
    if not dated:
        return 1
    return 3 if len(words) > 2 and re.fullmatch(r"\d{4}", words[2]) else 2


# What argparse refuses → a sentence


def plainly(message: str, options: Sequence[str]) -> str:
    """argparse's complaint as a person would say it; one we don't know stays as it is."""
    for pattern, sentence in _SENTENCES:
        match = re.fullmatch(pattern, message, re.DOTALL)
        if match is not None:
            return sentence(match, options)
    return message[:1].upper() + message[1:].rstrip(".") + "."


def _missing(match: re.Match[str], _: Sequence[str]) -> str:
    names = match[1].split(", ")
    return f"Something is missing: name {listed(names, 'and')}."


def _unknown(match: re.Match[str], options: Sequence[str]) -> str:
    word = next((one for one in match[1].split() if one.startswith("-")), match[1])
    if not word.startswith("-"):
        return f"'{word}' is one word too many. Put words that belong together in quotes."
    near = nearest(word.partition("=")[0], options)
    question = f" Did you mean '{near}'?" if near is not None else ""
    return f"There is no option '{word}' here.{question}"


def _not_among(match: re.Match[str], _: Sequence[str]) -> str:
    known = re.findall(r"[^\s,']+", match[3])
    near = nearest(match[2], known)
    question = f" Did you mean '{near}'?" if near is not None else ""
    if match[1] is None and match[2].endswith((".yaml", ".yml")):
        return f"To practise from a file, write: trainer practise --routine {match[2]}"
    if match[1] is None:
        advice = "" if question else f" There are {listed(known, 'and')}."
        return f"There is no command '{match[2]}'.{question or advice}"
    return f"{match[1]}: '{match[2]}' is none of these: {listed(known, 'or')}.{question}"


_Sentence = Callable[[re.Match[str], Sequence[str]], str]
_SENTENCES: tuple[tuple[str, _Sentence], ...] = (
    (r"the following arguments are required: (.*)", _missing),
    (r"unrecognized arguments: (.*)", _unknown),
    (r"argument (?:(?!\s)(.+?)?: )?invalid choice: '(.*?)' \(choose from (.*)\)", _not_among),
    (r"argument (.*?): expected (?:one|at least one|\d+) arguments?",
     lambda match, _: f"{match[1]}: say which; nothing comes after it."),
    (r"argument (.*?): ignored explicit argument '(.*)'",
     lambda match, _: f"{match[1]} takes nothing after it: leave out '{match[2]}'."),
    (r"argument (.*?): not allowed with argument (.*)",
     lambda match, _: f"{match[1]} and {match[2]} can't be asked for together: leave one out."),
    (r"ambiguous option: (.*?) could match (.*)",
     lambda match, _: f"'{match[1]}' may be {listed(match[2].split(', '), 'or')}: write it out."),
    (r"argument (.*?): invalid (?:float|int) value: '(.*)'",
     lambda match, _: f"{match[1]}: '{match[2]}' is no number."),
    (r"argument (.*?): invalid .*? value: '(.*)'",
     lambda match, _: f"{match[1]}: '{match[2]}' is not understood."),
    (r"argument (.*?): (.*)", lambda match, _: f"{match[1]}: {match[2]}"),
)  # fmt: skip
"""In this order: the last one says what a reader of ours has said already."""
