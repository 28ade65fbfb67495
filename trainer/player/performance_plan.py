"""From the notes of a round to the notes as this flutist blows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from trainer.music.note import Mark, Note, Start
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning
from trainer.player.gesture import BlownNote
from trainer.player.habits import FULL_BREATH_S, Habits
from trainer.player.intent import LEAD_IN_S, Dice, Intended, breaths_moved, intended
from trainer.player.shaping import PLAIN, Shaping
from trainer.player.spectrum import usual_level_db

_JOINING = {Start.SLURRED, Start.LEGATO_TONGUE}
_TONGUES = {Start.TONGUED, Start.BACK_TONGUED}
_TONGUE_STOPS_S = 0.005
"""The tongue stops the air so long before the next note."""
_LOW_D, _HIGH_D, _TOP_C, _LOW_C = 74, 86, 96, 60
_BREATH_S = 0.4
"""A quick breath; at most about half of a short note is given up for it."""
_STACCATO_SHARE, _ACCENT_DB = 0.45, 4.0
"""How much of a note with a dot is silence, and how much louder an accent is: our own estimate."""
_SHORTEST_BLIP_S = 0.015
_SOFT_SHARE = 0.6
"""A swell begins by this much of its size below the usual level."""
_KEY_S = (0.010, 0.016)
"""Key pushed, key sprung: Almeida, Chow, Smith & Wolfe 2009, JASA 126:1521."""


@dataclass(frozen=True)
class PlannedNote:
    """A note to be blown, with what it answers."""

    index: int
    midi: int
    nominal_hz: float
    """Where the sounding key stands in the tuning."""
    blown: BlownNote
    blip: bool = False


def planned(
    notes: Sequence[Note],
    habits: Habits,
    tempo_bpm: float,
    tuning: Tuning,
    dice: Dice,
    shaping: Shaping = PLAIN,
) -> list[PlannedNote]:
    """The notes as blown, blips among them, in order of onset; missed ones are absent."""
    meant = intended(breaths_moved(notes, habits, dice.breaths), habits, tempo_bpm, tuning, dice)
    kept = _breathing(_kept(meant, habits, dice.misses), habits)
    total_s = kept[-1].off_s - LEAD_IN_S
    blown: list[PlannedNote] = []
    for now, after in zip(kept, [*kept[1:], None], strict=True):
        share = (now.onset_s - LEAD_IN_S) / total_s
        blown.append(_blown(now, after, share, habits, dice.body, shaping))
    return _with_blips(blown, habits, tuning)


def _kept(meant: list[Intended], habits: Habits, random: np.random.Generator) -> list[Intended]:
    """The notes that sound, each knowing whether it hangs on the one before."""
    missed = random.random(len(meant)) < habits.missed_note_probability
    missed[0] = False
    kept: list[Intended] = []
    for now, is_missed in zip(meant, missed, strict=True):
        joined = bool(kept) and now.note.start in _JOINING and _touches(kept[-1].note, now.note)
        if is_missed and joined:
            kept[-1] = replace(kept[-1], note=_lengthened(kept[-1].note, now.note), off_s=now.off_s)
        elif not is_missed:
            kept.append(replace(now, joined=joined))
    return kept


def _breathing(kept: list[Intended], habits: Habits) -> list[Intended]:
    """With a breath wherever the air runs out; the note after it can no longer be slurred."""
    if not habits.short_breath:
        return kept
    lasts_s = FULL_BREATH_S * (1 - habits.short_breath)
    since_s, result = kept[0].onset_s, kept[:1]
    for now in kept[1:]:
        before = result[-1]
        if before.note.breath_after:
            since_s = now.onset_s
        elif now.off_s - since_s > lasts_s:
            result[-1] = replace(before, note=replace(before.note, breath_after=True))
            start = Start.TONGUED if now.note.start is Start.SLURRED else now.note.start
            now = replace(now, note=replace(now.note, start=start), joined=False)
            since_s = now.onset_s
        result.append(now)
    return result


def _touches(before: Note, note: Note) -> bool:
    return not before.breath_after and before.beat + before.length == note.beat


def _lengthened(before: Note, missed: Note) -> Note:
    """The note before, lasting on through a missed one."""
    return replace(before, length=before.length + missed.length, breath_after=missed.breath_after)


def _blown(
    now: Intended,
    after: Intended | None,
    share: float,
    habits: Habits,
    random: np.random.Generator,
    shaping: Shaping,
) -> PlannedNote:
    """One note with everything lips, tongue and fingers do to it; share is its place, 0 to 1."""
    start = now.note.start
    ioi_s = (after.onset_s if after else now.off_s) - now.onset_s
    end_s = _end_s(now, after, ioi_s, random)
    tone_after_s = _tone_after_s(now, end_s - now.onset_s, habits, random)
    tone_s = end_s - now.onset_s - tone_after_s
    human_cents = habits.human_cents * random.standard_normal()
    cents = _register_cents(now.midi, habits) + human_cents
    colour_cents = habits.colour_cents * float(np.sign(shaping.bright_db))
    where_it_ends = 0.3 * human_cents if shaping.settles else cents + colour_cents
    blown = BlownNote(
        hz=now.nominal_hz * 2 ** (where_it_ends / 1200),
        level_db=_level_db(now, share, habits, random) - _SOFT_SHARE * shaping.swell_db,
        onset_s=now.onset_s,
        end_s=end_s,
        start=start,
        joined=now.joined,
        tone_after_s=tone_after_s,
        attack_s=min(_attack_s(now, random), 0.55 * tone_s),
        release_s=_release_s(now, after, tone_s),
        key_s=float(random.uniform(*_KEY_S)),
        dip_db=float(random.uniform(0, 2)),
        stroke_db=float(random.uniform(-4, 4)),
        pinched=_pinched(now, habits),
        sag_cents=habits.sagging_cents * min(end_s - now.onset_s, 1.0),
        inhales=now.note.breath_after,
        swell_db=shaping.swell_db * (1 - habits.timid_swell),
        swell_peak=shaping.swell_peak,
        swell_cents_per_db=habits.swell_cents_per_db,
        bright_db=shaping.bright_db,
        settles_cents=cents + 2 * human_cents if shaping.settles else 0.0,
    )
    return PlannedNote(now.note.index, now.midi, now.nominal_hz, blown)


def _pinched(now: Intended, habits: Habits) -> float:
    """The top, or a note that is thin on its own fingering."""
    top = habits.pinched_top * _ramp(now.midi, _HIGH_D - 3, _HIGH_D)
    if now.note.harmonic_of is not None:
        return top
    own = [thin for name, thin in habits.thin_notes if Pitch.parse(name).midi == now.midi]
    return max(top, *own, 0.0)


def _tone_after_s(
    now: Intended, length_s: float, habits: Habits, random: np.random.Generator
) -> float:
    late_ms = sum(ms for name, ms in habits.slow_to_speak if Pitch.parse(name).midi == now.midi)
    breath_s = random.uniform(0.012, 0.03) if now.note.start is Start.BREATH else 0.0
    return min(late_ms / 1000 + float(breath_s), 0.5 * length_s)


def _register_cents(midi: int, habits: Habits) -> float:
    return (
        habits.off_cents
        + habits.sharp_top_cents * _ramp(midi, _HIGH_D - 1, _TOP_C)
        - habits.flat_low_cents * _ramp(-midi, -_LOW_D, -_LOW_C)
    )


def _ramp(value: float, zero_at: float, one_at: float) -> float:
    return min(max((value - zero_at) / (one_at - zero_at), 0.0), 1.0)


def _level_db(now: Intended, share: float, habits: Habits, random: np.random.Generator) -> float:
    level_db = usual_level_db(now.nominal_hz)
    level_db += habits.human_level_db * float(random.standard_normal())
    if now.note.start is Start.BACK_TONGUED:
        level_db -= habits.weak_back_db
    if now.note.mark is Mark.ACCENT:
        level_db += _ACCENT_DB
    return level_db - habits.tired_fade_db * share


def _attack_s(now: Intended, random: np.random.Generator) -> float:
    """Rise of the tone: the lower, the slower; a puff slower than the tongue.

    Orders of magnitude only: pressure rises in about 20 ms (Auvray, Fabre, Lagrée, Terrien &
    Vergez 2012, hal-00811001); the rest is our own estimate.
    """
    lower = _ramp(-now.midi, -_TOP_C, -_LOW_C)
    tongued_s = 0.03 + 0.06 * lower
    slower = 1.0 if now.note.start in _TONGUES else 1.8
    return float(tongued_s * slower * random.uniform(0.8, 1.2))


def _release_s(now: Intended, after: Intended | None, tone_s: float) -> float:
    """The tongue that starts the next note stops this one; else the breath lets it fade."""
    if after is not None and after.note.start in _TONGUES and _touches(now.note, after.note):
        return _TONGUE_STOPS_S
    return min(0.07, 0.35 * tone_s)


def _end_s(
    now: Intended, after: Intended | None, ioi_s: float, random: np.random.Generator
) -> float:
    if after is None:
        return now.off_s
    if after.joined:
        return after.onset_s
    if now.note.breath_after:
        return min(now.off_s, now.onset_s + max(ioi_s - _BREATH_S, 0.45 * ioi_s))
    if now.note.mark is Mark.STACCATO:
        length_s = min(ioi_s, now.off_s - now.onset_s)
        return now.onset_s + (1 - _STACCATO_SHARE) * length_s
    gap_s = min(max(0.22 * ioi_s * float(random.uniform(0.8, 1.25)), 0.018), 0.06)
    return min(now.off_s + 0.06, after.onset_s) - gap_s


def _with_blips(played: list[PlannedNote], habits: Habits, tuning: Tuning) -> list[PlannedNote]:
    """The false notes put in, and the dips of leaps and soft strokes set."""
    result = played[:1]
    for before, now in pairwise(played):
        deeper = replace(now, blown=replace(now.blown, dip_db=_dip_db(before, now)))
        false = _false_note(before, deeper, habits, tuning)
        if false is not None:
            shorter = replace(result[-1].blown, end_s=false.blown.onset_s)
            result[-1] = replace(result[-1], blown=shorter)
            result.append(false)
        result.append(deeper)
    return result


def _false_note(
    before: PlannedNote, now: PlannedNote, habits: Habits, tuning: Tuning
) -> PlannedNote | None:
    """The blip between two slurred notes; none when it is too short to sound."""
    blip = next((blip for blip in habits.blips if blip.joins(before.midi, now.midi)), None)
    if blip is None or not now.blown.joined or now.blown.start is not Start.SLURRED:
        return None
    room_s = (now.blown.onset_s - before.blown.onset_s) / 2
    length_s = min(blip.ms / 1000, room_s)
    if length_s < _SHORTEST_BLIP_S:
        return None
    pitch = Pitch.parse(blip.false_note)
    blown = replace(
        now.blown,
        hz=tuning.hz(pitch),
        level_db=now.blown.level_db - 3.0,
        onset_s=now.blown.onset_s - length_s,
        end_s=now.blown.onset_s,
        tone_after_s=0.0,
        key_s=_KEY_S[0],
        dip_db=0.0,
    )
    return PlannedNote(now.index, pitch.midi, blown.hz, blown, blip=True)


def _dip_db(before: PlannedNote, now: PlannedNote) -> float:
    """A soft stroke dips the tone; so does a slurred leap, the wider the deeper.

    Slurred leaps of 10–13 dB were measured on real phrases; the sizes are our own estimate.
    """
    leap_db = min(max(0.9 * (abs(now.midi - before.midi) - 3), 0.0), 11.0)
    stroke_db = 9.0 + 0.5 * now.blown.stroke_db if now.blown.start is Start.LEGATO_TONGUE else 0.0
    return max(leap_db, stroke_db, now.blown.dip_db)
