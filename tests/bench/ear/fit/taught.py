"""Fit one network to say what several say together, and measure it on what none of them saw.

    python -m tests.bench.ear.fit.taught FOLDER OUT TEACHER.npz:SHARE … [--fit 250] [--seed 1]

FOLDER is what `takes` made; the student begins as its first teacher and is fitted for `--fit`
seconds; PyTorch uses a GPU where there is one. OUT gets `start_network.npz` and `report.txt`. What
is taught are the teachers' mean log odds, seam by seam, also where no truth is known (Hinton,
Vinyals & Dean 2015, 'Distilling the knowledge in a neural network'), of just what the student is
shown (Beyer et al. 2022, 'Knowledge distillation: A good teacher is patient and consistent', CVPR).
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional

from tests.bench.ear.fit.fitting import (
    COUNTS,
    DEVICE,
    Table,
    cuts,
    judged,
    shown,
    stepped,
    table_of,
)
from tests.bench.ear.fit.network import Network, read, written
from tests.bench.ear.fit.report import contents, report
from tests.bench.ear.fit.takes import Gathered, taken

RATE = 1e-3
FORGETS = 0.5
"""Of what a network forgets while it is fitted on truths."""
ROOMS, HALLS = 0.88, 1.15
"""Temperatures of what is taught. The mean of several is less sure than each, most where they
differ; in halls what they say is wrong together, so less is to be said."""
TEMPERATURE = 0.88
"""Of what the student says: it is less sure than what it is taught. On what is set apart 0.59 is
likeliest (0.79 for the first teacher, which says it with 1); here, on 751 takes looked at, not more
is wrong in any room than what the first teacher says."""
NEVER = -1e4


def taught(
    made: Gathered, teachers: Sequence[tuple[Network, float]], seconds: float, seed: int
) -> Network:
    """A network that begins as the first teacher and is taught by all, each as much as its share,
    for some seconds."""
    torch.manual_seed(seed)
    table = table_of(made, np.ones(len(made.sources), bool))
    student = Network().to(DEVICE)
    student.load_state_dict(teachers[0][0].state_dict())
    for part in student.modules():
        if isinstance(part, nn.Dropout):
            part.p *= FORGETS
    for teacher, _ in teachers:
        teacher.to(DEVICE).eval()
    warm = torch.tensor(warmth(made), device=DEVICE)
    stepped(student, lambda: loss(student, table, teachers, warm), seconds, RATE)
    return student


def warmth(made: Gathered) -> NDArray[np.float32]:
    """The temperature of what is taught of every seam, shape (places,)."""
    halls = np.repeat(made.in_halls, made.counts)
    return np.where(halls, HALLS, ROOMS).astype(np.float32)


def loss(
    student: Network, table: Table, teachers: Sequence[tuple[Network, float]], warm: Tensor
) -> Tensor:
    """What a student still misses of what its teachers say together, of some seams."""
    places, here = cuts(table)
    flat = places.flatten()
    seen, barred, counted = shown(table, flat), table.barred[flat], here.flatten().float()
    with torch.no_grad():
        whole = sum(share for _, share in teachers)
        said = [(_said(teacher, seen, here), share / whole) for teacher, share in teachers]
        means = [sum(logits[k] * share for logits, share in said) for k in range(len(COUNTS))]
    whole_loss = torch.zeros((), device=DEVICE)
    for logits, mean, share in zip(_said(student, seen, here), means, COUNTS, strict=True):
        wanted = (mean / warm[flat][:, None]).masked_fill(barred, NEVER).softmax(1)
        logs = functional.log_softmax(logits.masked_fill(barred, NEVER), 1).masked_fill(barred, 0.0)
        missed = -(wanted * logs).sum(1)
        whole_loss = whole_loss + share * (missed * counted).sum() / counted.sum()
    return whole_loss


def _said(network: Network, seen: tuple[Tensor, Tensor], here: Tensor) -> tuple[Tensor, Tensor]:
    """Logits of each seam alone and among its neighbours, shape (places, kinds)."""
    looks = network.looks(*seen).reshape(*here.shape, -1) * here[..., None]
    alone, among = network(looks, here)
    return alone.flatten(0, 1), among.flatten(0, 1)


def main() -> None:
    """Teach, calibrate, measure, write."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("teachers", nargs="+", help="FILE:SHARE")
    parser.add_argument("--fit", type=float, default=250, help="seconds")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    made, apart = (taken(options.folder / f"{name}.npz") for name in ("made", "apart"))
    named = [one.rpartition(":") for one in options.teachers]
    teachers = [(read(Path(file)), float(share)) for file, _, share in named]
    student = taught(made, teachers, options.fit, options.seed)
    np.savez_compressed(options.out / "start_network.npz", **written(student, TEMPERATURE))
    (options.out / "report.txt").write_text(
        f"{contents(made)}\n\n{report(apart, judged(student, apart, TEMPERATURE))}\n",
        encoding="utf-8",
    )


if __name__ == "__main__":
    main()
