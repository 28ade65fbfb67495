"""The main voice of a MusicXML part: its notes, and the names of all that stands around them."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from trainer.music.note import Dynamic, Hairpin, Mark, Ornament
from trainer.music.pitch import ACCIDENTALS, LETTERS, Pitch
from trainer.routine.notation import MOST_GRACES
from trainer.score.numbers import integer, number
from trainer.score.part import Bar, BarNote

_MARKS = {
    "staccato": Mark.STACCATO,
    "tenuto": Mark.TENUTO,
    "detached-legato": Mark.TENUTO,
    "accent": Mark.ACCENT,
}
_BREATHS = ("breath-mark", "caesura")
_NAMES = {
    "wavy-line": "a trill's line over several notes",
    "strong-accent": "marcato",
    "slide": "glissando",
}
_ORNAMENTS = {
    "trill-mark": Ornament.TRILL,
    "turn": Ornament.TURN,
    "inverted-turn": Ornament.INVERTED_TURN,
    "mordent": Ornament.MORDENT,
    "inverted-mordent": Ornament.INVERTED_MORDENT,
}
_TRILL_SIGNS = {"sharp": 1, "flat": -1, "natural": 0}
_UNTOLD = frozenset(
    {"slur", "tied", "tuplet", "accidental-mark", *_BREATHS, *_MARKS, *_ORNAMENTS, "fermata"}
)
_GROUPS = frozenset({"ornaments", "articulations", "technical"})


@dataclass(frozen=True)
class Sign:
    """One note or rest element where it stands in its bar; in quarters."""

    element: Element
    staff: str
    voice: str
    beat: Fraction
    length: Fraction

    @property
    def pitched(self) -> bool:
        """It is a note with a pitch."""
        return self.element.find("pitch") is not None


@dataclass(frozen=True)
class Level:
    """A dynamic or a hairpin where it stands in its bar."""

    beat: Fraction
    asked: Dynamic | Hairpin


@dataclass(frozen=True)
class RawBar:
    """A bar before its voice is chosen."""

    bar: Bar
    signs: tuple[Sign, ...]
    levels: tuple[Level, ...]


@dataclass
class _Line:
    """What goes on from note to note."""

    slurs: dict[str, bool] = field(default_factory=dict)
    """Open slurs by number; True once a note that is kept has been under it."""
    levels: list[Dynamic | Hairpin] = field(default_factory=list)
    """Dynamics and hairpins that wait for their note."""
    graces: list[Pitch] = field(default_factory=list)
    """Grace notes that wait for theirs."""


def bars_of_main_voice(raw: Sequence[RawBar]) -> tuple[Bar, ...]:
    """Every bar with the notes of the part's main voice."""
    staff, voice = _main_voice(raw)
    line = _Line()
    return tuple(_voiced(line, one, staff, voice) for one in raw)


def _main_voice(bars: Sequence[RawBar]) -> tuple[str, str]:
    """The staff and voice that carry the part: of those with at least half as many notes as the
    busiest, the one that comes first.
    """
    counts = Counter((sign.staff, sign.voice) for one in bars for sign in one.signs if sign.pitched)
    busiest = max(counts.values(), default=0)
    first = (voice for voice, count in counts.items() if 2 * count >= busiest)
    return next(first, ("1", "1"))


def _voiced(line: _Line, raw: RawBar, staff: str, voice: str) -> Bar:
    """The bar with the notes of its voice; of another on the staff where this one is silent."""
    voices = list(dict.fromkeys(sign.voice for sign in raw.signs if sign.staff == staff))
    chosen = voice if voice in voices or not voices else voices[0]
    mine = [sign for sign in raw.signs if (sign.staff, sign.voice) == (staff, chosen)]
    others = any(sign.pitched for sign in raw.signs if (sign.staff, sign.voice) != (staff, chosen))
    names = [*raw.bar.left_out, *(["other voices"] if others else [])]
    notes: list[BarNote] = []
    levels = deque(sorted(raw.levels, key=lambda level: level.beat))
    for group in _together(mine):
        while levels and levels[0].beat <= group[0].beat:
            line.levels.append(levels.popleft().asked)
        for sign in group:
            names += _left_out(sign.element)
        _add_note(line, notes, names, group)
    line.levels += [level.asked for level in levels]
    return replace(raw.bar, notes=tuple(notes), left_out=tuple(dict.fromkeys(names)))


def _together(signs: Iterable[Sign]) -> Iterator[list[Sign]]:
    """Notes of one chord together; all others one by one."""
    group: list[Sign] = []
    for sign in signs:
        if group and sign.element.find("chord") is None:
            yield group
            group = []
        group.append(sign)
    if group:
        yield group


def _add_note(line: _Line, notes: list[BarNote], names: list[str], group: Sequence[Sign]) -> None:
    first = group[0].element
    starts, stops = _slurs(group, "start"), _slurs(group, "stop")
    if first.find("grace") is not None:
        found = [pitch for sign in group if (pitch := _pitch(sign.element, names))]
        line.graces += [max(found, key=lambda pitch: pitch.midi)] if found else []
        _under_slurs(line, starts, stops, kept=False)
        return
    if first.find("cue") is not None:
        names.append("cue notes")
        return
    pitched = [(sign, pitch) for sign in group if (pitch := _pitch(sign.element, names))]
    if not pitched or not group[0].length:
        if first.find("rest") is None:
            names.append("notes without pitch or length")
        elif first.find("notations/fermata") is not None:
            names.append("a fermata over a rest")
        if line.graces:
            names.append("grace notes before a rest")
            line.graces.clear()
        return
    if len(pitched) > 1:
        names.append("the lower notes of chords")
    sign, pitch = max(pitched, key=lambda found: found[1].midi)
    slurred = any(line.slurs.values())
    _under_slurs(line, starts, stops, kept=True)
    dynamics = [*line.levels, *_dynamics(first, names)]
    line.levels.clear()
    if dynamics and _tied(sign.element, "stop"):
        names.append("dynamics inside a tied note")
    graces = tuple(line.graces[:MOST_GRACES])
    if len(line.graces) > MOST_GRACES:
        names.append("grace notes beyond the eighth")
    line.graces.clear()
    ornaments = _ornaments(group)
    names += [str(one) for one in ornaments[1:]]
    upper_sign = _upper_sign(group, names) if Ornament.TRILL in ornaments[:1] else None
    if ornaments and Ornament.TRILL not in ornaments[:1] and _accidental_marks(group):
        names.append("the accidental of an ornament")
    notes.append(
        BarNote(
            pitch=pitch,
            beat=sign.beat,
            length=sign.length,
            tied_on=_tied(sign.element, "start"),
            slurred_from_last=slurred,
            breath_after=any(_marked(one.element, _BREATHS) for one in group),
            dynamic=next((one for one in dynamics[::-1] if isinstance(one, Dynamic)), None),
            hairpin=next((one for one in dynamics[::-1] if isinstance(one, Hairpin)), None),
            mark=_mark(group, names),
            graces=graces,
            ornament=ornaments[0] if ornaments else None,
            upper_sign=upper_sign,
            fermata=any(one.element.find("notations/fermata") is not None for one in group),
            stop_after=any(_marked(one.element, ("caesura",)) for one in group),
        )
    )


def _under_slurs(line: _Line, starts: set[str], stops: set[str], *, kept: bool) -> None:
    """Close and open slurs at a note; a slur that was open may end and the next begin on it."""
    ended = stops & line.slurs.keys()
    for slur in ended:
        del line.slurs[slur]
    line.slurs.update(dict.fromkeys(starts - (stops - ended), False))
    if kept:
        line.slurs = dict.fromkeys(line.slurs, True)


def _pitch(element: Element, names: list[str]) -> Pitch | None:
    pitch = element.find("pitch")
    if pitch is None:
        return None
    step = (pitch.findtext("step") or "").strip()
    octave = integer(pitch.findtext("octave"), -1)
    alter = number(pitch.findtext("alter")) or 0.0
    if alter != int(alter):
        names.append("quarter-tone signs")
    if step not in tuple(LETTERS) or not 0 <= octave <= 9 or int(alter) not in ACCIDENTALS:
        names.append("notes whose pitch can't be read")
        return None
    return Pitch(step, int(alter), octave)


def _slurs(group: Iterable[Sign], kind: str) -> set[str]:
    found = (slur for sign in group for slur in sign.element.iterfind("notations/slur"))
    return {slur.get("number", "1") for slur in found if slur.get("type") == kind}


def _tied(element: Element, kind: str) -> bool:
    ties = [*element.iterfind("tie"), *element.iterfind("notations/tied")]
    return any(tie.get("type") == kind for tie in ties)


def _ornaments(group: Iterable[Sign]) -> list[Ornament]:
    signs = (sign for one in group for sign in one.element.iterfind("notations/ornaments/*"))
    return list(dict.fromkeys(_ORNAMENTS[one.tag] for one in signs if one.tag in _ORNAMENTS))


def _accidental_marks(group: Iterable[Sign]) -> list[str]:
    path = "notations/ornaments/accidental-mark"
    return [(mark.text or "").strip() for one in group for mark in one.element.iterfind(path)]


def _upper_sign(group: Iterable[Sign], names: list[str]) -> int | None:
    """What an accidental beside a trill makes of the note above."""
    marks = _accidental_marks(group)
    if any(mark not in _TRILL_SIGNS for mark in marks):
        names.append("the accidental of an ornament")
    return next((_TRILL_SIGNS[mark] for mark in marks if mark in _TRILL_SIGNS), None)


def _marked(element: Element, marks: Iterable[str]) -> list[str]:
    return [mark for mark in marks if element.find(f"notations/articulations/{mark}") is not None]


def _mark(group: Iterable[Sign], names: list[str]) -> Mark | None:
    """The first mark of a note; the notation has room for one."""
    found = [_MARKS[mark] for sign in group for mark in _marked(sign.element, _MARKS)]
    names += [str(mark) for mark in dict.fromkeys(found[1:]) if mark != found[0]]
    return found[0] if found else None


def dynamics_of(element: Element, names: list[str]) -> list[Dynamic]:
    """The levels under a 'dynamics' element; those the notation lacks are named."""
    found = []
    for one in element:
        if one.tag in tuple(Dynamic):
            found.append(Dynamic(one.tag))
        else:
            names.append(f"dynamics {one.tag}")
    return found


def _dynamics(element: Element, names: list[str]) -> list[Dynamic]:
    below = element.iterfind("notations/dynamics")
    return [one for dynamics in below for one in dynamics_of(dynamics, names)]


def _left_out(element: Element) -> Iterator[str]:
    for notation in element.iterfind("notations/*"):
        if notation.tag == "dynamics":
            continue
        for mark in notation if notation.tag in _GROUPS else [notation]:
            goes_on = mark.get("type") in ("stop", "continue")
            if mark.tag not in _UNTOLD and not goes_on:
                yield _NAMES.get(mark.tag, mark.tag.replace("-", " "))
