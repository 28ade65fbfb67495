"""How much worse the ear hears when click and partner come back through the microphone.

    python tests/bench/leak.py

The played-in flutist in simulated rounds; loudspeaker through a small room. Writes 'Click and
partner in the microphone' into RESULTS.md.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from results import write_section

from trainer.ear.hear import hear
from trainer.ear.heard import State, Take
from trainer.ear.known import KnownSound
from trainer.music.instrument import instrument_named
from trainer.music.pitch import Pitch
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.player.performance import Performance
from trainer.player.room import in_room
from trainer.practise import planned_for
from trainer.routine.load import load_routine
from trainer.routine.round import PartnerPart, Round
from trainer.scheduled import accompaniment, clicks
from trainer.sound.partner import RMS
from trainer.sound.port import Samples

RATE = 48000
NEAR_S = 0.025
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
PARTNERS: dict[str, PartnerPart | None] = {
    "click alone": None,
    "click and the same notes": PartnerPart.SAME_NOTES,
    "click and the octave below": PartnerPart.OCTAVE_BELOW,
    "click and a drone": PartnerPart.DRONE,
}
LEVELS_DB = (-20.0, -10.0)


@dataclass(frozen=True)
class Score:
    """What the ear made of the takes."""

    f_onset: float
    onset_ms: float
    cents: float
    missed: int
    extra: int
    notes: int


def rounds() -> list[Round]:
    """The rounds that are played."""
    with TemporaryDirectory() as name:
        file = Path(name) / "routine.yaml"
        file.write_text(ROUTINE)
        routine, problems = load_routine(file)
    assert routine is not None, problems
    return [round_ for one in planned_for(routine, date(2026, 3, 2), ()) for round_ in one.rounds]


def take_of(
    round_: Round, played: Performance, partner: PartnerPart | None, level_db: float | None
) -> Take:
    """The take with the loudspeaker's sound in it, which the ear is told of as in practice."""
    drone = Pitch.parse("D4") if partner is PartnerPart.DRONE else None
    round_ = replace(round_, partner=partner, drone=drone)
    first_frame = round(played.first_beat_s * RATE)
    samples = played.samples.astype(np.float32)
    known: list[tuple[int, Samples]] = []
    if level_db is not None:
        known = clicks(round_, first_frame, 0, RATE)
        known += accompaniment(round_, round_.notes, instrument_named("flute"), first_frame, RATE)
        loud = np.zeros(samples.size + 10 * RATE, np.float32)
        for frame, sound in known:
            first = max(frame, 0)
            loud[first : frame + sound.size] += sound[first - frame :]
        sounding = samples[np.abs(samples) > 0.01]
        gain = np.sqrt(np.mean(sounding**2)) * 10 ** (level_db / 20) / RMS
        samples = samples + gain * in_room(loud, RATE, 0.25, seed=5)[: samples.size]
    return hear(
        samples.astype(np.float32),
        RATE,
        round_.notes,
        round_.tempo_bpm,
        round_.tuning,
        played.first_beat_s,
        clicks=[KnownSound(sound, frame / RATE) for frame, sound in known],
    )


def scored(takes: list[tuple[Performance, Take]]) -> Score:
    """Onsets and pitches against what was played."""
    off_s, cents, hits, truth, found, missed, extra = [], [], 0, 0, 0, 0, 0
    for played, take in takes:
        heard = {note.index: note for note in take.expected_notes}
        for true in played.truth:
            truth += 1
            note = heard.get(true.index)
            if note is None or note.onset_s is None:
                missed += note is None or note.state is State.MISSED
                continue
            off_s.append(abs(note.onset_s - true.onset_s))
            hits += off_s[-1] <= NEAR_S
            if note.cents is not None:
                cents.append(abs(note.cents - true.cents))
        found += sum(note.onset_s is not None for note in take.notes)
        extra += take.measures.extra
    f_onset = 2 * hits / (truth + found)
    return Score(
        f_onset, 1000 * float(np.median(off_s)), float(np.median(cents)), missed, extra, truth
    )


def main() -> None:
    """Every partner at every level, beside silence."""
    played = []
    for number, round_ in enumerate(rounds()):
        flutist = Flutist(Habits(), seed=20 + number)
        play = flutist.play(round_.notes, round_.tempo_bpm, round_.tuning, RATE)
        played.append((round_, play))

    def row(name: str, partner: PartnerPart | None, level_db: float | None) -> str:
        score = scored([(p, take_of(round_, p, partner, level_db)) for round_, p in played])
        line = (
            f"| {name} | {'–' if level_db is None else f'{level_db:.0f} dB'} | "
            f"{score.f_onset:.3f} | {score.onset_ms:.1f} ms | {score.cents:.2f} | "
            f"{score.missed} | {score.extra} |"
        )
        print(line, flush=True)
        return line

    lines = [row("silence", None, None)]
    lines += [row(name, part, level) for name, part in PARTNERS.items() for level in LEVELS_DB]
    notes = sum(len(p.truth) for _, p in played)
    write_section(
        "Click and partner in the microphone",
        f"`python tests/bench/leak.py`: {len(played)} rounds, {notes} notes, the ear as it is and "
        "told what was played. The level is the partner's, against the flute's; the click keeps "
        "its proportion to it (a beat's highest sample is 6 dB above the partner's RMS).\n\n"
        "| loudspeaker | leak | onset F ±25 ms | onset median | pitch median, cents | missed | "
        "extra |\n|---|---:|---:|---:|---:|---:|---:|\n" + "\n".join(lines),
    )


if __name__ == "__main__":
    main()
