"""Fitting and calibrating the network."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional

from tests.bench.ear.fit.network import Network
from tests.bench.ear.fit.seams import LEVELS, WIDER
from tests.bench.ear.fit.takes import Gathered
from trainer.ear.segments.seam_patch import STEPS
from trainer.ear.segments.start_network import KINDS

DEVICE = torch.device("cuda" if torch.cuda.is_available() else "cpu")
LONGEST = 20
"""So many seams of a take are seen at once while fitting."""
TAKES = 115
SMOOTHED = 0.02
"""So much a start counts as each other kind, that no weight grows for ever."""
RATE = 2e-3
KEPT = 0.999
"""Of the mean weights, from step to step."""
WEIGHT = {"passage": 1.3}
COUNTS = 0.4, 1.0
"""So much a seam by itself counts, and one among its neighbours."""
NOTHING = -30.0
MOST_EVENED = 3.0
"""No seam counts more often, nor less than one part in so many."""


@dataclass(frozen=True)
class Table:
    """Takes on the device, and where each take's seams and dips stand."""

    patches: Tensor
    facts: Tensor
    truths: Tensor
    barred: Tensor
    """Which kinds are impossible, shape (places, kinds)."""
    firsts: Tensor
    """Of each take's seams, shape (takes,)."""
    counts: Tensor
    weight: Tensor


def table_of(made: Gathered, chosen: NDArray[np.bool_]) -> Table:
    """The chosen takes of which something is known."""
    seams, weight = [], np.ones(made.truths.size, np.float32)
    first = 0
    for source, end, use in zip(made.sources, made.ends.tolist(), chosen, strict=True):
        if use and (made.truths[first:end] >= 0).any():
            seams.append((first, end - first))
        weight[first:end] = next((w for part, w in WEIGHT.items() if source.startswith(part)), 1.0)
        first = end
    weight *= evened(made)
    return Table(
        torch.tensor(made.patches, device=DEVICE),
        torch.tensor(made.facts, device=DEVICE),
        torch.tensor(made.truths.astype(np.int64), device=DEVICE),
        torch.tensor(~possible(made), device=DEVICE),
        *torch.tensor(np.array(seams, np.int64).T, device=DEVICE),
        torch.tensor(weight, device=DEVICE),
    )


def evened(made: Gathered) -> NDArray[np.float32]:
    """What each seam counts so that every kind of start has the share in every room that it has in
    none, shape (places,): what is played depends on no room, but in a hall more of the slurs than
    of the strokes are missed, or seen too late to be known."""
    counts = made.counts
    rooms = np.repeat([place.partition(" ")[2] for place in made.places], counts)
    known = (made.truths >= 0) & made.joined & ~made.same
    weight = np.ones(made.truths.size, np.float32)
    dry = _kind_shares(made.truths[known & (rooms == "")])
    for room in np.unique(rooms):
        here = known & (rooms == room)
        factor = np.clip(dry / _kind_shares(made.truths[here]), 1 / MOST_EVENED, MOST_EVENED)
        weight[here] = factor[made.truths[here]]
    return weight


def _kind_shares(truths: NDArray[np.int8]) -> NDArray[np.float64]:
    counts = np.bincount(truths, minlength=len(KINDS)) + 1.0
    return np.asarray(counts / counts.sum())


def possible(made: Gathered) -> NDArray[np.bool_]:
    """Which kinds each seam can be, shape (places, kinds): nothing is slurred to its own pitch or
    out of silence."""
    allowed = np.ones((made.truths.size, 4), bool)
    allowed[~made.joined | made.same, 0] = False
    allowed[~made.joined, 1] = False
    return allowed


def fitted(made: Gathered, chosen: NDArray[np.bool_], seconds: float, seed: int) -> Network:
    """The network fitted on the chosen takes for some seconds."""
    torch.manual_seed(seed)
    table, network = table_of(made, chosen), Network().to(DEVICE)
    stepped(network, lambda: _seam_loss(network, table), seconds)
    return network


def stepped(
    network: nn.Module, missed: Callable[[], Tensor], seconds: float, fastest: float = RATE
) -> None:
    """Fit a network's weights for some seconds to make a loss small, at this rate at most."""
    rate = torch.tensor(fastest, device=DEVICE)
    on_gpu = DEVICE.type == "cuda"
    best = torch.optim.AdamW(network.parameters(), rate, weight_decay=4e-3, capturable=on_gpu)
    averaged = [value.detach().clone() for value in network.parameters()]
    last = torch.zeros((), device=DEVICE)

    def step() -> None:
        best.zero_grad(set_to_none=True)
        loss = missed()
        loss.backward()
        best.step()
        with torch.no_grad():
            for mean, value in zip(averaged, network.parameters(), strict=True):
                mean.lerp_(value, 1 - KEPT)
            last.lerp_(loss.detach(), 0.01)

    began = monotonic()
    again = _recorded(step) if on_gpu else step
    steps = 0
    while (done := (monotonic() - began) / seconds) < 1:
        slower = min(1.0, (steps + 1) / 300) * max(0.01, (1 + np.cos(np.pi * done)) / 2)
        rate.fill_(fastest * slower)
        again()
        steps += 1
        if steps % 100 == 0 and on_gpu:
            torch.cuda.synchronize()
        if steps % 2000 == 0:
            print(f"  step {steps}, {done:.0%}, loss {float(last):.3f}", flush=True)
    print(f"  {steps} steps, loss {float(last):.3f}", flush=True)
    with torch.no_grad():
        for mean, value in zip(averaged, network.parameters(), strict=True):
            value.copy_(mean)
    network.eval()


def _recorded(step: Callable[[], None]) -> Callable[[], None]:
    """The step as one graph of the GPU, which costs no Python."""
    torch.set_float32_matmul_precision("high")
    torch.backends.cudnn.allow_tf32 = True
    aside = torch.cuda.Stream()
    aside.wait_stream(torch.cuda.current_stream())
    with torch.cuda.stream(aside):
        for _ in range(4):
            step()
    torch.cuda.current_stream().wait_stream(aside)
    graph = torch.cuda.CUDAGraph()
    with torch.cuda.graph(graph):
        step()
    return graph.replay  # type: ignore[no-any-return]


def shown(table: Table, places: Tensor) -> tuple[Tensor, Tensor]:
    """Patches shifted, tinted and made noisy, and facts a little off."""
    count = places.numel()
    shift = (torch.randn(count, 1, 1, device=DEVICE) * 2.0).round().clamp(-WIDER // 2, WIDER // 2)
    steps = shift.long() + WIDER // 2 + torch.arange(STEPS, device=DEVICE)
    whole = table.patches[places]
    patches = whole.gather(2, steps.expand(count, whole.shape[1], STEPS)).float()
    patches = patches / LEVELS * 1.5 - 1.0
    rows = whole.shape[1]
    patches = patches + 0.03 * torch.randn(count, rows, 1, device=DEVICE)
    patches = patches + 0.02 * torch.randn(count, 1, 1, device=DEVICE)
    patches = (patches + 0.015 * torch.randn_like(patches)).clamp(-1, 0.5)
    facts = table.facts[places]
    hidden = torch.rand(count, 1, device=DEVICE) < 0.2
    signs = facts[:, :11] + 0.05 * torch.randn(count, 11, device=DEVICE)
    return patches, torch.cat([torch.where(hidden, 0.0, signs), facts[:, 11:]], 1)


def _among(size: Tensor | int, count: int) -> Tensor:
    """So many whole numbers below a size, or below each of several."""
    return (torch.rand(count, device=DEVICE, dtype=torch.float64) * size).long()


def cuts(table: Table) -> tuple[Tensor, Tensor]:
    """The places of some seams in a row of some takes, and which of them hold one, shape (TAKES,
    LONGEST)."""
    picked = _among(table.firsts.numel(), TAKES)
    counts = table.counts[picked]
    begin = _among((counts - LONGEST + 1).clamp(min=1), TAKES)
    here = torch.arange(LONGEST, device=DEVICE)[None] < (counts - begin)[:, None]
    places = (table.firsts[picked] + begin)[:, None] + torch.arange(LONGEST, device=DEVICE)
    return torch.where(here, places, table.firsts[picked][:, None]), here


def _seam_loss(network: Network, table: Table) -> Tensor:
    places, here = cuts(table)
    flat = places.flatten()
    looks = network.looks(*shown(table, flat)).reshape(TAKES, LONGEST, -1)
    looks = looks * here[..., None]
    alone, among = network(looks, here)
    truths, barred = table.truths[flat], table.barred[flat]
    weight = table.weight[flat] * (truths >= 0) * here.flatten()
    loss = torch.zeros((), device=DEVICE)
    for logits, share in zip((alone, among), COUNTS, strict=True):
        logs = functional.log_softmax(logits.flatten(0, 1).masked_fill(barred, NOTHING), 1)
        right = logs.gather(1, truths.clamp(min=0)[:, None])[:, 0]
        spread = logs.masked_fill(barred, 0.0).sum(1) / (~barred).sum(1)
        missed = -(1 - SMOOTHED) * right - SMOOTHED * spread
        loss = loss + share * (missed * weight).sum() / weight.sum()
    return loss


@dataclass(frozen=True)
class Judged:
    """What a network says of takes."""

    chances: NDArray[np.float64]
    """Of each kind, shape (places, kinds)."""
    alone: NDArray[np.float64]


def judged(network: Network, made: Gathered, temperature: float = 1.0) -> Judged:
    """Take by take, every place of them."""
    logits, alone = _logits(network, made)
    barred = ~possible(made)
    logits[barred], alone[barred] = -np.inf, -np.inf
    return Judged(_shares(logits / temperature), _shares(alone / temperature))


def _shares(logits: NDArray[np.float64]) -> NDArray[np.float64]:
    chances = np.exp(logits - logits.max(axis=1, keepdims=True))
    return np.asarray(chances / chances.sum(axis=1, keepdims=True))


@torch.no_grad()
def _logits(network: Network, made: Gathered) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    looks = []
    first = WIDER // 2
    for begin in range(0, made.truths.size, 4096):
        part = slice(begin, begin + 4096)
        patches = torch.tensor(made.patches[part, :, first : first + STEPS], device=DEVICE)
        facts = torch.tensor(made.facts[part], device=DEVICE)
        looks.append(network.looks(patches.float() / LEVELS * 1.5 - 1.0, facts))
    seen = torch.cat(looks)
    alone, among = network.alone(seen), torch.zeros(len(seen), 4, device=DEVICE)
    begin = 0
    for end in made.ends.tolist():
        count = end - begin
        if count:
            here = torch.ones(1, count, dtype=torch.bool, device=DEVICE)
            among[begin : begin + count] = network(seen[None, begin : begin + count], here)[1][0]
        begin = end
    return tuple(v.double().cpu().numpy() for v in (among, alone))  # type: ignore[return-value]


def calibrated(network: Network, made: Gathered) -> float:
    """The temperature at which what is said is as likely as it is right, each set of takes and
    room counted alike; 1 at least: other players will be harder than the voices set apart here, and
    a start is never said with more certainty than it was fitted with."""
    logits, _ = _logits(network, made)
    logits[~possible(made)] = -np.inf
    keys = np.repeat(
        [f"{source} {place[:6]}" for source, place in zip(made.sources, made.places, strict=True)],
        made.counts,
    )
    known = made.truths >= 0

    def missed(temperature: float) -> float:
        chances = _shares(logits[known] / temperature)
        # legato tongue for tongued is no fault
        grouped = np.stack([chances[:, 0], chances[:, 1] + chances[:, 2], chances[:, 3]], 1)
        group = np.array([0, 1, 1, 2])[made.truths[known]]
        right = grouped[np.arange(group.size), group]
        return _even(-np.log(right + 1e-9), keys[known])

    tried = np.geomspace(0.5, 4, 60)
    return max(1.0, float(tried[np.argmin([missed(t) for t in tried])]))


def _even(losses: NDArray[np.float64], keys: NDArray[np.str_]) -> float:
    return float(np.mean([losses[keys == key].mean() for key in np.unique(keys)]))
