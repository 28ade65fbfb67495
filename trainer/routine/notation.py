"""The line notation of passages: `quarter G4 (A4 B4)  eighth C5 D5,  dotted half G4 |`.

A length word holds until the next one. Notes are written with their octaves; `rest` is a rest of
the current length; brackets make a slur; a comma after a note is a breath; `|` is a bar line.
`half+eighth` ties two lengths into one note; `+` behind a note ties it to the next, over a bar line
too: `half G4+ | quarter G4`. Behind a note stand `.` for staccato, `-` for tenuto and `>` for an
accent. `pp` to `ff` hold from the next note on; `louder` and `softer` lead there.

`upbeat` makes the first bar a short one; `|:` `:|` repeat, `|1` and `:|2` are endings: the notes
come out as they are played. The words and signs themselves stand in `line_words.py`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import prod

import yaml

from trainer.music.bars import Meter, SignatureChange
from trainer.music.key import Key
from trainer.music.note import Dynamic, Hairpin, Ornament
from trainer.music.pitch import Pitch
from trainer.music.repeats import BarSigns, Jump, played_order
from trainer.routine import patterns
from trainer.routine.key_words import fixed_key
from trainer.routine.line_words import (
    BAR_SIGN,
    CADENZA,
    CADENZA_SIGN,
    CAESURA,
    CODA,
    FERMATA,
    FINE,
    GRACE,
    IN_TIME,
    IN_TIME_SIGN,
    JUMP_SIGN,
    JUMPS,
    KEY_CHANGE,
    LENGTHS,
    MARKS,
    OCTAVE_SHIFTS,
    ORNAMENT_WORDS,
    REST_OF_BARS,
    SEGNO,
    SHARES,
    TEMPO_CHANGE,
    TIME_CHANGE,
    TO_CODA,
    TRILL_SIGNS,
    TUPLET,
    UPBEAT,
    WORDS,
    share_of,
)
from trainer.routine.model import FASTEST_BPM, SLOWEST_BPM, WrittenNote
from trainer.routine.note_words import TIME
from trainer.routine.other_words import note_meant
from trainer.routine.problem import nearest
from trainer.routine.reader import Fault, MisreadError, misread, part, read_or_say

_SIGN_MENDS = {
    "~": "Tie two lengths with '+': 'half+eighth D5'; over a bar line, 'half D5+ | eighth D5'.",
    "v": "Write ',' for a breath.",
    "]": "One '|' is enough for the end; slurs are written in round brackets: '(G4 A4)'.",
    "[": "Slurs are written in round brackets: '(G4 A4)'.",
    "::": "Write ':|:' where one repeat ends and another begins.",
    "8ve": "Write '8va' for an octave higher, '8vb' for one lower.",
    "r": "Write 'rest'.",
    "R": "Write 'rest'.",
    "z": "Write 'rest'.",
}
_BEHIND_NOTE = {"tr": Ornament.TRILL, **{word: word for word in (*ORNAMENT_WORDS, FERMATA)}}
"""What is written behind a note by mistake → the word for it."""
_SLOWING = frozenset(
    ("rit", "ritard", "ritardando", "rall", "rallentando", "accel", "accelerando", "allargando",
     "stringendo", "poco", "mosso", "meno", "più", "piu")
)  # fmt: skip
_MARK_WORDS = {
    word: f"Write '{sign}' behind the note: 'A4{sign}'."
    for words, sign in (
        ("staccato stacc stacc.", "."),
        ("tenuto ten ten. portato", "-"),
        ("accent accented marcato", ">"),
    )
    for word in words.split()
}
_TOKEN = re.compile(
    rf"{TIME_CHANGE.pattern}|{KEY_CHANGE.pattern}|{IN_TIME_SIGN.pattern}|{JUMP_SIGN.pattern}|{BAR_SIGN}|::|\[[^\]\n]*\]|//|\d+/\d+|[(),]|[^\s()|,\[\]:/]+(?::(?!\|)[^\s()|,]*)?|\S"
)
_KEY_ALONE = r"[A-Ga-g](?:[ -]?(?:flat|sharp|[b#♭♯]))?(?: (?:major|minor))?"
_NOTE = re.compile(r"([A-Ga-g])(##|#|♯|x|bb|b|♭|)(\d)([.>-]?)(\+?)")
_SIGNS = {"♯": "#", "♭": "b"}
MOST_NOTES = 2000
"""With its repeats: an étude of four pages."""
MOST_PIECES = 2000
"""Stretches between bar lines, as they are played."""
SCHEMA = {
    "type": "string",
    "allOf": [
        {"pattern": pattern}
        for pattern in patterns.line_notation(
            LENGTHS,
            [*map(re.escape, SHARES), TUPLET.pattern],
            [
                *map(re.escape, WORDS),
                CAESURA,
                REST_OF_BARS.pattern,
                TEMPO_CHANGE.pattern,
                *patterns.SIGNATURE_CHANGES,
                CADENZA_SIGN.pattern,
                IN_TIME_SIGN.pattern,
                JUMP_SIGN.pattern,
            ],
            BAR_SIGN,
        )
    ],
}
SAYS = "notes such as 'quarter G4 (A4 B4) half C5,': lengths, notes with octaves, slurs in brackets"


@dataclass(frozen=True)
class PassageRead:
    """The notes of a passage, and where it ends."""

    notes: tuple[WrittenNote, ...]
    end: Fraction
    """In beats from its first, rests at the end and all."""
    upbeat: Fraction
    """Beats of the upbeat; 0 where it begins with a whole bar."""
    changes: tuple[SignatureChange, ...] = ()
    """Of time and key signature, in the order in which they are played."""
    cadenzas: tuple[tuple[Fraction, Fraction], ...] = ()
    """(from, to) of each stretch out of time, as they are played."""


@dataclass(frozen=True)
class _Piece:
    """What stands between two signs at bar lines."""

    begins: Fraction
    """In beats, as written."""
    first_note: int
    signs: BarSigns
    meter: Meter
    key: Key | None
    """Both hold throughout: a change begins another piece."""
    free: bool = False
    """A cadenza, or a part of one."""


@dataclass
class _NotesRead:
    """What was read so far."""

    meter: Meter
    """The first: places and lengths are in its beats."""
    key: Key | None
    beat: Fraction = Fraction(0)
    length: Fraction | None = Fraction(1)
    """In quarter notes; None: grace notes are being read."""
    shares: list[tuple[yaml.Node, str]] = field(default_factory=list)
    """Each 'dotted' or 'triplet' that waits for its length word, with its place."""
    tie: tuple[yaml.Node, Pitch] | None = None
    """Of a note that goes on in the next."""
    tempo_bpm: float | None = None
    """Of the notes to come; None: the passage's own."""
    slur_open: bool = False
    slur_place: yaml.Node | None = None
    """Where the slur that is open began."""
    slur_began: bool = False
    """A note of the open slur has been read."""
    bar_began: Fraction = Fraction(0)
    bar_misread: bool = False
    """Something in the open bar was not understood: its beats can't be counted."""
    upbeat: yaml.Node | None = None
    """Where the first bar was said to be one."""
    upbeat_beats: Fraction = Fraction(0)
    octaves: int = 0
    """Between what is written and what is meant: an 8va."""
    before_note: WrittenNote | None = None
    """Signs that wait for their note; its pitch and place mean nothing."""
    before_place: yaml.Node | None = None
    pieces: list[_Piece] = field(default_factory=list)
    notes: list[WrittenNote] = field(default_factory=list)
    order_places: dict[str, yaml.Node] = field(default_factory=dict)
    """Where each word of the order in which it is played stands."""

    def __post_init__(self) -> None:
        self.pieces.append(_Piece(Fraction(0), 0, BarSigns(), self.meter, self.key))

    @property
    def length_beats(self) -> Fraction:
        """The current length."""
        return (self.length or Fraction(0)) / self.meter.beat_quarters

    @property
    def bar(self) -> Fraction:
        """Length of a bar in the time signature that holds."""
        return self.pieces[-1].meter.bar_quarters / self.meter.beat_quarters

    def next_piece(self, signs: BarSigns | None = None, *, free: bool = False) -> None:
        """What comes behind a sign, in the signatures that hold; without `signs` in the same
        ending."""
        last = self.pieces[-1]
        signs = signs or BarSigns(ending=last.signs.ending)
        self.pieces.append(
            replace(last, begins=self.beat, first_note=len(self.notes), signs=signs, free=free)
        )

    def sign(self, **signs: object) -> None:
        """Something that the open piece says of the order."""
        piece = self.pieces[-1]
        self.pieces[-1] = replace(piece, signs=replace(piece.signs, **signs))  # type: ignore[arg-type]


_NO_NOTE = WrittenNote(
    Pitch("C", 0, 4), Fraction(0), Fraction(0), slurred_from_last=False, breath_after=False
)


def read_passage(node: yaml.Node, meter: Meter, key: Key | None = None) -> PassageRead:
    """What is written of a passage. Raises MisreadError with every mistake at its own line."""
    if not isinstance(node, yaml.ScalarNode):
        raise misread(node, "Notes are written as one text, not as a list.", "Write 'notes: |'.")
    page = _NotesRead(meter, key)
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
    found = _as_played(page)
    if len(found.notes) > MOST_NOTES:
        what = f"With its repeats the passage has {len(found.notes)} notes."
        raise misread(node, what, f"Divide it: {MOST_NOTES} are the most.")
    return found


def _as_played(page: _NotesRead) -> PassageRead:
    """The notes in the order in which they are played, repeats written out."""
    missing = page.meter.beats_per_bar - page.upbeat_beats if page.upbeat_beats else Fraction(0)
    ends = [*(piece.begins for piece in page.pieces[1:]), page.beat]
    lasts = [*(piece.first_note for piece in page.pieces[1:]), len(page.notes)]
    notes: list[WrittenNote] = []
    changes: list[SignatureChange] = []
    cadenzas: list[tuple[Fraction, Fraction]] = []
    held = page.meter, page.key
    beat, before = missing, -1
    for place in played_order([piece.signs for piece in page.pieces], MOST_PIECES):
        piece = page.pieces[place]
        written = page.notes[piece.first_note : lasts[place]]
        moved = [replace(note, beat=note.beat - piece.begins + beat) for note in written]
        if moved and place != before + 1:
            moved[0] = replace(moved[0], slurred_from_last=False)
        upbeat_again = place == 0 and page.upbeat_beats and before >= 0
        if held != (piece.meter, piece.key) and not upbeat_again:
            held = piece.meter, piece.key
            changes.append(SignatureChange(beat, *held))
        if piece.free and ends[place] > piece.begins:
            cadenzas.append((beat, beat + ends[place] - piece.begins))
        notes += moved
        beat += ends[place] - piece.begins
        before = place
    return PassageRead(tuple(notes), beat, page.upbeat_beats, tuple(changes), tuple(cadenzas))


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
        case _ if token == CAESURA:
            _breathe(page, place)
            page.notes[-1] = replace(page.notes[-1], stop_after=True)
        case _ if re.fullmatch(BAR_SIGN, token):
            _bar_sign(page, place, token)
        case "rest":
            _rest(page, place, page.length_beats)
        case _ if (bars := REST_OF_BARS.fullmatch(token)) is not None:
            _rest(page, place, int(bars[1]) * page.bar)
        case _ if CADENZA_SIGN.fullmatch(token):
            _cadenza(page, place)
        case _ if IN_TIME_SIGN.fullmatch(token):
            _in_time_again(page, place)
        case _ if (time := TIME_CHANGE.fullmatch(token)) is not None:
            _signature(page, place, meter=read_or_say(TIME, part(place, time[1] or time[2])))
        case _ if (key := KEY_CHANGE.fullmatch(token)) is not None:
            _signature(page, place, key=fixed_key(part(place, key[1] or key[2])))
        case _ if (tempo := TEMPO_CHANGE.fullmatch(token)) is not None:
            page.tempo_bpm = _tempo(page, place, tempo[1])
        case _ if (jump := JUMP_SIGN.fullmatch(token)) is not None:
            _jump(page, place, f"D.{jump[1]}.", (jump[2] or "").lower())
        case _ if share_of(token) is not None:
            page.shares.append((place, token))
        case _ if token in WORDS:
            _word(page, place, token)
        case _ if _NOTE.fullmatch(token):
            _add_note(page, place, token)
        case _:
            lengths = sum((_length(place, part) for part in token.split("+")), Fraction(0))
            shares = (share_of(word) or Fraction(1) for _, word in page.shares)
            page.length = prod(shares, start=lengths)
            page.shares.clear()


def _word(page: _NotesRead, place: yaml.Node, word: str) -> None:
    """A word that says something of the next note, of the order, or of how to read on."""
    waiting = page.before_note or _NO_NOTE
    match word:
        case _ if word in set(Dynamic):
            page.before_note = replace(waiting, dynamic=Dynamic(word))
        case _ if word in set(Hairpin):
            page.before_note = replace(waiting, hairpin=Hairpin(word))
        case _ if word in set(Ornament):
            page.before_note = replace(waiting, ornament=Ornament(word))
        case _ if word in TRILL_SIGNS:
            sign = TRILL_SIGNS[word]
            page.before_note = replace(waiting, ornament=Ornament.TRILL, upper_sign=sign)
        case _ if word == FERMATA:
            page.before_note = replace(waiting, fermata=True)
        case _ if word == GRACE:
            page.length = None
        case _ if word in OCTAVE_SHIFTS:
            page.octaves = OCTAVE_SHIFTS[word]
        case _ if word == UPBEAT:
            _upbeat(page, place)
        case _:
            page.sign(**_ORDER_SIGNS[word])
            page.order_places[word] = place
    if page.before_note is not None and page.before_note is not waiting:
        page.before_place = place


def _jump(page: _NotesRead, place: yaml.Node, word: str, goal: str) -> None:
    """goal: 'fine' or 'coda', where it is said with it."""
    _word(page, place, word)
    if goal:
        page.order_places[f"al {goal}"] = place


_ORDER_SIGNS: dict[str, dict[str, object]] = {
    SEGNO: {"segno": True},
    CODA: {"coda": True},
    TO_CODA: {"to_coda": True},
    FINE: {"fine": True},
    **{word: {"jump": Jump.DA_CAPO} for word in JUMPS[:2]},
    **{word: {"jump": Jump.DAL_SEGNO} for word in JUMPS[2:]},
}


def _upbeat(page: _NotesRead, place: yaml.Node) -> None:
    if page.beat or page.notes:
        what = "An upbeat can only stand at the beginning."
        raise misread(place, what, "Put 'upbeat' before the first note.")
    page.upbeat = place


def _rest(page: _NotesRead, place: yaml.Node, beats: Fraction) -> None:
    if page.tie is not None:
        raise _tie_broken(page, "a rest")
    if page.before_note is not None and page.before_note.graces:
        raise _graces_alone(page, place)
    if not beats:
        raise misread(place, "A rest has no length here.", "Write a length first: 'quarter rest'.")
    page.beat += beats


def _signature(
    page: _NotesRead, place: yaml.Node, *, meter: Meter | None = None, key: Key | None = None
) -> None:
    """Another time or key signature, from this bar line on."""
    piece = page.pieces[-1]
    if piece.free:
        what = "Time and key can't change inside a cadenza."
        raise misread(place, what, f"End it with '{IN_TIME}' first.")
    if page.upbeat is not None and not page.upbeat_beats:
        what = "The signature is before the upbeat's bar line."
        raise misread(place, what, "Write it behind the '|' that ends the upbeat.")
    if (page.beat - page.bar_began) % page.bar:
        what = "Time and key can only change at a bar line."
        raise misread(place, what, "Put it right behind a '|'.")
    if page.beat > piece.begins or len(page.notes) > piece.first_note:
        page.next_piece()
        piece = page.pieces[-1]
    page.bar_began = page.beat
    page.pieces[-1] = replace(piece, meter=meter or piece.meter, key=key or piece.key)


def _cadenza(page: _NotesRead, place: yaml.Node) -> None:
    """From here on out of time."""
    if page.pieces[-1].free:
        raise misread(place, "A cadenza begins inside another.", f"End it with '{IN_TIME}'.")
    _break_off(page, place)
    page.next_piece(free=True)


def _in_time_again(page: _NotesRead, place: yaml.Node) -> None:
    if not page.pieces[-1].free:
        what = "No cadenza ends here."
        raise misread(place, what, f"Put '{CADENZA}' where it begins.")
    if len(page.notes) == page.pieces[-1].first_note:
        raise misread(place, "The cadenza has no notes.", f"Write them behind '{CADENZA}'.")
    _break_off(page, place)
    page.next_piece()
    page.bar_began = page.beat


def _break_off(page: _NotesRead, place: yaml.Node) -> None:
    """Nothing is held or slurred into a cadenza or out of it."""
    if page.tie is not None:
        raise _tie_broken(page, "a cadenza" if not page.pieces[-1].free else "what comes in time")
    if page.slur_open:
        raise misread(place, "A slur goes over the cadenza's edge.", "Close it with ')' before.")


def _tempo(page: _NotesRead, place: yaml.Node, figure: str | None) -> float | None:
    """The tempo that is named, in beats of the first time signature; None for the passage's own."""
    if figure is None:
        return None
    longer = page.pieces[-1].meter.beat_quarters / page.meter.beat_quarters
    bpm = float(figure) * float(longer)
    if not SLOWEST_BPM <= float(figure) <= FASTEST_BPM:
        raise misread(
            place,
            f"A tempo of {figure} can't be asked for.",
            f"Write one from {SLOWEST_BPM:g} to {FASTEST_BPM:g}: '[tempo 84]'.",
        )
    return bpm


def _says_a_length(token: str) -> bool:
    """What stands behind 'dotted' or 'triplet' is a length, or an unknown word to be refused."""
    return share_of(token) is not None or not (
        token in ("(", ")", ",", CAESURA, *WORDS)
        or _NOTE.fullmatch(token)
        or re.fullmatch(BAR_SIGN, token)
        or REST_OF_BARS.fullmatch(token)
        or TEMPO_CHANGE.fullmatch(token)
        or TIME_CHANGE.fullmatch(token)
        or KEY_CHANGE.fullmatch(token)
        or CADENZA_SIGN.fullmatch(token)
        or IN_TIME_SIGN.fullmatch(token)
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
    if singular not in LENGTHS:
        raise misread(place, *_not_understood(word))
    return LENGTHS[singular]


def _not_understood(word: str) -> tuple[str, str]:
    """What is wrong with a word that is neither a note nor a length, and how to mend it."""
    singular = word.lower().removesuffix("s")
    if word.endswith(":") and singular[:-1] in LENGTHS:
        return f"'{word}' has a colon.", f"Write '{word[:-1]}' without the colon."
    named = re.fullmatch(r"([A-Ga-g](?:##|#|x|bb|b|♯|♭|))([.\->+]*)", word)
    if named is not None:
        whole = f"{named[1].capitalize()}4{named[2]}"
        return f"'{word}' lacks its octave.", f"Write '{whole}' or another."
    glued = [match[0] for match in _NOTE.finditer(word)]
    if len(glued) > 1 and "".join(glued) == word:
        return f"In '{word}' notes stand together.", f"Write '{' '.join(glued)}'."
    if word.endswith(".") and singular.rstrip(".").removesuffix("s") in LENGTHS:
        length = singular.rstrip(".").removesuffix("s")
        return f"'{word}' has its dot behind.", f"Write 'dotted {length}'."
    return f"'{word}' is neither a note nor a length.", _word_meant(word)


def _word_meant(word: str) -> str:
    """What to write instead of a word that is not known."""
    if word.lower() in _MARK_WORDS:
        return _MARK_WORDS[word.lower()]
    for sign, mend in _SIGN_MENDS.items():
        if word in (sign, f"{sign}.") or (len(word) > 1 and sign == "~" and word.endswith(sign)):
            return mend
    note, behind = _NOTE.match(word), ""
    if note is not None:
        behind = _BEHIND_NOTE.get(word[note.end() :].rstrip("."), "")
    if note is not None and behind:
        return f"Write it before its note: '{behind} {note[0]}'."
    if share_of(word) is not None:
        return f"Tie two notes instead: 'quarter G4+ {word} eighth G4'."
    if re.fullmatch(r"\d+/\d+", word):
        tuplet = word.replace("/", ":")
        return f"Write '{tuplet}' for a tuplet, '[time {word}]' behind a '|' for a time signature."
    if word.startswith("["):
        return _change_meant(word)
    if word.lower().rstrip(".") in _SLOWING:
        return "Write the slower or quicker tempo where it holds: '[tempo 60]', '[tempo primo]'."
    near = note_meant(word) or nearest(word, [*LENGTHS, *SHARES, *WORDS])
    question = f"Did you mean '{near}'? " if near is not None else ""
    return f"{question}Write {SAYS}."


def _change_meant(word: str) -> str:
    """What to write instead of something in square brackets that is not known."""
    if "tempo" in word:
        return "Write a change of tempo as '[tempo 84]', and '[tempo primo]' to go back."
    if re.search(r"cadenz|(in|of) ?time", word):
        return f"Write a cadenza as '{CADENZA} eighth G4 … {IN_TIME}'."
    inside = word.strip("[] ")
    if re.fullmatch(_KEY_ALONE, inside):
        return f"Write '[key {inside}]' for a change of key."
    if re.search(r"time|key|met|\d/\d|two|three|four|six|nine", word):
        return "Write a change of time as '[time 3/4]', one of key as '[key D minor]'."
    if re.search(r"bar|rest", word):
        return "Write bars of rest as '[5 bars rest]'."
    return _SIGN_MENDS["["]


def _add_note(page: _NotesRead, place: yaml.Node, token: str) -> None:
    if len(page.notes) >= MOST_NOTES:
        raise misread(place, f"A passage has {MOST_NOTES} notes at most.", "Divide it in two.")
    letter, sign, octave, mark, tie = _NOTE.fullmatch(token).groups()  # type: ignore[union-attr]
    written = Pitch.parse(f"{letter}{_SIGNS.get(sign, sign)}{octave}")
    pitch = replace(written, octave=written.octave + page.octaves)
    if page.length is None:
        _add_grace(page, place, pitch, f"{mark}{tie}")
        return
    if page.tie is not None:
        _go_on(page, pitch, mark)
    else:
        _begin_note(page, pitch, mark)
    page.tie = (place, pitch) if tie else None
    page.slur_began = page.slur_open
    page.beat += page.length_beats


def _add_grace(page: _NotesRead, place: yaml.Node, pitch: Pitch, signs: str) -> None:
    if signs or page.tie is not None:
        what = f"The grace note {pitch} can't be tied, and has no marks."
        raise misread(place, what, "Write it plainly: 'grace B4 quarter A4'.")
    waiting = page.before_note or _NO_NOTE
    page.before_note = replace(waiting, graces=(*waiting.graces, pitch))
    page.before_place = place
    if len(page.before_note.graces) > MOST_GRACES:
        raise misread(place, "These are too many grace notes.", "Write them with their lengths.")


MOST_GRACES = 8
"""More are a run, with lengths of its own."""


def _graces_alone(page: _NotesRead, place: yaml.Node) -> MisreadError:
    page.before_note = None
    return misread(
        place,
        "Grace notes stand before no note.",
        "Write the length of the note they lead to: 'grace B4 quarter A4'.",
    )


def _go_on(page: _NotesRead, pitch: Pitch, mark: str) -> None:
    """The note before sounds on: tied notes are one."""
    if page.tie is None or page.tie[1] != pitch:
        raise _tie_broken(page, str(pitch))
    if mark or page.before_note is not None:
        raise misread(
            page.tie[0],
            f"There is a sign inside the tied {pitch}.",
            "Put it to the first of the tied notes: only there does a note begin.",
        )
    before = page.notes[-1]
    page.notes[-1] = replace(before, length=before.length + page.length_beats)


def _begin_note(page: _NotesRead, pitch: Pitch, mark: str) -> None:
    signs = page.before_note or _NO_NOTE
    page.notes.append(
        replace(
            signs,
            pitch=pitch,
            beat=page.beat,
            length=page.length_beats,
            slurred_from_last=page.slur_open and page.slur_began,
            mark=MARKS.get(mark),
            tempo_bpm=page.tempo_bpm,
        )
    )
    page.before_note = page.before_place = None


def _open_slur(page: _NotesRead, place: yaml.Node) -> None:
    if page.slur_open:
        what = "This slur is still open where the next one begins."
        raise misread(page.slur_place or place, what, "Close it with ')' before the next '('.")
    page.slur_open, page.slur_began, page.slur_place = True, False, place


def _close_slur(page: _NotesRead, place: yaml.Node) -> None:
    if not page.slur_open:
        raise misread(place, "A slur ends here that never began.", "Put '(' before its first note.")
    page.slur_open = page.slur_began = False


def _breathe(page: _NotesRead, place: yaml.Node) -> None:
    if not page.notes:
        raise misread(place, "There is a breath before the first note.", "Put ',' after a note.")
    if page.tie is not None:
        raise _tie_broken(page, "a breath")
    page.notes[-1] = replace(page.notes[-1], breath_after=True)
    page.slur_began = False


def _bar_sign(page: _NotesRead, place: yaml.Node, sign: str) -> None:
    """A bar line; where a double one, a repeat or an ending cuts a bar in two, it goes on."""
    if page.pieces[-1].free:
        if sign != "|":
            what = "Inside a cadenza nothing is repeated."
            raise misread(place, what, f"End it with '{IN_TIME}' first.")
        return
    times = re.search(r"\d+", sign)
    held = page.beat - page.bar_began
    cut = sign != "|" and times is None
    plain = re.sub(r"\d+\.?", "", sign)
    if not (cut and held % page.bar) and not plain.startswith(":"):
        _close_bar(page, place, held)
    if plain.startswith(":"):
        page.sign(plays=2)
        if times is not None:
            page.bar_began = page.beat
    if sign != "|" and page.tie is not None:
        raise _tie_broken(page, "what is repeated")
    ending = frozenset([int(times[0])]) if times else frozenset[int]()
    if sign == "|":
        ending = page.pieces[-1].signs.ending
    starts = plain.endswith(":")
    page.next_piece(BarSigns(repeat_starts=starts, ending=ending))


def _close_bar(page: _NotesRead, place: yaml.Node, held: Fraction) -> None:
    bar = page.bar
    page.bar_began = page.beat
    misread_before, page.bar_misread = page.bar_misread, False
    if page.upbeat is not None and not page.upbeat_beats:
        page.upbeat_beats = held
        if 0 < held < bar:
            return
        what = f"An upbeat is shorter than a bar; this one holds {_beats(held)}."
        raise misread(page.upbeat, what, "Leave out 'upbeat', or put '|' after the upbeat.")
    lacks_upbeat = page.upbeat_beats and held + page.upbeat_beats == bar
    if misread_before or not held % bar or lacks_upbeat:
        return
    first = len(page.pieces) == 1 and page.beat == held
    mend = "If it is an upbeat, write 'upbeat' before it." if first else "Change its lengths, or"
    rest = " Else change its lengths, or fill it with 'rest'." if first else " fill it with 'rest'."
    unit = page.meter.beat_quarters / page.pieces[-1].meter.beat_quarters
    what = f"The bar that ends here holds {_beats(held * unit)}, not {bar * unit}."
    raise misread(place, what, mend + rest)


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
    if page.upbeat is not None and not page.upbeat_beats:
        what = "No bar line ends the upbeat."
        yield Fault(page.upbeat, what, "Put '|' after its last note.")
    if page.before_note is not None:
        what = "There is a sign here that belongs before a note, and no note follows."
        yield Fault(page.before_place or node, what, "Put it before its note.")
    yield from _faults_of_order(page)


def _faults_of_order(page: _NotesRead) -> Iterator[Fault]:
    places = page.order_places
    back = next((places[word] for word in JUMPS[2:] if word in places), None)
    if back is not None and SEGNO not in places:
        yield Fault(back, "'D.S.' goes back to a segno, and none is written.", "Add 'segno'.")
    for goal, needed in (("al fine", FINE), ("al coda", TO_CODA)):
        if goal in places and needed not in places:
            what = f"'{goal}' leads to a '{needed}', and none is written."
            yield Fault(places[goal], what, f"Put '{needed}' after the note it belongs to.")
    alone = places.get(TO_CODA) or places.get(CODA)
    if alone is not None and not {TO_CODA, CODA} <= places.keys():
        what = "'to-coda' and 'coda' belong together, and one of them is missing."
        yield Fault(alone, what, "Write 'to-coda' where the jump begins, 'coda' where it lands.")


def _beats(beats: Fraction) -> str:
    whole, rest = divmod(beats, 1)
    parts = [str(whole)] if whole or not rest else []
    return " ".join([*parts, *([str(rest)] if rest else [])]) + (
        " beat" if beats == 1 else " beats"
    )
