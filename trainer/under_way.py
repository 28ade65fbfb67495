"""The round that is sounding: what is scheduled on the port, and the take that grows."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

from trainer.ear.hear import hear
from trainer.ear.heard import HeardNote, LiveReading, State, Take
from trainer.ear.known import KnownSound
from trainer.ear.live import LiveEar
from trainer.music.instrument import Instrument
from trainer.music.note import Note
from trainer.routine.round import PartnerPart, Round
from trainer.sound.click import click_track
from trainer.sound.partner import drone, partner
from trainer.sound.port import Samples, SoundPort

LEAD_S = 0.5
"""The take begins this long before the first beat, so that an early first note is in it."""
TAIL_S = 0.6
"""The round is over when this long after its last note nothing sounds any more."""
LONGEST_OVERRUN = 0.5
"""A student who stumbled may play on after the last beat for this share of the round's length."""
STEADY_SEMITONES = 0.1
"""A pitch that moves further in 5 ms is on its way to another note."""
FEWEST_FOR_LEAD = 3
FAULT_REACH_S = 0.15
"""Sound lost at a fault may belong to notes this near: a device's buffer, our own estimate."""
TRAIL_READINGS = 1200


@dataclass(frozen=True)
class LiveNote:
    """The quick answer for one expected note."""

    index: int
    midi: float | None
    cents: float | None
    off_beat_ms: float | None


class RoundUnderWay:
    """One round on a port, from its count-in to its take."""

    def __init__(
        self,
        port: SoundPort,
        instrument: Instrument,
        round_: Round,
        first_beat_frame: int,
        count_in_beats: int,
    ) -> None:
        """Schedule the clicks and the partner; what should already have sounded is left out."""
        self.round = round_
        self.sounding = tuple(
            replace(note, pitch=instrument.sounding(note.pitch)) for note in round_.notes
        )
        self.first_beat_frame = first_beat_frame
        self.trail: deque[LiveReading] = deque(maxlen=TRAIL_READINGS)
        self.live_notes: dict[int, LiveNote] = {}
        self._port = port
        self._rate = port.sample_rate_hz
        self._take_frame = max(0, first_beat_frame - round(LEAD_S * self._rate))
        self._read_to_frame = self._take_frame
        self._last_tone_frame = first_beat_frame
        self._live = LiveEar(
            self.sounding, round_.tempo_bpm, round_.tuning, self._rate, self._first_beat_s
        )
        scheduled = [
            *_clicks(round_, first_beat_frame, count_in_beats, port),
            *_partner(round_, self.sounding, instrument, first_beat_frame, port),
        ]
        for frame, sound in scheduled:
            port.play(sound, frame)
        self._known = tuple(
            KnownSound(sound, (frame - self._take_frame) / self._rate) for frame, sound in scheduled
        )

    @property
    def beat(self) -> float:
        """Beats since the first one, as sounding now; negative during the count-in."""
        frames = self._port.now_frame() - self.first_beat_frame
        return frames / self._rate / self.round.beat_s

    def follow(self) -> None:
        """Give what the microphone heard meanwhile to the live ear."""
        heard_frame = self._port.heard_frame()
        if not self._port.listens or heard_frame <= self._read_to_frame:
            return
        readings = self._live.feed(self._port.read(self._read_to_frame, heard_frame))
        self._read_to_frame = heard_frame
        self.trail.extend(_steady(readings))
        self.live_notes.update(_answered(readings, self.live_notes))
        toned = [reading.time_s for reading in readings if reading.midi is not None]
        if toned:
            self._last_tone_frame = self._take_frame + round(toned[-1] * self._rate)

    def answers(self) -> tuple[LiveNote, ...]:
        """The notes answered so far, each placed against the player's own lead or lag.

        A constant lead is no error (Repp 2005, Psychonomic Bulletin & Review 12:969), and an
        unmeasured delay of the sound device looks just like one.
        """
        placed = [n.off_beat_ms for n in self.live_notes.values() if n.off_beat_ms is not None]
        lead_ms = median(placed) if len(placed) >= FEWEST_FOR_LEAD else 0.0
        return tuple(
            replace(note, off_beat_ms=note.off_beat_ms - lead_ms)
            if note.off_beat_ms is not None
            else note
            for note in self.live_notes.values()
        )

    def is_over(self) -> bool:
        """The last beat is past and nothing sounds, or the student has played on long enough."""
        frame = self._port.heard_frame() if self._port.listens else self._port.now_frame()
        last_frame = self.first_beat_frame + round(self.round.seconds * self._rate)
        overrun_s = (frame - last_frame) / self._rate
        silent_s = (frame - self._last_tone_frame) / self._rate
        if overrun_s > LONGEST_OVERRUN * self.round.seconds + TAIL_S:
            return True
        return overrun_s > TAIL_S and silent_s > TAIL_S

    def take(self) -> Take | None:
        """The whole take worked through; None without a microphone."""
        if not self._port.listens:
            return None
        take = hear(
            self._port.read(self._take_frame, self._port.heard_frame()),
            self._rate,
            self.sounding,
            self.round.tempo_bpm,
            self.round.tuning,
            self._first_beat_s,
            clicks=self._known,
        )
        faults_s = [(fault.frame - self._take_frame) / self._rate for fault in self._port.faults()]
        return spared(take, self.sounding, self.round.beat_s, faults_s)

    @property
    def _first_beat_s(self) -> float:
        return (self.first_beat_frame - self._take_frame) / self._rate


def spared(take: Take, expected: Sequence[Note], beat_s: float, faults_s: Sequence[float]) -> Take:
    """The take with the notes that a fault of the stream touched as not judged.

    faults_s: times of the faults in the take's samples.
    """

    def touched(note: HeardNote) -> bool:
        place_s = note.onset_s
        if place_s is None and note.index is not None:
            place_s = take.first_beat_s + float(expected[note.index].beat) * beat_s
        return place_s is not None and any(
            abs(place_s - fault_s) < FAULT_REACH_S for fault_s in faults_s
        )

    return replace(
        take,
        notes=tuple(
            HeardNote(note.index, note.expected, State.NOT_JUDGED) if touched(note) else note
            for note in take.notes
            if note.index is not None or not touched(note)
        ),
    )


def _clicks(
    round_: Round, first_beat_frame: int, count_in_beats: int, port: SoundPort
) -> list[tuple[int, Samples]]:
    """The clicks still to come."""
    beats = -(-round_.beats.numerator // round_.beats.denominator)
    track = click_track(
        first_beat_frame,
        beats,
        round_.beats_per_bar,
        round_.tempo_bpm,
        count_in_beats,
        port.sample_rate_hz,
    )
    now_frame = port.now_frame()
    return [(frame, sound) for frame, sound in track if frame >= now_frame]


def _partner(
    round_: Round,
    sounding: Sequence[Note],
    instrument: Instrument,
    first_beat_frame: int,
    port: SoundPort,
) -> list[tuple[int, Samples]]:
    """What the trainer plays along, from now on where the round has begun already."""
    sound = _partner_sound(round_, sounding, instrument, port.sample_rate_hz)
    if sound is None:
        return []
    late = max(0, port.now_frame() - first_beat_frame)
    return [(first_beat_frame + late, sound[late:])]


def _partner_sound(
    round_: Round, sounding: Sequence[Note], instrument: Instrument, rate: int
) -> Samples | None:
    match round_.partner:
        case PartnerPart.SAME_NOTES:
            return partner(sounding, round_.tempo_bpm, round_.tuning, rate)
        case PartnerPart.OCTAVE_BELOW:
            return partner(sounding, round_.tempo_bpm, round_.tuning, rate, semitones=-12)
        case PartnerPart.DRONE if round_.drone is not None:
            pitch = instrument.sounding(round_.drone)
            return drone(pitch, round_.seconds, round_.tuning, rate)
        case _:
            return None


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
        yield replace(reading, cents=None) if moving else reading


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
        cents = known.cents if moving and known is not None else reading.cents
        notes[index] = LiveNote(index, reading.midi, cents, off_beat_ms)
    return notes
