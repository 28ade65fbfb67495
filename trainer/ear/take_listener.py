"""One take, worked on while it sounds, so that little is left to do when the round is over."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from trainer.ear.alignment.align import Answer
from trainer.ear.alignment.answers import answered, sounds_and_answers
from trainer.ear.alignment.asked_notes import expected_notes
from trainer.ear.alignment.third_pitches import with_third_pitches
from trainer.ear.alignment.written_notes import put_together
from trainer.ear.analysis.features import Features, FeatureStream, lowest_of
from trainer.ear.analysis.frames import Samples
from trainer.ear.echo.canceller import EchoCanceller, KnownSound
from trainer.ear.echo.echo_path import EchoPath
from trainer.ear.echo.partner_echo import Leaked
from trainer.ear.echo.past_partner import PartnerHeard, past_partner
from trainer.ear.heard import HeardNote, Take
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.note_segments import SETTLED_S
from trainer.ear.segments.segment_measures import MeasurementCache, evidence, transition_between
from trainer.ear.segments.silent_air import hear_silent_air
from trainer.ear.signal_warnings import sound_warnings
from trainer.music.note import Note, Start
from trainer.music.ornaments import realised
from trainer.music.tuning import Tuning

LOOK_BACK_S = 4.0
"""Of the take while it sounds, whenever more of it is known."""
NOTHING_LEFT = 1e-4
"""As a share of power: what is less is nothing."""
NEAR_S = 2 * LOOK_BACK_S
"""So much of what was asked may sound meanwhile; more would be taken for a time later through the
same line."""
LOST_SHARE = 0.5
"""Where fewer of the sounds are right, the player may be anywhere in what was asked."""
CUT_OFF = 2
"""The first sound of the last seconds may have begun before them, and the next is joined to it."""
FIRST_NOTES = 4
"""So many notes tell where a player came in: one of them may be off. Our own choice."""


class TakeListener:
    """Hears the expected notes (sounding pitch) of one round as it is played."""

    def __init__(
        self,
        sample_rate_hz: int,
        expected: Sequence[Note],
        tempo_bpm: float,
        tuning: Tuning,
        known: Sequence[KnownSound] = (),
        *,
        timed: bool = True,
        earlier_echo_path: EchoPath | None = None,
    ) -> None:
        """known: what the trainer itself plays, times from the take's first sample;
        earlier_echo_path: the `way` of the take before, heard through the same port. With timed
        False the notes say only which pitches come in which order: neither their beats nor how
        they start are relied on."""
        self._sounded = realised(expected, 60.0 / tempo_bpm)
        self._asked = expected_notes(self._sounded, tempo_bpm, tuning, starts_known=timed)
        self._beat_s = 60.0 / tempo_bpm
        self._features = FeatureStream(sample_rate_hz, tuning, lowest_of(self._asked.midi))
        self._memory = MeasurementCache()
        self._looked_s = 0.0
        self._near = 0, NEAR_S
        self._look: Iterator[None] = iter(())
        self._known = EchoCanceller(sample_rate_hz, known, earlier_echo_path)

    def learn(self, samples: Samples, first: int) -> None:
        """Learn how the clicks leak into the microphone, from sound that begins `first` samples
        after the take does; negative before it, as in a count-in."""
        self._known.learn(samples, first)

    @property
    def way(self) -> EchoPath | None:
        """How the partner's tone reaches the microphone, as far as that is known."""
        return self._known.way

    @property
    def leaked(self) -> Leaked | None:
        """How the partner's tone came back through the microphone; None where it wasn't found."""
        return self._known.leaked

    @property
    def _left_db(self) -> float | None:
        """How much of the partner was left when it was taken out."""
        leaked = self.leaked
        if leaked is None or leaked.left_share is None:
            return None
        return 10 * float(np.log10(max(leaked.left_share, NOTHING_LEFT)))

    def feed(self, samples: Samples) -> None:
        """Sound of the take that follows on what was fed before, shape (samples,)."""
        self._features.feed(self._known.feed(samples))
        if self._features.known_s > self._looked_s:
            self._looked_s = self._features.known_s
            for _ in self._look:
                pass
            self._look = self._look_ahead()
        next(self._look, None)

    def at_once(self, samples: Samples) -> tuple[Samples, Samples]:
        """The sound fed last without click and partner, as well as they can be taken out at once,
        and about as much of the partner as may still be in there; both of the same shape."""
        return self._known.at_once(samples)

    def take(self, first_beat_s: float | None) -> Take:
        """What was heard in all; first_beat_s as for `hear`."""
        self._features.feed(self._known.rest())
        features = self._features.finished()
        notes, evidence = answered(features, self._asked, self._memory)
        expected = self._asked.notes
        if expected and all(note.start is Start.SILENT_AIR for note in expected):
            notes = hear_silent_air(features.envelope, expected, self._beat_s, first_beat_s)
        first_s = first_beat_s
        if first_s is None:
            first_s = guessed_first_beat(notes, expected, self._beat_s)
        notes = put_together(notes, self._sounded, features.tuning)
        if self._asked.starts_known:
            notes = with_third_pitches(features, notes, self._sounded.written)
        slurs = {note.index for note in self._sounded.written if note.start is Start.SLURRED}
        notes = past_partner(notes, PartnerHeard(self._known.partner_db, self._left_db), slurs)
        return Take(
            sample_rate_hz=features.sample_rate_hz,
            a4_hz=features.tuning.a4_hz,
            first_beat_s=first_s,
            notes=tuple(notes),
            breaths_s=evidence.breaths_s(),
            room=features.room,
            warnings=sound_warnings(features),
        )

    def _look_ahead(self) -> Iterator[None]:
        """Measure the sounds of the last seconds that are over, one for each time it is gone on
        with, so that nothing that looks in between waits; which they are is decided again when all
        is known, mostly the same."""
        features = self._features.recent(LOOK_BACK_S)
        if features is None:
            return
        last_s = features.frames.time_s(features.frames.size - 1)
        asked, recut, answers = sounds_and_answers(
            features, self._asked.next_ones(*self._near), self._memory.parts
        )
        self._near = _near(self._near[0], answers)
        yield
        over = sum(sound.to_s < last_s - SETTLED_S for sound in recut.segments)
        starts = [asked.start_of(answer) for answer in answers[:over]]
        yield from self._measure(features, recut.segments[:over], starts)

    def _measure(
        self, features: Features, sounds: Sequence[NoteSegment], starts: Sequence[Start | None]
    ) -> Iterator[None]:
        """Measure some sounds that follow on each other, as `_look_ahead`; starts: as asked."""
        cache, known = self._memory, self._memory.size
        for before, sound in pairwise(sounds[CUT_OFF - 1 :]):
            transition_between(features, before, sound, cache)
            if cache.size > known:
                known = cache.size
                yield
        whole = sounds[CUT_OFF:]
        if not whole:
            return
        measured = evidence(features, whole, starts[CUT_OFF:], cache, sounds[CUT_OFF - 1])
        for number in range(len(whole) - 1):
            measured.heard(number)
            if cache.size > known:
                known = cache.size
                yield


def _near(first: int, answers: Sequence[Answer]) -> tuple[int, float]:
    """From which expected note on the next look listens, and for how long in the score, going by
    the answers of this one, which began with the note `first`."""
    right = [answer.index for answer in answers if answer.index is not None and answer.right]
    if len(right) < LOST_SHARE * len(answers):
        return 0, np.inf
    return max(0, first + min(right, default=CUT_OFF) - CUT_OFF), NEAR_S


def guessed_first_beat(
    notes: Sequence[HeardNote], expected: Sequence[Note], beat_s: float
) -> float:
    """Where beat 0 would fall if the player came in on time, in the median of the first few notes:
    who leaves notes out later, or plays at another tempo, came in no earlier for that."""
    starts_s = [
        note.onset_s - float(expected[note.index].beat) * beat_s
        for note in notes
        if note.index is not None and note.onset_s is not None
    ]
    return float(np.median(starts_s[:FIRST_NOTES])) if starts_s else 0.0
