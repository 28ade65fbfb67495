"""How much worse the ear hears when click and partner come back through the microphone.

    python -m tests.bench.leak

The played-in flutist in simulated rounds, counted in, each worked through as in practice. The
loudspeakers and rooms are dealt by seeds that nothing was fitted on. Writes 'Click and partner in
the microphone' into RESULTS.md.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from scipy import signal

from tests.bench.results import write_section
from trainer.app.open_session import planned_for
from trainer.ear.echo.canceller import EchoCanceller, KnownSound
from trainer.ear.echo.echo_path import EchoPath
from trainer.ear.heard import LiveNote, State, Take
from trainer.errors import SoundError
from trainer.music.instrument import instrument_named
from trainer.music.note import Note
from trainer.music.pitch import Pitch
from trainer.music.scales import ScaleKind
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.player.performance import Performance
from trainer.player.room import in_room
from trainer.routine.load import load_routine
from trainer.routine.round import PartnerPart, Round
from trainer.routine.second_part import PARALLEL_STEPS, beside_scale, in_canon
from trainer.session.accompaniment import accompaniment, clicks
from trainer.session.round_recorder import RoundRecorder
from trainer.sound.partner import RMS, Voice
from trainer.sound.port import Samples
from trainer.sound.sampled import sampled_flute
from trainer.sound.simulated import SimulatedPort

RATE = 48000
FLUTE = instrument_named("flute")
NEAR_S = 0.025
READY_S = 0.3
LOOK_FRAMES = RATE // 30
NOISE_DB = -75.0
"""The microphone's own, dBFS."""
ROUTINE = """
title: Leak
exercises:
  - scale: one
    key: D
    range: two octaves
    tempo: 80
    articulations: [single, slurred]
  - scale: two
    key: Bb
    range: two octaves
    tempo: 66
    articulations: [legato tongue, single]
"""
CLICK = "click alone"
PARTNERS: dict[str, PartnerPart | None] = {
    CLICK: None,
    "click and the same notes": PartnerPart.SAME_NOTES,
    "click and the octave below": PartnerPart.OCTAVE_BELOW,
    "click and a drone": PartnerPart.DRONE,
    "click and thirds above": PartnerPart.THIRDS_ABOVE,
    "click and sixths below": PartnerPart.SIXTHS_BELOW,
    "click and a canon": PartnerPart.CANON,
}
DRONE = Pitch.parse("D4")
PLAYERS = (730, 830, 930)
LEVELS_DB = (-20.0, -10.0)


@dataclass(frozen=True)
class Loudspeaker:
    """How the trainer's own sound reaches the microphone."""

    name: str
    rt60_s: tuple[float, float]
    """From and to; dealt anew for every round, with the loudspeaker's bumps and its lowest note."""
    wet_db: float = -8.0
    bend: float = 0.0
    """Square and cube of the sound, as shares of what a steady note has at its peaks."""
    drift_ppm: float = 0.0


ROOMS = (
    Loudspeaker("small room", (0.2, 0.35)),
    Loudspeaker("live room, no direct sound to speak of", (0.5, 0.6), wet_db=3.0),
    Loudspeaker("small room, loudspeaker overdriven by 3 %", (0.2, 0.35), bend=0.03),
    Loudspeaker("small room, loudspeaker overdriven by 30 %", (0.2, 0.35), bend=0.3),
    Loudspeaker("small room, clocks apart by 20 ppm", (0.2, 0.35), drift_ppm=20.0),
)


@dataclass(frozen=True)
class Heard:
    """One round as it was played and as it was taken."""

    played: Performance
    late_s: float
    """From the player's time to the take's."""
    take: Take
    live: dict[int, LiveNote]
    told: bool
    """The student is told of headphones."""
    way: EchoPath | None


def rounds() -> list[Round]:
    """The rounds that are played."""
    with TemporaryDirectory() as name:
        file = Path(name) / "routine.yaml"
        file.write_text(ROUTINE)
        routine, problems = load_routine(file)
    assert routine is not None, problems
    return [round_ for one in planned_for(routine, date(2026, 3, 2), ()) for round_ in one.rounds]


def through(loudspeaker: Loudspeaker, sound: Samples, seed: int) -> Samples:
    """What a loudspeaker in a room makes of a sound; a direct sound stays about as loud."""
    dice = np.random.default_rng(seed)
    peak = RMS * np.sqrt(2)
    bent = sound * (1 + loudspeaker.bend * (sound / peak + (sound / peak) ** 2))
    lowest_hz = dice.uniform(120, 260)
    loud = signal.sosfilt(signal.butter(2, lowest_hz, "high", fs=RATE, output="sos"), bent)
    for _ in range(4):
        loud = bumped(loud, np.exp(dice.uniform(np.log(300), np.log(5000))), dice.uniform(-5, 5))
    if loudspeaker.drift_ppm:
        places = np.arange(loud.size)
        loud = np.interp(places * (1 - 1e-6 * loudspeaker.drift_ppm), places, loud)
    rt60_s = dice.uniform(*loudspeaker.rt60_s)
    late = np.pad(loud, (round(dice.uniform(0.0, 0.002) * RATE), 0))
    roomy = in_room(late.astype(np.float32), RATE, rt60_s, seed, loudspeaker.wet_db)
    return roomy[: sound.size]


def bumped(sound: Samples, hz: float, db: float) -> Samples:
    """A peak or dip of an octave about a frequency (second-order section, R. Bristow-Johnson's
    audio cookbook)."""
    turn, height = 2 * np.pi * hz / RATE, 10 ** (db / 40)
    width = np.sin(turn) / (2 * np.sqrt(2))
    top = [1 + width * height, -2 * np.cos(turn), 1 - width * height]
    bottom = [1 + width / height, -2 * np.cos(turn), 1 - width / height]
    return signal.lfilter(top, bottom, sound)


def heard(
    round_: Round,
    played: Performance,
    loudspeaker: Loudspeaker,
    level_db: float | None,
    seed: int,
    earlier_echo_path: EchoPath | None,
    voice: Voice | None = None,
) -> Heard:
    """A round on a simulated port whose microphone hears the player and the loudspeaker."""
    first_frame = round((READY_S + round_.lead_in_beats * round_.beat_s) * RATE)
    from_frame = first_frame - round(played.first_beat_s * RATE)
    sound = np.zeros(from_frame + played.samples.size + 2 * RATE, np.float32)
    sound[from_frame:][: played.samples.size] = played.samples
    if level_db is not None:
        sounding = played.samples[np.abs(played.samples) > 0.01]
        gain = np.sqrt(np.mean(sounding**2)) * 10 ** (level_db / 20) / RMS
        sound += gain * through(
            loudspeaker, own_sound(round_, first_frame, sound.size, voice), seed
        )
    sound += 10 ** (NOISE_DB / 20) * np.random.default_rng(seed).standard_normal(sound.size)
    port = SimulatedPort(RATE, memory_s=sound.size / RATE + 5)
    port.sing(sound.astype(np.float32), 0)
    under_way = RoundRecorder(
        port, FLUTE, round_, first_frame, round_.lead_in_beats, earlier_echo_path, voice
    )
    while port.now_frame() + LOOK_FRAMES <= sound.size:
        port.advance(LOOK_FRAMES)
        under_way.follow()
    take = under_way.take()
    assert take is not None
    return Heard(
        played,
        take.first_beat_s - played.first_beat_s,
        take,
        under_way.live_notes,
        under_way.partner_too_loud(take),
        under_way.way,
    )


def own_sound(round_: Round, first_frame: int, size: int, voice: Voice | None) -> Samples:
    """What the trainer plays in the round, from the port's first frame on."""
    scheduled = clicks(round_, first_frame, round_.lead_in_beats, RATE)
    scheduled += accompaniment(round_, round_.notes, FLUTE, first_frame, RATE, voice)
    loud: Samples = np.zeros(size + 10 * RATE, np.float32)
    for frame, sound in scheduled:
        first = max(frame, 0)
        loud[first : frame + sound.size] += sound[first - frame :]
    return loud[:size]


def scored(rows: Sequence[Heard]) -> str:
    """Onsets, pitches and starts against what was played, as cells of the table."""
    off_s, cents, hits, truth, found, missed, extra = [], [], 0, 0, 0, 0, 0
    starts, live, misled = [], [], []
    for one in rows:
        notes = {note.index: note for note in one.take.expected_notes}
        found += sum(note.onset_s is not None for note in one.take.notes)
        extra += one.take.count(State.EXTRA)
        for true in one.played.truth:
            truth += 1
            quick = one.live.get(true.index)
            given = quick is not None and quick.midi is not None
            right = given and abs(quick.midi - true.midi) < 0.5
            live.append(right)
            misled.append(given and not right)
            note = notes.get(true.index)
            if note is None or note.onset_s is None:
                missed += note is None or note.state is State.MISSED
                continue
            off_s.append(abs(note.onset_s - one.late_s - true.onset_s))
            hits += off_s[-1] <= NEAR_S
            starts.append(note.start == true.start)
            if note.cents is not None:
                cents.append(abs(note.cents - true.cents))
    return (
        f"{2 * hits / (truth + found):.3f} | {1000 * np.median(off_s):.1f} ms | "
        f"{np.median(cents):.2f} | {np.percentile(cents, 95):.2f} | {np.mean(starts):.3f} | "
        f"{missed} | {extra} | {np.mean(live):.2f} | {np.mean(misled):.2f} | "
        f"{sum(one.told for one in rows)} of {len(rows)}"
    )


def cost() -> str:
    """What it takes to listen past a partner for two minutes."""
    (round_, *_), seconds = rounds(), 120.0
    again = int(seconds / round_.seconds)
    notes = tuple(
        replace(note, beat=note.beat + time_ * Fraction(round_.beats))
        for time_ in range(again)
        for note in round_.notes
    )
    round_ = replace(round_, notes=notes, partner=PartnerPart.OCTAVE_BELOW)
    size = round(seconds * RATE)
    played = Flutist(Habits(), seed=1).play(notes, round_.tempo_bpm, round_.tuning, RATE)
    first_frame = round(played.first_beat_s * RATE)
    known = clicks(round_, first_frame, 0, RATE)
    known += accompaniment(round_, notes, FLUTE, first_frame, RATE)
    loud = np.zeros(size, np.float32)
    for frame, of in known:
        loud[max(0, frame) : frame + of.size] += of[max(0, -frame) : size - frame]
    sound = played.samples[:size] + 0.3 * through(ROOMS[0], loud, 1)
    leak = EchoCanceller(RATE, [KnownSound(of, frame / RATE) for frame, of in known])
    spent_s = []
    for first in range(0, sound.size, LOOK_FRAMES):
        piece = sound[first : first + LOOK_FRAMES].astype(np.float32)
        begun_s = time.process_time()
        leak.feed(piece)
        leak.at_once(piece)
        spent_s.append(time.process_time() - begun_s)
    begun_s = time.process_time()
    leak.rest()
    rest_ms = 1000 * (time.process_time() - begun_s)
    return (
        f"Two minutes with the octave below: {100 * RATE * sum(spent_s) / sound.size:.1f} % of a "
        f"core while it sounds, {1000 * np.median(spent_s):.1f} ms a look in the median, "
        f"{1000 * max(spent_s):.0f} ms at most, {rest_ms:.0f} ms after the last sample."
    )


def with_partner(round_: Round, part: PartnerPart | None) -> Round:
    """The round with what the partner plays."""
    second: tuple[Note, ...] = ()
    if part is PartnerPart.CANON:
        second = in_canon(round_.notes, round_.beats_per_bar)
    elif part in PARALLEL_STEPS:
        assert round_.key is not None
        low, high = Pitch.parse("C4"), Pitch.parse("C7")
        second = beside_scale(round_.notes, part, round_.key.tonic, ScaleKind.MAJOR, low, high)
    drone = DRONE if part is PartnerPart.DRONE else None
    return replace(round_, partner=part, drone=drone, second_part=second)


def main() -> None:
    """Every partner at every level beside silence, then other rooms and loudspeakers."""
    practice = rounds()

    def row(
        name: str,
        part: PartnerPart | None,
        room: Loudspeaker,
        level_db: float | None,
        voice: Voice | None = None,
    ) -> str:
        results = []
        for player in PLAYERS:
            way = None
            for number, round_ in enumerate(practice):
                asked = with_partner(round_, part)
                flutist = Flutist(Habits(), seed=player + number)
                played = flutist.play(round_.notes, round_.tempo_bpm, round_.tuning, RATE)
                results.append(heard(asked, played, room, level_db, 7000 + player, way, voice))
                way = results[-1].way
        level = "–" if level_db is None else f"{level_db:.0f} dB"
        line = f"| {name} | {level} | {scored(results)} |"
        print(line, flush=True)
        return line

    lines = [row("silence", None, ROOMS[0], None)]
    for level_db in LEVELS_DB:
        lines += [row(name, part, ROOMS[0], level_db) for name, part in PARTNERS.items()]
    for room in ROOMS[1:]:
        lines += [
            row(f"{room.name}: {name}", part, room, -10.0)
            for name, part in PARTNERS.items()
            if name != CLICK
        ]
    try:
        flute = sampled_flute(None, RATE)
    except SoundError as error:
        print(f"without a sampled flute: {error}")
    else:
        lines += [
            row(f"{name}, of a sampled flute", part, ROOMS[0], -10.0, flute)
            for name, part in PARTNERS.items()
            if part in (PartnerPart.SAME_NOTES, PartnerPart.OCTAVE_BELOW)
        ]
    notes = len(PLAYERS) * sum(len(round_.notes) for round_ in practice)
    spent = cost()
    print(spent)
    write_section(
        "Click and partner in the microphone",
        f"`python -m tests.bench.leak`: {len(PLAYERS)} players, each with a loudspeaker and a "
        f"room by seeds that nothing was fitted on; {len(practice)} rounds each, one after another "
        f"as in practice, {notes} notes in all. "
        "The level is the partner's, against the flute's; the click keeps its proportion to it (a "
        "beat's highest sample is 6 dB above the partner's RMS). Starts: slurred, tongued or "
        "breathed as played. Live: the quick answer is the note that was played; misled: it is "
        "another, instead of none. Told: that "
        "headphones would serve better.\n\n"
        "| loudspeaker | leak | onset F ±25 ms | onset median | cents, median | 95th | starts "
        "right | missed | extra | live | misled | told |\n"
        "|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|\n"
        + "\n".join(lines)
        + f"\n\n{spent}",
    )


if __name__ == "__main__":
    main()
