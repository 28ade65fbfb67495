"""A finished round as the journal keeps it."""

from __future__ import annotations

from datetime import datetime

from trainer.coach.advice import UNJUDGED, Topic
from trainer.coach.marks import Marks
from trainer.ear.heard import HeardNote, Take
from trainer.journal.log import NoteLog, RoundLog
from trainer.music.pitch import sharp_name
from trainer.routine.round import Round


def round_log(
    round_: Round,
    heard: tuple[Take, Marks] | None,
    *,
    advice_sentence: str,
    topic: Topic | None,
    strength: float | None = None,
    started: datetime,
    seconds: float,
    felt: str = "",
) -> RoundLog:
    """The log of a finished round.

    `heard` is None when the trainer did not listen. `seconds` is the time played.
    """
    take, marks = heard if heard is not None else (None, None)
    return RoundLog(
        exercise_id=round_.exercise_id,
        title=round_.title,
        kind=round_.kind,
        number=round_.number,
        articulation=round_.articulation,
        tempo_bpm=round_.tempo_bpm,
        started=started,
        seconds=seconds,
        key=round_.key.name if round_.key else "",
        knot=tuple(map(str, round_.knot)),
        aims=round_.aims,
        secure=secure(topic),
        advice=advice_sentence,
        topic=topic.value if topic else "",
        strength=strength,
        felt=felt,
        measures=marks.measures if marks else None,
        notes=_note_logs(round_, take, marks) if take and marks else (),
        breaths_s=take.breaths_s if take else (),
        warnings=take.warnings if take else (),
    )


def secure(topic: Topic | None) -> bool | None:
    """Whether the coach found nothing to say; None where it could not tell."""
    if topic is None or topic in UNJUDGED or topic is Topic.LEFT_OPEN:
        return None
    return topic is Topic.SECURE


def _note_logs(round_: Round, take: Take, marks: Marks) -> tuple[NoteLog, ...]:
    written = [str(note.pitch) for note in round_.notes]
    off_ms = {mark.index: mark.off_ms for mark in marks.notes}
    transposition = _transposition(round_, take)

    def note_log(heard: HeardNote) -> NoteLog:
        if heard.index is not None:
            return _heard_log(heard, written[heard.index], off_ms[heard.index])
        sounded = None if heard.midi is None else sharp_name(round(heard.midi) + transposition)
        replaced = None if heard.instead_of is None else written[heard.instead_of]
        return _heard_log(heard, sounded, instead_of=replaced)

    return tuple(note_log(heard) for heard in take.notes)


def _transposition(round_: Round, take: Take) -> int:
    """Semitones from what sounds to what is written: 0 for the C flute, 5 for the alto flute."""
    for heard in take.notes:
        if heard.index is not None and heard.expected is not None:
            return round_.notes[heard.index].pitch.midi - heard.expected.midi
    return 0


def _heard_log(
    heard: HeardNote,
    written: str | None,
    off_ms: float | None = None,
    instead_of: str | None = None,
) -> NoteLog:
    return NoteLog(
        written=written,
        state=heard.state,
        cents=heard.cents,
        cents_spread=heard.cents_spread,
        drift_cents=heard.drift_cents,
        off_ms=off_ms,
        level_db=heard.level_db,
        start=heard.start,
        start_certainty=heard.start_certainty,
        attack_ms=None if heard.attack_s is None else 1000 * heard.attack_s,
        vibrato_hz=heard.vibrato_hz,
        vibrato_cents=heard.vibrato_cents,
        tone=heard.tone,
        blip=heard.blip,
        instead_of=instead_of,
    )
