"""How far off the beat each onset of a round is: against the player's own line, late positive.

Never against the click: neither a constant lead (Repp 2005, Psychon Bull Rev 12:969) nor the delay
of the sound card is an error. The quick answer while a round sounds can't know that line yet: it
shows the onset against the beat and the player's lead so far.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from trainer.ear.heard import HeardNote, Take
from trainer.figures.breaths import stops, unplanned_breaths
from trainer.figures.left_out import gone_past, left_out
from trainer.figures.note_figures import is_right
from trainer.figures.own_line import LINE_NOTES, OwnLine, own_line
from trainer.music.note import Note
from trainer.music.pulse import begins_anew_after

DROWNED_DB = 8.0
"""A note so much softer than the one before it has no place in time: a room of 0.3 s rang over its
beginning by 40 to 80 ms where a mode of the room made the note before 7 to 20 dB louder (our own
measurement, tests/bench/planted_takes.py, seeds 7000 to 7169). Our own estimate."""

SURE_SHARE = 0.5
"""Of the onsets that could have a place: where fewer are sure, the room hides too many for a line,
and whether it stood still. Of 128 lines of recorded notes in rooms of 0.4 and 0.8 s none had fewer
than 0.58, of 408 in halls of 1.0 to 1.8 s one in six had fewer than this, and some of those were
told of a tempo or a stop that was not theirs (our own measurement). Our own estimate."""

CLEARLY = 0.7
"""A line is clearly the more even where its spread is so much less. Our own estimate."""


@dataclass(frozen=True)
class OnsetPlaces:
    """Where the onsets of one round stood."""

    off_ms: Mapping[int, float]
    """Index → onset against the line, in milliseconds; notes without a place are left out."""
    line: OwnLine | None
    """None where there were too few notes for one, or too few sure ones."""
    unplanned_breaths: tuple[int, ...]
    """Notes after which a breath was heard where none was planned."""
    stops: tuple[int, ...]
    """Notes after which the line stood still."""
    from_lines_ms: Mapping[int, tuple[float, ...]] = field(default_factory=dict)
    """Index → off the line of the strokes and off that of the speaking, in milliseconds; where the
    onset isn't sure it came no later than this."""
    tone_late_ms: Mapping[int, float] = field(default_factory=dict)
    """Index → how much later its tone came than the others': its own harmonics off their line, or
    where these tell nothing the speaking off its line, in milliseconds."""
    tempo_change: float | None = None
    """As `OwnLine.tempo_change`: the smallest of what strokes, speaking and the tones' harmonics
    say, 0 where one says the opposite. A room that rings over some of the strokes bends one of the
    lines more easily; and where low notes take longer from the stroke to the tone than high ones, a
    line up and down that speaks in time has strokes that seem to hurry."""
    tempo_change_error: float = 0.0
    """The largest of theirs."""


def onset_places(notes: Sequence[Note], take: Take, *, in_time: bool = True) -> OnsetPlaces:
    """The places of the right notes' onsets. in_time: False where no beat was asked for.

    There is a line through the strokes and one through the places where the notes speak. A note
    stands off the one to which it is nearer: who lays either in time plays evenly, and how long a
    note takes from one to the other is another matter. The player's own line is that of the
    strokes, where that of the speaking is not clearly the more even.

    A note right after a breath, planned or not, has no place: a breath may cost time, and is
    spoken of as a breath; nor one after a fermata or a caesura, where the beat waits for the
    player, or where the tempo changes, nor one with grace notes or an ornament, nor one after notes
    that were left out. Nor has one that the louder note before it drowns: in a room that one rings
    on, and the softer one is heard only when it has died away. An onset that isn't sure helps to
    draw the lines, and has no place; where hardly any is sure there is no line, and nothing has
    one.
    """
    heard = {note.index: note for note in take.expected_notes}
    unplanned = tuple(unplanned_breaths(notes, take))
    stopped = tuple(stops(notes, take, unplanned)) if in_time else ()
    after_breath = {note.index + 1 for note in notes if note.breath_after}
    after_breath |= {index + 1 for index in (*unplanned, *stopped)}
    after_breath |= {index + 1 for index in begins_anew_after(notes)}
    onsets_s = {
        note.index: onset_s
        for note in notes
        if note.index in heard and (onset_s := heard[note.index].onset_s) is not None
    }
    runs = left_out([note.index in onsets_s for note in notes])
    after_breath |= {notes[run.stop].index for run in runs}
    after_breath |= set(gone_past(notes, onsets_s)) if in_time else set()
    free = {note.index for note in notes if note.free}
    right = {
        note.index: found
        for note in notes
        if note.index not in after_breath | free
        if (found := _right(heard.get(note.index))) is not None
    }
    drowned = {
        after.index
        for before, after in pairwise(notes)
        if _drowned(heard.get(before.index), heard.get(after.index))
    }
    placed = {index: note for index, note in right.items() if index not in drowned}
    sure = [place for place, note in enumerate(placed.values()) if note.onset_sure]
    if len(sure) < SURE_SHARE * len(placed):
        return OnsetPlaces({}, None, unplanned, ())
    beats = {note.index: float(note.beat) for note in notes}
    breaks = [beats[index] for index in sorted(after_breath) if index in beats]

    def through(places_s: Mapping[int, float]) -> OwnLine | None:
        return own_line([beats[index] for index in places_s], list(places_s.values()), breaks)

    lines = [through(_known(placed, place_of)) for place_of in (_stroke_s, _speaking_s)]
    known = [line for line in lines if line is not None]
    if LINE_NOTES <= len(sure) < len(placed):
        known = [line.centred_on(sure) for line in known]
    from_lines_ms = {
        index: tuple(1000 * float(line.off_s[place]) for line in known)
        for place, index in enumerate(placed)
        if known
    }
    risen_s = _known(right, _risen_s)
    risen = through(risen_s)
    tone_late_ms = {index: from_lines[-1] for index, from_lines in from_lines_ms.items()}
    if risen is not None:
        tone_late_ms |= dict(zip(risen_s, (1000 * risen.off_s).tolist(), strict=True))
    off_ms = {
        index: min(from_lines, key=abs)
        for index, from_lines in from_lines_ms.items()
        if placed[index].onset_sure
    }
    if len(sure) >= LINE_NOTES:
        known = [line.seen_at(sure) for line in known]
    own = min(known, key=_spread_s, default=None)
    if own is not None and own.spread_s > CLEARLY * known[0].spread_s:
        own = known[0]
    change = _agreed_change(known if risen is None else [*known, risen])
    return OnsetPlaces(off_ms, own, unplanned, stopped, from_lines_ms, tone_late_ms, *change)


def _known(
    notes: Mapping[int, HeardNote], place_of: Callable[[HeardNote], float | None]
) -> dict[int, float]:
    """The places of those notes that have one."""
    return {i: place_s for i, note in notes.items() if (place_s := place_of(note)) is not None}


def _agreed_change(lines: Sequence[OwnLine]) -> tuple[float | None, float]:
    """The change of tempo in which the lines agree, and its error."""
    changes = [line.tempo_change for line in lines if line.tempo_change is not None]
    if not changes:
        return None, 0.0
    error = max(line.tempo_change_error for line in lines)
    return (min(changes, key=abs) if min(changes) * max(changes) > 0 else 0.0), error


def _spread_s(line: OwnLine) -> float:
    return line.spread_s


def _stroke_s(note: HeardNote) -> float | None:
    return note.onset_s


def _speaking_s(note: HeardNote) -> float | None:
    return note.sounds_s


def _risen_s(note: HeardNote) -> float | None:
    return note.risen_s


def _right(heard: HeardNote | None) -> HeardNote | None:
    """The note with an onset, where it is the one asked for."""
    if heard is None or heard.onset_s is None:
        return None
    return heard if is_right(heard.state, heard.cents) else None


def _drowned(before: HeardNote | None, after: HeardNote | None) -> bool:
    if before is None or after is None or before.level_db is None or after.level_db is None:
        return False
    both_right = is_right(before.state, before.cents) and is_right(after.state, after.cents)
    return both_right and before.level_db - after.level_db >= DROWNED_DB
