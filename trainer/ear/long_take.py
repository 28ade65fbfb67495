"""A recording of any length, heard stretch by stretch: memory stays that of one stretch.

A short one is heard whole. Of a longer one with expected notes the sounds are found first, and
which answers what is settled over the whole of it; then each stretch is heard anew with the notes
that are answered in it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from itertools import chain, islice, pairwise

from trainer.ear.alignment.answers import at_own_pace
from trainer.ear.alignment.asked_notes import expected_notes
from trainer.ear.analysis.features import FeatureStream, lowest_of
from trainer.ear.analysis.frames import Samples
from trainer.ear.analysis.stretches import pieces, stretches
from trainer.ear.hear import hear
from trainer.ear.heard import HeardNote, Room, Take
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import note_segments
from trainer.ear.segments.segment_measures import BREATH_FROM_S
from trainer.ear.take_listener import guessed_first_beat
from trainer.ear.transcribe import transcribe
from trainer.music.note import Note
from trainer.music.ornaments import realised
from trainer.music.tuning import Tuning

Progress = Callable[[float], None]
"""Told how many seconds of the recording have been gone through."""
OFTEN = 0.5
"""What is wrong with the sound in fewer of the stretches is not said of the recording."""


def transcribe_long(
    blocks: Iterable[Samples], sample_rate_hz: int, tuning: Tuning, progress: Progress
) -> Take:
    """Every note played, as `transcribe` hears them; blocks: the sound in order, each of shape
    (samples,)."""
    takes = []
    for first, sound in stretches(blocks, sample_rate_hz):
        first_s = first / sample_rate_hz
        takes.append(_later(transcribe(sound, sample_rate_hz, tuning), first_s))
        progress(first_s + sound.size / sample_rate_hz)
    if len(takes) == 1:
        return takes[0]
    notes = [note for take in takes for note in take.notes]
    return replace(
        _joined(takes),
        notes=tuple(replace(note, index=number) for number, note in enumerate(notes)),
        breaths_s=(),
        first_beat_s=notes[0].onset_s or 0.0 if notes else 0.0,
    )


def sounds_in(
    blocks: Iterable[Samples], sample_rate_hz: int, tuning: Tuning, progress: Progress
) -> list[NoteSegment]:
    """Every sound of one pitch, with its times; blocks as for `transcribe_long`."""
    found: list[NoteSegment] = []
    for first, sound in stretches(blocks, sample_rate_hz):
        first_s = first / sample_rate_hz
        found += [_shifted(one, first_s) for one in _sounds(sound, sample_rate_hz, (), tuning)]
        progress(first_s + sound.size / sample_rate_hz)
    return found


def hear_long(
    read: Callable[[], Iterable[Samples]],
    sample_rate_hz: int,
    expected: Sequence[Note],
    tempo_bpm: float,
    tuning: Tuning,
    progress: Progress,
    *,
    timed: bool = True,
) -> Take:
    """What was played of the expected notes (sounding pitch), as `hear` hears it; read: the sound
    from its beginning, in blocks of shape (samples,)."""
    begun = list(islice(stretches(read(), sample_rate_hz), 2))
    if len(begun) == 1:
        return hear(begun[0][1], sample_rate_hz, expected, tempo_bpm, tuning, None, timed=timed)
    del begun
    found = []
    for first, sound in stretches(read(), sample_rate_hz):
        first_s = first / sample_rate_hz
        sounds = _sounds(sound, sample_rate_hz, expected, tuning)
        found.append([_shifted(one, first_s) for one in sounds])
        progress((first_s + sound.size / sample_rate_hz) / 2)
    half_s = (first + sound.size) / sample_rate_hz / 2
    takes: list[Take] = []
    shares = _shares(found, expected, tempo_bpm, tuning)
    for (first, sound), share in zip(stretches(read(), sample_rate_hz), shares, strict=False):
        take = hear(sound, sample_rate_hz, share, tempo_bpm, tuning, None, timed=timed)
        takes.append(_later(take, first / sample_rate_hz))
        progress(half_s + (first + sound.size) / sample_rate_hz / 2)
    take = _joined(takes)
    return replace(take, first_beat_s=guessed_first_beat(take.notes, expected, 60.0 / tempo_bpm))


def _sounds(
    sound: Samples, sample_rate_hz: int, expected: Sequence[Note], tuning: Tuning
) -> Iterable[NoteSegment]:
    """The sounds of a stretch, whatever they answer."""
    lowest_midi = lowest_of(tuning.placed_midi(note.pitch) for note in expected)
    stream = FeatureStream(sample_rate_hz, tuning, lowest_midi)
    for piece in pieces(sound, sample_rate_hz):
        stream.feed(piece)
    features = stream.finished()
    return note_segments(features, features.course)


def _shares(
    found: Sequence[Sequence[NoteSegment]],
    expected: Sequence[Note],
    tempo_bpm: float,
    tuning: Tuning,
) -> list[list[Note]]:
    """For each stretch the expected notes answered in it; a missed one goes with the note before
    it."""
    sounded = realised(expected, 60.0 / tempo_bpm)
    asked = expected_notes(sounded, tempo_bpm, tuning, starts_known=False)
    stretch_of = [number for number, sounds in enumerate(found) for _ in sounds]
    _, answers = at_own_pace(list(chain.from_iterable(found)), asked)
    heard_in: dict[int, int] = {}
    for answer in answers:
        if answer.index is not None:
            heard_in.setdefault(sounded.owners[answer.index], stretch_of[answer.segment])
    shares: list[list[Note]] = [[] for _ in found]
    number = min(heard_in.items(), default=(0, 0))[1]
    for place, note in enumerate(expected):
        number = heard_in.get(place, number)
        shares[number].append(note)
    return shares


def _shifted(segment: NoteSegment, by_s: float) -> NoteSegment:
    return replace(segment, from_s=segment.from_s + by_s, to_s=segment.to_s + by_s)


def _later(take: Take, by_s: float) -> Take:
    """The take with times from the recording's beginning."""
    return replace(
        take,
        notes=tuple(_note_later(note, by_s) for note in take.notes),
        breaths_s=tuple((from_s + by_s, to_s + by_s) for from_s, to_s in take.breaths_s),
    )


def _note_later(note: HeardNote, by_s: float) -> HeardNote:
    times = {name: getattr(note, name) for name in ("onset_s", "speaks_s", "risen_s", "end_s")}
    return replace(note, **{name: at_s + by_s for name, at_s in times.items() if at_s is not None})


def _joined(takes: Sequence[Take]) -> Take:
    """One take of all; the room is that of the stretch in which most notes end."""
    between = [_rest_between(before, after) for before, after in pairwise(takes)]
    rooms = [take.room for take in takes if take.room is not None]
    return replace(
        takes[0],
        notes=tuple(note for take in takes for note in take.notes),
        breaths_s=tuple(
            rest
            for take, after in zip(takes, [*between, ()], strict=True)
            for rest in (*take.breaths_s, *after)
        ),
        room=max(rooms, key=_ends, default=None),
        warnings=_said_often(takes),
    )


def _ends(room: Room) -> int:
    return room.ends


def _rest_between(before: Take, after: Take) -> tuple[tuple[float, float], ...]:
    """The silence across a cut, where it is long enough for a breath."""
    ends_s = [note.end_s for note in before.notes if note.end_s is not None]
    begins_s = [note.onset_s for note in after.notes if note.onset_s is not None]
    if not ends_s or not begins_s or min(begins_s) - max(ends_s) < BREATH_FROM_S:
        return ()
    return ((max(ends_s), min(begins_s)),)


def _said_often(takes: Sequence[Take]) -> tuple[str, ...]:
    """The warnings of most of the stretches in which something sounded."""
    sounding = [take for take in takes if any(note.midi is not None for note in take.notes)]
    counts = Counter(warning for take in sounding or takes for warning in take.warnings)
    least = OFTEN * len(sounding or takes)
    return tuple(warning for warning, count in counts.items() if count >= least)
