"""A routine on one day as pages for the stand: HTML with engraved music, ready for A4 paper."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from itertools import count

from trainer.music.articulations import ArticulationPattern
from trainer.music.instrument import Instrument, instrument_named
from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import Pitch
from trainer.paper.page_words import FONTS_WITHIN, css_string, escape, policy
from trainer.routine.cadenza import AFTER, CADENZA
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round, RoundKind
from trainer.routine.titles import duration_in_words
from trainer.score.asked import SYLLABLES, flowing, minutes_in_words, part_of
from trainer.score.engraving import EngravedSystem, systems, text_font_css
from trainer.score.fingering_chart import (
    AwkwardPlace,
    awkward_changes,
    can_draw,
    change_svg,
    change_words,
    first_places,
)
from trainer.score.sheet_heading import asked_html, tempo_html
from trainer.score.sheet_pages import (
    BEGINNING,
    END,
    PageAsked,
    after_id,
    entry_id,
    fingers_id,
    music_id,
)
from trainer.score.sheet_style import STYLE
from trainer.wording.days import day_words

_FAST_FINGERS = {RoundKind.TECHNIQUE, RoundKind.CLIMB, RoundKind.PASSAGE, RoundKind.TRILLS,
                 RoundKind.BREATH}  # fmt: skip
_TONGUED = {RoundKind.TECHNIQUE, RoundKind.CLIMB}
LETTERS = "abcdefghijklmnopqrstuvwxyz"
_OWN_FINGERING = "own"


@dataclass
class _PageSoFar:
    """What was put on one page so far: nothing there leads to another page."""

    instrument: Instrument
    written: dict[Hashable, int] = field(default_factory=dict)
    """Notes on paper → number of the exercise they stand under."""
    places: list[AwkwardPlace] = field(default_factory=list)


def sheet_html(
    routine: Routine,
    planned: Sequence[PlannedExercise],
    day: date,
    pages: Sequence[PageAsked] | None = None,
    *,
    tight: bool = False,
) -> str:
    """The whole document. Raises ScoreError where the engraving library is missing.

    `pages`: which entries stand on which page, one after the other; None: every entry for itself,
    wherever a browser ends a page. Fingerings are drawn on the page their letters stand on, and
    notes that were on an earlier page stand there again.
    """
    numbers = dict(zip((n for n, one in enumerate(planned) if one.rounds), count(1), strict=False))
    instrument = instrument_named(routine.instrument)
    asked = pages or [PageAsked((n,)) for n in range(len(planned))]
    parts = []
    for one in asked:
        page = _PageSoFar(instrument)
        style = f' style="--gap: {one.gap_mm:.1f}mm"' if one.gap_mm else ""
        entries = "".join(
            _exercise(page, planned[n], numbers[n], n) if n in numbers else _between(planned[n], n)
            for n in one.entries
        )
        kind = "sheet" if pages and one is not asked[-1] else "run"
        parts.append(f'<div class="{kind}"{style}>{entries}</div>')
    dated = f"{day_words(day)} {day.year}"
    minutes = minutes_in_words(sum(entry.minutes for entry in planned))
    running = css_string(f"{routine.title} · {dated}")
    return (
        f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">{policy(FONTS_WITHIN)}'
        f"<title>{escape(routine.title)}</title><style>{text_font_css()}{STYLE}"
        f"@page {{ @bottom-left {{ content: {running} }} }}</style></head>"
        f"<body{' class=tight' if tight else ''}>"
        f'<header id="{BEGINNING}"><h1>{escape(routine.title)}</h1>'
        f'<p class="facts">{dated} · {escape(routine.instrument)} · A4 = {routine.a4_hz:g} Hz · '
        f"{minutes}</p>{_words(routine.words)}</header>"
        f'{"".join(parts)}<div id="{END}"></div></body></html>'
    )


def shared_on(
    planned: Sequence[PlannedExercise], instrument: Instrument
) -> list[tuple[Hashable, frozenset[Hashable]]]:
    """For each entry its notes on paper and its changes of fingering: a page has them once."""
    return [
        (_paper(_on_paper(one)), frozenset(map(_midis, _awkward(one, instrument))))
        if one.rounds
        else (None, frozenset())
        for one in planned
    ]


# Entries


def _between(entry: PlannedExercise, place: int) -> str:
    """A rest, or words to read."""
    if entry.rest_s:
        words = f"<i>{escape(entry.words.strip())}</i>" if entry.words else ""
        return f'<p class="rest" id="{entry_id(place)}"><b>Rest, {entry.detail}</b> {words}</p>'
    return f'<section class="reading" id="{entry_id(place)}">{_words(entry.words)}</section>'


def _exercise(page: _PageSoFar, exercise: PlannedExercise, number: int, place: int) -> str:
    places = _new_places(page, exercise)
    music = list(_music(page, exercise, number))
    begun, rest = music[:1], music[1:]
    fingers = _fingers(page, places) if places else ""
    after = (
        f'<p class="rest"><b>Rest, {duration_in_words(exercise.rest_s)}</b></p>'
        if exercise.rest_s
        else ""
    )
    return (
        f'<section class="exercise" id="{entry_id(place)}">'
        f'<div class="opening"><h2><span class="number">{number}</span> '
        f'{escape(_capital(exercise.title))}<span class="tempo">{tempo_html(exercise)}</span></h2>'
        f"{asked_html(exercise)}{_words(exercise.words)}"
        f'<div id="{music_id(place)}"></div>{"".join(begun)}</div>{"".join(rest)}'
        f'<div id="{fingers_id(place)}"></div>{fingers}<div id="{after_id(place)}"></div>{after}'
        "</section>"
    )


def _capital(title: str) -> str:
    return title[:1].upper() + title[1:]


def _words(words: str) -> str:
    text = "<br>".join(escape(line) for line in flowing(words))
    return f'<p class="words">{text}</p>' if text else ""


# Music


def _music(page: _PageSoFar, exercise: PlannedExercise, number: int) -> Iterator[str]:
    """The exercise's systems, each a block; what stands elsewhere on the page is named only."""
    first = _whole(exercise)
    plain = _on_paper(exercise)
    home = page.written.setdefault(_paper(plain), number)
    if home != number:
        yield f'<p class="same">The notes of number {home}.</p>'
        return
    letters = first_places(first.notes, page.places) if first.kind in _FAST_FINGERS else {}
    below = [_fingerings(plain)] if _has_harmonics(plain) else _syllable_rows(exercise)
    begins = _beginnings(exercise)
    later = list(_after_the_first_part(exercise))
    for system in systems(plain, page.instrument, letters, below, begins, goes_on=bool(later)):
        yield _block(system)
    for part in later:
        yield f'<p class="same">{_capital(part_of(part, exercise))}:</p>'
        goes_on = part is not later[-1]
        for system in systems(part, page.instrument, {}, (), goes_on=goes_on):
            yield _block(system)
    if begins:
        yield '<p class="same">A number in a box: that round begins here.</p>'
    if _has_harmonics(plain):
        yield (
            '<p class="same">Under the notes: the fingering to take; '
            f"{_OWN_FINGERING} is the note's own.</p>"
        )
    yield from _other_rounds(page, exercise)


def _after_the_first_part(exercise: PlannedExercise) -> Iterator[Round]:
    """The cadenza of a passage, and what comes after it, each once."""
    seen: set[Hashable] = set()
    for round_ in exercise.rounds:
        if part_of(round_, exercise) in (CADENZA, AFTER) and _paper(round_) not in seen:
            seen.add(_paper(round_))
            yield round_


def _has_harmonics(round_: Round) -> bool:
    return any(note.harmonic_of is not None for note in round_.notes)


def _fingerings(round_: Round) -> Mapping[int, str]:
    """Under each note the fingering it is played on."""
    return {
        note.index: str(note.harmonic_of) if note.harmonic_of is not None else _OWN_FINGERING
        for note in round_.notes
    }


def _beginnings(exercise: PlannedExercise) -> Mapping[int, str]:
    """Index of the note at which rounds with the end of the music alone begin → their numbers."""
    pitches = [note.pitch for note in _whole(exercise).notes]
    found: dict[int, list[int]] = {}
    for round_ in exercise.rounds:
        part = [note.pitch for note in round_.notes]
        at_end = 0 < len(part) < len(pitches) and pitches[-len(part) :] == part
        if round_.title != exercise.title and at_end:
            found.setdefault(len(pitches) - len(part), []).append(round_.number)
    return {index: " ".join(map(str, numbers)) for index, numbers in found.items()}


def _paper(round_: Round) -> Hashable:
    """What tells its page from another's; a pattern shows by its slurs."""
    starts = round_.articulation if _is_pattern(round_) else None
    notes = tuple((note.pitch, note.beat, note.length) for note in round_.notes)
    return notes, round_.key, starts


def _block(system: EngravedSystem) -> str:
    return f'<div class="line">{system.svg}</div>'


def _whole(exercise: PlannedExercise) -> Round:
    """The first round with all of the music; rounds with a part of it have its name."""
    whole = (round_ for round_ in exercise.rounds if round_.title == exercise.title)
    return next(whole, exercise.rounds[0])


def _on_paper(exercise: PlannedExercise) -> Round:
    """The whole as it is engraved: with slurs where all rounds have them, else plain."""
    first = _whole(exercise)
    if len({round_.articulation for round_ in exercise.rounds}) == 1:
        return first
    notes = tuple(replace(note, start=Start.TONGUED) for note in first.notes)
    return replace(first, notes=notes, articulation=Articulation.SINGLE)


def _other_rounds(page: _PageSoFar, exercise: PlannedExercise) -> Iterator[str]:
    """Rounds with notes, rhythms or patterns of their own: their first bar, to go on with."""
    seen = {_paper(_on_paper(exercise))}
    for round_ in exercise.rounds:
        if _paper(round_) in seen or round_.title != _whole(exercise).title:
            continue
        seen.add(_paper(round_))
        below = [_syllables(round_.notes)] if _is_pattern(round_) else []
        system = systems(_first_bar(round_), page.instrument, {}, below, goes_on=True)[0]
        yield (f'<div class="pattern"><p class="same">{_begins(round_)}</p>{_block(system)}</div>')


def _begins(round_: Round) -> str:
    if _is_pattern(round_):
        return f"Round {round_.number}: {round_.articulation}"
    return f"Round {round_.number} begins:"


def _is_pattern(round_: Round) -> bool:
    return isinstance(round_.articulation, ArticulationPattern)


def _first_bar(round_: Round) -> Round:
    bar = round_.beats_per_bar
    notes = [
        replace(note, length=min(note.length, bar - note.beat))
        for note in round_.notes
        if note.beat < bar
    ]
    return replace(
        round_,
        notes=tuple(notes),
        partner_notes=(),
        second_part=(),
        ends_on_beat=Fraction(0),
    )


def _syllable_rows(exercise: PlannedExercise) -> list[Mapping[int, str]]:
    """A row of tonguing syllables for each round whose syllables change from note to note.

    The heading says where all are the same; they stand under the notes if nothing else does.
    """
    if exercise.rounds[0].kind not in _TONGUED:
        return []
    rows: dict[tuple[str, ...], tuple[int, Mapping[int, str]]] = {}
    for round_ in exercise.rounds:
        texts = _syllables(round_.notes)
        if len(texts) == len(round_.notes) == len(_whole(exercise).notes):
            rows.setdefault(tuple(texts.values()), (round_.number, texts))
    changing = {said: row for said, row in rows.items() if len(set(said)) > 1} or rows
    if len(changing) == 1:
        return [texts for _, texts in changing.values()]
    return [_numbered(number, texts) for number, texts in changing.values() if changing is not rows]


def _numbered(number: int, texts: Mapping[int, str]) -> Mapping[int, str]:
    """As verses are: the round's number before the first syllable."""
    first = next(iter(texts))
    return {**texts, first: f"{number}.\N{NO-BREAK SPACE}{texts[first]}"}


def _syllables(notes: Sequence[Note]) -> Mapping[int, str]:
    return {note.index: SYLLABLES[note.start] for note in notes if SYLLABLES[note.start]}


# Fingerings


def _new_places(page: _PageSoFar, exercise: PlannedExercise) -> list[AwkwardPlace]:
    """Awkward changes of this exercise that are not yet on the page."""
    known = {_midis((place.low, place.high)) for place in page.places}
    new = []
    for low, high in _awkward(exercise, page.instrument):
        if _midis((low, high)) not in known and len(page.places) < len(LETTERS):
            new.append(AwkwardPlace(LETTERS[len(page.places)], low, high))
            page.places.append(new[-1])
    return new


def _midis(change: tuple[Pitch, Pitch]) -> tuple[int, int]:
    return change[0].midi, change[1].midi


def _awkward(exercise: PlannedExercise, instrument: Instrument) -> Sequence[tuple[Pitch, Pitch]]:
    first = exercise.rounds[0]
    if first.kind not in _FAST_FINGERS or not can_draw(instrument):
        return ()
    return awkward_changes(first.notes, instrument, _fastest_beat_s(exercise))


def _fastest_beat_s(exercise: PlannedExercise) -> float:
    fastest = max(round_.tempo_bpm for round_ in exercise.rounds)
    return 60 / (max(fastest, exercise.climb.to_bpm) if exercise.climb else fastest)


def _fingers(page: _PageSoFar, places: Sequence[AwkwardPlace]) -> str:
    shown = "".join(
        f'<div class="change"><b>{place.letter}</b> {change_svg(place, page.instrument)}'
        f"<p>{_unbroken(change_words(place, page.instrument))}</p></div>"
        for place in places
    )
    key = '<p class="key">Rings: keys whose fingers move.</p>' if places[0].letter == "a" else ""
    return f'<div class="changes">{shown}{key}</div>'


def _unbroken(words: str) -> str:
    """Fingers of one hand stay on one line."""
    return ", ".join(part.replace(" ", "&nbsp;") for part in words.split(", "))
