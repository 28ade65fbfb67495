"""A sentence a teacher could say, for each thing that can be noticed in a round."""

from __future__ import annotations

from collections.abc import Callable

from trainer.coach import sound_sentences
from trainer.coach.advice import Topic
from trainer.coach.observations.observation import Observation
from trainer.music.pitch import Pitch

_COUNTS = ("never", "once", "twice", "three times", "four times", "five times", "six times")
_OCTAVES = (12, 19, 24)
"""Semitones to the next notes on the same fingering: harmonics 2, 3 and 4."""


def sentence(seen: Observation) -> str:
    """The observation in one sentence: what was heard, and what to do about it."""
    return _SENTENCES[seen.topic](seen)


def _notes(seen: Observation) -> str:
    if seen.detail == "stopped":
        return f"The round stopped at {seen.frm}: go on from there, slower if it helps."
    if seen.frm is None or seen.to is None:
        return (
            f"{seen.times} of {seen.chances} notes got lost, at {seen.detail}: "
            "take it slow enough that every note has time to speak."
        )
    times = f"{seen.times} of {seen.chances} times"
    shift = seen.to.midi - seen.frm.midi
    if shift in _OCTAVES:
        return f"{seen.frm} jumped up to {seen.to} {times}: slower air, and a rounder opening."
    if -shift in _OCTAVES:
        return f"{seen.frm} fell to {seen.to} {times}: quicker air through a smaller opening."
    return (
        f"{seen.frm.name} came out as {seen.to.name} {times}: it is {_spoken(seen.frm)} here; "
        "think of it just before it comes."
    )


def _tuning_high(seen: Observation) -> str:
    if seen.amount > 0:
        care = "keep the corners relaxed and aim the air a little lower"
    else:
        care = "keep the air quick to the end of the note and aim a little higher"
    return f"The high notes ran about {_cents(seen)} from {seen.frm} up: {care}."


def _tuning_low(seen: Observation) -> str:
    if seen.amount < 0:
        care = "keep the head up and the air moving, a little more across the hole"
    else:
        care = "let the air be slower and aim a little lower"
    return f"The low notes stood about {_cents(seen)} from {seen.frm} down: {care}."


def _tuning(seen: Observation) -> str:
    if seen.frm is not None:
        lean = "lower" if seen.amount > 0 else "higher"
        return (
            f"{seen.frm} stood about {_cents(seen)} beside its neighbours each time: "
            f"hear it {lean} before you play it."
        )
    if seen.amount > 0:
        care = "if the flute is warm, draw the headjoint out by a hair and try a long note"
    else:
        care = "warm the flute through first; if it stays so, push the headjoint in by a hair"
    return f"Everything stood about {_cents(seen)}: {care}."


def _cents(seen: Observation) -> str:
    return f"{abs(seen.amount):.0f} cents {'sharp' if seen.amount > 0 else 'flat'}"


def _held(seen: Observation) -> str:
    if seen.amount < 0:
        return (
            f"The long notes sank by about {-seen.amount:.0f} cents before they ended: keep the "
            "air quick to the very end, and let the opening grow smaller as the air grows less."
        )
    return (
        f"The long notes rose by about {seen.amount:.0f} cents while they were held: keep the "
        "lips where they began, and let the air stay calm."
    )


def _evenness(seen: Observation) -> str:
    if seen.detail == "all":
        return (
            f"The notes spread by about {seen.amount:.0f} ms: set a tempo at which each one has "
            "its place, and listen for a row of equal pearls."
        )
    side = "late" if seen.amount > 0 else "early"
    return (
        f"The {seen.detail} note of each group came about {abs(seen.amount):.0f} ms {side}: "
        "give each note in the group the same room."
    )


def _crossing(seen: Observation) -> str:
    why = _because(seen.detail)
    return (
        f"{seen.frm}–{seen.to} changed about {seen.amount:.0f} ms late {_how_often(seen)}{why}: "
        "let the fingers move together, small and close to the keys."
    )


def _back_syllable(seen: Observation) -> str:
    if seen.detail == "weak":
        return (
            f"The back syllable was about {seen.amount:.0f} dB weaker than the front: "
            "a round on the back syllable alone, then join the two."
        )
    return (
        f"The back syllable came about {seen.amount:.0f} ms late: keep the tongue high and "
        "the air going, and let it answer at once."
    )


def _late_note(seen: Observation) -> str:
    return (
        f"{seen.frm} spoke about {seen.amount:.0f} ms late {_how_often(seen)}, wherever it came "
        "from: have the air and the lips ready for it one note before."
    )


def _slow_to_speak(seen: Observation) -> str:
    return (
        f"{seen.frm} is slow to speak {_how_often(seen)}: let the air be there before the tongue, "
        "and aim it at the note."
    )


def _rushing(seen: Observation) -> str:
    if seen.detail == "changing":
        return (
            f"The tempo grew by about {100 * seen.amount:.0f} % on the way: feel the beat in the "
            "long line, and let the last bars be as broad as the first."
        )
    return (
        f"You played about {100 * seen.amount:.0f} % faster than asked: breathe with the count-in "
        "and let the click lead."
    )


def _dragging(seen: Observation) -> str:
    if seen.detail == "changing":
        return (
            f"The tempo sank by about {-100 * seen.amount:.0f} % on the way: keep the air moving "
            "through to the last note."
        )
    return (
        f"You played about {-100 * seen.amount:.0f} % slower than asked: think in whole beats and "
        "go with the click."
    )


def _start(seen: Observation) -> str:
    if seen.where:
        care = "keep the air going, and let the fingers alone change the note"
        if seen.detail.startswith("slurred"):
            care = "sing the pattern on one note first, then play it so"
        where = f"{seen.where[0].upper()}{seen.where[1:]}"
        verb = "were" if "notes" in where else "was"
        return f"{where} {verb} {seen.detail}, {seen.times} of {seen.chances} times: {care}."
    return (
        f"{seen.times} of {seen.chances} notes sounded {seen.detail}: "
        "try two notes that way first, then the whole."
    )


def _blip(seen: Observation) -> str:
    if seen.frm is None:
        return (
            f"Small false notes slipped in {_count(seen.times)}, before {seen.detail}: a little "
            "slower, with the fingers close to the keys."
        )
    why = _because(seen.detail)
    return (
        f"A false note slipped in between {seen.frm} and {seen.to} {_how_often(seen)}{why}: "
        "stop on the first, then change all fingers at once."
    )


def _tone(seen: Observation) -> str:
    if seen.detail in ("pinched", "thin"):
        return sound_sentences.pinched(seen)
    where = f"From {seen.frm} up the sound" if seen.frm is not None else "The sound"
    return (
        f"{where} has grown {seen.detail} than in your earlier rounds: drop the jaw, leave room "
        "between the teeth, and rest a moment if the lips are tired."
    )


def _trill(seen: Observation) -> str:
    return sound_sentences.trill(seen, _because(seen.detail))


def _breath(seen: Observation) -> str:
    if seen.detail == "elsewhere":
        return (
            f"The breath marked after {seen.frm} came {_notes_away(seen.amount)}, after {seen.to}: "
            "see the mark a bar ahead, so that the phrase ends where it is written."
        )
    if seen.detail == "left out":
        return (
            f"You played on through the breath after {seen.frm}: take it, quick and low, even "
            "where the air would last; the notes after it live on it."
        )
    if seen.detail == "stop":
        return (
            f"The line stood still after {seen.frm}, for a breath or a thought: know before you "
            "begin where you breathe, and read a beat ahead."
        )
    return (
        f"You took a breath after {seen.frm} where none is marked: fill up lower and calmer before "
        "the start, or agree on a place for it with your teacher."
    )


def _notes_away(notes: float) -> str:
    """'2 notes later'."""
    side = "later" if notes > 0 else "earlier"
    return f"{abs(notes):.0f} note{'s' * (abs(notes) > 1)} {side}"


def _fading(seen: Observation) -> str:
    return (
        f"The sound sank by about {-seen.amount:.0f} dB towards the end: spend less air at the "
        "start and keep some for the last notes."
    )


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


def _how_often(seen: Observation) -> str:
    if seen.times == seen.chances:
        return _count(seen.times)
    return f"{seen.times} of {seen.chances} times"


def _because(fingers: str) -> str:
    """The first reason, and the break where it is one; the others are in the evidence."""
    if not fingers:
        return ""
    first, *others = fingers.split(", ")
    return f" ({first}, over the break)" if "over the break" in others else f" ({first})"


def _spoken(pitch: Pitch) -> str:
    signs = {-2: " double flat", -1: " flat", 0: " natural", 1: " sharp", 2: " double sharp"}
    return pitch.letter + signs[pitch.alter]
