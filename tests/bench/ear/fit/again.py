"""Fit the network by which the ear tells where a note starts again, or where a sound begins, and
measure it on what it never saw.

    python -m tests.bench.ear.fit.again FOLDER OUT [--network again] [--fit 120] [--seed 1]

FOLDER is what `again_takes` made; `--network` is `again` or `beginning`; `--fit` seconds go into
fitting; PyTorch uses a GPU where there is one. OUT gets `again_network.npz` or
`beginning_network.npz`, which belongs beside `trainer/ear/segments/again_network.py`, and a report
of the same name.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional

from tests.bench.ear.fit.again_takes import Sounds, taken
from tests.bench.ear.fit.fitting import DEVICE, stepped
from tests.bench.ear.fit.seams import LEVELS
from trainer.ear.segments.again_network import AGAIN, BEGINNING, REACHES, STRIDE
from trainer.ear.segments.held_picture import ROWS
from trainer.ear.segments.reattacks import AROUND_STEPS, SUREST, highest

UNITS = 80
WINDOW, BATCH = 640, 96
"""Steps of a sound seen at once while fitting, and how many windows."""
STROKE_WEIGHT = 4.0
"""Of a place with a stroke against one without: there are far fewer."""
ENOUGH = 100
"""Fewer places of a kind tell nothing."""
ABOUT = AROUND_STEPS // STRIDE + 8
"""Places about where a sound was first seen in which its beginning is looked for: 60 ms after."""
MATCHES = 6
"""Places by which what is found may lie off a stroke."""


class Network(nn.Module):
    """The network of `trainer.ear.segments.again_network` as PyTorch fits it."""

    def __init__(self) -> None:
        super().__init__()
        self.first = nn.Conv1d(ROWS + 1, UNITS, 5, STRIDE, 2)
        self.second = nn.Conv1d(UNITS, UNITS, 5, 1, 2)
        self.layers = nn.ModuleList(
            nn.Conv1d(UNITS, UNITS, 3, 1, reach, dilation=reach) for reach in REACHES
        )
        self.out = nn.Linear(UNITS, 1)
        self.forget = nn.Dropout(0.1)

    def forward(self, pictures: Tensor, midis: Tensor, here: Tensor) -> Tensor:
        """A figure for each place, shape (sounds, places), from pictures (sounds, ROWS, steps);
        here: which steps are of the sound; the others count as nothing, as beyond its ends."""
        told = ((midis - 80) / 12)[:, None, None].expand(-1, 1, pictures.shape[2])
        inside = here[:, None, ::STRIDE].float()
        seen = torch.cat([pictures, told], 1) * here[:, None].float()
        seen = functional.relu(self.first(seen)) * inside
        seen = functional.relu(self.second(seen)) * inside
        for layer in self.layers:
            seen = (seen + functional.relu(self.forget(layer(seen)))) * inside
        return self.out(seen.transpose(1, 2))[..., 0]


def fitted(made: Sounds, seconds: float, seed: int) -> Network:
    """The network fitted for some seconds."""
    torch.manual_seed(seed)
    network = Network().to(DEVICE)
    pictures = torch.tensor(made.pictures, device=DEVICE)
    truths = torch.tensor(made.truths.astype(np.int64), device=DEVICE)
    midis = torch.tensor(made.midis, device=DEVICE)
    steps = torch.tensor(made.steps, device=DEVICE)
    leads = torch.tensor(made.leads, device=DEVICE)
    first_step = torch.cumsum(steps, 0) - steps
    places = (steps + STRIDE - 1) // STRIDE
    first_place = torch.cumsum(places, 0) - places
    whose = torch.repeat_interleave(torch.arange(steps.numel(), device=DEVICE), steps)
    ahead = torch.arange(WINDOW, device=DEVICE)

    def loss() -> Tensor:
        sounds = whose[_among(whose.numel(), BATCH)]
        spare = torch.maximum(steps[sounds] - WINDOW, leads[sounds]) + 1
        begin = (torch.rand(BATCH, device=DEVICE) * spare).long() // STRIDE * STRIDE
        here = ahead[None] < (steps[sounds] - begin)[:, None]
        at = (first_step[sounds] + begin)[:, None] + torch.where(here, ahead[None], 0)
        levels = _varied(pictures[at].transpose(1, 2).float() / LEVELS * 1.5 - 1.0)
        said = network(levels, midis[sounds], here)
        some = here[:, ::STRIDE]
        place = (first_place[sounds] + begin // STRIDE)[:, None]
        truth = truths[place + torch.where(some, ahead[None, : some.shape[1]], 0)]
        weight = (truth >= 0) * some * torch.where(truth == 1, STROKE_WEIGHT, 1.0)
        missed = functional.binary_cross_entropy_with_logits(
            said, truth.clamp(min=0).float(), reduction="none"
        )
        return (missed * weight).sum() / weight.sum()

    stepped(network, loss, seconds)
    return network


def _among(size: int, count: int) -> Tensor:
    return (torch.rand(count, device=DEVICE, dtype=torch.float64) * size).long()


def _varied(levels: Tensor) -> Tensor:
    """Pictures tinted and made noisy."""
    count, rows, _ = levels.shape
    levels = levels + 0.03 * torch.randn(count, rows, 1, device=DEVICE)
    levels = levels + 0.02 * torch.randn(count, 1, 1, device=DEVICE)
    return (levels + 0.015 * torch.randn_like(levels)).clamp(-1, 0.5)


@dataclass(frozen=True)
class Found:
    """The highest places of one sound."""

    source: str
    room: str
    seconds: float
    said: NDArray[np.float64]
    """The network's figure for each."""
    struck: NDArray[np.int8]
    """1 a stroke, 0 none, -1 nothing is known."""
    unfound: int
    """Strokes with no highest place near."""
    begins_off: int | None
    """Places from its true beginning to the likeliest one; None where that isn't known."""


@torch.no_grad()
def found(network: Network, made: Sounds) -> list[Found]:
    """What a network finds in every sound."""
    rows, step, place, stroke = [], 0, 0, 0
    for number, count in enumerate(made.steps.tolist()):
        lead, begins = int(made.leads[number]), int(made.begins[number])
        levels = torch.tensor(made.pictures[step : step + count], device=DEVICE).T[None]
        levels = levels.float() / LEVELS * 1.5 - 1.0
        midi = torch.tensor(made.midis[number : number + 1], device=DEVICE)
        here = torch.ones(1, count, dtype=torch.bool, device=DEVICE)
        whole = network(levels, midi, here)[0].double().cpu().numpy()
        said = network(levels[..., lead:], midi, here[:, lead:])[0].double().cpu().numpy()
        before = lead // STRIDE
        truths = made.truths[place + before : place + whole.size].copy()
        truths[: max(0, begins - before + MATCHES + 1)] = -1
        strokes = made.strokes[stroke : stroke + made.struck[number]] - before
        one = _matched(said, truths, strokes, made.sources[number], made.places[number])
        off = int(whole[: before + ABOUT].argmax()) - begins if begins >= 0 else None
        rows.append(replace(one, begins_off=off))
        step, place, stroke = step + count, place + whole.size, stroke + strokes.size
    return rows


def _matched(
    said: NDArray[np.float64],
    truths: NDArray[np.int8],
    strokes: NDArray[np.int32],
    source: str,
    room: str,
) -> Found:
    places = highest(said)
    struck = np.minimum(truths[places], 0)
    for stroke in strokes:
        off = np.where(struck == 1, np.inf, np.abs(places - stroke))
        if off.size and off.min() <= MATCHES:
            struck[int(off.argmin())] = 1
    unfound = strokes.size - int((struck == 1).sum())
    seconds = float((truths == 0).sum() * 0.008)
    return Found(source, room.split(" · ")[0], seconds, said[places], struck, unfound, None)


def calibrated(rows: list[Found]) -> tuple[float, float]:
    """Slope and offset that make log odds of the figures when a stroke is as likely as none, rooms
    and what was played in them counted alike (Platt 1999)."""
    said, truth, weight = [], [], []
    for kind_of_take in {(row.source, row.room) for row in rows}:
        some = [row for row in rows if (row.source, row.room) == kind_of_take]
        figures = np.concatenate([row.said for row in some])
        struck = np.concatenate([row.struck for row in some])
        for kind in (0, 1):
            these = figures[struck == kind]
            said.append(these)
            truth.append(np.full(these.size, kind))
            weight.append(np.full(these.size, float(these.size >= ENOUGH) / max(1, these.size)))
    x, y, w = (torch.tensor(np.concatenate(part)).double() for part in (said, truth, weight))
    for kind in (0, 1):
        w[y == kind] /= w[y == kind].sum()
    line = torch.tensor([1.0, 0.0], dtype=torch.float64, requires_grad=True)
    best = torch.optim.LBFGS([line], max_iter=200)

    def missed() -> Tensor:
        best.zero_grad()
        loss = functional.binary_cross_entropy_with_logits(
            line[0] * x + line[1], y.double(), weight=w, reduction="sum"
        )
        loss.backward()
        return loss

    best.step(missed)  # type: ignore[arg-type]
    slope, offset = line.tolist()
    return slope, offset


def report(rows: list[Found], slope: float, offset: float) -> str:
    """Strokes found with some log odds, and places that are none, for each set and room."""
    said = [
        "set, room: strokes, with a place, odds > -1.8, 0, 1.6, 4 | places a second that are none"
    ]
    for source in sorted({row.source for row in rows}):
        for room in sorted({row.room for row in rows}):
            some = [row for row in rows if (row.source, row.room) == (source, room)]
            if not some:
                continue
            odds = np.clip(np.concatenate([r.said for r in some]) * slope + offset, -SUREST, SUREST)
            struck = np.concatenate([r.struck for r in some])
            strokes = max(1, int((struck == 1).sum()) + sum(r.unfound for r in some))
            seconds = sum(r.seconds for r in some)
            cells = [f"{(odds[struck == 1] > least).sum() / strokes:.3f}" for least in LEASTS]
            none = [f"{(odds[struck == 0] > least).sum() / seconds:.3f}" for least in LEASTS]
            off = np.abs([r.begins_off for r in some if r.begins_off is not None])
            begun = [f"{(off <= most).mean():.3f}" for most in (3, 6)] if off.size else []
            medians = [np.median(odds[struck == k]) if (struck == k).any() else 0 for k in (0, 1)]
            said.append(
                f"{source:10} {room:14} {strokes:5d} {' '.join(cells)} | {seconds:.0f} s "
                f"{' '.join(none)} | medians {medians[0]:.1f} {medians[1]:.1f} "
                f"| begins within 24, 48 ms {' '.join(begun)} of {off.size}"
            )
    return "\n".join(said)


LEASTS = (-np.inf, -1.8, 0.0, 1.6, 4.0)


def written(network: Network, slope: float, offset: float) -> dict[str, NDArray[np.float16]]:
    """The weights by the names under which the ear reads them."""
    weights = {"slope": np.array(slope), "offset": np.array(offset)}
    convs = {"first": network.first, "second": network.second}
    convs |= {f"layer{number}": layer for number, layer in enumerate(network.layers)}
    for name, conv in convs.items():
        taps = conv.weight.detach().cpu().numpy().transpose(2, 1, 0)
        weights[name] = taps.reshape(-1, taps.shape[2])
        weights[f"{name}_bias"] = conv.bias.detach().cpu().numpy()
    weights["out"] = network.out.weight.detach().cpu().numpy().T
    weights["out_bias"] = network.out.bias.detach().cpu().numpy()
    return {name: np.asarray(value, np.float16) for name, value in weights.items()}


def main() -> None:
    """Fit, calibrate, measure, write."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--network", choices=(AGAIN, BEGINNING), default=AGAIN)
    parser.add_argument("--fit", type=float, default=120, help="seconds")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    made, apart = (taken(options.folder / f"{n}.npz") for n in ("again", "again_apart"))
    network = fitted(made, options.fit, options.seed).eval()
    rows = found(network, apart)
    slope, offset = calibrated(rows)
    weights = options.out / f"{options.network}_network.npz"
    np.savez_compressed(weights, **written(network, slope, offset))
    told = f"{made.steps.size} sounds; slope {slope:.2f}, offset {offset:.2f}"
    said = options.out / f"{options.network}_report.txt"
    said.write_text(f"{told}\n{report(rows, slope, offset)}\n")


if __name__ == "__main__":
    main()
