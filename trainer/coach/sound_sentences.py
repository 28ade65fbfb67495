"""Which sentence is said of the sound itself: settling, vibrato, swells, octaves, colours."""

from __future__ import annotations

from trainer.coach import thresholds
from trainer.coach.observations.observation import Observation
from trainer.music.pitch import Pitch
from trainer.wording.sentence_list import say


def settling(seen: Observation) -> str:
    """Notes that come from one side, or one that took long."""
    side = "sharp" if seen.amount > 0 else "flat"
    if seen.detail == "all":
        return say("began off", side=side)
    if seen.detail == "never":
        return say("never settled", a_note=seen.frm)
    if abs(seen.amount) >= thresholds.BEGAN_OFF_CENTS:
        return say("one began off", a_note=seen.frm, cents=_cents(seen), side=side)
    return say("slow to settle", a_note=seen.frm, seconds=seen.detail)


def vibrato(seen: Observation) -> str:
    """Straight, rate, regularity, depth, level."""
    if seen.detail == "rate":
        return say("pulses too fast" if seen.amount > 0 else "pulses too slow")
    return say(_VIBRATO[seen.detail])


_VIBRATO = {
    "none": "no pulse",
    "straight": "not straight",
    "uneven": "pulses unlike",
    "deeper": "not deeper",
    "lighter": "not lighter",
    "louder": "louder with pulses",
}
"""The sentence for each thing a vibrato may lack."""


def swell(seen: Observation) -> str:
    """A swell that is none, or one the pitch goes along with."""
    if seen.detail != "pitch":
        return say("swell small")
    return say("swell sharp" if seen.amount > 0 else "swell flat", cents=_cents(seen))


def octaves(seen: Observation) -> str:
    """How wide they are."""
    return say("octaves wide" if seen.amount > 0 else "octaves narrow", cents=_cents(seen))


def voice(seen: Observation) -> str:
    """One note that doesn't belong, or true notes beside their harmonics."""
    if seen.detail == "harmonic":
        return say("harmonic higher" if seen.amount > 0 else "harmonic lower", cents=_cents(seen))
    if seen.detail.startswith("thin"):
        what = "The true notes were" if seen.frm is None else f"{seen.frm} was"
        whose = "their harmonics" if seen.frm is None else "its harmonic, each time"
        return say("thinner than harmonic", what=what, whose=whose)
    return say("airy note", a_note=seen.frm)


def colour(seen: Observation) -> str:
    """Tuning that went with the colour, or a colour that did not change."""
    if seen.detail.startswith("same:"):
        now, then = seen.detail.removeprefix("same:").split("/")
        return say("colours alike", now=now, then=then)
    now, then = seen.detail.split("/")
    side = "higher" if seen.amount > 0 else "lower"
    return say("colours differ in tuning", now=now, then=then, cents=_cents(seen), side=side)


def trill(seen: Observation, because: str) -> str:
    """One of the two notes is long, or the finger is not steady."""
    notes = (note for note in (seen.frm, seen.to) if note is not None)
    lower, upper = sorted(notes, key=lambda note: note.midi)
    if seen.detail == "loose":
        return say("trill loose", a_note=lower, b_note=upper)
    long_note = _name(seen.frm)
    return say("trill limps", a_note=lower, b_note=upper, long_note=long_note, why=because)


def pinched(seen: Observation) -> str:
    """A squeezed top."""
    how = "thin and hissing" if seen.detail == "pinched" else "thin"
    return say("high notes thin", a_note=seen.frm, how=how)


def _cents(seen: Observation) -> str:
    return f"{abs(seen.amount):.0f}"


def _name(pitch: Pitch | None) -> str:
    return "note" if pitch is None else pitch.name
