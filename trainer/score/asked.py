"""What a round asks for, in words: how it is played, what sounds beside it, what is to be reached.

The preview and the sheet say the same; each sets it in its own way.
"""

from __future__ import annotations

from collections.abc import Iterator

from trainer.music.articulations import AnyArticulation, ArticulationPattern, places_of
from trainer.music.note import Start
from trainer.music.pulse import PLAIN_CLICK, ClickPart, Timbre
from trainer.routine.along import second_part_words
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Aims, PartnerPart, Round, RoundKind, Swell

SYLLABLES = {
    Start.SLURRED: "",
    Start.LEGATO_TONGUE: "d",
    Start.TONGUED: "t",
    Start.BACK_TONGUED: "k",
    Start.BREATH: "h",
    Start.SILENT_AIR: "(h)",
}
AS_WRITTEN = "as written"
_SWELLS = {
    Swell.LOUDER: "growing louder",
    Swell.SOFTER: "growing softer",
    Swell.THERE_AND_BACK: "louder and softer again",
}


def written_out(exercise: PlannedExercise) -> bool:
    """Whether the notes say themselves how they are begun."""
    return exercise.detail.startswith(AS_WRITTEN)


def part_of(round_: Round, exercise: PlannedExercise) -> str:
    """Which part of the exercise, or way with it, a round is: 'last 2 bars'; '' for the whole."""
    title = round_.title
    return title[len(exercise.title) :].lstrip(", ") if title.startswith(exercise.title) else title


def manner_of(round_: Round) -> Iterator[str]:
    """How the notes are to sound, beyond how they begin."""
    manner = round_.manner
    if round_.kind is RoundKind.CADENZA:
        yield "untimed"
    if manner.stands_s is not None:
        yield "untimed, each note until it settles"
    if manner.vibrato is not None:
        pulses = manner.vibrato.per_beat
        depth = f", {manner.vibrato.depth}" if manner.vibrato.depth else ""
        beat = f"{pulses} pulse{'s' * (pulses > 1)} to a beat"
        yield f"{beat}{depth}" if pulses else "straight tone"
    if manner.loudness:
        yield manner.loudness
    if manner.colour:
        yield manner.colour
    if manner.swell is not None:
        yield _SWELLS[manner.swell]
    if manner.beside_notes:
        yield manner.beside_notes


def syllables_of(articulation: AnyArticulation) -> str:
    """The syllables of its strokes, 't k'; '' for a pattern, whose slurs are drawn, and a slur."""
    if isinstance(articulation, ArticulationPattern):
        return ""
    return " ".join(SYLLABLES[start] for start, _ in places_of(articulation)).strip()


def tempo_of(round_: Round) -> str:
    """'60', '60 to 75' where it changes evenly, '60, then 80' where it changes at a note."""
    if round_.tempo_changes:
        changed = (f"{share * round_.tempo_bpm:.4g}" for _, share in round_.tempo_changes)
        return ", then ".join((f"{round_.tempo_bpm:g}", *changed))
    if round_.end_tempo_share == 1:
        return f"{round_.tempo_bpm:g}"
    return f"{round_.tempo_bpm:g} to {round_.tempo_bpm * round_.end_tempo_share:.0f}"


def partner_of(round_: Round) -> str:
    """What the trainer plays along; '' for nothing."""
    if round_.second_part:
        return second_part_words(round_)
    match round_.partner:
        case PartnerPart.DRONE if round_.drone_moves:
            return "drone with the harmony"
        case PartnerPart.DRONE if round_.drone is not None:
            return f"drone on {round_.drone.name}"
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


def click_of(click: ClickPart) -> Iterator[str]:
    """What the click does otherwise than usual."""
    if click.only_counts_in:
        yield "the click only counts in"
        return
    if click.subdivisions != PLAIN_CLICK.subdivisions:
        yield f"{click.subdivisions} taps to a beat"
    if click.sounding_bars:
        silent, sounding = click.silent_bars, click.sounding_bars
        bars = f"{silent} bar{'s' * (silent > 1)}"
        yield f"the click rests for {bars} after every {sounding if sounding > 1 else 'one'}"
    if click.timbre is not Timbre.TICK:
        yield f"the click is a {click.timbre}"


def aims_of(aims: Aims) -> Iterator[str]:
    """What is to be reached."""
    if aims.cents is not None:
        yield f"within {aims.cents:g} cents"
    if aims.evenness_ms is not None:
        yield f"even to {aims.evenness_ms:g} ms"
    if aims.clean is not None:
        yield f"{100 * aims.clean:g} % clean"


def flowing(words: str) -> list[str]:
    """The teacher's lines; one that stops in the middle of a sentence goes on in the next."""
    lines: list[str] = []
    for line in (one.strip() for one in words.strip().splitlines()):
        goes_on = lines and lines[-1] and not lines[-1].endswith((".", "!", "?", ":", "…"))
        if goes_on and line:
            lines[-1] += f" {line}"
        else:
            lines.append(line)
    return lines


def minutes_in_words(minutes: float) -> str:
    """About so long, in whole minutes and never none: '1 minute'."""
    whole = whole_minutes(minutes)
    return f"{whole} minute{'s' * (whole > 1)}"


def whole_minutes(minutes: float) -> int:
    """As a timetable says them: what is there at all takes a minute."""
    return max(1, round(minutes))
