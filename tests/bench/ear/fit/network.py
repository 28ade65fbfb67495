"""The network of `trainer.ear.segments.start_network` as PyTorch fits it, and its weights as the
ear reads them."""

from __future__ import annotations

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional

from trainer.ear.segments.seam_patch import ROWS, STEPS
from trainer.ear.segments.start_network import BESIDE, FACTS, KINDS, NEIGHBOURS, STRIDES

ROWS_OUT = (48, 64, 64, 64)
LOOK, NEAR, AMONG = 96, 24, 64


class Network(nn.Module):
    """Looks at places one by one, then at the seams of a take among their neighbours."""

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
        self.again = nn.Linear(LOOK, 1)
        self.alone = nn.Linear(LOOK, len(KINDS))
        self.near = nn.Linear(LOOK, NEAR)
        self.among = nn.Linear(NEAR * (len(BESIDE) + 2), AMONG)
        self.kinds = nn.Linear(AMONG, len(KINDS))
        self.forget = nn.Dropout(0.15)

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
        near = self.near(looks) * here[..., None]
        beside = [_shifted(near, by) for by in BESIDE]
        among = torch.cat([near, *beside, _around(near, here)], 2)
        return alone, alone + self.kinds(functional.relu(self.among(among)))


def _shifted(values: Tensor, by: int) -> Tensor:
    moved = torch.zeros_like(values)
    if by > 0:
        moved[:, by:] = values[:, :-by]
    else:
        moved[:, :by] = values[:, -by:]
    return moved


def _around(values: Tensor, here: Tensor) -> Tensor:
    reach = NEIGHBOURS
    padded = functional.pad(values, (0, 0, reach + 1, reach)).cumsum(1)
    sums = padded[:, 2 * reach + 1 :] - padded[:, : -(2 * reach + 1)] - values
    count = functional.pad(here.float(), (reach + 1, reach)).cumsum(1)
    others = count[:, 2 * reach + 1 :] - count[:, : -(2 * reach + 1)] - here.float()
    return sums / others.clamp(min=1)[..., None]


def written(
    network: Network, temperature: float, again_temperature: float
) -> dict[str, NDArray[np.float16]]:
    """The weights by the names under which the ear reads them."""
    weights = {
        "temperature": np.array(temperature),
        "again_temperature": np.array(again_temperature),
    }
    for number, conv in enumerate(network.convs):
        taps = conv.weight.detach().cpu().numpy().transpose(2, 1, 0)
        weights[f"conv{number}"] = taps.reshape(-1, taps.shape[2])
        weights[f"conv{number}_bias"] = conv.bias.detach().cpu().numpy()
    for name in ("look", "again", "alone", "near", "among", "kinds"):
        layer = getattr(network, name)
        weights[name] = layer.weight.detach().cpu().numpy().T
        weights[f"{name}_bias"] = layer.bias.detach().cpu().numpy()
    return {name: np.asarray(value, np.float16) for name, value in weights.items()}
