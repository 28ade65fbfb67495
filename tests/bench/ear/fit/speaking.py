"""Fit the network by which the ear tells where a note was struck and where it spoke, and measure it
on what it never saw.

    python -m tests.bench.ear.fit.speaking FOLDER OUT [--fit 120] [--leave PARTS …]
        [--fit-left 45] [--seed 1]

FOLDER is what `speaking_takes` made; `--fit` seconds go into fitting; PyTorch uses a GPU where
there is one. OUT gets `speaking_network.npz`, which belongs beside
`trainer/ear/segments/speaking_network.py`, and `speaking_report.txt`. `--leave` fits once more
without the voices whose names hold one of some parts (`musescore,fluid`), and measures on those
too.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional

from tests.bench.ear.fit.fitting import DEVICE, stepped
from tests.bench.ear.fit.seams import LEVELS, WIDER
from tests.bench.ear.fit.speaking_takes import Gathered, taken
from trainer.ear.segments.seam_patch import ROWS, STEP_S, STEPS
from trainer.ear.segments.speaking_network import (
    DELAYS_S,
    FACTS,
    HEADS,
    NEAR_S,
    PLACES_S,
    SLOW_S,
    STRIDES,
)

ROWS_OUT = (56, 80, 96, 96)
LOOK = 128
BATCH = 1536
SPREAD_S = 0.005
"""By so much the truth about a place is uncertain."""
QUICK_S = 0.035
SURE = (0.9, 0.95, 0.98)
RIGHT_S = 0.025
_PLACES = torch.tensor(PLACES_S, device=DEVICE, dtype=torch.float32)
_DELAYS = torch.tensor(DELAYS_S, device=DEVICE, dtype=torch.float32)
_NEXT = torch.cat([_DELAYS[1:], _DELAYS.new_tensor([torch.inf])])


class Network(nn.Module):
    """The network of `trainer.ear.segments.speaking_network` as PyTorch fits it."""

    def __init__(self) -> None:
        super().__init__()
        sizes = (ROWS, *ROWS_OUT)
        self.convs = nn.ModuleList(
            nn.Conv1d(sizes[k], sizes[k + 1], 5, stride, 2) for k, stride in enumerate(STRIDES)
        )
        steps = STEPS
        for stride in STRIDES:
            steps //= stride
        self.look = nn.Linear(ROWS_OUT[-1] * steps + FACTS, LOOK)
        counts = (PLACES_S.size, PLACES_S.size, DELAYS_S.size)
        self.heads = nn.ModuleDict(
            {name: nn.Linear(LOOK, count) for name, count in zip(HEADS, counts, strict=True)}
        )
        self.forget = nn.Dropout(0.2)

    def forward(self, patches: Tensor, facts: Tensor) -> list[Tensor]:
        """Logits of each of HEADS from patches (seams, rows, steps) and facts (seams, FACTS)."""
        for conv in self.convs:
            patches = functional.relu(conv(patches))
        flat = self.forget(patches.transpose(1, 2).flatten(1))
        look = self.forget(functional.relu(self.look(torch.cat([flat, facts], 1))))
        return [self.heads[name](look) for name in HEADS]


@dataclass(frozen=True)
class _Table:
    """Seams on the device."""

    patches: Tensor
    facts: Tensor
    stroke_s: Tensor
    speaks_s: Tensor


def _table(made: Gathered, chosen: NDArray[np.bool_]) -> _Table:
    arrays = made.patches, made.facts, made.stroke_s, made.speaks_s
    return _Table(*(torch.tensor(array[chosen], device=DEVICE) for array in arrays))


def fitted(made: Gathered, chosen: NDArray[np.bool_], seconds: float, seed: int) -> Network:
    """The network fitted on the chosen seams for some seconds."""
    torch.manual_seed(seed)
    table, network = _table(made, chosen), Network().to(DEVICE)
    count = table.stroke_s.numel()

    def loss() -> Tensor:
        picked = (torch.rand(BATCH, device=DEVICE, dtype=torch.float64) * count).long()
        patches, facts, moved_s = _shown(table, picked)
        truths = _truths(table.stroke_s[picked] - moved_s, table.speaks_s[picked] - moved_s)
        said = network(patches, facts)
        return torch.stack(
            [
                -(truth * functional.log_softmax(logits, 1)).sum(1).mean()
                for logits, truth in zip(said, truths, strict=True)
            ]
        ).sum()

    stepped(network, loss, seconds)
    return network


def _shown(table: _Table, picked: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """Patches shifted, tinted and made noisy, facts a little off, and by how much the patches'
    place moved, in seconds."""
    count = picked.numel()
    shift = (torch.randn(count, 1, 1, device=DEVICE) * 2.5).round().clamp(-WIDER // 2, WIDER // 2)
    steps = shift.long() + WIDER // 2 + torch.arange(STEPS, device=DEVICE)
    whole = table.patches[picked]
    rows = whole.shape[1]
    patches = whole.gather(2, steps.expand(count, rows, STEPS)).float() / LEVELS * 1.5 - 1.0
    patches = patches + 0.03 * torch.randn(count, rows, 1, device=DEVICE)
    patches = patches + 0.02 * torch.randn(count, 1, 1, device=DEVICE)
    patches = (patches + 0.015 * torch.randn_like(patches)).clamp(-1, 0.5)
    facts = table.facts[picked]
    return patches, facts + 0.03 * torch.randn_like(facts), shift[:, 0, 0] * STEP_S


def _truths(stroke_s: Tensor, speaks_s: Tensor) -> list[Tensor]:
    """What is true of each of HEADS, as shares of its places."""
    shares = []
    for at_s in (stroke_s, speaks_s):
        at_s = at_s.clamp(PLACES_S[0], PLACES_S[-1])[:, None]
        near = torch.exp(-0.5 * ((_PLACES[None] - at_s) / SPREAD_S) ** 2)
        shares.append(near / near.sum(1, keepdim=True))
    delay_s = (speaks_s - stroke_s).clamp(min=0)[:, None]
    return [*shares, ((delay_s >= _DELAYS[None]) & (delay_s < _NEXT[None])).float()]


@dataclass(frozen=True)
class Judged:
    """What a network says of seams, in chances, by head; shape (seams, places)."""

    logits: dict[str, NDArray[np.float64]]

    def chances(self, head: str, temperature: float = 1.0) -> NDArray[np.float64]:
        """With its temperature."""
        logits = self.logits[head] / temperature
        chances = np.exp(logits - logits.max(axis=1, keepdims=True))
        return np.asarray(chances / chances.sum(axis=1, keepdims=True))


@torch.no_grad()
def judged(network: Network, made: Gathered) -> Judged:
    """Every seam."""
    parts = []
    first = WIDER // 2
    for begin in range(0, made.stroke_s.size, 4096):
        part = slice(begin, begin + 4096)
        patches = torch.tensor(made.patches[part, :, first : first + STEPS], device=DEVICE)
        facts = torch.tensor(made.facts[part], device=DEVICE)
        said = network(patches.float() / LEVELS * 1.5 - 1.0, facts)
        parts.append([logits.double().cpu().numpy() for logits in said])
    return Judged(dict(zip(HEADS, map(np.concatenate, zip(*parts, strict=True)), strict=True)))


def calibrated(said: Judged, made: Gathered) -> dict[str, float]:
    """Of each head the temperature at which what is said is as likely as it is true, each set and
    room counted alike; 1 at least, since other players will be harder."""
    stroke_s, speaks_s = (torch.tensor(v, device=DEVICE) for v in (made.stroke_s, made.speaks_s))
    truths = [truth.cpu().numpy() for truth in _truths(stroke_s, speaks_s)]
    keys = np.char.add(made.sources, np.array([place[:6] for place in made.places]))
    weight = np.zeros(keys.size)
    for key in np.unique(keys):
        weight[keys == key] = 1 / (keys == key).sum()
    tried = np.geomspace(0.7, 4, 50)
    best = {}
    for head, truth in zip(HEADS, truths, strict=True):
        missed = [
            -(weight * (truth * np.log(said.chances(head, t) + 1e-9)).sum(axis=1)).sum()
            for t in tried
        ]
        best[head] = max(1.0, float(tried[int(np.argmin(missed))]))
    return best


def report(said: Judged, made: Gathered, temperatures: dict[str, float]) -> str:
    """Slow notes found, quick ones taken for slow, and strokes placed, by set and room; then how
    often what is said with some chance is true."""
    delay_s = made.speaks_s - made.stroke_s
    slow = said.chances("delay", temperatures["delay"])[:, DELAYS_S >= SLOW_S].sum(axis=1)
    strokes = said.chances("stroke", temperatures["stroke"])
    at_s, sure = placed(strokes)
    off_s = np.abs(at_s - made.stroke_s)
    rooms = np.array([place.split(" · ")[0] for place in made.places])
    rows = [
        f"temperatures {temperatures}",
        f"set, room: slow notes, found at {SURE} | quick notes, called slow | "
        f"strokes sure (0.9 within {NEAR_S} s) of all, and of these off by more than {RIGHT_S} s",
    ]
    for source in np.unique(made.sources):
        for room in np.unique(rooms):
            some = (made.sources == source) & (rooms == room)
            true, quick = some & (delay_s >= SLOW_S), some & (delay_s < QUICK_S)
            found = [f"{_share(slow[true] >= s):.3f}" for s in SURE]
            false = [f"{_share(slow[quick] >= s):.4f}" for s in SURE]
            placing = []
            for kind in (true, quick):
                those = kind & (sure >= 0.9)
                wrong = _share(off_s[those] > RIGHT_S)
                placing.append(f"{those.sum() / max(1, kind.sum()):.2f} {wrong:.3f}")
            rows.append(
                f"{source:10} {room:14} {true.sum():5d} {' '.join(found)} | {quick.sum():5d} "
                f"{' '.join(false)} | slow {placing[0]} quick {placing[1]}"
            )
    for least, most in ((0, 0.1), (0.1, 0.3), (0.3, 0.7), (0.7, 0.9), (0.9, 0.95), (0.95, 1.01)):
        there = (slow >= least) & (slow < most)
        shares = [
            f"{room} {_share(delay_s[there & (rooms == room)] >= SLOW_S):.3f}"
            f" of {(there & (rooms == room)).sum()}"
            for room in np.unique(rooms)
        ]
        rows.append(f"slow said with {least} to {most}: {'; '.join(shares)}")
    return "\n".join(rows)


def _share(those: NDArray[np.bool_]) -> float:
    return float(those.mean()) if those.size else 0.0


def placed(chances: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The likeliest places, and the chance that each is right within NEAR_S."""
    near = np.abs(PLACES_S[:, None] - PLACES_S[None]) <= NEAR_S
    around = chances @ near
    best = around.argmax(axis=1)
    share = chances * near[best]
    return (share @ PLACES_S) / share.sum(axis=1), around[np.arange(best.size), best]


def written(network: Network, temperatures: dict[str, float]) -> dict[str, NDArray[np.float16]]:
    """The weights by the names under which the ear reads them."""
    weights = {f"{head}_temperature": np.array(value) for head, value in temperatures.items()}
    for number, conv in enumerate(network.convs):
        taps = conv.weight.detach().cpu().numpy().transpose(2, 1, 0)
        weights[f"conv{number}"] = taps.reshape(-1, taps.shape[2])
        weights[f"conv{number}_bias"] = conv.bias.detach().cpu().numpy()
    for name, layer in {"look": network.look, **network.heads}.items():
        weights[name] = layer.weight.detach().cpu().numpy().T
        weights[f"{name}_bias"] = layer.bias.detach().cpu().numpy()
    return {name: np.asarray(value, np.float16) for name, value in weights.items()}


def main() -> None:
    """Fit, calibrate, measure, write."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--fit", type=float, default=120, help="seconds")
    parser.add_argument("--fit-left", type=float, default=45, help="seconds")
    parser.add_argument("--leave", nargs="*", default=[])
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    made, apart = (taken(options.folder / f"{n}.npz") for n in ("speaking", "speaking_apart"))
    with (options.out / "speaking_report.txt").open("w", encoding="utf-8", buffering=1) as told:
        for left in [None, *options.leave]:
            parts = left.split(",") if left else []
            chosen = np.array([not any(part in name for part in parts) for name in made.sources])
            seconds = options.fit_left if left else options.fit
            network = fitted(made, chosen, seconds, options.seed)
            said = judged(network, apart)
            temperatures = calibrated(said, apart)
            print(f"\n## without {left}: {chosen.sum()} seams", file=told)
            print(report(said, apart, temperatures), file=told)
            if left is None:
                weights = written(network, temperatures)
                np.savez_compressed(options.out / "speaking_network.npz", **weights)
            else:
                own = part_of(made, ~chosen)
                print("\nwhat was left out:", file=told)
                print(report(judged(network, own), own, temperatures), file=told)


def part_of(made: Gathered, chosen: NDArray[np.bool_]) -> Gathered:
    """Some of the seams; their rooms by size alone."""
    arrays = {name: array[chosen] for name, array in vars(made).items()}
    arrays["places"] = np.array([place.split(" ")[-1] for place in arrays["places"]])
    return Gathered(**arrays)


if __name__ == "__main__":
    main()
