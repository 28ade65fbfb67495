"""What loads, but a teacher may not have meant."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, timedelta
from itertools import pairwise

from trainer.music.articulations import AnyArticulation
from trainer.music.instrument import instrument_named
from trainer.music.note import Articulation
from trainer.routine.along import silent_bars
from trainer.routine.entries import WrittenEntry, exercises_only
from trainer.routine.model import (
    WHOLE_WEEK,
    Arpeggio,
    ArticulationChoice,
    AsWritten,
    DifferentEveryRound,
    Exercise,
    FromTo,
    InOrder,
    KeyedExercise,
    LongTones,
    Passage,
    Routine,
    Scale,
    Trills,
    Voicing,
)
from trainer.routine.plan import plan
from trainer.routine.reader import Fault

STRICTEST_CENTS = 2.0
"""On recorded notes the ear's median error is 1.2 cents (our own measurement, tests/bench)."""
STRICTEST_EVENNESS_MS = 6.0
"""In a room the ear's median error of an onset is 5.8 ms (our own measurement, tests/bench), and
listeners notice a shift of 6 ms and more (Friberg & Sundberg 1995, JASA 98:2524)."""
STRICTEST_CLEAN = 0.99
"""In a room the ear finds 99 notes of 100 at their place (our own measurement, tests/bench)."""
LONGEST_WITHOUT_REST_MINUTES = 40.0
"""Then a rest is suggested (common practice, no source)."""
REST_THAT_COUNTS_S = 60.0
"""A shorter one is a breath between exercises (common practice, no source)."""
SLOWEST_DOUBLE_PER_S = 2.0
"""Notes a second below which double tonguing is likely a slip of the pen (our own estimate)."""
FASTEST_DOUBLE_PER_S = 12.0
FASTEST_SINGLE_PER_S = 10.0
"""Notes a second. Upper ends: 9–10 single, 12 double (contemporarytuba.com, 'Tonguing'; another
instrument, for none was found for the flute). The lower end is common practice, no source."""
FASTEST_BREATH_PER_S = 6.0
"""Starts by the breath alone: our own estimate, from breath pulses, which are taught up to
sextuplets at 60 (drcatesflutetips.wordpress.com, 2015 and 2016)."""
FASTEST_FINGERS_PER_S = 16.0
"""Slurred notes a second: our own estimate, for no study was found."""
FASTEST_VIBRATO_PER_S = 8.0
"""Flutists' vibrato has 5 to 8 pulses a second (L. Garrison, Visualizing Vibrato, 2012)."""
LONGEST_ON_ONE_BREATH_S = 30.0
"""Our own estimate: few hold a note for half a minute."""
_DOUBLES = {
    Articulation.DOUBLE,
    Articulation.REVERSE_DOUBLE,
    Articulation.TRIPLE,
    Articulation.TRIPLE_TTK,
}
_SINGLES = {
    Articulation.SINGLE,
    Articulation.LEGATO_TONGUE,
    Articulation.STACCATO,
    Articulation.TENUTO,
    Articulation.ACCENTED,
}
_BREATHS = {Articulation.AIR_ONLY, Articulation.AIR_ONLY_SILENT}
_A_MONDAY = date(2026, 1, 5)


def doubts(routine: Routine, written: Mapping[str, WrittenEntry]) -> list[Fault]:
    """Things to look at again, at their places in the file."""
    found: list[Fault] = []
    for exercise in exercises_only(routine.entries):
        place = written[exercise.id]
        found += _strict_aims(exercise, place)
        found += _speed(exercise, place)
        found += _long_breaths(exercise, place)
        found += _range_beyond(routine, exercise, place)
    return [*found, *_never_silent(routine, written), *_no_rest(routine, written)]


def _strict_aims(exercise: Exercise, place: WrittenEntry) -> Iterator[Fault]:
    aims, at = exercise.aims, place.place("aims")
    if aims.cents is not None and aims.cents < STRICTEST_CENTS:
        what = f"An aim of {aims.cents:g} cents is stricter than a microphone in a room can judge."
        yield Fault(at, what, f"Ask for {STRICTEST_CENTS:g} cents or more.")
    if aims.evenness_ms is not None and aims.evenness_ms < STRICTEST_EVENNESS_MS:
        what = f"An evenness of {aims.evenness_ms:g} ms is finer than it can be heard in a room."
        yield Fault(at, what, f"Ask for {STRICTEST_EVENNESS_MS:g} ms or more.")
    if aims.clean is not None and aims.clean > STRICTEST_CLEAN:
        what = "Not one note in a hundred may go wrong here, but the ear itself misses that many."
        yield Fault(at, what, f"Ask for {STRICTEST_CLEAN:.0%} or less.".replace("%", " %"))


def _speed(exercise: Exercise, place: WrittenEntry) -> Iterator[Fault]:
    """Notes too fast for how they are to be started, or too slow for double tonguing."""
    per_beat, asked = _notes_per_beat(exercise), _asked(exercise)
    slowest = per_beat * exercise.tempo_bpm / 60
    fastest = per_beat * (exercise.climb.to_bpm if exercise.climb else exercise.tempo_bpm) / 60
    at = place.place("articulations", "tempo")
    if asked & _DOUBLES and slowest < SLOWEST_DOUBLE_PER_S and exercise.climb is None:
        what = f"Double or triple tonguing at {slowest:.2g} notes a second is slow."
        yield Fault(at, what, "Raise the tempo, or ask for single.")
    for kinds, name, limit, other in _SPEEDS:
        if asked & kinds and fastest > limit:
            what = f"{name} is asked for at {fastest:.3g} notes a second."
            yield Fault(at, what, f"Few go past {limit:g}: lower the tempo{other}.")
    pulses = max((vibrato.per_beat for vibrato in exercise.vibrato), default=0)
    if pulses * exercise.tempo_bpm / 60 > FASTEST_VIBRATO_PER_S:
        what = f"Vibrato is asked for at {pulses * exercise.tempo_bpm / 60:.3g} pulses a second."
        mend = f"Few go past {FASTEST_VIBRATO_PER_S:g}: ask for fewer pulses, or a slower tempo."
        yield Fault(place.place("vibrato"), what, mend)


_SPEEDS = (
    (_DOUBLES, "Double or triple tonguing", FASTEST_DOUBLE_PER_S, ", or ask for slurred"),
    (_SINGLES, "Single tonguing", FASTEST_SINGLE_PER_S, ", or ask for double"),
    (_BREATHS, "Starting notes by the breath alone", FASTEST_BREATH_PER_S, ", or ask for single"),
    ({Articulation.SLURRED}, "Slurring", FASTEST_FINGERS_PER_S, " or the notes to a beat"),
)


def _asked(exercise: Exercise) -> set[AnyArticulation]:
    choice: ArticulationChoice = exercise.articulations
    match choice:
        case InOrder(articulations) | DifferentEveryRound(articulations):
            return set(articulations)
        case AsWritten() if isinstance(exercise, Passage):
            slurred = all(note.slurred_from_last for note in exercise.notes[1:])
            return {Articulation.SLURRED if slurred else Articulation.SINGLE}
    return set()


def _notes_per_beat(exercise: Exercise) -> float:
    """At the quickest place."""
    match exercise:
        case Scale(per_beat=per_beat) | Arpeggio(per_beat=per_beat):
            return per_beat * _quickest_of(exercise.figures)
        case Voicing(beats_each=beats) | LongTones(beats_each=beats):
            return 1 / float(beats)
        case Trills(per_beat=rhythms):
            return max(rhythms)
        case Passage(notes=notes):
            as_written = isinstance(exercise.articulations, AsWritten)
            started = [n.beat for n in notes if not (as_written and n.slurred_from_last)]
            gaps = [after - before for before, after in pairwise(started)]
            quickest = 1 / float(min(gaps or [note.length for note in notes]))
            return quickest * _quickest_of(exercise.figures)
    return 1.0


def _quickest_of(figures: Iterable[tuple[int, ...]]) -> float:
    return max(map(_quickest, figures), default=1.0)


def _quickest(figure: tuple[int, ...]) -> float:
    """How much quicker than even notes the shortest note of a practice rhythm is."""
    return sum(figure) / (len(figure) * min(figure)) if figure else 1.0


def _long_breaths(exercise: Exercise, place: WrittenEntry) -> Iterator[Fault]:
    if not isinstance(exercise, (LongTones, Voicing)):
        return
    held_s = float(exercise.beats_each) * 60 / exercise.tempo_bpm
    if held_s > LONGEST_ON_ONE_BREATH_S:
        what = f"Each note lasts {held_s:.0f} seconds, longer than most breaths."
        yield Fault(place.place("beats each", "tempo"), what, "Ask for fewer beats each.")


def _range_beyond(routine: Routine, exercise: Exercise, place: WrittenEntry) -> Iterator[Fault]:
    if not isinstance(exercise, KeyedExercise) or not isinstance(exercise.range, FromTo):
        return
    instrument = instrument_named(routine.instrument)
    for pitch in (exercise.range.low, exercise.range.high):
        if not routine.lowest.midi <= pitch.midi <= routine.highest.midi:
            yield Fault(
                place.place("range"),
                f"{pitch} is outside {routine.lowest} to {routine.highest} "
                f"on the {instrument.name}; the exercise stops at the last note inside.",
                "Change the range, or name an instrument that has the note.",
            )


def _never_silent(routine: Routine, written: Mapping[str, WrittenEntry]) -> Iterator[Fault]:
    """The click is to rest, but the music is over before it would."""
    for exercise in plan(routine, _A_MONDAY, seed=0):
        place = written.get(exercise.id)
        asked = [round_ for round_ in exercise.rounds if round_.click.silent_bars]
        if place is None or "click rests" not in place.own or not asked:
            continue
        if not any(silent_bars(round_) for round_ in asked):
            what = "The music is over before the click would rest."
            mend = "Ask for fewer bars, such as '1 bar in 2', or for a longer range."
            yield Fault(place.nodes["click rests"], what, mend)


def _no_rest(routine: Routine, written: Mapping[str, WrittenEntry]) -> Iterator[Fault]:
    """Ten minutes of rest an hour, or five after 25, is the usual advice (G. Klickstein, The
    Musician's Way, p. 75); we speak up after forty minutes without any, on any day of the week.
    """
    days = 1 if routine.week == WHOLE_WEEK else 7
    for day in range(days):
        since_rest = 0.0
        for exercise in plan(routine, _A_MONDAY + timedelta(days=day), seed=0):
            since_rest += exercise.minutes
            if since_rest > LONGEST_WITHOUT_REST_MINUTES and exercise.id in written:
                yield Fault(
                    written[exercise.id].node,
                    f"By the end of this there have been {since_rest:.0f} minutes without a rest.",
                    "Put '- rest: 5 minutes' before it, or 'rest after' on an exercise above.",
                )
                return
            if exercise.rest_s >= REST_THAT_COUNTS_S:
                since_rest = 0.0
