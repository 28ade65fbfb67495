"""The line notation of passages: `quarter G4 (A4 B4)  eighth C5 D5,  dotted half G4 |`.

A length word holds until the next one. Notes are written with their octaves; `rest` is a rest of
the current length; brackets make a slur; a comma after a note is a breath; `|` is a bar line.
`half+eighth` ties two lengths into one note; `+` behind a note ties it to the next, over a bar line
too: `half G4+ | quarter G4`. Behind a note stand `.` for staccato, `-` for tenuto and `>` for an
accent. `pp` to `ff` hold from the next note on; `louder` and `softer` lead there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import prod

import yaml

from trainer.music.note import Dynamic, Hairpin, Mark
from trainer.music.pitch import Pitch
from trainer.routine import patterns
from trainer.routine.model import Meter, WrittenNote
from trainer.routine.other_words import note_meant
from trainer.routine.problem import nearest
from trainer.routine.reader import Fault, MisreadError, misread

LENGTHS = {
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "sixteenth": Fraction(1, 4),
    "thirty-second": Fraction(1, 8),
    "semibreve": Fraction(4),
    "minim": Fraction(2),
    "crotchet": Fraction(1),
    "quaver": Fraction(1, 2),
    "semiquaver": Fraction(1, 4),
}
"""Length word → quarter notes; both of the trade's sets of names."""

_SHARE = {"dotted": Fraction(3, 2), "triplet": Fraction(2, 3)}
_OTHER_WORDS = ("rest", *Dynamic, *Hairpin)
_MARKS = {"": None, ".": Mark.STACCATO, "-": Mark.TENUTO, ">": Mark.ACCENT}
_SIGN_MENDS = {
    ":": "Repeats are not read: write the notes again, or 'rounds: 2' for the whole passage.",
    "~": "Tie two lengths with '+': 'half+eighth D5'; over a bar line, 'half D5+ | eighth D5'.",
    "v": "Write ',' for a breath.",
    "]": "One '|' is enough for the end; slurs are written in round brackets: '(G4 A4)'.",
    "[": "Slurs are written in round brackets: '(G4 A4)'.",
    "r": "Write 'rest'.",
    "R": "Write 'rest'.",
}
_MARK_WORDS = {
    word: f"Write '{sign}' behind the note: 'A4{sign}'."
    for words, sign in (
        ("staccato stacc stacc.", "."),
        ("tenuto ten ten. portato", "-"),
        ("accent accented marcato", ">"),
    )
    for word in words.split()
}
_TOKEN = re.compile(r"[()|,]|[^\s()|,]+")
_NOTE = re.compile(r"([A-Ga-g])(##|#|♯|x|bb|b|♭|)(\d)([.>-]?)(\+?)")
_SIGNS = {"♯": "#", "♭": "b"}
MOST_NOTES = 400
"""What a student plays in one go, and what a screen can page through."""
SCHEMA = {
    "type": "string",
    "allOf": [
        {"pattern": pattern} for pattern in patterns.line_notation(LENGTHS, _SHARE, _OTHER_WORDS)
    ],
}
SAYS = "notes such as 'quarter G4 (A4 B4) half C5,': lengths, notes with octaves, slurs in brackets"


@dataclass(frozen=True)
class PassageRead:
    """The notes of a passage, and where it ends."""

    notes: tuple[WrittenNote, ...]
    end: Fraction
    """In beats from its first, rests at the end and all."""


@dataclass
class _NotesRead:
    """What was read so far."""

    meter: Meter
    beat: Fraction = Fraction(0)
    length: Fraction = Fraction(1)
    """In quarter notes."""
    shares: list[tuple[yaml.Node, str]] = field(default_factory=list)
    """Each 'dotted' or 'triplet' that waits for its length word, with its place."""
    tie: tuple[yaml.Node, Pitch] | None = None
    """Of a note that goes on in the next."""
    slur_open: bool = False
    slur_place: yaml.Node | None = None
    """Where the slur that is open began."""
    slur_began: bool = False
    """A note of the open slur has been read."""
    bar_began: Fraction = Fraction(0)
    bar_misread: bool = False
    """Something in the open bar was not understood: its beats can't be counted."""
    dynamic: Dynamic | None = None
    """Of a dynamic that waits for its note."""
    hairpin: Hairpin | None = None
    notes: list[WrittenNote] = field(default_factory=list)

    @property
    def length_beats(self) -> Fraction:
        """The current length in beats of the meter."""
        return self.length / self.meter.beat_quarters


def read_passage(node: yaml.Node, meter: Meter) -> PassageRead:
    """What is written of a passage. Raises MisreadError with every mistake at its own line."""
    if not isinstance(node, yaml.ScalarNode):
        raise misread(node, "Notes are written as one text, not as a list.", "Write 'notes: |'.")
    page = _NotesRead(meter)
    faults: list[Fault] = []
    for place, token in _tokens(node):
        try:
            if page.shares and not _says_a_length(token):
                faults.append(_share_alone(page, token))
            _read_token(page, place, token)
        except MisreadError as mistake:
            faults.extend(mistake.faults)
            page.bar_misread = True
    if not faults:
        faults.extend(_faults_at_end(page, node))
    if faults:
        raise MisreadError(*faults)
    return PassageRead(tuple(page.notes), page.beat)


def _tokens(node: yaml.ScalarNode) -> Iterator[tuple[yaml.Node, str]]:
    """Every sign with its own place in the file, taken from the text as it was typed."""
    start, end = node.start_mark, node.end_mark
    typed = (start.buffer or "")[start.pointer : end.pointer].rstrip("\0")
    if node.style in ("|", ">"):
        first_line_end = typed.find("\n")
        typed = " " * first_line_end + typed[first_line_end:]
    elif node.style in ("'", '"'):
        typed = f" {typed[1:-1]} "
    for match in _TOKEN.finditer(typed):
        before = typed[: match.start()]
        line = start.line + before.count("\n")
        column = match.start() - before.rfind("\n") - 1
        if "\n" not in before:
            column += start.column
        mark = yaml.Mark(start.name, 0, line, column, None, 0)
        yield yaml.ScalarNode("", match[0], mark, mark), match[0]


def _read_token(page: _NotesRead, place: yaml.Node, token: str) -> None:
    match token:
        case "(":
            _open_slur(page, place)
        case ")":
            _close_slur(page, place)
        case ",":
            _breathe(page, place)
        case "|":
            _close_bar(page, place)
        case "rest":
            if page.tie is not None:
                raise _tie_broken(page, "a rest")
            page.beat += page.length_beats
        case _ if token in _SHARE:
            page.shares.append((place, token))
        case _ if token in set(Dynamic):
            page.dynamic = Dynamic(token)
        case _ if token in set(Hairpin):
            page.hairpin = Hairpin(token)
        case _ if _NOTE.fullmatch(token):
            _add_note(page, place, token)
        case _:
            lengths = sum((_length(place, part) for part in token.split("+")), Fraction(0))
            page.length = prod((_SHARE[word] for _, word in page.shares), start=lengths)
            page.shares.clear()


def _says_a_length(token: str) -> bool:
    """What stands behind 'dotted' or 'triplet' is a length, or an unknown word to be refused."""
    return token in _SHARE or not (
        token in ("(", ")", ",", "|", *_OTHER_WORDS) or _NOTE.fullmatch(token)
    )


def _share_alone(page: _NotesRead, token: str) -> Fault:
    """A 'dotted' or 'triplet' before something else than a length word."""
    place, _ = page.shares[0]
    words = " ".join(word for _, word in page.shares)
    page.shares.clear()
    length = "eighth" if "triplet" in words else "quarter"
    after = "(G4" if token == "(" else token if _NOTE.fullmatch(token) else "G4"
    return Fault(
        place,
        f"'{words}' says no length by itself.",
        f"Write a length right behind it, and then the notes: '{words} {length} {after}'.",
    )


def _tie_broken(page: _NotesRead, what: str) -> MisreadError:
    place, pitch = page.tie or (yaml.ScalarNode("", ""), None)
    page.tie = None
    return misread(
        place,
        f"{pitch} is tied to {what}.",
        f"Write the same note behind the '+', over the bar line too: '{pitch}+ | {pitch}'.",
    )


def _length(place: yaml.Node, word: str) -> Fraction:
    singular = word.lower().removesuffix("s")
    if word.endswith(":") and singular[:-1] in LENGTHS:
        raise misread(place, f"'{word}' has a colon.", f"Write '{word[:-1]}' without the colon.")
    if singular in LENGTHS:
        return LENGTHS[singular]
    if re.fullmatch(r"[A-Ga-g](##|#|x|bb|b|♯|♭|)", word):
        raise misread(
            place, f"'{word}' lacks its octave.", f"Write '{word.capitalize()}4' or another."
        )
    what = f"'{word}' is neither a note nor a length."
    if word.lower() in _MARK_WORDS:
        raise misread(place, what, _MARK_WORDS[word.lower()])
    for sign, mend in _SIGN_MENDS.items():
        if word in (sign, f"{sign}.") or (len(word) > 1 and sign in ":~" and word.endswith(sign)):
            raise misread(place, what, mend)
    near = note_meant(word) or nearest(word, [*LENGTHS, *_SHARE, *_OTHER_WORDS])
    question = f"Did you mean '{near}'? " if near is not None else ""
    raise misread(place, what, f"{question}Write {SAYS}.")


def _add_note(page: _NotesRead, place: yaml.Node, token: str) -> None:
    if len(page.notes) >= MOST_NOTES:
        raise misread(place, f"A passage has {MOST_NOTES} notes at most.", "Divide it in two.")
    letter, sign, octave, mark, tie = _NOTE.fullmatch(token).groups()  # type: ignore[union-attr]
    pitch = Pitch.parse(f"{letter}{_SIGNS.get(sign, sign)}{octave}")
    if page.tie is not None:
        _go_on(page, pitch, mark)
    else:
        _begin_note(page, pitch, mark)
    page.tie = (place, pitch) if tie else None
    page.slur_began = page.slur_open
    page.beat += page.length_beats


def _go_on(page: _NotesRead, pitch: Pitch, mark: str) -> None:
    """The note before sounds on: tied notes are one."""
    if page.tie is None or page.tie[1] != pitch:
        raise _tie_broken(page, str(pitch))
    if mark or page.dynamic is not None or page.hairpin is not None:
        raise misread(
            page.tie[0],
            f"A sign stands inside the tied {pitch}.",
            "Put it to the first of the tied notes: only there does a note begin.",
        )
    before = page.notes[-1]
    page.notes[-1] = replace(before, length=before.length + page.length_beats)


def _begin_note(page: _NotesRead, pitch: Pitch, mark: str) -> None:
    slurred = page.slur_open and page.slur_began
    page.notes.append(
        WrittenNote(
            pitch,
            page.beat,
            page.length_beats,
            slurred,
            breath_after=False,
            dynamic=page.dynamic,
            hairpin=page.hairpin,
            mark=_MARKS[mark],
        )
    )
    page.dynamic = page.hairpin = None


def _open_slur(page: _NotesRead, place: yaml.Node) -> None:
    if page.slur_open:
        raise misread(place, "A slur begins inside another.", "Close the first one with ')'.")
    page.slur_open, page.slur_began, page.slur_place = True, False, place


def _close_slur(page: _NotesRead, place: yaml.Node) -> None:
    if not page.slur_open:
        raise misread(place, "A slur ends here that never began.", "Put '(' before its first note.")
    page.slur_open = page.slur_began = False


def _breathe(page: _NotesRead, place: yaml.Node) -> None:
    if not page.notes:
        raise misread(place, "A breath stands before the first note.", "Put ',' after a note.")
    if page.tie is not None:
        raise _tie_broken(page, "a breath")
    page.notes[-1] = replace(page.notes[-1], breath_after=True)
    page.slur_began = False


def _close_bar(page: _NotesRead, place: yaml.Node) -> None:
    held = page.beat - page.bar_began
    page.bar_began = page.beat
    misread_before, page.bar_misread = page.bar_misread, False
    if not misread_before and held % page.meter.beats_per_bar:
        raise misread(
            place,
            f"The bar that ends here holds {_beats(held)}, not {page.meter.beats_per_bar}.",
            "Change its lengths, or fill it with 'rest', before an upbeat too.",
        )


def _faults_at_end(page: _NotesRead, node: yaml.Node) -> Iterator[Fault]:
    if not page.notes:
        yield Fault(node, "No note is written here.", f"Write {SAYS}.")
    if page.slur_open:
        what = "A slur is opened with '(' and never closed."
        yield Fault(page.slur_place or node, what, "Close it with ')'.")
    if page.shares:
        yield _share_alone(page, "")
    if page.tie is not None:
        yield from _tie_broken(page, "nothing").faults


def _beats(beats: Fraction) -> str:
    whole, rest = divmod(beats, 1)
    parts = [str(whole)] if whole or not rest else []
    return " ".join([*parts, *([str(rest)] if rest else [])]) + (
        " beat" if beats == 1 else " beats"
    )
