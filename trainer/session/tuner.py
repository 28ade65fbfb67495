"""Tuning beside the routine: what sounds, a drone to play above, and where the room's A stands."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping

from trainer.ear.live.free_note import FreeNote, FreeNotes
from trainer.ear.live.reference_tone import a4_of
from trainer.music.instrument import Instrument
from trainer.music.pitch import Pitch, usual_pitch
from trainer.music.tuning import A4_MIDI, Tuning
from trainer.session.view import DroneAbove, TunerView
from trainer.sound.partner import DRONE_RISE_S, held_piece
from trainer.sound.port import SoundPort

TRAIL_S, TRAIL_STEP_S = 6.0, 0.1
"""How much of the last figures is kept to be drawn, and how far apart they lie."""
LISTENS_S = 4.0
"""To somebody else's A: a second to begin it, three to hear."""
LISTENS_ON_S, LISTENS_LONGEST_S = 2.5, 9.0
"""As long again, and so long at most, where many play and it wavers."""
CERTAIN_HZ = 0.3
"""It is offered where it is known so nearly: about a cent."""
DRONE_PIECE_S = 2.0
"""The drone is handed over in pieces of this length."""
DRONE_AHEAD_S = 1.0
"""The next piece is handed over so long before it is due."""
LATEST_S = 1.0
"""Of what was heard while nobody read, only so much is taken up."""

ABOVE: dict[DroneAbove, tuple[int, ...]] = {
    DroneAbove.NOTHING: (),
    DroneAbove.FIFTH: (7,),
    DroneAbove.OCTAVE: (12,),
    DroneAbove.FIFTH_AND_OCTAVE: (7, 12),
}
"""Half steps above the drone's note."""

NO_MICROPHONE = "There is no microphone to hear you with: plug one in."
GIVE_IT = "Let {note} sound three seconds: any octave, or its chord. Up, down: another note."
WAVERS = "It wavers: let {note} sound on."
TOO_WAVERING = "That {note} wavers too much to say where A4 is: try one player, or a piano."
NOT_CLEAR = "There was no clear {note}: nearer to the microphone, and once more with a."
FOUND = "A4 is at {hz:.1f} here. Enter takes it for today, k keeps it for this room."
WITH_HEADPHONES = "With the drone wear headphones: the microphone hears it too."


class Tuner:
    """Listens at a port while nothing of the routine sounds. `tick` often."""

    def __init__(
        self,
        port: SoundPort,
        instrument: Instrument,
        tuning: Tuning,
        usual_cents: Mapping[int, float],
    ) -> None:
        """usual_cents: by MIDI number of the written pitch."""
        self._port = port
        self._instrument = instrument
        self._tempered = Tuning(tuning.a4_hz)
        self._usual_cents = usual_cents
        self._drone: Pitch | None = None
        self._pure = True
        self._above = DroneAbove.NOTHING
        self._drone_from_frame = self._drone_to_frame = 0
        self._words = "" if port.listens else NO_MICROPHONE
        self._heard_a4_hz: float | None = None
        self._given = usual_pitch(A4_MIDI)
        self._a_from_frame: int | None = None
        self._a_listens_s = LISTENS_S
        self._written: Pitch | None = None
        self._cents = 0.0
        self._stands_s = 0.0
        self._trail: deque[float | None] = deque(maxlen=round(TRAIL_S / TRAIL_STEP_S))
        self._was_gone = not port.alive
        self._begin()

    def _begin(self) -> None:
        """From now on, at the port's rate."""
        self._rate = self._port.sample_rate_hz
        self._notes = FreeNotes(self._rate)
        self._read_to_frame = self._trail_frame = self._port.heard_frame()

    def tick(self) -> None:
        """Read on, and keep the drone sounding."""
        if not self._port.alive:
            self._was_gone = True
            return
        if self._was_gone:
            self._take_up_again()
        heard_frame = self._port.heard_frame()
        begin = max(self._read_to_frame, heard_frame - round(LATEST_S * self._rate))
        self._take(self._notes.feed(self._port.read(begin, heard_frame)))
        self._read_to_frame = heard_frame
        while heard_frame - self._trail_frame >= TRAIL_STEP_S * self._rate:
            self._trail.append(self._cents if self._stands_s else None)
            self._trail_frame += round(TRAIL_STEP_S * self._rate)
        self._listen_to_the_a(heard_frame)
        self._keep_drone()

    def _take_up_again(self) -> None:
        """The device is back: what was handed over before is forgotten there, and so is the A."""
        self._was_gone = False
        self._begin()
        self._drone_from_frame = self._drone_to_frame = self._port.now_frame()
        if self._a_from_frame is not None:
            self.listen_for_a(self._given)

    def _take(self, note: FreeNote | None) -> None:
        self._stands_s = 0.0 if note is None else note.stands_s
        if note is None:
            return
        midi = round(self._tempered.midi(note.hz))
        self._written = self._instrument.written(usual_pitch(midi))
        self._cents = self._tuning.cents(note.hz, self._tuning.unasked_pitch(midi))

    @property
    def _tuning(self) -> Tuning:
        if self._drone is None or not self._pure:
            return self._tempered
        return Tuning(self._tempered.a4_hz, self._instrument.sounding(self._drone))

    # The drone

    def sound_drone(
        self, written: Pitch | None, *, pure: bool = True, above: DroneAbove = DroneAbove.NOTHING
    ) -> None:
        """Hold this note from now on, with what is asked above it; None: hold none."""
        self._port.hush(0)
        self._drone, self._pure, self._above = written, pure, above
        self._drone_from_frame = self._drone_to_frame = self._port.now_frame()
        self._words = "" if written is None else WITH_HEADPHONES
        self._keep_drone()

    def _keep_drone(self) -> None:
        """Hand over the next piece before the one that sounds is over."""
        if self._drone is None:
            return
        now = self._port.now_frame()
        if self._drone_to_frame - now > DRONE_AHEAD_S * self._rate:
            return
        start, step = max(self._drone_to_frame, now), round(DRONE_PIECE_S * self._rate)
        frames = step + round(DRONE_RISE_S * self._rate)
        piece = held_piece(
            self._voices_hz(self._drone), start - self._drone_from_frame, frames, self._rate
        )
        self._port.play(piece, start)
        self._drone_to_frame = start + step

    def _voices_hz(self, written: Pitch) -> list[float]:
        """The drone and what is held above it, in the tuning it is to be played above in."""
        tuning, lowest = self._tuning, self._instrument.sounding(written).midi
        return [tuning.hz(tuning.unasked_pitch(lowest + up)) for up in (0, *ABOVE[self._above])]

    # Somebody else's A

    def listen_for_a(self, given: Pitch) -> None:
        """Hear from now on where the room's A stands; a drone falls silent.

        given: the sounding note that is played, in any octave, alone or as the root of a chord.
        """
        if self._port.listens:
            self.sound_drone(None)
            self._given, self._a_from_frame = given, self._port.heard_frame()
            self._a_listens_s = LISTENS_S
            self._heard_a4_hz, self._words = None, GIVE_IT.format(note=given)

    def _listen_to_the_a(self, heard_frame: int) -> None:
        if self._a_from_frame is None or heard_frame < self._a_end_frame:
            return
        sound = self._port.read(self._a_from_frame, self._a_end_frame)
        heard = a4_of(sound, self._rate, self._given.midi - A4_MIDI)
        wavers = heard is not None and heard.within_hz > CERTAIN_HZ
        if wavers and self._a_listens_s + LISTENS_ON_S <= LISTENS_LONGEST_S:
            self._a_listens_s += LISTENS_ON_S
            self._words = WAVERS.format(note=self._given)
            return
        self._a_from_frame = None
        if heard is None or wavers:
            self._words = (NOT_CLEAR if heard is None else TOO_WAVERING).format(note=self._given)
        else:
            self._heard_a4_hz = heard.a4_hz
            self._words = FOUND.format(hz=heard.a4_hz)

    @property
    def _a_end_frame(self) -> int:
        assert self._a_from_frame is not None
        return self._a_from_frame + round(self._a_listens_s * self._rate)

    def close(self) -> None:
        """Fall silent."""
        self.sound_drone(None)

    def view(self) -> TunerView:
        """How it stands now."""
        left_s = None
        if self._a_from_frame is not None:
            left_s = max(0.0, (self._a_end_frame - self._port.heard_frame()) / self._rate)
        midi = None if self._written is None else self._written.midi
        return TunerView(
            written=self._written,
            cents=self._cents,
            stands_s=self._stands_s,
            usual_cents=None if midi is None else self._usual_cents.get(midi),
            trail=tuple(self._trail),
            a4_hz=self._tempered.a4_hz,
            drone=self._drone,
            pure=self._pure,
            above=self._above,
            a_seconds_left=left_s,
            heard_a4_hz=self._heard_a4_hz,
            given=self._given,
            words=self._words,
        )
