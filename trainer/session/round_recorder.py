"""The round that is sounding: what is scheduled on the port, and the take that grows."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from statistics import median

from trainer.coach.curves import curves
from trainer.coach.judge import judge
from trainer.coach.marks import Marks
from trainer.ear.echo.canceller import KnownSound
from trainer.ear.echo.echo_path import EchoPath
from trainer.ear.echo.partner_echo import Leaked
from trainer.ear.heard import LiveNote, LiveReading, State, Take
from trainer.ear.live.live_ear import LiveEar
from trainer.ear.take_listener import TakeListener
from trainer.figures.note_figures import late_limit_ms
from trainer.figures.robust import robust_spread
from trainer.music.instrument import Instrument
from trainer.routine.round import PartnerPart, Round
from trainer.session.accompaniment import accompaniment, as_sounding, clicks
from trainer.session.next_door import (
    as_the_players,
    level_after_db,
    players_level_db,
    softest_db,
    within_the_round,
)
from trainer.session.partner_turns import partners_turns
from trainer.session.signal_loss import DEAD_S, DEAD_WORDS, Damage, dies_at_s, hums, spared
from trainer.sound.latency_watch import MOVED_S, heard_until, lateness, leak_gain, moved_from
from trainer.sound.partner import RMS as PARTNER_RMS
from trainer.sound.partner import Voice
from trainer.sound.port import Samples, SoundPort, StreamFault

LEAD_S = 0.5
"""The take begins this long before the first beat, so that an early first note is in it."""
TAIL_S = 0.6
"""The round is over when this long after its last note nothing sounds any more."""
LONGEST_OVERRUN = 0.5
"""A student who stumbled may play on after the last beat for this share of the round's length."""
STEADY_SEMITONES = 0.1
"""A pitch that moves further in 5 ms is on its way to another note."""
FEWEST_FOR_LEAD = 3
"""Of fewer notes the median says nothing of a player's own lead."""
TRAIL_READINGS = 1200
MOST_COUNTED = 8
"""Clicks of the lead-in that are looked for, the last ones."""
PARTNER_BELOW_DB = 30.0
"""What is left of the partner disturbs the ear when it is nearer to the player than this."""
UNISON_BELOW_DB = 7.0
"""A partner with the same notes only draws the pitch, and that when it comes back nearer than this
(both from tests/bench/leak.py)."""
LEAST_LEFT = 1e-3
"""No canceller leaves less, as a share of power."""
DEATH_SEEN_S = 2 * DEAD_S
DEATH_LOOK_S = 0.2
"""So much is looked at, so often, to see whether the microphone has died."""
SILENT_PARTNERS = (None, PartnerPart.LEADS, PartnerPart.CALLS, PartnerPart.TURNS)
"""Nothing but the click sounds with the player."""
BEFORE_CLICKS_S = 0.3
"""The ear learns how the click leaks from so long before the first one on."""
CONFIRM_BY_S = 0.05
"""The round trip is settled this long before the first beat at the latest."""


class RoundRecorder:
    """One round on a port, from its count-in to its take."""

    def __init__(
        self,
        port: SoundPort,
        instrument: Instrument,
        round_: Round,
        first_beat_frame: int,
        lead_in_beats: int,
        earlier_echo_path: EchoPath | None = None,
        voice: Voice | None = None,
        level_before_db: float | None = None,
    ) -> None:
        """Schedule the clicks and the partner; what should already have sounded is left out.

        earlier_echo_path: the `way` of the round before on this port. voice: the partner's, where
        it isn't its own tone. level_before_db: the player's in an earlier round, re full scale;
        None where there is nothing to set this one beside.
        """
        self.round = round_
        self._level_before_db = level_before_db
        self.level_after_db = level_before_db
        """The player's usual level once the take is known, dB re full scale."""
        self.sounding = as_sounding(round_.notes, round_, instrument)
        self._turns = partners_turns(
            self.sounding,
            as_sounding(round_.partner_notes, round_, instrument),
            round_.beat_s,
            port.sample_rate_hz,
        )
        self.first_beat_frame = first_beat_frame
        self.trail: deque[LiveReading] = deque(maxlen=TRAIL_READINGS)
        self.live_notes: dict[int, LiveNote] = {}
        self._readings: list[LiveReading] = []
        self._port = port
        self._rate = port.sample_rate_hz
        self._take_frame = max(0, first_beat_frame - round(LEAD_S * self._rate))
        self._read_to_frame = self._looked_frame = self._take_frame
        self._hums = False
        self.microphone_died = False
        """It gave sound, and now gives nothing more of its own."""
        self._last_tone_frame = first_beat_frame
        self._live = LiveEar(
            self.sounding,
            round_.tempo_bpm,
            round_.tuning,
            self._rate,
            self.first_beat_s,
            softest_db(level_before_db),
        )
        now_frame = port.now_frame()
        track = clicks(round_, first_beat_frame, lead_in_beats, self._rate)
        self._clicks = [(frame, sound) for frame, sound in track if frame >= now_frame]
        self._confirmed = not port.listens
        self._leak_gain: float | None = None
        for frame, sound in self._clicks:  # before the partner is rendered, which takes its time
            port.play(sound, frame)
        partners = [
            (max(frame, now_frame), sound[max(0, now_frame - frame) :])
            for frame, sound in accompaniment(
                round_, self.sounding, instrument, first_beat_frame, self._rate, voice
            )
        ]
        for frame, sound in partners:
            port.play(sound, frame)
        beside = [*self._clicks, *([] if round_.partner in SILENT_PARTNERS else partners)]
        port.keep_from(min(self._learns_from_frame, self._take_frame))
        self._listening = TakeListener(
            self._rate,
            self.sounding,
            round_.tempo_bpm,
            round_.tuning,
            [KnownSound(sound, (frame - self._take_frame) / self._rate) for frame, sound in beside],
            timed=round_.in_time,
            earlier_echo_path=earlier_echo_path,
        )

    @property
    def beat(self) -> float:
        """Beats since the first one, as sounding now; negative during the count-in."""
        frames = self._port.audible_frame() - self.first_beat_frame
        return self.round.pace.beat_at(frames / self._rate)

    @property
    def way(self) -> EchoPath | None:
        """How the partner comes back through the microphone, as far as that is known."""
        return self._listening.way

    def follow(self) -> None:
        """Give what the microphone heard meanwhile to the live ear."""
        self._confirm_round_trip()
        heard_frame = self._port.heard_frame()
        self._see_whether_the_microphone_died(heard_frame)
        if not self._confirmed or not self._port.listens or heard_frame <= self._read_to_frame:
            return
        readings = self._live.feed(*self._heed(heard_frame))
        self.trail.extend(_steady(readings))
        self._readings.extend(readings)
        self.live_notes.update(_answered(readings, self.live_notes))
        toned = [reading.time_s for reading in readings if reading.midi is not None]
        if toned:
            self._last_tone_frame = self._take_frame + round(toned[-1] * self._rate)

    def answers(self) -> tuple[LiveNote, ...]:
        """The notes answered so far, each placed against the player's own lead or lag."""
        return against_lead(tuple(self.live_notes.values()))

    @property
    def readings(self) -> tuple[LiveReading, ...]:
        """The quick readings of the whole round, steady or not."""
        return tuple(self._readings)

    def is_over(self) -> bool:
        """The last beat is past and nothing sounds, or the student has played on long enough."""
        frame = self._port.heard_frame() if self._port.listens else self._port.now_frame()
        last_frame = self.first_beat_frame + round(self.round.seconds * self._rate)
        overrun_s = (frame - last_frame) / self._rate
        silent_s = (frame - self._last_tone_frame) / self._rate
        if overrun_s > LONGEST_OVERRUN * self.round.seconds + TAIL_S:
            return True
        return overrun_s > TAIL_S and silent_s > TAIL_S

    @property
    def seconds(self) -> float:
        """How long it lasts by the tempo asked for, or as far as it was heard."""
        if not self._port.listens:
            return self.round.seconds
        heard_frames = self._port.heard_frame() - self.first_beat_frame
        return max(0.0, min(self.round.seconds, heard_frames / self._rate))

    def weigh(self) -> tuple[Take, Marks] | None:
        """What was heard and how it is judged; None without a microphone."""
        take = self.take()
        if take is None:
            return None
        return take, judge(self.round, take, curves(take, self._readings))

    def partner_too_loud(self, take: Take) -> bool:
        """The partner comes back through the microphone so loud that the ear can't listen past it.

        The clicks' gain is taken to be the same for lower sounds where the partner wasn't found.
        """
        own_db = players_level_db(take)
        if self._leak_gain is None or self.round.partner in SILENT_PARTNERS:
            return False
        if own_db is None:  # nothing could be told from the partner, or nothing was played
            return all(note.state is State.NOT_JUDGED for note in take.expected_notes)
        leak_db = 20 * math.log10(PARTNER_RMS * self._leak_gain) + self.round.partner_level_db
        leaked = self._listening.leaked or Leaked(leak_db, None)
        leak_db = max(leak_db, leaked.level_db)
        if self.round.partner is PartnerPart.SAME_NOTES:
            return leak_db > own_db - UNISON_BELOW_DB
        left_share = 1.0 if leaked.left_share is None else max(leaked.left_share, LEAST_LEFT)
        return leak_db + 10 * math.log10(left_share) > own_db - PARTNER_BELOW_DB

    def _see_whether_the_microphone_died(self, heard_frame: int) -> None:
        """One that was silent to the last digit before anybody played tells nothing by it."""
        if heard_frame < self._looked_frame + round(DEATH_LOOK_S * self._rate):
            return
        if self._looked_frame == self._take_frame:
            self._hums = hums(self._port.read(self._take_frame, heard_frame), self._rate)
        self._looked_frame = heard_frame
        from_frame = max(self._take_frame, heard_frame - round(DEATH_SEEN_S * self._rate))
        lately = self._port.read(from_frame, heard_frame)
        self.microphone_died = self._hums and dies_at_s(lately, self._rate) is not None

    def _heed(self, heard_frame: int) -> tuple[Samples, Samples]:
        """Take in what the microphone heard since the last time; what the quick ear gets of it, and
        what of the partner may be in that."""
        if self._read_to_frame == self._take_frame:
            from_frame = min(self._learns_from_frame, heard_frame)
            count_in = self._port.read(from_frame, heard_frame)
            self._listening.learn(count_in, from_frame - self._take_frame)
        heard = self._turns.silenced(
            self._port.read(self._read_to_frame, max(heard_frame, self._read_to_frame)),
            self._read_to_frame - self.first_beat_frame,
        )
        self._read_to_frame = max(heard_frame, self._read_to_frame)
        self._listening.feed(heard)
        return self._listening.at_once(heard)

    @property
    def _learns_from_frame(self) -> int:
        """How the click leaks is learned from here on."""
        first_frame = min((frame for frame, _ in self._clicks), default=self._take_frame)
        return max(0, first_frame - round(BEFORE_CLICKS_S * self._rate))

    def sound(self) -> Samples:
        """What the microphone heard of it so far."""
        return self._port.read(self._take_frame, self._port.heard_frame())

    def take(self) -> Take | None:
        """The whole take worked through; None without a microphone."""
        if not self._port.listens:
            return None
        heard_frame = self._port.heard_frame()
        samples = self._port.read(self._take_frame, heard_frame)
        self._heed(heard_frame)
        take = self._listening.take(self.first_beat_s)
        if dies_at_s(samples, self._rate) is not None:
            take = replace(take, warnings=(DEAD_WORDS,))  # it explains whatever else is odd
        elif moves := self._moves():
            take = replace(take, warnings=(moves[0].what,))
        damage = self._damage(samples, heard_frame)
        take = spared(take, self.sounding, self.round.beat_s, damage)
        take = within_the_round(take, self.round.seconds)
        self.level_after_db = level_after_db(take, self._level_before_db)
        return as_the_players(take, self._level_before_db)

    def _damage(self, samples: Samples, heard_frame: int) -> Damage:
        """What went wrong with the sound meanwhile, the round trip's changing included."""
        way_s = (self._port.now_frame() - heard_frame) / self._rate
        until_s = [samples.size / self._rate]
        until_s += [self._since_s(move) - way_s for move in self._moves()]
        dies_s = dies_at_s(samples, self._rate)
        if dies_s is not None:
            until_s.append(dies_s)
        moved = moved_from(self._port, [c for c in self._clicks if c[0] >= self.first_beat_frame])
        if moved is not None:
            from_frame, late = moved
            until_s.append((from_frame - self._take_frame) / self._rate)
            self._port.lengthen_round_trip(late.frames)
        return Damage(
            faults_s=tuple(self._since_s(each) for each in self._port.faults() if each.lost),
            way_s=way_s,
            until_s=min(until_s),
        )

    def _moves(self) -> list[StreamFault]:
        """Where the way through the devices became another in this take."""
        return [each for each in self._port.faults() if each.moved and self._since_s(each) > 0]

    def _since_s(self, fault: StreamFault) -> float:
        return (fault.frame - self._take_frame) / self._rate

    def _confirm_round_trip(self) -> None:
        """Before the first beat: put the round trip right by the clicks that leak back."""
        if self._confirmed:
            return
        counted = [c for c in self._clicks if c[0] < self.first_beat_frame][-MOST_COUNTED:]
        latest_frame = self.first_beat_frame - round(CONFIRM_BY_S * self._rate)
        heard_frame = self._port.heard_frame()
        if not counted:
            self._confirmed = True
        elif heard_frame >= min(heard_until(self._port, counted), latest_frame):
            self._confirmed = True
            found = lateness(self._port, counted)
            if found is not None and abs(found.frames) > MOVED_S * self._rate:
                self._port.lengthen_round_trip(found.frames)
            if found is not None:
                self._leak_gain = leak_gain(self._port, counted)

    @property
    def first_beat_s(self) -> float:
        """Where the first beat falls in the take."""
        return (self.first_beat_frame - self._take_frame) / self._rate


def against_lead(notes: tuple[LiveNote, ...]) -> tuple[LiveNote, ...]:
    """The notes off the player's own lead or lag, and which of them stand out there.

    A constant lead is no error (Repp 2005, Psychonomic Bulletin & Review 12:969), and an unmeasured
    delay of the sound device looks just like one. Beside a wide spread, the player's own or of a
    room that rings over the strokes, few stand out; of a few notes neither is known.
    """
    placed = [note.off_beat_ms for note in notes if note.off_beat_ms is not None]
    if len(placed) < FEWEST_FOR_LEAD:
        return notes
    lead_ms, limit_ms = median(placed), late_limit_ms(robust_spread(placed))
    return tuple(
        note
        if note.off_beat_ms is None
        else replace(
            note,
            off_beat_ms=note.off_beat_ms - lead_ms,
            stands_out=abs(note.off_beat_ms - lead_ms) > limit_ms,
        )
        for note in notes
    )


def _steady(readings: Sequence[LiveReading]) -> Iterator[LiveReading]:
    """The readings without the cents of a pitch on its way to another note."""
    last_midi: float | None = None
    for reading in readings:
        moving = (
            reading.midi is None
            or last_midi is None
            or abs(reading.midi - last_midi) > STEADY_SEMITONES
        )
        last_midi = reading.midi
        yield replace(reading, cents=None, settled_cents=None) if moving else reading


def _answered(
    readings: Sequence[LiveReading], before: Mapping[int, LiveNote]
) -> dict[int, LiveNote]:
    """The newest steady pitch of each note just answered, with its first place on the beat."""
    notes: dict[int, LiveNote] = {}
    last_midi = 0.0
    for reading in readings:
        index = reading.note_index
        moving = reading.midi is None or abs(reading.midi - last_midi) > STEADY_SEMITONES
        last_midi = reading.midi or 0.0
        if index is None or (moving and reading.off_beat_ms is None):
            continue
        known = notes.get(index) or before.get(index)
        off_beat_ms = reading.off_beat_ms if known is None else known.off_beat_ms
        if off_beat_ms is None:
            off_beat_ms = reading.off_beat_ms
        unclear = moving or reading.cents is None
        cents = known.cents if unclear and known is not None else reading.cents
        notes[index] = LiveNote(index, reading.midi, cents, off_beat_ms)
    return notes
