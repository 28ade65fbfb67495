"""What an import tells beside the notes: what was left out, and what to know before playing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from trainer.music.instrument import Instrument
from trainer.music.pitch import Interval
from trainer.routine.model import WrittenNote
from trainer.score.part import Bar, Part

_STEP_NAMES = ("", "second", "third", "fourth", "fifth", "sixth", "seventh")


def in_bars(bars: Sequence[str]) -> str:
    """'bar 5', 'bars 5, 7 and 9'."""
    if len(bars) == 1:
        return f"bar {bars[0]}"
    return f"bars {', '.join(bars[:-1])} and {bars[-1]}"


def left_out(bars: Sequence[Bar]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """(what, the bars it stands in), in the order of the music."""
    places: dict[str, dict[str, None]] = {}
    for bar in bars:
        for what in bar.left_out:
            places.setdefault(what, {})[bar.number] = None
    return tuple((what, tuple(numbers)) for what, numbers in places.items())


def of_changes(lost: Mapping[str, Iterable[str]]) -> Iterator[str]:
    """Key or time signature that changes where a passage can't change it; by what, the bars."""
    for what, numbers in lost.items():
        yield f"The {what} changes in {in_bars(list(numbers))}: the one before is kept."


def of_time(first: Bar, written: tuple[int, int]) -> Iterator[str]:
    """A time signature the routine language does not have."""
    if first.meter != written:
        yield f"{written[0]}/{written[1]} is written for its time."


def of_tempo(bars: Sequence[Bar], asked: float | None) -> Iterator[str]:
    """A tempo that is missing, can't be asked for, or changes."""
    first = bars[0].tempo_bpm
    if first is None:
        yield "The score names no tempo in figures: 60 holds until you write one."
    elif asked is None:
        yield f"Its tempo of {first:g} quarters a minute can't be asked for: 60 holds."
    if first is None and any(bar.tempo_bpm is not None for bar in bars):
        yield "A tempo is named on the way, and none at the beginning: it is not written."


def of_repeats(bars: Sequence[Bar], *, once: bool) -> Iterator[str]:
    """What became of repeats."""
    repeated = [bar.number for bar in bars if bar.signs.plays > 1]
    jumps = [bar.number for bar in bars if bar.signs.jump is not None]
    if repeated and not once:
        yield f"The repeat that ends in {in_bars(repeated)} is written out."
    elif repeated:
        yield f"The repeat in {in_bars(repeated)} is not played: the bars are taken once."
    if jumps:
        what = "is not followed: the bars are taken once" if once else "is written out"
        yield f"The way back to the beginning or the segno in {in_bars(jumps)} {what}."


def of_transposition(part: Part, asked: str | None, instrument: Instrument) -> Iterator[str]:
    """Written against sounding, where they differ from the part's own."""
    if instrument.transposition == part.transposition:
        return
    if asked is not None:
        yield f"Written anew for the {instrument.name}: it sounds what the score sounds."
    else:
        yield (
            f"The part is for an instrument that sounds {_interval(part.transposition)}. Its "
            "written notes are kept; for what sounds, add --for 'C flute'."
        )


def _interval(interval: Interval) -> str:
    octaves, step = divmod(abs(interval.steps), 7)
    octave = f"{octaves} octave{'s' * (octaves > 1)}" if octaves else ""
    spans = [span for span in (octave, f"a {_STEP_NAMES[step]}" if step else "") if span]
    span = " and ".join(spans) or f"{abs(interval.semitones)} semitones"
    return f"{span} {'lower' if interval.semitones < 0 else 'higher'}"


def of_range(
    notes: Sequence[WrittenNote], bars: Sequence[str], instrument: Instrument
) -> Iterator[str]:
    """Notes outside the instrument."""
    low, high = instrument.lowest.midi, instrument.furthest.midi
    places = zip(notes, bars, strict=True)
    outside = [(note, bar) for note, bar in places if not low <= note.pitch.midi <= high]
    if outside:
        pitches = ", ".join(dict.fromkeys(str(note.pitch) for note, _ in outside))
        yield (
            f"{pitches} in {in_bars(list(dict.fromkeys(bar for _, bar in outside)))}: outside the "
            f"{instrument.name} ({instrument.lowest} to {instrument.furthest}). Change it before "
            "you play it."
        )
