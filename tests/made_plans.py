"""Designs of comparisons for tests."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from posewatch.trials.orders import LARGEST_SEED
from posewatch.trials.plan import Design
from posewatch.trials.words import ComparisonKind, ConcealmentLevel, OrderKind

A_DESIGN: dict[str, Any] = {
    "kind": ComparisonKind.SHORTS,
    "saddle_mode": None,
    "concealment": ConcealmentLevel.READINGS_HIDDEN,
    "rider": "r17",
    "bike": "road",
    "n_items": 2,
    "mountings": 3,
    "n_visits": 1,
    "hands": ("hoods", "drops"),
    "order": OrderKind.REVERSED_PAIRS,
    "seed": 1,
}


def made_design(**changes: Any) -> Design:
    """A first look at two shorts on hoods and drops, but for these changes."""
    return Design(**(A_DESIGN | changes))


@st.composite
def designs(draw: st.DrawFn) -> Design:
    """Any design that can be ridden, of moderate size."""
    mountings = draw(st.integers(1, 9))
    return made_design(
        n_items=draw(st.integers(2, 8)),
        mountings=mountings,
        n_visits=draw(st.integers(1, mountings)),
        hands=("hoods", "drops", "aero")[: draw(st.integers(1, 3))],
        order=draw(st.sampled_from(OrderKind)),
        seed=draw(st.integers(0, LARGEST_SEED)),
        familiarisation=draw(st.booleans()),
        power_w=draw(st.none() | st.floats(1.0, 2000.0)),
        warm_up_s=draw(st.floats(0.0, 3600.0)),
    )
