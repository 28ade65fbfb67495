"""What a morning is practised with, made ready: the sound port, and what earlier days have left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from trainer.app.begun_walk import begun_walk, take_keeper, two_keeper
from trainer.app.microphone_policy import check_due, level_before_db
from trainer.app.morning import Morning
from trainer.app.open_session import KEYS_REMEMBERED, local_now, remembered_sessions
from trainer.app.paths import Paths
from trainer.app.practice_ports import practice_port
from trainer.app.settings import STEADY_TONE, Settings
from trainer.errors import SoundError
from trainer.journal.log import SessionLog
from trainer.journal.tuning_map import tuning_maps
from trainer.session.beginning import Beginning
from trainer.session.history_from_journal import history_of
from trainer.session.round_begins import ToldOfRound
from trainer.session.walk import Walk
from trainer.sound.device_port import DevicePort
from trainer.sound.partner import Voice
from trainer.sound.port import SoundPort
from trainer.sound.sampled import sampled_flute


@dataclass(frozen=True)
class PracticeReady:
    """All that practice needs beside the day's routine."""

    paths: Paths
    port: SoundPort
    round_begins: ToldOfRound
    """Told of each round."""
    sessions: tuple[SessionLog, ...]
    """Of earlier days, whole."""

    def walk(self, morning: Morning) -> Walk:
        """The morning's walk at its beginning; the port must be open."""
        now, file = local_now(), self.paths.calibration_file
        voice, unheard = partners_voice(morning.settings, self.port.sample_rate_hz)
        is_students = isinstance(self.port, DevicePort)
        return begun_walk(
            morning.routine,
            morning.planned,
            morning.view.today,
            self.port,
            self.paths,
            Beginning(
                now=local_now,
                round_begins=self.round_begins,
                notices=(*morning.view.notices, *unheard),
                history=history_of(self.sessions, morning.day),
                keep_take=None if morning.settings_wrong else take_keeper(self.paths, local_now),
                keep_two=two_keeper(self.paths, local_now),
                check_asked=check_due(file, self.port, self.sessions, now) if is_students else None,
                level_before_db=level_before_db(file, self.port, self.sessions),
                voice=voice,
                usual_cents=usual_cents(self.sessions, morning.routine.instrument),
            ),
        )


def usual_cents(sessions: Sequence[SessionLog], instrument: str) -> dict[int, float]:
    """Where each note of the instrument usually stood, by MIDI number of the written pitch."""
    of_it = [each for each in tuning_maps(sessions) if each.instrument == instrument]
    return {note.midi: note.cents.median for each in of_it for note in each.notes}


def practice_ready(paths: Paths, player: str | None, day: date) -> PracticeReady:
    """The port first: the device opens while the journal is read."""
    port, round_begins = practice_port(paths, player)
    sessions, _ = remembered_sessions(paths, day - KEYS_REMEMBERED, day - timedelta(days=1))
    return PracticeReady(paths, port, round_begins, sessions)


def partners_voice(settings: Settings, sample_rate_hz: int) -> tuple[Voice | None, tuple[str, ...]]:
    """What the partner plays with, None for its own tone; and a sentence where the sampled flute
    that is set can't be had."""
    if settings.partner_sound == STEADY_TONE:
        return None, ()
    try:
        return sampled_flute(settings.soundfont, sample_rate_hz), ()
    except SoundError as error:
        return None, (f"{error} Until then the partner plays its own tone.",)
