"""What a sheet says over the music: tempo, rounds, partner, aims and time, as HTML."""

from __future__ import annotations

from trainer.music.articulations import AnyArticulation
from trainer.paper.page_words import escape
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round
from trainer.routine.titles import duration_in_words
from trainer.score.asked import (
    AS_WRITTEN,
    aims_of,
    click_of,
    manner_of,
    minutes_in_words,
    part_of,
    partner_of,
    syllables_of,
    tempo_of,
    written_out,
)
from trainer.score.tempo_sign import tempo_sign

_DOT = '<span class="dot"> · </span>'


def tempo_html(exercise: PlannedExercise) -> str:
    """The tempo with its note value: a climb's from and to."""
    first = exercise.rounds[0]
    if not first.in_time:
        first = next((one for one in exercise.rounds if one.in_time), first)
    sign = tempo_sign(first.beat_quarters)
    if exercise.climb is not None:
        climb = exercise.climb
        way = "and" if climb.in_turns else "towards"
        return f"{sign} = {climb.from_bpm:g} {way} {climb.to_bpm:g}"
    tempos = dict.fromkeys(_begins_at(round_) for round_ in exercise.rounds)
    return f"{sign} = {', '.join(tempos)}"


def _begins_at(round_: Round) -> str:
    """Its tempo; changes inside stand over their notes."""
    return f"{round_.tempo_bpm:g}" if round_.tempo_changes else tempo_of(round_)


def asked_html(exercise: PlannedExercise) -> str:
    """What is asked: rounds, partner, aims, time; in one line where rounds are alike."""
    rounds, detail = _rounds(exercise), _detail(exercise)
    alike = len(set(_said(exercise))) == 1
    if alike or _DOT not in detail:
        return f'<p class="rounds">{rounds}{_DOT}<span class="detail">{detail}</span></p>'
    return f'<p class="rounds">{rounds}</p><p class="rounds detail">{detail}</p>'


def _detail(exercise: PlannedExercise) -> str:
    first = exercise.rounds[0]
    until = str(exercise.until or "")
    parts = [partner_of(first), *click_of(first.click), until, *aims_of(first.aims)]
    parts.append(minutes_in_words(exercise.minutes))
    return _DOT.join(escape(part) for part in parts if part)


def _rounds(exercise: PlannedExercise) -> str:
    """'1 slurred  2 legato tongue'; of equal rounds how many there are."""
    said = _said(exercise)
    if exercise.climb is not None:
        return f"{said[0]}, within {duration_in_words(60 * exercise.climb.minutes)}"
    if len(set(said)) == 1:
        return said[0] if len(said) == 1 else f"{len(said)} rounds, {said[0]}"
    return " ".join(
        f'<span class="round"><b>{number}</b>&nbsp;{one}</span>'
        for number, one in enumerate(said, start=1)
    )


def _said(exercise: PlannedExercise) -> list[str]:
    """How each round is played, and how fast where they differ."""
    tempos = {round_.tempo_bpm for round_ in exercise.rounds if round_.in_time}
    found = []
    for round_ in exercise.rounds:
        parts = [] if written_out(exercise) else [_articulation(round_.articulation)]
        parts += map(escape, (*manner_of(round_), part_of(round_, exercise)))
        said = ", ".join(part for part in parts if part) or AS_WRITTEN
        at = f" at {_begins_at(round_)}" if len(tempos) > 1 and round_.in_time else ""
        found.append(said + at)
    return found


def _articulation(articulation: AnyArticulation) -> str:
    """'double <i>t k</i>': with the syllables of its strokes."""
    syllables = syllables_of(articulation)
    return f"{articulation} <i>{syllables}</i>" if syllables else str(articulation)
