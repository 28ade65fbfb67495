"""Which exercises of a routine are in the recording of a lesson: invented lessons, truth known.

    python -m tests.bench.lessons [FIRST LAST]       played in, talk and noise between (0 to 49)
    python -m tests.bench.lessons [FIRST LAST] --recorded     of recorded notes (0 to 49)

Each lesson is a handful of whole rounds at tempos of their own, in a room of pyroomacoustics and
before a telephone's microphone. Between them are talk (espeak-ng where it is installed, else a
voice without words), coughs, noodling, scales that are not in the routine, lines of it with another
degree, and rounds broken off halfway. Writes 'Lessons' and 'Lessons of recorded notes' into
RESULTS.md.
"""

from __future__ import annotations

import argparse
import subprocess
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from io import BytesIO
from pathlib import Path
from shutil import which
from tempfile import TemporaryDirectory

import numpy as np
import pyroomacoustics
import soundfile
from numpy.typing import NDArray
from scipy import signal

from tests.bench.results import write_section
from tests.ear.recorded import RATE, RecordedNote, single_notes, stitched
from tests.sound.microphones import RATE as VOICE_RATE
from tests.sound.microphones import spoken
from trainer.app.open_session import planned_for
from trainer.app.simulated_flutist import shaping_of
from trainer.music.instrument import instrument_named
from trainer.music.pitch import sharp_name
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES
from trainer.routine.load import load_routine
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round
from trainer.session.accompaniment import as_sounding
from trainer.session.heard_lesson import find_rounds

Sound = NDArray[np.float64]
FLUTE = instrument_named("flute")
DAY = date(2026, 3, 6)
MAJORS = ("C", "G", "D", "A", "E", "F", "Bb", "Eb", "Ab")
TEMPO_SHARES = (0.75, 1.25)
NEAR_S = 1.0
BLOCK = 1 << 16
SAYINGS = (
    "Good. And once more, a little slower, with more air on the top note.",
    "Where did you breathe? Mark it with a pencil.",
    "Sorry, from the beginning.",
    "That was the third octave, and it was much lighter than last week.",
)
PLAYED = """
title: Invented
defaults: {{tempo: 84, rhythm: sixteenths, range: two octaves}}
exercises:
  - {{scale: hill, key: {0}, articulations: [slurred, single]}}
  - {{scale: valley, key: {1}, range: full, articulations: [slurred, double]}}
  - {{scale: dusk, key: {2} minor, form: melodic minor, articulations: [single]}}
  - {{arpeggio: gate, key: {3}, rhythm: triplets, articulations: [slurred]}}
  - {{arpeggio: bridge, key: {4}, chord: dominant seventh, articulations: [single]}}
  - {{speed climb: ladder, key: {0}, from: 60, to: 100, within: 3 minutes}}
  - passage: errand
    key: {1}
    tempo: 76
    notes: "{notes}"
"""
OTHERS = """
title: Others
defaults: {{tempo: 84, rhythm: sixteenths, range: two octaves}}
exercises:
  - {{scale: a, key: {5}, articulations: [slurred]}}
  - {{scale: b, key: {6} minor, form: harmonic minor, articulations: [single]}}
  - {{arpeggio: c, key: {7}, rhythm: triplets, articulations: [slurred]}}
"""
RECORDED = """
title: Recorded
exercises:
"""
SHARED = {"hill": {"hill", "ladder"}, "ladder": {"hill", "ladder"}}


@dataclass(frozen=True)
class Played:
    """A whole round that is in a lesson."""

    begins_s: float
    ends_s: float
    exercise_id: str


@dataclass(frozen=True)
class Lesson:
    """A recording, and what is in it."""

    sound: Sound
    planned: tuple[PlannedExercise, ...]
    played: tuple[Played, ...]


def planned(text: str) -> tuple[PlannedExercise, ...]:
    with TemporaryDirectory() as folder:
        file = Path(folder) / "routine.yaml"
        file.write_text(text)
        routine, problems = load_routine(file)
    assert routine is not None, problems
    return planned_for(routine, DAY, ())


def wandering(rng: np.random.Generator, notes: list[str], count: int) -> list[str]:
    """A walk through the notes in small steps, never the same twice in a row."""
    place, walk = len(notes) // 2, []
    for step in rng.choice([-2, -1, 1, 2], count, p=[0.15, 0.35, 0.35, 0.15]):
        place += step if 0 <= place + step < len(notes) else -step
        walk.append(notes[place])
    return walk


def errand(rng: np.random.Generator) -> str:
    """Six bars of eighths and quarters."""
    letters = [f"{letter}{octave}" for octave in (4, 5) for letter in "CDEFGAB"]
    names, length = wandering(rng, letters, 60), ""
    parts, beats = [], Fraction(0)
    while beats < 23:
        value = "quarter" if beats.denominator == 1 and rng.random() < 0.3 else "eighth"
        parts.append(f"{value + ' ' if value != length else ''}{names.pop()}")
        beats, length = beats + (1 if value == "quarter" else Fraction(1, 2)), value
    return " ".join(parts)


def played_lesson(seed: int) -> Lesson:
    """Rounds by the played-in flutist, with what happens between them."""
    rng = np.random.default_rng(seed)
    keys = [str(key) for key in rng.permutation(MAJORS)]
    day = planned(PLAYED.format(*keys, notes=errand(rng)))
    others = [one.rounds[0] for one in planned(OTHERS.format(*keys))]
    habits = EXAMPLES[str(rng.choice(list(EXAMPLES)))]
    rounds = [round_ for exercise in day for round_ in exercise.rounds]
    flutist = Flutist(habits, seed=seed)

    def play(round_: Round, number: int, share: float = 1.0) -> Sound:
        notes = as_sounding(round_.notes, round_, FLUTE)
        notes = notes[: max(4, round(share * len(notes)))]
        bpm = round_.tempo_bpm * float(rng.uniform(*TEMPO_SHARES))
        return np.asarray(
            flutist.play(notes, bpm, round_.tuning, RATE, number, shaping_of(round_)).samples, float
        )

    parts: list[tuple[Sound, str]] = []
    for number in range(1, 5):
        parts.append((between(rng, others, play), ""))
        round_ = rounds[int(rng.integers(len(rounds)))]
        if rng.random() < 0.25:
            parts.append((play(round_, 9, 0.5), ""))
            parts.append((talk(rng), ""))
        parts.append((play(round_, number), round_.exercise_id))
    parts.append((between(rng, others, play), ""))
    return assembled(parts, day, rng)


def between(
    rng: np.random.Generator, others: list[Round], play: Callable[[Round, int], Sound]
) -> Sound:
    """Some of what fills a lesson."""
    filled = [quiet(rng.uniform(0.6, 2.0))]
    kinds = [talk, cough, noodling, lambda _: play(others[int(rng.integers(len(others)))], 7)]
    for kind in rng.choice(len(kinds), int(rng.integers(1, 3)), replace=False):
        filled += [kinds[kind](rng), quiet(rng.uniform(0.4, 1.5))]
    return np.concatenate(filled)


def quiet(seconds: float) -> Sound:
    return np.zeros(round(seconds * RATE))


def talk(rng: np.random.Generator) -> Sound:
    """A sentence, about as loud as the flute."""
    if which("espeak-ng"):
        words = [*("-s", str(int(rng.integers(130, 190)))), *("-p", str(int(rng.integers(20, 80))))]
        said = subprocess.run(
            ["espeak-ng", "-v", "en", *words, "--stdout", str(rng.choice(SAYINGS))],
            capture_output=True, check=True,
        )  # fmt: skip
        voice, rate = soundfile.read(BytesIO(said.stdout))
    else:
        voice, rate = spoken(rng.uniform(1.5, 4), int(rng.integers(1000))), VOICE_RATE
    voice = signal.resample_poly(np.asarray(voice, float), RATE, rate)
    return voice * rng.uniform(0.03, 0.1) / max(1e-9, float(np.sqrt(np.mean(voice**2))))


def cough(rng: np.random.Generator) -> Sound:
    """Two bursts of noise."""
    burst = rng.normal(size=round(0.18 * RATE)) * np.exp(
        -np.arange(round(0.18 * RATE)) / 0.05 / RATE
    )
    band = signal.butter(2, (200, 3000), "bandpass", fs=RATE, output="sos")
    return 0.4 * np.concatenate(
        [signal.sosfilt(band, burst), quiet(0.2), signal.sosfilt(band, burst)]
    )


def noodling(rng: np.random.Generator) -> Sound:
    """Notes of some key in no order, as fingers find them."""
    with_steps = [0, 2, 4, 5, 7, 9, 11]
    tonic = int(rng.integers(60, 72))
    scale = [str(tonic + octave * 12 + step) for octave in (0, 1) for step in with_steps]
    midis = [int(each) for each in wandering(rng, scale, int(rng.integers(8, 30)))]
    text = " ".join(f"eighth {sharp_name(midi)}" for midi in midis)
    (exercise,) = planned(
        f'title: N\nexercises:\n  - {{passage: n, key: C, tempo: 100, notes: "{text}"}}\n'
    )
    notes = exercise.rounds[0].notes
    return np.asarray(
        Flutist(EXAMPLES["clean"], seed=int(rng.integers(999))).play(
            notes, float(rng.uniform(60, 140)), exercise.rounds[0].tuning, RATE
        ).samples,
        float,
    )  # fmt: skip


def recorded_lesson(seed: int) -> Lesson:
    """Lines of recorded notes; the notes at hand have eight of the twelve names."""
    rng = np.random.default_rng(1000 + seed)
    bank = defaultdict[int, list[RecordedNote]](list)
    for note in single_notes():
        if note.length in ("05", "1", "025"):
            bank[note.midi].append(note)
    there = [str(midi) for midi in sorted(bank)]
    lines = {
        f"line {number}": [int(each) for each in wandering(rng, there, int(rng.integers(14, 26)))]
        for number in range(5)
    }
    sixths = [midi for midi in sorted(bank) if midi % 3 == 1]
    lines["diminished"] = [*sixths, *sixths[-2::-1]]
    words = {name: " ".join(map(sharp_name, line)) for name, line in lines.items()}
    text = RECORDED + "".join(
        f'  - {{passage: {name}, key: C, tempo: 80, notes: "eighth {notes}"}}\n'
        for name, notes in words.items()
    )
    day = planned(text)

    def play(line: list[int]) -> Sound:
        notes = [bank[midi][int(rng.integers(len(bank[midi])))] for midi in line]
        sound, _ = stitched(notes, float(rng.uniform(0.22, 0.45)))
        return sound * 0.08 / np.sqrt(np.mean(sound**2))

    parts: list[tuple[Sound, str]] = []
    for _ in range(4):
        fillers = [
            talk, cough,
            lambda rng: play([int(n) for n in wandering(rng, there, 18)]),
            lambda rng: play(another_degree(rng, lines[str(rng.choice(list(lines)))], set(bank))),
        ]  # fmt: skip
        for kind in rng.choice(len(fillers), 2, replace=False):
            parts += [(fillers[kind](rng), ""), (quiet(rng.uniform(0.5, 1.5)), "")]
        name = str(rng.choice(list(lines)))
        parts += [(play(lines[name]), name), (quiet(rng.uniform(0.5, 2)), "")]
    return assembled(parts, day, rng)


def another_degree(rng: np.random.Generator, line: list[int], there: set[int]) -> list[int]:
    """The line with its commonest degree a half step away, as in a scale that is not the day's;
    where no such notes are at hand, another line."""
    degree, _ = Counter(midi % 12 for midi in line).most_common(1)[0]
    moved = {by: [midi + by * (midi % 12 == degree) for midi in line] for by in (-1, 1)}
    near = [each for each in moved.values() if set(each) <= there]
    return near[0] if near else [int(each) for each in rng.permutation(line)]


def assembled(
    parts: list[tuple[Sound, str]], day: tuple[PlannedExercise, ...], rng: np.random.Generator
) -> Lesson:
    """The parts one after the other, in a room, before a telephone."""
    at_s, played = 0.0, []
    for sound, name in parts:
        if name:
            loud = np.flatnonzero(np.abs(sound) > 0.1 * np.abs(sound).max())
            played.append(Played(at_s + loud[0] / RATE, at_s + loud[-1] / RATE, name))
        at_s += sound.size / RATE
    size = rng.uniform((3, 3, 2.3), (8, 7, 3.5))
    absorption, order = pyroomacoustics.inverse_sabine(float(rng.uniform(0.25, 0.8)), size)
    room = pyroomacoustics.ShoeBox(
        size, fs=RATE, materials=pyroomacoustics.Material(absorption), max_order=min(order, 25)
    )
    room.add_source(size * rng.uniform(0.2, 0.45, 3))
    room.add_microphone(size * rng.uniform(0.55, 0.8, 3))
    room.compute_rir()
    answer = np.asarray(room.rir[0][0])
    heard = signal.fftconvolve(np.concatenate([sound for sound, _ in parts]), answer)
    delay = np.argmax(np.abs(answer)) / RATE
    telephone = signal.butter(2, (120, 9000), "bandpass", fs=RATE, output="sos")
    heard = signal.sosfilt(telephone, heard)
    heard *= rng.uniform(0.15, 0.7) / np.abs(heard).max()
    heard += 10 ** (rng.uniform(-65, -50) / 20) * rng.normal(size=heard.size)
    moved = (Played(one.begins_s + delay, one.ends_s + delay, one.exercise_id) for one in played)
    return Lesson(heard, day, tuple(moved))


def scored(lesson: Lesson) -> Counter[str]:
    """Rounds named, not found, named together with what shares no notes, and invented ones."""
    sound = lesson.sound.astype(np.float32)

    def blocks() -> Iterator[NDArray[np.float32]]:
        return (sound[start : start + BLOCK] for start in range(0, sound.size, BLOCK))

    found = list(find_rounds(lesson.planned, FLUTE, blocks, RATE, lambda _: None))
    score: Counter[str] = Counter(rounds=len(lesson.played))
    for true in lesson.played:
        near = [one for one in found if abs(one.begins_s - true.begins_s) < NEAR_S]
        if not near:
            score["not found"] += 1
            continue
        found.remove(near[0])
        named, may_be = set(near[0].exercise_ids), SHARED.get(true.exercise_id, {true.exercise_id})
        right = true.exercise_id in named
        score["named" if right and named <= may_be else "both" if right else "wrong"] += 1
        score["together"] += right and len(named) > 1
        score["off 0.3 s"] += bool(abs(near[0].begins_s - true.begins_s) > 0.3)
    score["invented"] = len(found)
    return score


def main() -> None:
    """Lessons from FIRST to LAST."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("first", nargs="?", type=int, default=0)
    parser.add_argument("last", nargs="?", type=int, default=49)
    parser.add_argument("--recorded", action="store_true")
    options = parser.parse_args()
    recorded, first, last = options.recorded, options.first, options.last
    total: Counter[str] = Counter()
    seconds, spent_s = 0.0, 0.0
    for seed in range(first, last + 1):
        lesson = (recorded_lesson if recorded else played_lesson)(seed)
        begun_s = time.process_time()
        score = scored(lesson)
        spent_s += time.process_time() - begun_s
        seconds += lesson.sound.size / RATE
        total += score
        print(seed, dict(score), flush=True)
    named = total["named"]
    body = (
        f"{last - first + 1} lessons, {seconds / 60:.0f} minutes of sound, heard in "
        f"{spent_s / seconds:.2f} s of processor a second. `python -m tests.bench.lessons`.\n\n"
        "| rounds | named right | of these together with one that shares its notes "
        "| beside another | wrong | not found | invented | begin off by more than 0.3 s |\n"
        "|---|---|---|---|---|---|---|---|\n"
        f"| {total['rounds']} | {named} ({named / total['rounds']:.3f}) | {total['together']} "
        f"| {total['both']} | {total['wrong']} | {total['not found']} | {total['invented']} "
        f"| {total['off 0.3 s']} |"
    )
    print(body)
    write_section("Lessons of recorded notes" if recorded else "Lessons", body)


if __name__ == "__main__":
    main()
