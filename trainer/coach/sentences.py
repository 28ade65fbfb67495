"""Which sentence is said of each thing that can be noticed in a round, and what is put into it."""

from __future__ import annotations

from collections.abc import Callable

from trainer.coach import sound_sentences
from trainer.coach.advice import Topic
from trainer.coach.observations.observation import Observation
from trainer.music.pitch import Pitch
from trainer.wording.sentence_list import say

_COUNTS = ("never", "once", "twice", "three times", "four times", "five times", "six times")
_OCTAVES = (12, 19, 24)
"""Semitones to the next notes on the same fingering: harmonics 2, 3 and 4."""


def sentence(seen: Observation) -> str:
    """The observation in one sentence: what was heard, and what to do about it."""
    return _SENTENCES[seen.topic](seen)


def _notes(seen: Observation) -> str:
    if seen.detail == "stopped":
        return say("stopped", a_note=seen.frm)
    if seen.detail == "left out":
        name = "began later" if seen.frm is None else "notes left out"
        return say(name, a_note=seen.frm, b_note=seen.to, count=seen.times)
    if seen.detail == "went back":
        return say("went back", a_note=seen.frm)
    if seen.frm is None or seen.to is None:
        return say("notes lost", share=_share(seen), places=seen.detail)
    shift = seen.to.midi - seen.frm.midi
    if abs(shift) in _OCTAVES:
        name = "jumped up" if shift > 0 else "fell"
        return say(name, a_note=seen.frm, b_note=seen.to, times=_how_often(seen))
    return say(
        "wrong note",
        a_note=seen.frm.name,
        b_note=seen.to.name,
        times=_how_often(seen),
        spoken_note=_spoken(seen.frm),
    )


def _tuning_high(seen: Observation) -> str:
    name = "high notes sharp" if seen.amount > 0 else "high notes flat"
    return say(name, cents=_cents(seen), a_note=seen.frm)


def _tuning_low(seen: Observation) -> str:
    name = "low notes sharp" if seen.amount > 0 else "low notes flat"
    return say(name, cents=_cents(seen), a_note=seen.frm)


def _tuning(seen: Observation) -> str:
    side = "sharp" if seen.amount > 0 else "flat"
    if seen.frm is not None:
        return say(f"note {side}", a_note=seen.frm, cents=_cents(seen))
    return say(f"all {side}", cents=_cents(seen))


def _cents(seen: Observation) -> str:
    return f"{abs(seen.amount):.0f}"


def _held(seen: Observation) -> str:
    name = "long notes sank" if seen.amount < 0 else "long notes rose"
    return say(name, cents=_cents(seen))


def _evenness(seen: Observation) -> str:
    if seen.detail == "all":
        return say("uneven")
    return say("uneven in groups", which=seen.detail, side="late" if seen.amount > 0 else "early")


def _crossing(seen: Observation) -> str:
    return say(
        "late change",
        a_note=seen.frm,
        b_note=seen.to,
        times=_how_often(seen),
        why=_because(seen.detail),
    )


def _back_syllable(seen: Observation) -> str:
    return say("K weak" if seen.detail == "weak" else "K late")


def _late_note(seen: Observation) -> str:
    return say("late note", a_note=seen.frm, times=_how_often(seen))


def _slow_to_speak(seen: Observation) -> str:
    return say("slow to speak", a_note=seen.frm, times=_how_often(seen))


def _rushing(seen: Observation) -> str:
    return say("got faster" if seen.detail == "changing" else "too fast")


def _dragging(seen: Observation) -> str:
    return say("got slower" if seen.detail == "changing" else "too slow")


_STARTED = {
    "slurred": "were slurred",
    "legato tongue": "had the legato tongue",
    "tongued": "were tongued",
    "back-tongued": "were tongued",
    "breath": "began with breath alone",
    "silent air": "were air alone",
}
"""How notes began, by what was asked."""


def _start(seen: Observation) -> str:
    if seen.where:
        where = f"{seen.where[0].upper()}{seen.where[1:]}"
        verb = "were" if "notes" in where else "was"
        name = (
            "slurred, not tongued" if seen.detail.startswith("slurred") else "tongued, not slurred"
        )
        return say(name, where=where, verb=verb, share=f"{seen.times} of {seen.chances}")
    asked = seen.detail.partition(" where ")[2].removesuffix(" was asked")
    right = f"{seen.chances - seen.times} of {seen.chances}"
    return say("not started as asked", share=right, asked=_STARTED.get(asked, f"were {asked}"))


def _blip(seen: Observation) -> str:
    if seen.frm is None:
        return say("false notes", times=_count(seen.times), places=seen.detail)
    return say(
        "false note",
        a_note=seen.frm,
        b_note=seen.to,
        times=_how_often(seen),
        why=_because(seen.detail),
    )


def _tone(seen: Observation) -> str:
    if seen.detail in ("pinched", "thin"):
        return sound_sentences.pinched(seen)
    where = f"From {seen.frm} up the sound" if seen.frm is not None else "The sound"
    return say("tone changed", where=where, how=seen.detail)


def _trill(seen: Observation) -> str:
    return sound_sentences.trill(seen, _because(seen.detail))


def _breath(seen: Observation) -> str:
    if seen.detail == "elsewhere":
        distance = _notes_away(seen.amount)
        return say("breath elsewhere", a_note=seen.frm, distance=distance, b_note=seen.to)
    name = {"left out": "breath left out", "stop": "stopped after"}.get(
        seen.detail, "breath unmarked"
    )
    return say(name, a_note=seen.frm)


def _notes_away(notes: float) -> str:
    """'2 notes later'."""
    side = "later" if notes > 0 else "earlier"
    return f"{abs(notes):.0f} note{'s' * (abs(notes) > 1)} {side}"


def _fading(_: Observation) -> str:
    return say("faded")


_SENTENCES: dict[Topic, Callable[[Observation], str]] = {
    Topic.NOTES: _notes,
    Topic.TUNING_HIGH: _tuning_high,
    Topic.TUNING_LOW: _tuning_low,
    Topic.TUNING: _tuning,
    Topic.HELD: _held,
    Topic.EVENNESS: _evenness,
    Topic.CROSSING: _crossing,
    Topic.BACK_SYLLABLE: _back_syllable,
    Topic.LATE_NOTE: _late_note,
    Topic.SLOW_TO_SPEAK: _slow_to_speak,
    Topic.RUSHING: _rushing,
    Topic.DRAGGING: _dragging,
    Topic.START: _start,
    Topic.BLIP: _blip,
    Topic.TONE: _tone,
    Topic.BREATH: _breath,
    Topic.FADING: _fading,
    Topic.SETTLING: sound_sentences.settling,
    Topic.VIBRATO: sound_sentences.vibrato,
    Topic.SWELL: sound_sentences.swell,
    Topic.OCTAVES: sound_sentences.octaves,
    Topic.VOICE: sound_sentences.voice,
    Topic.COLOUR: sound_sentences.colour,
    Topic.TRILL: _trill,
}


def _count(times: int) -> str:
    return _COUNTS[times] if 0 < times < len(_COUNTS) else f"{times} times"


def _share(seen: Observation) -> str:
    return f"{seen.times} of {seen.chances}"


def _how_often(seen: Observation) -> str:
    if seen.times == seen.chances:
        return _count(seen.times)
    return f"{_share(seen)} times"


_REASONS = (
    ("fingers move", "a big change"),
    ("some down", "fingers go both ways"),
    ("little finger", "the little finger slides"),
)
"""What the fingers do, by the words of `coach.finger_changes`."""


def _because(fingers: str) -> str:
    """': a big change across the break': the first reason, and the break where it is crossed."""
    reason = next((words for sign, words in _REASONS if sign in fingers), "")
    across = "across the break" if "over the break" in fingers else ""
    words = " ".join(filter(None, (reason, across)))
    return f": {words}" if words else ""


def _spoken(pitch: Pitch) -> str:
    signs = {-2: " double flat", -1: " flat", 0: " natural", 1: " sharp", 2: " double sharp"}
    return pitch.letter + signs[pitch.alter]
