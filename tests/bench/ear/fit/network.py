"""The network of `trainer.ear.segments.start_network` as PyTorch fits it, and its weights as the
ear reads them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional

from trainer.ear.segments.seam_patch import ROWS, STEPS
from trainer.ear.segments.start_network import BESIDE, FACTS, HEADS, KINDS, LAYERS, REACH, STRIDES

ROWS_OUT = (64, 96, 112, 112)
LOOK, NEAR, MIX = 144, 48, 96
TAPS = 5
NOTHING = -1e9


class Others(nn.Module):
    """What each seam hears of those around it."""

    def __init__(self) -> None:
        super().__init__()
        self.asks = nn.Linear(NEAR, 3 * NEAR)
        self.far = nn.Parameter(torch.zeros(HEADS, 2 * REACH + 1))
        self.mix = nn.Linear(NEAR * (2 + len(BESIDE)), MIX)
        self.out = nn.Linear(MIX, NEAR)
        self.forget = nn.Dropout(0.15)

    def forward(self, among: Tensor, here: Tensor) -> Tensor:
        """Shape (takes, seams, NEAR); here: which places hold a seam."""
        takes, seams, _ = among.shape
        parts = (takes, seams, HEADS, NEAR // HEADS)
        asked, keys, told = (part.reshape(parts) for part in self.asks(among).chunk(3, 2))
        order = torch.arange(seams, device=among.device)
        away = order[None, :] - order[:, None]
        far = self.far[:, away.clamp(-REACH, REACH) + REACH]
        agree = torch.einsum("tnhu,tkhu->thnk", asked, keys) / (NEAR // HEADS) ** 0.5 + far
        barred = (away.abs() > REACH) | ~here[:, None, None, :]
        shares = agree.masked_fill(barred, NOTHING).softmax(3)
        heard = torch.einsum("thnk,tkhu->tnhu", shares, told).reshape(among.shape)
        beside = [_shifted(among, by) for by in BESIDE]
        mixed = functional.relu(self.mix(torch.cat([among, heard, *beside], 2)))
        return self.out(self.forget(mixed)) * here[..., None]


class Network(nn.Module):
    """Looks at places one by one, then at the seams of a take among their neighbours."""

    def __init__(self) -> None:
        super().__init__()
        sizes = (ROWS, *ROWS_OUT)
        self.convs = nn.ModuleList(
            nn.Conv1d(sizes[k], sizes[k + 1], TAPS, stride, 2) for k, stride in enumerate(STRIDES)
        )
        steps = STEPS
        for stride in STRIDES:
            steps //= stride
        self.look = nn.Linear(ROWS_OUT[-1] * steps + FACTS, LOOK)
        self.alone = nn.Linear(LOOK, len(KINDS))
        self.near = nn.Linear(LOOK, NEAR)
        self.layers = nn.ModuleList(Others() for _ in range(LAYERS))
        self.kinds = nn.Linear(NEAR, len(KINDS))
        self.forget = nn.Dropout(0.2)

    def looks(self, patches: Tensor, facts: Tensor) -> Tensor:
        """Shape (places, LOOK) from patches (places, rows, steps) and facts (places, FACTS)."""
        for conv in self.convs:
            patches = functional.relu(conv(patches))
        flat = self.forget(patches.transpose(1, 2).flatten(1))
        return self.forget(functional.relu(self.look(torch.cat([flat, facts], 1))))

    def forward(self, looks: Tensor, here: Tensor) -> tuple[Tensor, Tensor]:
        """Logits alone and among neighbours, shape (takes, seams, kinds), from looks of shape
        (takes, seams, LOOK); here: which places of the rectangle hold a seam."""
        alone = self.alone(looks)
        among = self.near(looks) * here[..., None]
        for layer in self.layers:
            among = among + layer(among, here)
        return alone, alone + self.kinds(functional.relu(among))


def _shifted(values: Tensor, by: int) -> Tensor:
    moved = torch.zeros_like(values)
    if by > 0:
        moved[:, by:] = values[:, :-by]
    else:
        moved[:, :by] = values[:, -by:]
    return moved


def written(network: Network, temperature: float) -> dict[str, NDArray[np.float16]]:
    """The weights by the names under which the ear reads them."""
    weights = {"temperature": np.array(temperature)}
    for number, conv in enumerate(network.convs):
        taps = conv.weight.detach().cpu().numpy().transpose(2, 1, 0)
        weights[f"conv{number}"] = taps.reshape(-1, taps.shape[2])
        weights[f"conv{number}_bias"] = conv.bias.detach().cpu().numpy()
    linear = {name: getattr(network, name) for name in ("look", "alone", "near", "kinds")}
    for number, layer in enumerate(network.layers):
        weights[f"layer{number}_far"] = layer.far.detach().cpu().numpy()
        linear |= {f"layer{number}_{name}": getattr(layer, name) for name in ("asks", "mix", "out")}
    for name, one in linear.items():
        weights[name] = one.weight.detach().cpu().numpy().T
        weights[f"{name}_bias"] = one.bias.detach().cpu().numpy()
    return {name: np.asarray(value, np.float16) for name, value in weights.items()}


def read(path: Path) -> Network:
    """The network whose weights were written into a file."""
    with np.load(path) as kept:
        weights = {name: torch.tensor(kept[name].astype(np.float32)) for name in kept.files}
    network = Network()
    linear = {name: getattr(network, name) for name in ("look", "alone", "near", "kinds")}
    with torch.no_grad():
        for number, conv in enumerate(network.convs):
            taps = weights[f"conv{number}"]
            rows = taps.reshape(TAPS, -1, taps.shape[1])
            conv.weight.copy_(rows.permute(2, 1, 0))
            conv.bias.copy_(weights[f"conv{number}_bias"])
        for number, layer in enumerate(network.layers):
            layer.far.copy_(weights[f"layer{number}_far"])
            parts = ("asks", "mix", "out")
            linear |= {f"layer{number}_{name}": getattr(layer, name) for name in parts}
        for name, one in linear.items():
            one.weight.copy_(weights[name].T)
            one.bias.copy_(weights[f"{name}_bias"])
    return network
