"""Which face the lane shows while a round is ready or sounds: the one place that decides."""

from __future__ import annotations

from trainer.routine.round import Round, RoundKind
from trainer.screens.drawing.canvas import Row
from trainer.screens.drawing.faces.breath_left import breath_rows
from trainer.screens.drawing.faces.heard_so_far import HeardSoFar, is_mostly_held
from trainer.screens.drawing.faces.held_tuning import tuning_rows
from trainer.screens.drawing.faces.settling import settling_rows
from trainer.screens.drawing.faces.swelling import swell_rows
from trainer.screens.drawing.faces.trill_speed import trill_rows
from trainer.screens.drawing.faces.vibrato_wave import pulse_rows
from trainer.screens.drawing.faces.whose_turn import turn_rows
from trainer.screens.drawing.systems import System

FACE_ROWS = 12
"""Of a lane that has room for a face of its own."""
ROOMY_KINDS = frozenset(
    {RoundKind.KNOT, RoundKind.BREATH, RoundKind.TRILLS, RoundKind.SETTLING, RoundKind.VOICING}
)


def wants_room(round_: Round) -> bool:
    """Whether the lane is worth more than the sight of the next system."""
    return round_.kind in ROOMY_KINDS or is_mostly_held(round_) or bool(round_.partner_notes)


def face_rows(
    round_: Round, system: System, heard: HeardSoFar, width: int, height: int
) -> tuple[Row, ...]:
    """The lane while the round sounds."""
    vibrato = round_.manner.vibrato
    if heard.standing is not None:
        return settling_rows(round_, system, heard, width, height)
    if round_.partner_notes:
        return turn_rows(round_, system, heard, width, height)
    if vibrato is not None and vibrato.per_beat > 0 and is_mostly_held(round_):
        return pulse_rows(round_, heard, width, height)
    if round_.manner.swell is not None:
        return swell_rows(round_, system, heard, width, height)
    match round_.kind:
        case RoundKind.TRILLS:
            return trill_rows(round_, system, heard, width, height)
        case RoundKind.BREATH:
            return breath_rows(round_, system, heard, width, height)
        case _:
            return tuning_rows(round_, system, heard, width, height)
