"""Sentences about the sound itself: settling, vibrato, swells, octaves, colours, trills."""

from __future__ import annotations

from trainer.coach.observations.observation import Observation
from trainer.music.pitch import Pitch


def settling(seen: Observation) -> str:
    """Notes that come from one side, or one that took long."""
    side = "sharp" if seen.amount > 0 else "flat"
    if seen.detail == "all":
        return (
            f"Nearly every note began {side}, by about {abs(seen.amount):.0f} cents, before you "
            "brought it in: sing it in your head first, then begin there."
        )
    if seen.detail == "never":
        return f"{seen.frm} did not come to stand: hold it against the drone alone for a breath."
    return (
        f"{seen.frm} began {abs(seen.amount):.0f} cents {side} and took {seen.detail} s to stand: "
        "hear it before you play it."
    )


def vibrato(seen: Observation) -> str:
    """Straight, rate, regularity, depth, level."""
    if seen.detail == "rate":
        side = "quicker" if seen.amount > 0 else "slower"
        return (
            f"The pulses came about {100 * abs(seen.amount):.0f} % {side} than asked: "
            "say the beat under your breath, and let the air answer it."
        )
    return _VIBRATO[seen.detail].format(amount=seen.amount)


_VIBRATO = {
    "none": (
        "No pulse could be heard yet: 'ha, ha, ha' without the flute on the beat, then on one note."
    ),
    "straight": (
        "The straight tone still moved by about {amount:.0f} cents to either side: "
        "let the air run as if it came out of a tap."
    ),
    "uneven": ("The pulses were not alike: fewer to the beat, each as round as the last."),
    "deeper": (
        "It was meant to be deeper than the round before, and was hardly so: "
        "more air in each pulse, at the same speed."
    ),
    "lighter": (
        "It was meant to be lighter than the round before, and was hardly so: "
        "keep the speed and let only the tip of each pulse be heard."
    ),
    "louder": (
        "With more pulses the sound grew by about {amount:.0f} dB: "
        "the same air, only divided more finely."
    ),
}


def swell(seen: Observation) -> str:
    """A swell that is none, or one the pitch goes along with."""
    if seen.detail == "pitch":
        if seen.amount > 0:
            return (
                f"The pitch rose by about {seen.amount:.0f} cents as the notes grew: as more air "
                "comes, let the lips open for it and aim a little lower."
            )
        return (
            f"The pitch sank by about {-seen.amount:.0f} cents as the notes grew: "
            "keep the opening as it was, and let only the air grow."
        )
    return (
        f"From soft to loud there were only about {seen.amount:.0f} dB: "
        "begin with less than you dare, and go further than is comfortable."
    )


def octaves(seen: Observation) -> str:
    """How wide they are."""
    width = "wide" if seen.amount > 0 else "narrow"
    care = (
        "coming up, aim lower and keep the corners loose"
        if seen.amount > 0
        else "coming up, keep the air quick and let the lips come forward"
    )
    return f"The octaves were about {abs(seen.amount):.0f} cents {width}: {care}."


def voice(seen: Observation) -> str:
    """One note that doesn't belong, or true notes beside their harmonics."""
    if seen.detail == "harmonic":
        side = "higher" if seen.amount > 0 else "lower"
        return (
            f"The true notes stood about {abs(seen.amount):.0f} cents {side} than their "
            "harmonics: play the harmonic, keep the lips, change only the fingers."
        )
    if seen.detail.startswith("thin"):
        what = "The true notes were" if seen.frm is None else f"{seen.frm} was"
        whose = "their harmonics" if seen.frm is None else "its harmonic, each time"
        return (
            f"{what} thinner than {whose}: keep the harmonic's space in the mouth, "
            "and let only the fingers change."
        )
    return (
        f"{seen.frm} was {seen.detail} than the notes around it each time: "
        "go to it from a neighbour that sounds well, and bring that sound along."
    )


def colour(seen: Observation) -> str:
    """Tuning that went with the colour, or a colour that did not change."""
    if seen.detail.startswith("same:"):
        now, then = seen.detail.removeprefix("same:").split("/")
        return (
            f"To the microphone '{now}' and '{then}' sounded nearly alike: "
            "go further than feels right, in the vowel and in the opening."
        )
    now, then = seen.detail.split("/")
    side = "higher" if seen.amount > 0 else "lower"
    return (
        f"'{now}' stood about {abs(seen.amount):.0f} cents {side} than '{then}': "
        "change the vowel, and leave the air's angle alone."
    )


def trill(seen: Observation, because: str) -> str:
    """One of the two notes is short, or the finger is not steady."""
    pair = f"{seen.frm}–{seen.to}"
    if seen.detail == "loose":
        return f"{pair} came loose: fewer notes to the beat, the finger close to its key."
    return (
        f"In {pair} the {_name(seen.frm)} was about {seen.amount:.0f} ms too long each time"
        f"{because}: let the finger fall and spring by itself."
    )


def pinched(seen: Observation) -> str:
    """A squeezed top."""
    how = "thin and hissing" if seen.detail == "pinched" else "thin"
    return (
        f"From {seen.frm} up the sound is {how} beside your middle notes: "
        "leave room between the teeth, corners loose, and let the air do the climbing."
    )


def _name(pitch: Pitch | None) -> str:
    return "note" if pitch is None else pitch.name
