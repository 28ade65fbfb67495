"""What a sheet says over the music: tempo, rounds, partner, aims and time, as HTML."""

from __future__ import annotations

from collections.abc import Iterator

from trainer.music.articulations import AnyArticulation, ArticulationPattern, places_of
from trainer.music.note import Start
from trainer.paper.page_words import escape
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import PartnerPart, Round
from trainer.score.tempo_sign import tempo_sign

SYLLABLES = {
    Start.SLURRED: "",
    Start.LEGATO_TONGUE: "d",
    Start.TONGUED: "t",
    Start.BACK_TONGUED: "k",
    Start.BREATH: "h",
    Start.SILENT_AIR: "(h)",
}
AS_WRITTEN = "as written"
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
    tempos = dict.fromkeys(_tempo_of(round_) for round_ in exercise.rounds)
    return f"{sign} = {', '.join(tempos)}"


def _tempo_of(round_: Round) -> str:
    """'60', or '60 to 75' where it changes on the way."""
    if round_.end_tempo_share == 1:
        return f"{round_.tempo_bpm:g}"
    return f"{round_.tempo_bpm:g} to {round_.tempo_bpm * round_.end_tempo_share:.0f}"


def asked_html(exercise: PlannedExercise) -> str:
    """What is asked: rounds, partner, aims, time; in one line where rounds are alike."""
    rounds, detail = _rounds(exercise), _detail(exercise)
    alike = len(set(_said(exercise))) == 1
    if alike or _DOT not in detail:
        return f'<p class="rounds">{rounds}{_DOT}<span class="detail">{detail}</span></p>'
    return f'<p class="rounds">{rounds}</p><p class="rounds detail">{detail}</p>'


def _detail(exercise: PlannedExercise) -> str:
    first = exercise.rounds[0]
    minutes = max(1, round(exercise.minutes))
    parts = [_partner(first), *_aims(first), f"{minutes} minute{'s' * (minutes > 1)}"]
    return _DOT.join(part for part in parts if part)


def _rounds(exercise: PlannedExercise) -> str:
    """'1 slurred  2 legato tongue'; of equal rounds how many there are."""
    said = _said(exercise)
    if exercise.climb is not None:
        return f"{said[0]}, within {exercise.climb.minutes:g} minutes"
    if len(set(said)) == 1:
        return said[0] if len(said) == 1 else f"{len(said)} rounds, {said[0]}"
    return " ".join(
        f'<span class="round"><b>{number}</b>&nbsp;{one}</span>'
        for number, one in enumerate(said, start=1)
    )


def _said(exercise: PlannedExercise) -> list[str]:
    """How each round is played."""
    written = exercise.detail.startswith(AS_WRITTEN)
    return [_said_of(round_, written=written) for round_ in exercise.rounds]


def _said_of(round_: Round, *, written: bool) -> str:
    parts = [] if written else [_articulation(round_.articulation)]
    manner = round_.manner
    if manner.stands_s is not None:
        parts.append("out of time, each note until it stands")
    if manner.vibrato is not None:
        pulses = manner.vibrato.per_beat
        depth = f", {manner.vibrato.depth}" if manner.vibrato.depth else ""
        parts.append(f"{pulses} pulses to a beat{depth}" if pulses else "straight tone")
    if manner.loudness:
        parts.append(manner.loudness)
    if manner.colour:
        parts.append(escape(manner.colour))
    if manner.swell is not None:
        parts.append(str(manner.swell))
    if manner.unjudged is not None:
        parts.append(str(manner.unjudged))
    return ", ".join(parts) or AS_WRITTEN


def _articulation(articulation: AnyArticulation) -> str:
    """'double <i>t k</i>': with the syllables of its strokes."""
    if isinstance(articulation, ArticulationPattern):
        return str(articulation)
    syllables = " ".join(SYLLABLES[start] for start, _ in places_of(articulation))
    return f"{articulation} <i>{syllables}</i>" if syllables else str(articulation)


def _partner(round_: Round) -> str:
    match round_.partner:
        case PartnerPart.DRONE if round_.drone is not None:
            return f"drone on {escape(round_.drone.name)}"
        case PartnerPart.SAME_NOTES:
            return "with the partner"
        case PartnerPart.OCTAVE_BELOW:
            return "partner an octave below"
        case PartnerPart.LEADS:
            return "the partner plays it first"
        case PartnerPart.CALLS:
            return "call and answer: the rests are the partner's"
        case PartnerPart.TURNS:
            return "in turns: the rests are the partner's"
    return ""


def _aims(round_: Round) -> Iterator[str]:
    aims = round_.aims
    if aims.cents is not None:
        yield f"within {aims.cents:g} cents"
    if aims.evenness_ms is not None:
        yield f"even to {aims.evenness_ms:g} ms"
    if aims.clean is not None:
        yield f"{100 * aims.clean:g} % clean"
