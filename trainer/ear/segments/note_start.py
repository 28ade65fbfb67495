"""How notes started, and how sure that is: what the network heard, put into words.

What was asked never adds certainty. It only orders two starts that sound about as likely, and asks
more of a slur where a soft stroke, which a room may hide, was wanted, of a soft stroke where a
slur was, and of any stroke that wasn't wanted where a foot taps; and of what is not sure nothing is
said.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trainer.ear.analysis.features import Features
from trainer.ear.heard import DOUBTED
from trainer.ear.segments.knock import knocks_at
from trainer.ear.segments.network_layers import Values
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.seam_view import seen_at
from trainer.ear.segments.start_network import (
    KINDS,
    REACH,
    StartNetwork,
    seam_facts,
    start_network,
)
from trainer.ear.segments.start_signs import signs_of
from trainer.ear.segments.transition import Transition
from trainer.music.note import Start

Chances = NDArray[np.float64]
Kinds = NDArray[np.bool_]

AGAIN_SEMITONES = 0.3
"""Nothing nearer than this is slurred to: the same note again needs a tongue or a breath. Of 268
recorded notes struck again, in 0.4 s and a hall of 1.4 s, four lay further off; a hall brings
slurred half-steps within 0.5, where at 0.6 they were heard as strokes, surely (our own
measurement)."""
STOPPED_DB, STOPPED_S, STEP_SEMITONES = 19.0, 0.02, 5.5
"""Over no more than a fourth no slur falls so far for so long (6 dB below the softer side):
recorded legato falls by up to 18 dB there, by 23 over leaps of nine semitones and more. Our own
measurement."""
STRUCK = (Start.LEGATO_TONGUE, Start.TONGUED)
"""A soft stroke taken for a hard one, or the other way round, is no fault: they are sure
together."""
SURE = 0.93
"""Of less nothing is said. In a live room (0.4 s, -3 dB) a tenth of the starts of mixed patterns
had less; of those said on pitches held out one in two hundred was wrong."""
TOLD_APART = (Start.SLURRED, Start.LEGATO_TONGUE, Start.TONGUED)
HARDNESS, PASSAGE = 0.3, 0.5
UNLIKE_SOFT, UNLIKE_SOFT_ASKED = 3.0, 4.0
"""A slur is in doubt where the slurs around it are less unlike soft strokes than this: the log odds
of a slur against a soft stroke at each seam by itself (the root of the odds is averaged, so that
plain slurs count more), a part of those of a hard stroke against a soft one (slurs over wide leaps
dip as if struck) and a part of the passage's own for slurs. It takes the second where soft strokes
were asked. Of 416 soft strokes of the made flute in rooms of 0.4 and 0.8 s 5 are called slurred so,
none at 3.8; of 450 starts of recorded notes in fourteen patterns in 0.8 s 98 are not judged, 146 at
3.8. Our own measurement."""
LIKE_SLURS = 0.75
"""A soft stroke where a slur was asked is in doubt where the soft strokes around, each seam by
itself, have more than these odds (their geometric mean) of a slur against any stroke: in rooms of
0.4 and 0.8 s a whole slurred line is at times heard as soft strokes. Of 89 slurs of sampled flutes
heard so 86 are not judged, of 727 strokes heard as soft ones 45; but of soft strokes of the made
flute, where slurs were asked, 291 of 335 (none of 187 in no room). Our own measurement."""
NO_CHANCE = 1e-3
"""One seam alone speaks no stronger for or against a pattern."""
NEAR = 3.0
"""Where one start is no more than so many times as likely as another, what was asked decides which
of them is put first."""
BURST_CLEAR_DB = 5.0
SOFT_STROKE_DB = 4.0
"""A soft stroke's own climb; a room delays the change of tones by some 6 ms, not the stroke."""
BURST_NEAR_S = 0.016
"""A burst this near to the change of tones belongs to it."""
SLURS_BURSTS_DB, SLURS = 8.0, 4
"""Slurs whose bursts are this strong on average, so many at least, are none: recorded legato
phrases and trills, dry and in rooms of 0.4 and 0.8 s, have 4.7 dB at most. Of 5,300 slurs of eleven
sampled flutes 5 have more; of 93 strokes of a twelfth, without any air before its tone, that were
called slurred 78. Our own measurement."""
FEW_SAID = 1 / 3
"""Where fewer of the starts around are sure, none is said. In takes of which fewer were said, 67 of
1,041 starts of recorded and made notes were wrong in halls of 1.0 to 1.8 s, of 8,195 in the others
125; in rooms to 0.4 s such takes had 5 of 11,207 starts said, in 0.8 s 44 of 6,648 (our own
measurement)."""
OVERLOADED_SHARE = 0.02
"""Where more of the samples are at full scale, an overloaded microphone has flattened what parts
two notes: of starts of recorded tongued lines in five rooms, made louder step by step, 145 of 145
were said right up to 0.045 of the samples, 131 of 168 beyond, and the others called slurred (our
own measurement)."""
HESITATES_S = 0.03
HESITATES_GAIN = 0.1
"""On air that goes on, a gap like this is a note slow to speak: it starts when it sounds."""
SWELL_S = 0.006
"""A breath's noise has begun this long before its steepest rise."""


@dataclass(frozen=True)
class HeardStart:
    """How one note started."""

    likeliest: Start
    certainty: float
    """Chance from 0 to 1 that it started so, a soft stroke and a hard one counted as one."""

    @property
    def said(self) -> Start | None:
        """What may be said of it; None where that isn't sure."""
        return self.likeliest if self.certainty >= SURE else None


def heard_starts(
    features: Features,
    segments: Sequence[NoteSegment],
    joined: Sequence[NoteSegment | None],
    transitions: Sequence[Transition],
    asked: Sequence[Start | None],
) -> tuple[HeardStart, ...]:
    """How the sounds of a take started, in order; `joined`: the sound that reaches up to each, None
    where none does; `asked`: how it should start, where that is known."""
    if not segments:
        return ()
    network = start_network()
    looks = _looks(network, features, segments, joined, transitions)
    possible = possible_kinds(joined, transitions)
    chances = network.chances(looks, possible)
    doubts = slurs_with_bursts(chances, transitions)
    alone = network.chances_alone(looks, possible)
    doubts |= doubted_slurs(chances, alone, possible, asked)
    doubts |= doubted_soft_strokes(chances, alone, possible, asked)
    doubts |= strokes_beside_knocks(chances, possible, asked, transitions, features)
    doubts |= starts_out_of_sound(segments, joined, transitions)
    heard = _doubted(map(_heard, chances, asked), doubts)
    doubts = where_few_are_said(np.array([one.said is not None for one in heard]))
    if features.clipped_share > OVERLOADED_SHARE:
        doubts |= _are_slurs(chances)
    return _doubted(heard, doubts)


def _looks(
    network: StartNetwork,
    features: Features,
    segments: Sequence[NoteSegment],
    joined: Sequence[NoteSegment | None],
    transitions: Sequence[Transition],
) -> Values:
    """What the network sees at each seam, and is told of it."""
    seen, facts = [], []
    for last, segment, seam in zip(joined, segments, transitions, strict=True):
        before, joins = last or segment, last is not None
        seen.append(seen_at(network, features, seam.rough_s, before.midi, segment.midi))
        signs = signs_of(seam, joins)
        lengths = before.length_s, segment.length_s
        facts.append(seam_facts(signs, joins, before.midi, segment.midi, *lengths))
    return network.looked_at(np.stack(seen), np.stack(facts))


def possible_kinds(
    joined: Sequence[NoteSegment | None], transitions: Sequence[Transition]
) -> Kinds:
    """Which of KINDS there may be: nothing is slurred out of silence, over air that stopped, or to
    its own pitch; shape (sounds, kinds). joined, transitions: as in `heard_starts`."""
    reaches = np.array([before is not None for before in joined])
    again = np.array([seam.leap_semitones < AGAIN_SEMITONES for seam in transitions])
    stopped = np.array([_stops(seam) for seam in transitions])
    possible = np.ones((reaches.size, len(KINDS)), bool)
    possible[~reaches | again | stopped, KINDS.index(Start.SLURRED)] = False
    possible[~reaches, KINDS.index(Start.LEGATO_TONGUE)] = False
    return possible


def starts_out_of_sound(
    segments: Sequence[NoteSegment],
    joined: Sequence[NoteSegment | None],
    transitions: Sequence[Transition],
) -> NDArray[np.bool_]:
    """Which starts may be slurs all the same though nothing reaches up to them, shape (sounds,): a
    room hid which pitch sounded for longer than a slur takes, and the sound didn't stop.

    All as in `heard_starts`. Of 80 such claims of strokes, 69 of them in halls, 24 were slurs.
    """
    found = np.array([before is None for before in joined])
    found[0] = False
    for place in np.flatnonzero(found).tolist():
        changes = not segments[place].has_pitch_of(segments[place - 1])
        found[place] = changes and transitions[place].dip_db <= STOPPED_DB
    return found


def _stops(seam: Transition) -> bool:
    """Whether the air stopped between two tones a step or a small leap apart."""
    deep = seam.dip_db > STOPPED_DB and seam.hollow_s > STOPPED_S
    return deep and abs(seam.leap_semitones) < STEP_SEMITONES


def doubted_slurs(
    chances: Chances, alone: Chances, possible: Kinds, asked: Sequence[Start | None]
) -> NDArray[np.bool_]:
    """Which slurs stand among slurs that might as well be soft strokes, shape (sounds,).
    chances: of KINDS, as the passage is heard; alone: those of each seam by itself; possible: which
    there are; all of shape (sounds, kinds); asked: as in `heard_starts`."""
    slurs = possible[:, KINDS.index(Start.SLURRED)] & _are_slurs(chances)
    slur, soft, hard = (
        np.maximum(alone[slurs, KINDS.index(kind)], NO_CHANCE) for kind in TOLD_APART
    )
    passage = np.clip(chances[slurs, KINDS.index(Start.SLURRED)], NO_CHANCE, 1 - NO_CHANCE)
    near = _near(slurs)
    unlike_soft = (
        2 * np.log(near.means(np.sqrt(slur / soft)))
        + HARDNESS * near.means(np.log(hard / soft))
        + PASSAGE * near.means(np.log(passage / (1 - passage)))
    )
    soft_asked = _are(asked, Start.LEGATO_TONGUE)[slurs]
    slurs[slurs] = unlike_soft < np.where(soft_asked, UNLIKE_SOFT_ASKED, UNLIKE_SOFT)
    return slurs


def doubted_soft_strokes(
    chances: Chances, alone: Chances, possible: Kinds, asked: Sequence[Start | None]
) -> NDArray[np.bool_]:
    """Which soft strokes, where a slur was asked, stand among soft strokes each of which by itself
    might as well be a slur, shape (sounds,). All as in `doubted_slurs`."""
    kinds = chances.argmax(axis=1)
    soft = possible[:, KINDS.index(Start.SLURRED)] & (kinds == KINDS.index(Start.LEGATO_TONGUE))
    slur, *struck = (np.maximum(alone[soft, KINDS.index(kind)], NO_CHANCE) for kind in TOLD_APART)
    log_odds = np.log(slur / np.sum(struck, axis=0))
    soft[soft] = _near(soft).means(log_odds) > np.log(LIKE_SLURS)
    return np.asarray(soft & _are(asked, Start.SLURRED))


@dataclass(frozen=True)
class _Near:
    """Which of some chosen sounds of a take lie within REACH places of each of them: from the one
    to before the other, counted among the chosen ones; shape (chosen,) each."""

    first: NDArray[np.intp]
    end: NDArray[np.intp]

    def means(self, values: Chances) -> Chances:
        """Mean over those near each; values: of the chosen ones."""
        sums = np.append(0.0, np.cumsum(values))
        return np.asarray((sums[self.end] - sums[self.first]) / (self.end - self.first))


def _near(chosen: NDArray[np.bool_]) -> _Near:
    """chosen: which sounds of a take, shape (sounds,)."""
    places = np.flatnonzero(chosen)
    return _Near(
        np.searchsorted(places, places - REACH), np.searchsorted(places, places + REACH, "right")
    )


def slurs_with_bursts(chances: Chances, transitions: Sequence[Transition]) -> NDArray[np.bool_]:
    """Which starts are heard as slurs among slurs with bursts as no passage was seen to have, shape
    (sounds,); chances: of KINDS, shape (sounds, kinds)."""
    slurs = _are_slurs(chances)
    bursts_db = np.array([seam.transient_db for seam in transitions])[slurs]
    near = _near(slurs)
    slurs[slurs] = (near.end - near.first >= SLURS) & (near.means(bursts_db) >= SLURS_BURSTS_DB)
    return slurs


def strokes_beside_knocks(
    chances: Chances,
    possible: Kinds,
    asked: Sequence[Start | None],
    transitions: Sequence[Transition],
    features: Features,
) -> NDArray[np.bool_]:
    """Which strokes, where no stroke was asked, may be slurs beside which a foot tapped, shape
    (sounds,); chances, possible, asked: as in `doubted_slurs`."""
    struck = np.isin(chances.argmax(axis=1), [KINDS.index(kind) for kind in STRUCK])
    found = possible[:, KINDS.index(Start.SLURRED)] & struck
    for place in np.flatnonzero(found).tolist():
        not_asked = asked[place] in (None, Start.SLURRED)
        found[place] = not_asked and knocks_at(features, transitions[place].rough_s)
    return found


def where_few_are_said(said: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which starts stand where few of those around can be said, so that none is: the room hides
    more there than each seam by itself shows. said: what may be said of each start by itself, shape
    (sounds,)."""
    everyone = _near(np.ones(said.size, np.bool_))
    return np.asarray(everyone.means(said.astype(np.float64)) < FEW_SAID)


def _are(asked: Sequence[Start | None], start: Start) -> NDArray[np.bool_]:
    return np.array([one is start for one in asked], dtype=np.bool_)


def _are_slurs(chances: Chances) -> NDArray[np.bool_]:
    return np.asarray(chances.argmax(axis=1) == KINDS.index(Start.SLURRED))


def _heard(chances: Chances, asked: Start | None) -> HeardStart:
    wanted = Start.TONGUED if asked is Start.BACK_TONGUED else asked
    best = int(chances.argmax())
    if wanted in KINDS and NEAR * chances[KINDS.index(wanted)] >= chances[best]:
        best = KINDS.index(wanted)
    kind = KINDS[best]
    together = STRUCK if kind in STRUCK else (kind,)
    certainty = float(sum(chances[KINDS.index(one)] for one in together))
    return HeardStart(kind, certainty)


def _doubted(heard: Iterable[HeardStart], doubts: NDArray[np.bool_]) -> tuple[HeardStart, ...]:
    """The starts, those in doubt no surer than that."""
    return tuple(
        replace(one, certainty=min(one.certainty, DOUBTED)) if doubt else one
        for one, doubt in zip(heard, doubts.tolist(), strict=True)
    )


def onset_of(transition: Transition, start: Start) -> float:
    """When the note starts: the change of tones under a slur, else the stroke or the rise."""
    if start in (Start.SLURRED, Start.LEGATO_TONGUE) and transition.change_s is not None:
        struck = (
            transition.transient_db >= SOFT_STROKE_DB
            and abs(transition.transient_s - transition.change_s) < BURST_NEAR_S
        )
        if start is Start.LEGATO_TONGUE and struck:
            return transition.transient_s
        hesitates = transition.gap_s > HESITATES_S and transition.gap_gain > HESITATES_GAIN
        return transition.begin_s if hesitates else transition.change_s
    heard = transition.transient_db >= BURST_CLEAR_DB
    if start is Start.BREATH:
        return transition.transient_s - SWELL_S if heard else transition.begin_s
    near = abs(transition.transient_s - transition.begin_s) < BURST_NEAR_S
    return transition.transient_s if heard and near else transition.begin_s
