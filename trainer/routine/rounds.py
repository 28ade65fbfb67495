"""The rounds of one exercise on a day: its notes, each time as the teacher asks for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import cycle, islice
from random import Random

from trainer.music.articulations import AnyArticulation, articulated
from trainer.music.bars import COMMON_TIME, count_in_of
from trainer.music.harmony import roots_under
from trainer.music.instrument import instrument_named
from trainer.music.key import Key
from trainer.music.note import Articulation, Note, Start
from trainer.music.rhythm import in_rhythm
from trainer.music.tuning import Tuning
from trainer.routine.cadenza import parted_at_cadenzas
from trainer.routine.exercise_notes import (
    drone_of,
    notes_of,
    scale_form,
    signature_of,
    trill_notes,
)
from trainer.routine.loudness import with_loudness
from trainer.routine.model import (
    ArticulationChoice,
    AsWritten,
    DifferentEveryRound,
    DroneOn,
    Exercise,
    InOrder,
    LongTones,
    Partner,
    Passage,
    Routine,
    Scale,
    Trills,
    Voicing,
)
from trainer.routine.practice_way import each_practised
from trainer.routine.round import Aims, Manner, PartnerPart, Round, RoundKind
from trainer.routine.second_part import PARALLEL_STEPS, beside_melody, beside_scale, in_canon
from trainer.routine.titles import title_of
from trainer.routine.turns import shared_out


def rounds_of(
    routine: Routine, exercise: Exercise, key: Key | None, random: Random
) -> tuple[Round, ...]:
    """Every round in time, after one out of time where the teacher lets the notes settle first."""
    notes = notes_of(routine, exercise, key)
    first = _first_round(routine, exercise, key, notes)
    cadenzas = exercise.cadenzas if isinstance(exercise, Passage) else ()
    parts = [
        part
        for round_ in _in_time(exercise, first, random)
        for part in parted_at_cadenzas(round_, cadenzas)
    ]
    in_time = each_practised(parts, exercise.ways)
    together = tuple(_with_partners_notes(round_, routine, exercise, key) for round_ in in_time)
    if exercise.settle_s is None:
        return together
    settling = replace(
        in_time[0],
        kind=RoundKind.SETTLING,
        partner=None if first.partner is not PartnerPart.DRONE else first.partner,
        manner=Manner(stands_s=exercise.settle_s),
        count_in_beats=0,
    )
    return (settling, *(replace(round_, number=round_.number + 1) for round_ in together))


def _with_partners_notes(
    round_: Round, routine: Routine, exercise: Exercise, key: Key | None
) -> Round:
    """The round with what the partner has to itself: turns, a second part, a drone that moves."""
    partner = exercise.partner
    if partner is None or not round_.in_time:
        return round_
    if partner.part in (PartnerPart.CALLS, PartnerPart.TURNS):
        return _with_turns(round_, partner)
    if partner.part is PartnerPart.CANON:
        behind = partner.behind_bars * round_.beats_per_bar + partner.behind_beats
        return replace(round_, second_part=in_canon(round_.notes, behind))
    if partner.part in PARALLEL_STEPS and key is not None:
        second = _parallel(round_, routine, exercise, key)
        return replace(round_, second_part=second, second_pure=exercise.pure)
    if partner.drone_on is DroneOn.HARMONY and key is not None:
        moves = roots_under(round_.notes, round_.bars, key)
        return replace(round_, drone_moves=moves)
    return round_


def _parallel(round_: Round, routine: Routine, exercise: Exercise, key: Key) -> tuple[Note, ...]:
    """The partner's notes in thirds or sixths; it is nowhere asked beyond the routine's range."""
    part, low, high = round_.partner, routine.lowest, routine.highest
    assert part is not None
    if isinstance(exercise, Scale):
        form = scale_form(exercise, key)
        return beside_scale(round_.notes, part, key.tonic, form, low, high)
    return beside_melody(round_.notes, part, round_.bars, key, low, high)


def _with_turns(round_: Round, partner: Partner) -> Round:
    """The round with what the partner plays alone, where the two take turns."""
    answered = partner.part is PartnerPart.CALLS
    own, partners, bars = shared_out(
        round_.notes, round_.bars, partner.turn_bars, answered=answered
    )
    return replace(
        round_,
        notes=own,
        partner_notes=partners,
        changes=bars.changes,
        ends_on_beat=Fraction(0),
    )


def _in_time(exercise: Exercise, first: Round, random: Random) -> tuple[Round, ...]:
    if isinstance(exercise, Trills):
        return tuple(
            replace(first, number=number, notes=articulated(trill_notes(exercise, per_beat), SLUR))
            for number, per_beat in enumerate(exercise.per_beat, start=1)
        )
    rounds = exercise.rounds or _varied_rounds(exercise)
    if isinstance(exercise.articulations, AsWritten):
        plain = tuple(
            replace(first, number=1 + turn, as_written=True) for turn in range(rounds or 1)
        )
    else:
        plain = tuple(
            with_articulation(first, articulation, number)
            for number, articulation in enumerate(
                _articulations(exercise.articulations, rounds, random), start=1
            )
        )
    return tuple(
        replace(one, manner=_manner(exercise, turn), notes=_shaped(one.notes, exercise, turn))
        for turn, one in enumerate(plain)
    )


def _shaped(notes: tuple[Note, ...], exercise: Exercise, turn: int) -> tuple[Note, ...]:
    """The notes in the round's practice rhythm and as loud as it is asked."""
    notes = _in_figure(notes, exercise.figures, turn)
    asked = exercise.loudness
    return with_loudness(notes, asked[turn % len(asked)]) if asked else notes


def _in_figure(
    notes: tuple[Note, ...], figures: Sequence[tuple[int, ...]], turn: int
) -> tuple[Note, ...]:
    """The notes in the practice rhythm of the round; an empty figure leaves them even."""
    lengths = figures[turn % len(figures)] if figures else ()
    return in_rhythm(notes, lengths) if lengths else notes


SLUR = Articulation.SLURRED


def _varied_rounds(exercise: Exercise) -> int | None:
    """Enough rounds for every vibrato, colour and articulation asked for; None: nothing varies."""
    asked = (exercise.vibrato, exercise.colours, exercise.figures, exercise.loudness)
    varied = max(map(len, asked))
    if not varied:
        return None
    match exercise.articulations:
        case InOrder(articulations) | DifferentEveryRound(articulations):
            return max(varied, len(articulations))
    return varied


def _manner(exercise: Exercise, turn: int) -> Manner:
    vibrato, colours = exercise.vibrato, exercise.colours
    return Manner(
        vibrato=vibrato[turn % len(vibrato)] if vibrato else None,
        swell=exercise.swell if isinstance(exercise, LongTones) else None,
        colour=colours[turn % len(colours)] if colours else "",
        loudness=str(exercise.loudness[turn % len(exercise.loudness)]) if exercise.loudness else "",
        unjudged=exercise.unjudged,
    )


def _first_round(
    routine: Routine, exercise: Exercise, key: Key | None, notes: tuple[Note, ...]
) -> Round:
    partner = exercise.partner
    holds = partner is not None and partner.part is PartnerPart.DRONE
    held = drone_of(key, partner) if partner is not None and holds and key is not None else None
    pure_above = instrument_named(routine.instrument).sounding(held) if held else None
    meter = exercise.meter if isinstance(exercise, Passage) else COMMON_TIME
    return Round(
        exercise_id=exercise.id,
        title=title_of(exercise, key),
        kind=_kind(exercise),
        number=1,
        key=signature_of(exercise, key),
        articulation=_written_articulation(notes),
        tempo_bpm=exercise.tempo_bpm,
        notes=notes,
        beats_per_bar=meter.beats_per_bar,
        beat_quarters=meter.beat_quarters,
        aims=exercise.aims if exercise.unjudged is None else Aims(),
        partner=partner.part if partner is not None else None,
        words=exercise.words,
        count_in_beats=count_in_of(meter),
        tuning=Tuning(routine.a4_hz, pure_above if exercise.pure else None),
        drone=held,
        click=exercise.click,
        ends_on_beat=exercise.end if isinstance(exercise, Passage) else Fraction(0),
        upbeat_beats=exercise.upbeat if isinstance(exercise, Passage) else Fraction(0),
        changes=exercise.changes if isinstance(exercise, Passage) else (),
        end_tempo_share=(exercise.end_bpm or exercise.tempo_bpm) / exercise.tempo_bpm,
        partner_level_db=exercise.partner_level_db,
        breaths_asked=not exercise.breaths.as_needed or isinstance(exercise, Passage),
    )


def _kind(exercise: Exercise) -> RoundKind:
    if exercise.climb is not None:
        return RoundKind.CLIMB
    if exercise.vibrato:
        return RoundKind.VIBRATO
    if exercise.colours:
        return RoundKind.COLOURS
    match exercise:
        case Passage(one_breath=True):
            return RoundKind.BREATH
        case Passage():
            return RoundKind.PASSAGE
        case Trills():
            return RoundKind.TRILLS
        case LongTones(swell=swell) if swell is not None:
            return RoundKind.SWELLS
        case LongTones():
            return RoundKind.LONG_TONES
        case Voicing():
            return RoundKind.VOICING
    return RoundKind.TECHNIQUE


def _written_articulation(notes: Sequence[Note]) -> Articulation:
    """What a passage as written is called: slurred where more notes are slurred than tongued."""
    slurred = sum(note.start is Start.SLURRED for note in notes)
    return Articulation.SLURRED if 2 * slurred > len(notes) else Articulation.SINGLE


def _articulations(
    choice: ArticulationChoice, rounds: int | None, random: Random
) -> tuple[AnyArticulation, ...]:
    match choice:
        case InOrder(articulations):
            return tuple(islice(cycle(articulations), rounds or len(articulations)))
        case DifferentEveryRound(pool):
            return _drawn(pool, rounds or len(pool), random)
    return ()


def _drawn(
    pool: tuple[AnyArticulation, ...], rounds: int, random: Random
) -> tuple[AnyArticulation, ...]:
    """As many as there are rounds; none again until all have come, and none twice running."""
    drawn: list[AnyArticulation] = []
    while len(drawn) < rounds:
        turn = random.sample(pool, len(pool))
        if drawn and turn[0] == drawn[-1]:
            turn.reverse()
        drawn += turn
    return tuple(drawn[:rounds])


def with_articulation(round_: Round, articulation: AnyArticulation, number: int) -> Round:
    """The same round with another articulation, as round `number` of its exercise."""
    notes = articulated(round_.notes, articulation)
    return replace(round_, articulation=articulation, notes=notes, number=number, as_written=False)
