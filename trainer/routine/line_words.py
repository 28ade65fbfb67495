"""The words and signs of the line notation, as tables for its reader and its writer."""

from __future__ import annotations

import re
from fractions import Fraction

from trainer.music.note import Dynamic, Hairpin, Mark, Ornament

LENGTHS = {
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "sixteenth": Fraction(1, 4),
    "thirty-second": Fraction(1, 8),
    "sixty-fourth": Fraction(1, 16),
    "semibreve": Fraction(4),
    "minim": Fraction(2),
    "crotchet": Fraction(1),
    "quaver": Fraction(1, 2),
    "semiquaver": Fraction(1, 4),
    "demisemiquaver": Fraction(1, 8),
}
"""Length word → quarter notes; both of the trade's sets of names."""

SHARES = {
    "dotted": Fraction(3, 2),
    "double-dotted": Fraction(7, 4),
    "duplet": Fraction(3, 2),
    "triplet": Fraction(2, 3),
    "quadruplet": Fraction(3, 4),
    "quintuplet": Fraction(4, 5),
    "sextuplet": Fraction(4, 6),
    "septuplet": Fraction(4, 7),
}
"""What stands before a length word and changes it; two, three and four in the time of three, two
and three, five to seven in the time of four."""
TUPLET = re.compile(r"([1-9]\d?):([1-9]\d?)")
"""'5:3': five notes in the time of three."""


def share_of(token: str) -> Fraction | None:
    """How much of its length word a 'dotted', 'triplet' or '5:4' leaves; None for other words."""
    tuplet = TUPLET.fullmatch(token)
    return Fraction(int(tuplet[2]), int(tuplet[1])) if tuplet else SHARES.get(token)


MARKS = {".": Mark.STACCATO, "-": Mark.TENUTO, ">": Mark.ACCENT}
"""Signs behind a note."""
MARK_SIGNS = {mark: sign for sign, mark in MARKS.items()}

GRACE = "grace"
"""Stands where a length would: the notes behind it are grace notes, until the next length."""
TRILL_SIGNS = {"trill-sharp": 1, "trill-flat": -1, "trill-natural": 0}
"""Trill with the note above as the sign says, whatever the key."""
FERMATA = "fermata"
ORNAMENT_WORDS = (*Ornament, *TRILL_SIGNS)
"""Before their note."""
CAESURA = "//"

OCTAVE_SHIFTS = {"8va": 1, "8vb": -1, "15ma": 2, "loco": 0}
"""Word → octaves by which the notes sound above what is written, until the next of these words."""

SEGNO, CODA, TO_CODA, FINE = "segno", "coda", "to-coda", "fine"
JUMPS = ("D.C.", "da-capo", "D.S.", "dal-segno")
"""To the beginning, to the segno; then on to 'fine', or from 'to-coda' to 'coda'."""
JUMP_SIGN = re.compile(r"D\.?([CS])\b\.?(?:[ \t]+al[ \t]+([Ff]ine|[Cc]oda)\b)?")
"""'D.C. al fine' too: 'fine' itself stands where the piece ends."""
UPBEAT = "upbeat"
ORDER_WORDS = (SEGNO, CODA, TO_CODA, FINE, *JUMPS)
WORDS = (
    "rest",
    UPBEAT,
    GRACE,
    FERMATA,
    *ORNAMENT_WORDS,
    *Dynamic,
    *Hairpin,
    *OCTAVE_SHIFTS,
    *ORDER_WORDS,
)
"""Every word but lengths and what stands before them."""

TEMPO_PRIMO = "[tempo primo]"
"""Back to the passage's own tempo."""
TEMPO_CHANGE = re.compile(
    r"\[\s*(?:tempo\s*[:=]?\s*(\d{2,3}(?:\.\d+)?)|tempo\s+primo|a\s+tempo)\s*\]"
)
"""'[tempo 84]': from the next note on, in the beats of the time signature."""

TIME_CHANGE = re.compile(
    r"\[\s*(?:(?:time|meter|metre)\s*[:=]?\s*)?(\d{1,2}\s*/\s*\d{1,2})\s*\]"
    r"|(?:time|meter|metre)[ \t]+(\d{1,2}/\d{1,2})"
)
"""'[time 3/4]', behind a bar line: from there on. Both signs are taken without brackets too."""
KEY_CHANGE = re.compile(
    r"\[\s*key(?:\s+of)?\s*[:=]?\s+([^\[\]\n/]+?)\s*\]"
    r"|key[ \t]+(?:of[ \t]+)?([A-Ga-g](?:[ \t-]?(?:sharp|flat)|[#b♯♭])?"
    r"(?:[ \t-]+(?:[Mm]ajor|[Mm]inor))?)(?![\w#♯♭])"
)
"""'[key D minor]'"""

CADENZA, IN_TIME = "[cadenza]", "[in time]"
CADENZA_SIGN = re.compile(r"\[\s*(?:cadenza|senza\s+misura)\s*\]|cadenza(?![\w-])")
"""From here on out of time, as long as the player likes ..."""
IN_TIME_SIGN = re.compile(
    r"\[\s*(?:in\s+time|(?:end(?:\s+of)?(?:\s+the)?\s+cadenza)|a\s+battuta)\s*\]"
    r"|end[ \t]+of[ \t]+cadenza|in-time"
)
"""... and from here on in time again, in a bar of its own."""

BAR_SIGN = r":?\|{1,2}:?(?:[1-8](?![\w/:])\.?)?"
"""A bar line, a double one, the beginning or end of a repeat, and a first or second ending."""
REST_OF_BARS = re.compile(r"\[\s*([1-9]\d?)\s+bars?(?:\s+of)?\s+rests?\s*\]")
"""'[5 bars rest]'"""
