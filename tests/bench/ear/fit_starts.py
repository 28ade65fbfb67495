"""Fit the weights by which the ear tells how a note started, and write them where it reads them.

`python -m tests.bench.ear.fit_starts [--check]`: with --check nothing is written, and each level of
the recorded phrases is judged by weights fitted on the others. Seeds are below 1000; what the
bench reports on uses others.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, signal

import trainer.ear.segments
from tests.ear.made_flute import (
    Blown,
    as_expected,
    blown,
    in_a_room,
    manner,
    microphoned,
    scale,
    sounded,
)
from tests.ear.recorded import RATE as RECORDED_RATE
from tests.ear.recorded import phrases, single_notes, sound_of, stitched
from trainer.ear.analysis.features import FeatureStream
from trainer.ear.segments.note_segments import note_segments
from trainer.ear.segments.note_start import AGAIN_SEMITONES, KINDS, StartClassifier, signs_of_starts
from trainer.ear.segments.segment_measures import MeasurementCache, evidence, joined_to_last
from trainer.music.note import Start
from trainer.music.tuning import Tuning
from trainer.player.flutist import Flutist

RATE = 48000
MATCH_S = 0.05
UNITS = 12
RIDGE = 2e-4
TAKES_EACH = 24
WEIGHT = {"made": 1.0, "player": 1.0, "mixed": 2.0, "leaps": 1.5, "stitched": 2.0, "phrase": 20.0}
PATTERNS = (
    (Start.TONGUED, Start.SLURRED),
    (Start.TONGUED, Start.SLURRED, Start.SLURRED, Start.SLURRED),
    (Start.TONGUED, Start.SLURRED, Start.TONGUED, Start.TONGUED),
    (Start.LEGATO_TONGUE, Start.SLURRED),
    (Start.TONGUED, Start.BACK_TONGUED),
)
EACH = (
    Start.SLURRED,
    Start.LEGATO_TONGUE,
    Start.TONGUED,
    Start.BACK_TONGUED,
    Start.BREATH,
)
SLURRED_PHRASES = ("legato",)
TONGUED_PHRASES = (
    "tenuto",
    "nonlegato",
    "staccato",
    "staccatissimo",
    "double-tonguing",
    "triple-tonguing",
)
SPEEDS = (0.85, 1.0, 1.18)
"""Recorded phrases are also played slower and lower, faster and higher."""

FIELDS = ("hidden", "output", "straight")

Signs = NDArray[np.float64]


@dataclass(frozen=True)
class Starts:
    """Starts of one take with their truth."""

    source: str
    place: str
    """Where it was played: dry, or in which room; of a phrase also its level."""
    signs: Signs
    kinds: NDArray[np.int64]
    """Places in KINDS."""


def starts_of(
    source: str,
    place: str,
    samples: NDArray[np.float32],
    rate: int,
    onsets_s: Signs | None,
    truth: Sequence[Start],
) -> Starts:
    """What stands at each joined start; without onsets all but the first have the one truth."""
    stream = FeatureStream(rate, Tuning())
    stream.feed(samples)
    features = stream.finished()
    found = note_segments(features, features.course)
    memory = MeasurementCache()
    evidence(features, found, [None] * len(found), memory)
    joined = joined_to_last(found)
    befores = [found[number - 1] if joins else None for number, joins in enumerate(joined)]
    seams = [memory.transitions[pair] for pair in zip(befores, found, strict=True)]
    signs = signs_of_starts(seams, joined)
    chosen, kinds = [], []
    for number, (sound, seam) in enumerate(zip(found, seams, strict=True)):
        kind: Start | None = truth[0] if onsets_s is None else None
        if onsets_s is not None:
            nearest = int(np.abs(onsets_s - sound.from_s).argmin())
            if abs(onsets_s[nearest] - sound.from_s) < MATCH_S:
                kind = truth[nearest]
        kind = Start.TONGUED if kind is Start.BACK_TONGUED else kind
        if kind is not None and joined[number] and seam.leap_semitones >= AGAIN_SEMITONES:
            chosen.append(number)
            kinds.append(KINDS.index(kind))
    return Starts(source, place, signs[chosen], np.array(kinds, np.int64))


def made_takes(seed: int) -> Iterator[Starts]:
    """The made flute: one articulation, mixed ones, leaps; every take in another room."""
    dice = np.random.default_rng(seed)
    for _ in range(TAKES_EACH):
        for start in EACH:
            for source, midis in (("made", _scale(dice)), ("leaps", _leaps(dice))):
                truth = blown(midis, float(dice.uniform(55, 165)), start, dice)
                yield _made(source, truth, dice)
        for pattern in PATTERNS:
            midis = _scale(dice) if dice.random() < 0.6 else _leaps(dice)
            yield _made("mixed", _mixed(midis, float(dice.uniform(55, 165)), pattern, dice), dice)


def _scale(dice: np.random.Generator) -> list[int]:
    return scale(int(dice.integers(59, 63)), 96)


def _leaps(dice: np.random.Generator) -> list[int]:
    midis = [int(dice.integers(60, 85))]
    while len(midis) < 40:
        step = int(dice.integers(-12, 13)) or 1
        midis.append(int(np.clip(midis[-1] + step, 60, 96)))
    return [midi for before, midi in pairwise([0, *midis]) if midi != before]


def _mixed(
    midis: Sequence[int], bpm: float, pattern: Sequence[Start], dice: np.random.Generator
) -> list[Blown]:
    notes = blown(midis, bpm, Start.TONGUED, dice)
    mixed = []
    for number, note in enumerate(notes):
        start = pattern[number % len(pattern)]
        plain = Blown(note.midi, note.onset_s, note.end_s, start)
        mixed.append(replace(plain, **manner(start, 15 / bpm, dice)))
    return mixed


def _made(source: str, truth: Sequence[Blown], dice: np.random.Generator) -> Starts:
    notes = _slurs_as_recorded(truth, dice) if dice.random() < 0.5 else truth
    sound = sounded(notes, RATE, dice, noise_db=float(dice.uniform(-40, -27)))
    samples, place = _somewhere(sound, RATE, dice)
    onsets_s = np.array([note.onset_s for note in notes])
    return starts_of(source, place, samples, RATE, onsets_s, [note.start for note in notes])


def _slurs_as_recorded(truth: Sequence[Blown], dice: np.random.Generator) -> list[Blown]:
    """Slurs that dip the deeper and the longer the further they leap, as on recorded phrases."""
    notes = [truth[0]]
    for before, note in pairwise(truth):
        if note.start is Start.SLURRED:
            leap = abs(note.midi - before.midi)
            dip_db = max(0.0, float(dice.normal(3.5 + 0.9 * leap, 3.0)))
            dip_s = 0.02 + 0.003 * leap * float(dice.uniform(0.5, 1.5))
            note = replace(note, dip_db=dip_db, dip_s=dip_s)
        notes.append(note)
    return notes


def _somewhere(
    sound: Signs, rate: int, dice: np.random.Generator
) -> tuple[NDArray[np.float32], str]:
    """The sound dry or in some room, before some microphone."""
    place = "dry"
    if dice.random() < 0.7:
        wet_db = float(dice.uniform(-15, -5))
        sound = 0.7 * in_a_room(sound, rate, float(dice.uniform(0.2, 0.6)), dice, wet_db)
        place = "harsh room" if wet_db > -9 else "room"
    if dice.random() < 0.2:
        low = signal.butter(4, float(dice.uniform(6500, 9000)), "low", fs=rate, output="sos")
        sound = signal.sosfilt(low, sound)
    return microphoned(sound, dice, float(dice.uniform(-95, -60))), place


def player_takes(seed: int) -> Iterator[Starts]:
    """The flutist the trainer carries."""
    dice = np.random.default_rng(seed)
    for number in range(TAKES_EACH):
        for start in EACH:
            notes = as_expected(_scale(dice), start)
            played = Flutist(seed=seed + number).play(notes, float(dice.uniform(55, 165)), Tuning())
            kinds = [note.start for note in played.truth]
            if start is Start.SLURRED:
                kinds[0] = Start.TONGUED
            samples, place = _somewhere(played.samples.astype(np.float64), RATE, dice)
            onsets_s = np.array([note.onset_s for note in played.truth])
            yield starts_of("player", place, samples, RATE, onsets_s, kinds)


def stitched_takes(seed: int) -> Iterator[Starts]:
    """Recorded single notes, of the half that constants may be chosen by, one after another."""
    dice = np.random.default_rng(seed)
    pool: dict[int, list[int]] = {}
    notes = [n for n in single_notes() if not n.held_out and n.length == "025"]
    for number, note in enumerate(notes):
        if 60 <= note.midi <= 96:
            pool.setdefault(note.midi, []).append(number)
    for _ in range(TAKES_EACH // 2 if pool else 0):
        up = sorted(pool)
        chosen = [notes[int(dice.choice(pool[midi]))] for midi in [*up, *up[-2::-1]]]
        sound, onsets_s = stitched(chosen, float(dice.uniform(0.13, 0.25)))
        samples, place = _somewhere(0.4 * sound / np.abs(sound).max(), RECORDED_RATE, dice)
        kinds = [Start.TONGUED] * len(chosen)
        yield starts_of("stitched", place, samples, RECORDED_RATE, onsets_s, kinds)


def phrase_takes(seed: int) -> Iterator[Starts]:
    """Recorded phrases: slurred ones, and those whose every note is tongued."""
    dice = np.random.default_rng(seed)
    for (level, articulation), path in phrases().items():
        slurred = articulation in SLURRED_PHRASES
        if not slurred and articulation not in TONGUED_PHRASES:
            continue
        for speed in SPEEDS:
            for _ in range(4 if slurred else 1):
                dry = sound_of(path)
                sound = signal.resample(dry, round(dry.size / speed))
                sound *= float(dice.uniform(0.15, 0.6)) / np.abs(sound).max()
                samples, place = _somewhere(sound, RECORDED_RATE, dice)
                truth = [Start.SLURRED if slurred else Start.TONGUED]
                name = f"{level} {place}"
                yield starts_of("phrase", name, samples, RECORDED_RATE, None, truth)


def fitted(takes: Sequence[Starts], seed: int = 0) -> StartClassifier:
    """The network that fits the takes best, small weights preferred."""
    signs = np.concatenate([take.signs for take in takes])
    kinds = np.concatenate([take.kinds for take in takes])
    weight = np.concatenate([np.full(take.kinds.size, WEIGHT[take.source]) for take in takes])
    phrase = np.concatenate([np.full(take.kinds.size, take.source == "phrase") for take in takes])
    slurred = phrase & (kinds == KINDS.index(Start.SLURRED))
    if slurred.any():
        weight[slurred] *= weight[phrase & ~slurred].sum() / weight[slurred].sum()
    weight /= weight.sum()
    inputs = np.concatenate([signs, np.ones((len(signs), 1))], axis=1)
    truth = np.eye(len(KINDS))[kinds]
    shapes = ((inputs.shape[1], UNITS), (UNITS + 1, len(KINDS)), (inputs.shape[1], len(KINDS)))

    def model(flat: Signs) -> StartClassifier:
        ends = np.cumsum([rows * columns for rows, columns in shapes])
        parts = np.split(flat, ends[:-1])
        return StartClassifier(*(p.reshape(s) for p, s in zip(parts, shapes, strict=True)))

    def loss(flat: Signs) -> tuple[float, Signs]:
        net = model(flat)
        units = np.tanh(inputs @ net.hidden)
        units_and_one = np.concatenate([units, np.ones((len(units), 1))], axis=1)
        logs = units_and_one @ net.output + inputs @ net.straight
        logs -= logs.max(axis=1, keepdims=True)
        chances = np.exp(logs) / np.exp(logs).sum(axis=1, keepdims=True)
        missed = -np.sum(weight * np.log(chances[np.arange(len(kinds)), kinds] + 1e-12))
        off = (chances - truth) * weight[:, None]
        back = (off @ net.output[:-1].T) * (1 - units**2)
        slope = [inputs.T @ back, units_and_one.T @ off, inputs.T @ off]
        flat_slope = np.concatenate([part.reshape(-1) for part in slope])
        return float(missed + RIDGE * flat @ flat), flat_slope + 2 * RIDGE * flat

    first = np.random.default_rng(seed).normal(0, 0.1, sum(r * c for r, c in shapes))
    best = optimize.minimize(loss, first, jac=True, method="L-BFGS-B", options={"maxiter": 300})
    return model(best.x)


def right_shares(
    model: StartClassifier, takes: Sequence[Starts]
) -> dict[tuple[str, str, str], float]:
    """By source, place and kind: how many are heard as they were played (detached notes of
    recordings: heard as anything but slurred)."""
    right: dict[tuple[str, str, str], list[bool]] = {}
    for take in takes:
        if take.kinds.size == 0:
            continue
        heard = model.evidence(take.signs).argmax(axis=1)
        for kind, said in zip(take.kinds, heard, strict=True):
            ok = (
                (kind == 0) == (said == 0)
                if take.source in ("phrase", "stitched")
                else kind == said
            )
            right.setdefault((take.source, take.place, str(KINDS[kind])), []).append(bool(ok))
    return {key: float(np.mean(value)) for key, value in sorted(right.items())}


def write(model: StartClassifier) -> None:
    """Write the weights where the ear reads them."""
    rows = {name: np.round(getattr(model, name), 4).tolist() for name in FIELDS}
    text = ",\n".join(
        f' "{name}": [\n  ' + ",\n  ".join(json.dumps(row) for row in value) + "\n ]"
        for name, value in rows.items()
    )
    path = Path(trainer.ear.segments.__path__[0]) / "note_start.json"
    path.write_text("{\n" + text + "\n}\n", encoding="utf-8")
    print(f"Written to {path}.")


def check(takes: Sequence[Starts], model: StartClassifier) -> None:
    """Print how unseen takes are heard, and each level of the phrases by weights fitted on the
    others."""
    unseen = [take for source in SOURCES[:3] for take in source(202)]
    _print(right_shares(model, unseen))
    for level in sorted({take.place[:2] for take in takes if take.source == "phrase"}):
        here, others = [], []
        for take in takes:
            its_own = take.source == "phrase" and take.place.startswith(level)
            (here if its_own else others).append(take)
        _print(right_shares(fitted(others), here))


def _print(shares: dict[tuple[str, str, str], float]) -> None:
    for key, share in shares.items():
        print(f"{' · '.join(key)}: {share:.1%}")


SOURCES = (made_takes, player_takes, stitched_takes, phrase_takes)


def main() -> None:
    """Fit and write, or check."""
    takes = [take for source in SOURCES for take in source(101)]
    model = fitted(takes)
    if "--check" in sys.argv:
        check(takes, model)
    else:
        write(model)


if __name__ == "__main__":
    main()
