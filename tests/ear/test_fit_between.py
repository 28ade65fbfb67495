"""The network put between two."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.ear.fit.between import FIRST_RARER, TAUGHT_SHARE, between
from trainer.ear.segments.start_network import KINDS
from trainer.music.note import Start


def test_it_lies_between_the_two_and_doubts_no_soft_strokes() -> None:
    first, taught = (
        {"kinds_bias": np.full(len(KINDS), of, np.float16), "look": np.full((2, 3), of, np.float16)}
        for of in (1.0, 2.0)
    )
    found = between(first, taught)
    assert list(found) == list(first)
    assert found["look"] == pytest.approx(1 + TAUGHT_SHARE, abs=1e-3)
    soft = KINDS.index(Start.LEGATO_TONGUE)
    lifted = found["kinds_bias"] - found["look"][0, 0]
    assert lifted[soft] == pytest.approx((1 - TAUGHT_SHARE) * FIRST_RARER, abs=2e-3)
    assert np.delete(lifted, soft) == pytest.approx(0.0, abs=2e-3)
