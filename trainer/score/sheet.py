"""A routine on one day as pages for the stand: HTML with engraved music, ready for A4 paper."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import count

from trainer.music.articulations import AnyArticulation, ArticulationPattern
from trainer.music.instrument import Instrument, instrument_named
from trainer.music.note import Articulation, Note, Start
from trainer.paper.page_words import FONTS_WITHIN, css_string, escape, policy
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round, RoundKind
from trainer.routine.titles import duration_in_words
from trainer.score.asked import SYLLABLES, flowing, minutes_in_words
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
from trainer.score.sheet_style import STYLE

_FAST_FINGERS = {RoundKind.TECHNIQUE, RoundKind.CLIMB, RoundKind.PASSAGE, RoundKind.TRILLS,
                 RoundKind.BREATH}  # fmt: skip
MOST_SYLLABLES = 8
"""Under more notes only the first are given."""
LETTERS = "abcdefghijklmnopqrstuvwxyz"


@dataclass
class _SheetSoFar:
    """What was put on the sheet so far."""

    instrument: Instrument
    written: dict[object, int] = field(default_factory=dict)
    """Notes on paper → number of the exercise they stand under."""
    places: list[AwkwardPlace] = field(default_factory=list)


def sheet_html(routine: Routine, planned: Sequence[PlannedExercise], day: date) -> str:
    """The whole document. Raises ScoreError where the engraving library is missing."""
    page = _SheetSoFar(instrument_named(routine.instrument))
    numbers = count(1)
    entries = [
        _exercise(page, exercise, next(numbers)) if exercise.rounds else _between(exercise)
        for exercise in planned
    ]
    dated = f"{day:%A} {day.day} {day:%B %Y}"
    minutes = minutes_in_words(sum(entry.minutes for entry in planned))
    running = css_string(f"{routine.title} · {dated}")
    return (
        f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">{policy(FONTS_WITHIN)}'
        f"<title>{escape(routine.title)}</title><style>{text_font_css()}{STYLE}"
        f"@page {{ @bottom-left {{ content: {running} }} }}</style></head><body>"
        f"<header><h1>{escape(routine.title)}</h1>"
        f'<p class="facts">{dated} · {escape(routine.instrument)} · A4 = {routine.a4_hz:g} Hz · '
        f"{minutes}</p>{_words(routine.words)}</header>"
        f"{''.join(entries)}</body></html>"
    )


def tighter(page: str) -> str:
    """The same pages with less white between the lines, for when that saves paper."""
    return page.replace("</head><body>", '</head><body class="tight">', 1)


# Entries


def _between(entry: PlannedExercise) -> str:
    """A rest, or words to read."""
    if entry.rest_s:
        words = f"<i>{escape(entry.words.strip())}</i>" if entry.words else ""
        return f'<p class="rest"><b>Rest, {entry.detail}</b> {words}</p>'
    return f'<section class="reading">{_words(entry.words)}</section>'


def _exercise(page: _SheetSoFar, exercise: PlannedExercise, number: int) -> str:
    music = list(_music(page, exercise, number))
    begun, rest = music[:1], music[1:]
    after = (
        f'<p class="rest"><b>Rest, {duration_in_words(exercise.rest_s)}</b></p>'
        if exercise.rest_s
        else ""
    )
    return (
        f'<section class="exercise"><div class="opening"><h2><span class="number">{number}</span> '
        f'{escape(_capital(exercise.title))}<span class="tempo">{tempo_html(exercise)}</span></h2>'
        f"{asked_html(exercise)}{_words(exercise.words)}"
        f"{''.join(begun)}</div>{''.join(rest)}{after}</section>"
    )


def _capital(title: str) -> str:
    return title[:1].upper() + title[1:]


def _words(words: str) -> str:
    text = "<br>".join(escape(line) for line in flowing(words))
    return f'<p class="words">{text}</p>' if text else ""


# Music


def _music(page: _SheetSoFar, exercise: PlannedExercise, number: int) -> Iterator[str]:
    """The exercise's systems, each a block; what stands elsewhere on the sheet is named only."""
    first = _whole(exercise)
    plain = _on_paper(exercise)
    home = page.written.setdefault(_paper(plain), number)
    if home != number:
        yield f'<p class="same">The notes of number {home}.</p>'
        return
    places = _new_places(page, exercise)
    letters = first_places(first.notes, page.places) if first.kind in _FAST_FINGERS else {}
    for system in systems(plain, page.instrument, letters, _syllable_rows(exercise)):
        yield _block(system)
    yield from _other_rounds(page, exercise)
    if places:
        yield _fingers(page, places)


def _paper(round_: Round) -> object:
    """What tells its page from another's; a pattern shows by its slurs."""
    pattern = isinstance(round_.articulation, ArticulationPattern)
    starts = round_.articulation if pattern else None
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


def _other_rounds(page: _SheetSoFar, exercise: PlannedExercise) -> Iterator[str]:
    """Rounds with notes or rhythms of their own: their first bar, as a pattern to go on with."""
    seen = {_paper(_on_paper(exercise))}
    for round_ in exercise.rounds:
        if _paper(round_) in seen or round_.title != _whole(exercise).title:
            continue
        seen.add(_paper(round_))
        system = systems(_first_bar(round_), page.instrument, {}, ())[0]
        yield (
            f'<div class="pattern"><p class="same">Round {round_.number}{_named(round_)}, '
            "and so on:</p>"
            f"{_block(system)}</div>"
        )


def _named(round_: Round) -> str:
    pattern = isinstance(round_.articulation, ArticulationPattern)
    return f", {round_.articulation}" if pattern else ""


def _first_bar(round_: Round) -> Round:
    bar = round_.beats_per_bar
    notes = [
        replace(note, length=min(note.length, bar - note.beat))
        for note in round_.notes
        if note.beat < bar
    ]
    return replace(round_, notes=tuple(notes))


def _syllable_rows(exercise: PlannedExercise) -> list[Mapping[int, str]]:
    """Tonguing syllables under the first notes, a row for each articulation that has any."""
    if exercise.rounds[0].kind not in (RoundKind.TECHNIQUE, RoundKind.CLIMB):
        return []
    rows: dict[AnyArticulation, Mapping[int, str]] = {}
    for round_ in exercise.rounds:
        shown = _shown_notes(round_)
        texts = {note.index: SYLLABLES[note.start] for note in shown if SYLLABLES[note.start]}
        if len(texts) == len(shown):
            rows.setdefault(round_.articulation, texts)
    return list(rows.values())


def _shown_notes(round_: Round) -> Sequence[Note]:
    """The notes of the first beats, as many as show the pattern."""
    for beats in (4, 2, 1):
        notes = [note for note in round_.notes if note.beat < beats]
        if len(notes) <= MOST_SYLLABLES:
            return notes
    return round_.notes[:MOST_SYLLABLES]


# Fingerings


def _new_places(page: _SheetSoFar, exercise: PlannedExercise) -> list[AwkwardPlace]:
    """Awkward changes of this exercise that are not yet on the sheet."""
    first = exercise.rounds[0]
    if first.kind not in _FAST_FINGERS or not can_draw(page.instrument):
        return []
    known = {(place.low.midi, place.high.midi) for place in page.places}
    new = []
    for low, high in awkward_changes(first.notes, page.instrument, _fastest_beat_s(exercise)):
        if (low.midi, high.midi) not in known and len(page.places) < len(LETTERS):
            new.append(AwkwardPlace(LETTERS[len(page.places)], low, high))
            page.places.append(new[-1])
    return new


def _fastest_beat_s(exercise: PlannedExercise) -> float:
    fastest = max(round_.tempo_bpm for round_ in exercise.rounds)
    return 60 / (max(fastest, exercise.climb.to_bpm) if exercise.climb else fastest)


def _fingers(page: _SheetSoFar, places: Sequence[AwkwardPlace]) -> str:
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
