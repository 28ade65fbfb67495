"""What was heard in a round of held notes, in figures: nothing but measured facts."""

from __future__ import annotations

from collections.abc import Callable
from statistics import median, median_low

from trainer.coach import thresholds
from trainer.coach.marks import Marks
from trainer.routine.round import RoundKind

HELD_KINDS = frozenset({RoundKind.SETTLING, RoundKind.VIBRATO, RoundKind.SWELLS})


def held_facts(marks: Marks) -> str:
    """'pulses at 4.0 a second where 4.0 is asked'; empty where there is nothing to tell."""
    tell = _FACTS.get(marks.kind)
    return "" if tell is None else tell(marks)


def _settling(marks: Marks) -> str:
    waited = [note.waited_s for note in marks.judged if note.waited_s is not None]
    return f"the longest took {max(waited):.1f} s to settle" if waited else ""


def _vibrato(marks: Marks) -> str:
    pulses = [note.pulse for note in marks.heard if note.pulse is not None]
    asked = marks.manner.vibrato
    if not pulses or asked is None:
        return ""
    cents = median(pulse.cents for pulse in pulses)
    if asked.per_beat == 0:
        most = median(pulse.most_cents for pulse in pulses)
        straight = most < thresholds.STRAIGHT_CENTS
        return f"the tone moved by no more than {most:.0f} cents to either side" if straight else ""
    asked_hz = asked.per_beat * marks.tempo_bpm / 60
    hz = median_low(pulse.hz for pulse in pulses)
    alike = sum(abs(pulse.hz / hz - 1) < thresholds.PULSE_RATE_SHARE for pulse in pulses)
    if alike < thresholds.MOSTLY * len(pulses):
        return ""  # a room hides the rate of some
    depth_known = all(pulse.depth_known for pulse in pulses)
    deep = f", {cents:.0f} cents deep" if depth_known else ""
    return f"pulses at {hz:.1f} a second where {asked_hz:.1f} is asked{deep}"


def _swells(marks: Marks) -> str:
    swells = [note.swelling for note in marks.heard if note.swelling is not None]
    if not swells:
        return ""
    grown_db = median(max(swell.grew_db, swell.fell_db) for swell in swells)
    moved = median(swell.moved_cents for swell in swells)
    return f"{grown_db:.0f} dB from soft to loud, the pitch within {moved:.0f} cents"


_FACTS: dict[RoundKind, Callable[[Marks], str]] = {
    RoundKind.SETTLING: _settling,
    RoundKind.VIBRATO: _vibrato,
    RoundKind.SWELLS: _swells,
}
