"""Every sentence said of the playing: plain, short, each its own, and none that nobody says."""

from __future__ import annotations

import re
import string
from collections import Counter
from pathlib import Path

import pytest

from trainer.wording.sentence_list import CARES, SENTENCES

TRAINER = Path(__file__).parent.parent.parent / "trainer"
FIGURES = {"bpm", "cents", "seconds", "share", "times"}
"""Values that are a figure."""
NOT_SPOKEN = (
    "ms", "dB", "millisecond", "decibel", "knot", "mend", "blank", "stands", "stood", "out of time",
    "let them stand", "secure", "held twice", "crossing", "back stroke", "middle half",
    "in the middle", "furthest", "not so", "heard to", "nobody listened", "otherwise heard",
)  # fmt: skip
"""No flutist says these (the last only of a note)."""
LONGEST = 130
"""Characters of the words alone; more is not heard to its end."""


def values(words: str) -> list[str]:
    return [name for _, name, _, _ in string.Formatter().parse(words) if name]


@pytest.mark.parametrize("name", SENTENCES)
def test_a_sentence_is_plain_and_short(name: str) -> None:
    said = SENTENCES[name]
    figures = [value for value in values(said.words) if value in FIGURES]
    digits = re.findall(r"\d+", said.words.replace("press 3", ""))
    assert len(figures) + len(digits) <= 1
    assert len(said.words) <= LONGEST
    assert said.when
    for word in NOT_SPOKEN:
        assert not re.search(rf"\b{re.escape(word)}\b", said.words), word
    assert said.words.rstrip("'").endswith((".", "?", "!"))


@pytest.mark.parametrize("topic", CARES)
def test_what_a_week_advises_is_plain_and_short(topic: str) -> None:
    words = CARES[topic].words
    assert len(words) <= LONGEST
    assert not re.search(r"\d", words)
    for word in NOT_SPOKEN:
        assert not re.search(rf"\b{re.escape(word)}\b", words), word


def test_no_two_say_the_same() -> None:
    said = [*SENTENCES.values(), *CARES.values()]
    plain = Counter(" ".join(re.findall(r"[a-z{}']+", each.words.lower())) for each in said)
    assert [words for words, times in plain.items() if times > 1] == []


def test_no_two_are_said_under_the_same_condition() -> None:
    own = [said.when for said in SENTENCES.values() if not said.when.startswith("...")]
    assert len(own) == len(set(own))


def test_each_sentence_is_said_somewhere_and_no_other() -> None:
    """By its name, whole, as a string of the code."""
    sources = [
        file.read_text(encoding="utf-8")
        for file in TRAINER.rglob("*.py")
        if file.parent.name != "wording"
    ]
    text = "\n".join(sources)
    composed = {f"note {side}" for side in ("sharp", "flat")} | {"all sharp", "all flat"}
    unsaid = [name for name in SENTENCES if f'"{name}"' not in text and name not in composed]
    assert unsaid == []
    for name in re.findall(r'\bsay\(\s*"([^"]+)"', text):
        assert name in SENTENCES
