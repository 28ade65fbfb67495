"""From a part to a passage of the routine language: bars chosen, repeats unfolded."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import dropwhile, pairwise
from pathlib import Path

import yaml

from trainer.errors import ScoreError
from trainer.music.bars import Bars, Meter, SignatureChange
from trainer.music.key import Key
from trainer.music.pitch import Interval
from trainer.routine.model import FASTEST_BPM, SLOWEST_BPM, WrittenNote
from trainer.routine.notation import MOST_NOTES
from trainer.routine.note_words import MOST_BEATS_IN_BAR, TIME
from trainer.score.abc import read_abc
from trainer.score.container import ScoreKind, open_score
from trainer.score.line_notation import unsayable
from trainer.score.midi import read_midi
from trainer.score.musicxml import read_musicxml
from trainer.score.part import Bar, Part, Score, flattened, unfolded
from trainer.score.parted import parted
from trainer.score.told import (
    in_bars,
    left_out,
    of_changes,
    of_range,
    of_repeats,
    of_tempo,
    of_time,
    of_transposition,
)
from trainer.score.transposing import instrument_for, moved_key, moved_notes

_FLUTE = re.compile(r"\b(fl\b|fl\.|flute|flauto|flauta|flöte|floete|flûte|traverso|piccolo)", re.I)
"""A flute's part by its name, in the languages of most scores."""
_COMMON_TIME = (4, 4)
"""Where a bar names no metre."""


@dataclass(frozen=True)
class Excerpt:
    """A passage taken from a score. Places and lengths of its notes are in quarters."""

    title: str
    part: str
    bars: str
    """'bars 5 to 12', as printed in the score."""
    instrument: str
    """Whose written notes these are."""
    transposition: Interval
    """From these written notes to what sounds."""
    notes: tuple[WrittenNote, ...]
    note_bars: tuple[str, ...]
    """The bar of each note, as printed."""
    upbeat: Fraction
    """Quarters of the upbeat it begins with; 0 where it begins with a whole bar."""
    key: Key | None
    time: tuple[int, int]
    """The time signature as it can be written in a routine."""
    changes: tuple[SignatureChange, ...]
    """Of time and key signature on the way; places in quarters."""
    cadenzas: tuple[tuple[Fraction, Fraction], ...]
    """(from, to) of what is written without a time signature, in quarters."""
    quarters_bpm: float | None
    """Quarters a minute; None where the score names no tempo that can be asked for."""
    left_out: tuple[tuple[str, tuple[str, ...]], ...]
    """(what, the bars it stands in): ('trill', ('6', '8'))."""
    remarks: tuple[str, ...]
    """Other things to know before playing it, whole sentences."""

    @property
    def meter(self) -> Meter:
        """How the time signature is counted."""
        return meter_of(self.time)

    @property
    def in_bars(self) -> Bars:
        """Its bars, in quarters."""
        return Bars(self.meter, self.key, self.changes, self.cadenzas, in_quarters=True)

    @property
    def tempo_bpm(self) -> float | None:
        """Beats of the meter a minute."""
        if self.quarters_bpm is None:
            return None
        return round(self.quarters_bpm / float(self.meter.beat_quarters), 1)


def meter_of(time: tuple[int, int]) -> Meter:
    """How a routine counts a time signature it can write."""
    return TIME.read(yaml.ScalarNode("tag:yaml.org,2002:str", f"{time[0]}/{time[1]}"))


def read_score(path: Path) -> Score:
    """The parts of a MusicXML, MIDI or ABC file. Raises ScoreError."""
    opened = open_score(path)
    return _READERS[opened.kind](path, opened.data)


_READERS = {
    ScoreKind.MUSICXML: read_musicxml,
    ScoreKind.MIDI: read_midi,
    ScoreKind.ABC: read_abc,
}


def part_named(score: Score, asked: str | None) -> Part:
    """The part of this name or number; where none is named, the only one, or the only flute.

    Raises ScoreError.
    """
    with_notes = [part for part in score.parts if any(bar.notes for bar in part.bars)]
    if asked is None:
        if len(with_notes) == 1:
            return with_notes[0]
        flutes = [part for part in with_notes if _is_flute(part.name)]
        if len(flutes) == 1:
            return flutes[0]
        if not with_notes:
            raise ScoreError("No part of this score has notes a flute could play.")
        raise ScoreError(f"The score has several parts: {_listing(score)}. Choose one: --part 1")
    wanted = " ".join(asked.lower().split())
    if wanted.isdecimal() and len(wanted) < 5 and 1 <= int(wanted) <= len(score.parts):
        return score.parts[int(wanted) - 1]
    exact = [part for part in score.parts if part.name.lower() == wanted]
    near = exact or [part for part in score.parts if wanted and wanted in part.name.lower()]
    if len(near) == 1:
        return near[0]
    what = "Several parts are" if near else "No part is"
    raise ScoreError(f"{what} called '{asked}'. The score has {_listing(score)}: --part 1")


def _is_flute(name: str) -> bool:
    """'Flute', 'Fl. 1', 'Solo Flute'; a longer name is a title with a flute in it."""
    return len(name.split()) <= LONGEST_PART_WORDS and _FLUTE.search(name) is not None


LONGEST_PART_WORDS = 3
MOST_LISTED = 20
"""Parts that are told by name; a book of tunes has more."""


def _listing(score: Score) -> str:
    names = [f"{number} {part.name}" for number, part in enumerate(score.parts, start=1)]
    more = len(names) - MOST_LISTED
    return ", ".join(names[:MOST_LISTED]) + (f" and {more} more" if more > 0 else "")


def excerpt(
    score: Score, part: Part, bars_asked: str | None = None, for_instrument: str | None = None
) -> Excerpt:
    """A part, or the bars 'A-B' of it as printed, as a passage.

    Without bars the repeats are unfolded; bars that are named are taken once. `for_instrument`
    writes the notes so that this flute sounds what the score sounds; without it the notes stay as
    they are written. Raises ScoreError with what to ask for instead.
    """
    printed = _chosen(part, bars_asked)
    once = bars_asked is not None
    return _of_bars(score, part, printed, for_instrument, once=once)


def sections_of(
    score: Score, part: Part, bars_asked: str | None = None, for_instrument: str | None = None
) -> tuple[Excerpt, ...]:
    """The sections of a part, or of the bars 'A-B' of it, each as a passage.

    Raises ScoreError with what to ask for instead.
    """
    sections = parted(_chosen(part, bars_asked))
    if not sections:
        raise ScoreError("There are only rests in these bars. Choose others: --bars A-B")
    return tuple(_of_bars(score, part, bars, for_instrument, once=True) for bars in sections)


def _of_bars(
    score: Score, part: Part, printed: Sequence[Bar], for_instrument: str | None, *, once: bool
) -> Excerpt:
    bars = _without_silent_ends(printed if once else unfolded(printed))
    as_written, note_bars = _notes(part, bars)
    time = _time(bars[0]) or _COMMON_TIME
    missing = _missing_before(part, bars[0])
    upbeat = bars[0].length if missing else Fraction(0)
    instrument, transposition, interval = instrument_for(part, for_instrument)
    key, interval = moved_key(bars[0].key, interval)
    begun = Bars(meter_of(time), bars[0].key, in_quarters=True)
    signed, lost = _signed(bars, begun, missing)
    _refuse_unplayable(as_written, note_bars, signed, upbeat)
    notes = moved_notes(_apart(as_written, signed), interval)
    tempo = _tempo(bars[0], time)
    return Excerpt(
        title=score.title,
        part=part.name,
        bars=_span(bars),
        instrument=instrument.name,
        transposition=transposition,
        notes=notes,
        note_bars=note_bars,
        upbeat=upbeat,
        key=key,
        time=time,
        changes=tuple(
            replace(change, key=moved_key(change.key, interval)[0]) for change in signed.changes
        ),
        cadenzas=signed.cadenzas,
        quarters_bpm=tempo,
        left_out=left_out(bars),
        remarks=(
            *part.left_out,
            *of_changes(lost),
            *of_time(bars[0], time),
            *of_tempo(bars, tempo),
            *of_repeats(printed, once=once),
            *of_transposition(part, for_instrument, instrument),
            *of_range(notes, note_bars, instrument),
        ),
    )


def _notes(part: Part, bars: Sequence[Bar]) -> tuple[tuple[WrittenNote, ...], tuple[str, ...]]:
    """The notes of the bars one after the other, and the bar of each."""
    flat = flattened(bars)
    pickup = _missing_before(part, bars[0])
    notes = _tongued_after_rest(
        WrittenNote(
            note.pitch,
            pickup + note.beat,
            note.length,
            note.slurred_from_last,
            note.breath_after,
            note.dynamic,
            note.hairpin,
            note.mark,
            note.graces,
            note.ornament,
            note.upper_sign,
            note.fermata,
            note.stop_after,
            _changed_tempo(bars, index),
        )
        for index, note in flat
    )
    return notes, tuple(bars[index].number for index, _ in flat)


def _changed_tempo(bars: Sequence[Bar], index: int) -> float | None:
    """Beats a minute in this bar; None where it is the first bar's, or can't be asked for."""
    first, here = bars[0].tempo_bpm, bars[index].tempo_bpm
    time = _time(bars[0]) or _COMMON_TIME
    asked = None if here is None else _tempo(bars[index], _time(bars[index]) or time)
    if first is None or here in (None, first) or asked is None:
        return None
    return asked / float(meter_of(time).beat_quarters)


def _tempo(bar: Bar, time: tuple[int, int]) -> float | None:
    """Quarters a minute, where a routine may ask for so many beats a minute."""
    if bar.tempo_bpm is None:
        return None
    beats = bar.tempo_bpm / float(meter_of(time).beat_quarters)
    return bar.tempo_bpm if SLOWEST_BPM <= beats <= FASTEST_BPM else None


def _chosen(part: Part, asked: str | None) -> Sequence[Bar]:
    if asked is None:
        return part.bars
    numbers = [bar.number for bar in part.bars]
    first, dash, last = (word.strip() for word in asked.partition("-"))
    last = last if dash else first
    mend = f"{part.name} has bars {numbers[0]} to {numbers[-1]}: --bars {numbers[0]}-{numbers[-1]}"
    missing = next((number for number in (first, last) if number not in numbers), None)
    if missing is not None:
        raise ScoreError(f"There is no bar '{missing}'. {mend}")
    begin = numbers.index(first)
    end = len(numbers) - 1 - numbers[::-1].index(last)
    if end < begin:
        raise ScoreError(f"Bar {last} comes before bar {first}. {mend}")
    return part.bars[begin : end + 1]


def _without_silent_ends(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    def silent(bar: Bar) -> bool:
        return not bar.notes

    sounding = list(dropwhile(silent, bars))
    sounding = list(dropwhile(silent, reversed(sounding)))[::-1]
    if not sounding:
        raise ScoreError("There are only rests in these bars. Choose others: --bars A-B")
    return tuple(sounding)


def _apart(notes: Sequence[WrittenNote], signed: Bars) -> tuple[WrittenNote, ...]:
    """No slur into a cadenza or out of it."""
    edges = {place for cadenza in signed.cadenzas for place in cadenza}
    return tuple(
        replace(note, slurred_from_last=note.slurred_from_last and note.beat not in edges)
        for note in notes
    )


def _lately(bars: Bars) -> Bars:
    """What the bar behind all of it depends on: the last signature and the last cadenza.

    Going through all of them for each bar would take minutes where every bar has its own.
    """
    return replace(bars, changes=bars.changes[-1:], cadenzas=bars.cadenzas[-1:])


def _signed(
    bars: Sequence[Bar], begun: Bars, began: Fraction
) -> tuple[Bars, dict[str, dict[str, None]]]:
    """The bars as a passage has them, in quarters, and by what was not kept the bars' numbers.

    A signature can change where a bar of the passage is full, or lacks the upbeat; any other short
    bar before it, and a short one that begins with it, is given a time signature of its own.
    """
    lost: dict[str, dict[str, None]] = {}
    upbeat = bars[0].length if began else Fraction(0)
    measured = any(bar.meter is not None for bar in bars)
    free_from = began if measured and bars[0].meter is None else None
    for before, bar in pairwise(bars):
        began += before.length
        if measured and bar.meter is None:
            free_from = began if free_from is None else free_from
            continue
        if free_from is not None:
            begun = replace(begun, cadenzas=(*begun.cadenzas, (free_from, began)))
            free_from = None
        here = _lately(begun).at(began)
        time = _time(bar)
        meter = meter_of(time) if time is not None else here.meter
        if time is None and bar.meter != before.meter:
            lost.setdefault("time signature", {})[bar.number] = None
        if (meter, bar.key) == (here.meter, here.key):
            continue
        inside = began - here.begins
        if inside and inside + upbeat != here.meter.bar_quarters:
            short = _time_of(inside)
            if short is None:
                what = "time signature" if meter != here.meter else "key"
                lost.setdefault(what, {})[bar.number] = None
                continue
            kept = begun.changes
            if kept and kept[-1].beat == here.begins:
                kept = kept[:-1]
            begun = replace(begun, changes=(*kept, SignatureChange(here.begins, short, here.key)))
        if bar.length < meter.bar_quarters and bar is not bars[-1]:
            meter = _time_of(bar.length) or meter
        begun = replace(begun, changes=(*begun.changes, SignatureChange(began, meter, bar.key)))
    if free_from is not None:
        end = began + bars[-1].length
        begun = replace(begun, cadenzas=(*begun.cadenzas, (free_from, end)))
    return begun, lost


def _time_of(quarters: Fraction) -> Meter | None:
    """The time signature of a bar so long; None where the routine language has none."""
    for unit in (4, 8):
        beats = quarters * unit / 4
        if beats.denominator == 1 and 1 <= beats <= MOST_BEATS_IN_BAR:
            return meter_of((int(beats), unit))
    return None


def _time(bar: Bar) -> tuple[int, int] | None:
    """The time signature as the routine language has it; None where it has none."""
    beats, unit = bar.meter or _COMMON_TIME
    if unit == 1:
        beats, unit = 2 * beats, 2
    if unit > 8 and beats % (unit // 8) == 0:
        beats, unit = beats // (unit // 8), 8
    return (beats, unit) if unit in (2, 4, 8) and beats <= MOST_BEATS_IN_BAR else None


def _missing_before(part: Part, first: Bar) -> Fraction:
    """Rest that fills a pickup bar, so that the bar lines stand where they stood."""
    short = first.full_length - first.length
    return max(Fraction(0), short) if first is part.bars[0] else Fraction(0)


def _tongued_after_rest(notes: Iterable[WrittenNote]) -> tuple[WrittenNote, ...]:
    """A slur drawn over a rest does not slur the note after it; nor does one over a breath."""
    found: list[WrittenNote] = []
    for note in notes:
        before = found[-1] if found else None
        joined = (
            before is not None
            and not before.breath_after
            and before.beat + before.length == note.beat
        )
        found.append(replace(note, slurred_from_last=note.slurred_from_last and joined))
    return tuple(found)


def _refuse_unplayable(
    notes: Sequence[WrittenNote], bars: Sequence[str], signed: Bars, upbeat: Fraction
) -> None:
    """Bars and upbeat in quarters."""
    if len(notes) > MOST_NOTES:
        cut = bars.index(bars[MOST_NOTES])
        last = bars[cut - 1] if cut else bars[0]
        raise ScoreError(
            f"These are {len(notes)} notes; a passage has {MOST_NOTES} at most. Take fewer bars: "
            f"--bars {bars[0]}-{last}"
        )
    wrong = {id(note) for note in unsayable(notes, signed, upbeat)}
    places = [named for note, named in zip(notes, bars, strict=True) if id(note) in wrong]
    if places:
        raise ScoreError(
            f"In {in_bars(list(dict.fromkeys(places)))} are lengths the line notation has no words "
            "for (fives, sevens, very short notes). Choose other bars: --bars A-B"
        )


def _span(bars: Sequence[Bar]) -> str:
    first, last = bars[0].number, bars[-1].number
    return f"bar {first}" if first == last else f"bars {first} to {last}"
