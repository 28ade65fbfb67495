"""Grace notes and ornaments as heard: put together again into the written note they belong to.

An ornament is free: how fast it is, how often it turns, whether a grace note comes early and
whether it was played at all is never counted against the player.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from trainer.ear.heard import WRONG_SEMITONES, HeardNote, State
from trainer.music.note import Note
from trainer.music.ornaments import Realised
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning

LONG_ENOUGH_S = 0.25
"""A note within an ornament has a pitch worth judging when it stands so long: about one cycle of a
slow vibrato. Our own estimate."""


def put_together(heard: Sequence[HeardNote], sounded: Realised, tuning: Tuning) -> list[HeardNote]:
    """What was heard, note by note as written; `heard` answers the notes as they sound.

    Of what lies in an ornament nothing is left but its main note: as played where it was heard,
    else as not judged. Sounds of the ornament's own pitches around it are part of it.
    """
    heard = _trills_out(heard, sounded, tuning)
    members: dict[int, list[HeardNote]] = defaultdict(list)
    for note in heard:
        if note.index is not None:
            members[sounded.owners[note.index]].append(note)
    ornamented = {place for place, note in enumerate(sounded.written) if note.ornamented}
    owners = [None if n.index is None else sounded.owners[n.index] for n in heard]
    told: set[int] = set()
    found: list[HeardNote] = []
    for place, note in enumerate(heard):
        owner = owners[place]
        if owner is None:
            if not _belongs(note, _beside(owners, place) & ornamented, sounded, tuning):
                found.append(_instead(note, sounded))
        elif owner not in ornamented:
            found.append(replace(note, index=sounded.written[owner].index))
        elif owner not in told:
            told.add(owner)
            found.append(_main_note(sounded.written[owner], members[owner]))
    return found


def _trills_out(
    heard: Sequence[HeardNote], sounded: Realised, tuning: Tuning
) -> tuple[HeardNote, ...]:
    """What was heard, with long trills played out before the note after them may be answered.

    A trill with more turns than was thought goes on after a sound that was taken for the next note:
    of the sounds of its own two pitches the last one is that note, where it has its pitch.
    """
    found: list[HeardNote] = []
    place = 0
    while place < len(heard):
        note = heard[place]
        place += 1
        owner = None if note.index is None else sounded.owners[note.index]
        before = sounded.written[owner - 1] if owner else None
        if before is None or before.ornament is None or sounded.written[owner or 0].ornamented:
            found.append(note)
            continue
        run = [note]
        while place < len(heard) and _of_pitches(heard[place], before, tuning):
            run.append(heard[place])
            place += 1
        found.append(_last_of(run, tuning) if note.state is State.PLAYED else note)
    return tuple(found)


def _of_pitches(note: HeardNote, ornamented: Note, tuning: Tuning) -> bool:
    """Whether a sound that answers nothing has one of the pitches of an ornament."""
    if note.index is not None or note.midi is None:
        return False
    midis = (tuning.placed_midi(pitch) for pitch in _pitches(ornamented))
    return any(abs(note.midi - midi) < WRONG_SEMITONES for midi in midis)


def _last_of(run: Sequence[HeardNote], tuning: Tuning) -> HeardNote:
    """The answer to the first of the run: its last sound, or not judged where that is another."""
    first, last = run[0], run[-1]
    if first is last or first.expected is None or last.midi is None:
        return first
    cents = 100 * (last.midi - tuning.placed_midi(first.expected))
    if abs(cents) > 100 * WRONG_SEMITONES:
        return HeardNote(first.index, first.expected, State.NOT_JUDGED)
    return replace(
        last,
        index=first.index,
        expected=first.expected,
        state=State.PLAYED,
        cents=cents,
        instead_of=None,
        start=None,
        start_certainty=None,
    )


def _beside(owners: Sequence[int | None], place: int) -> set[int]:
    """The written notes answered last before a sound and first after it."""
    before = next((one for one in reversed(owners[:place]) if one is not None), None)
    after = next((one for one in owners[place + 1 :] if one is not None), None)
    return {one for one in (before, after) if one is not None}


def _belongs(note: HeardNote, beside: set[int], sounded: Realised, tuning: Tuning) -> bool:
    """Whether a sound that answers nothing is part of an ornament beside it."""
    if note.instead_of is not None and sounded.written[sounded.owners[note.instead_of]].ornamented:
        return True
    return any(_of_pitches(note, sounded.written[owner], tuning) for owner in beside)


def _pitches(note: Note) -> tuple[Pitch, ...]:
    return (note.pitch, *note.graces, *note.neighbours)


def _instead(note: HeardNote, sounded: Realised) -> HeardNote:
    if note.instead_of is None:
        return note
    return replace(note, instead_of=sounded.written[sounded.owners[note.instead_of]].index)


def _main_note(written: Note, members: Sequence[HeardNote]) -> HeardNote:
    """The written note, from the longest of its own pitch; how it began, from its first sound."""
    played = [one for one in members if one.state is State.PLAYED]
    main = [one for one in played if one.expected is not None and one.expected == written.pitch]
    longest = max(main, key=_seconds, default=None)
    if longest is None:
        return HeardNote(written.index, written.pitch, State.NOT_JUDGED)
    first = members[0] if members[0].state is State.PLAYED else None
    stands = _seconds(longest) >= LONG_ENOUGH_S
    return replace(
        longest,
        index=written.index,
        onset_s=min((one.onset_s for one in main if one.onset_s is not None), default=None),
        end_s=max((one.end_s for one in main if one.end_s is not None), default=None),
        cents=longest.cents if stands else None,
        cents_spread=longest.cents_spread if stands else None,
        drift_cents=longest.drift_cents if stands else None,
        vibrato_hz=None,
        vibrato_cents=None,
        start=first.start if first is not None else None,
        start_certainty=first.start_certainty if first is not None else None,
        speaks_s=None,
        risen_s=None,
        attack_s=None,
        blip=False,
    )


def _seconds(note: HeardNote) -> float:
    if note.onset_s is None or note.end_s is None:
        return 0.0
    return note.end_s - note.onset_s
