"""Is this the same rider? The lengths of trunk, thigh and shank against the target's.

Another rider, another camera place, or a model that takes the joints elsewhere on other clothes
shows as lengths that are off. It is asked once and never judged: the strokes stay as they count.
"""

from __future__ import annotations

from dataclasses import dataclass

from posewatch.core.belief import BodySample, segment_lengths
from posewatch.core.envelope import Segments
from posewatch.core.outputs import LengthsDiffer
from posewatch.core.records import NS_PER_S

#: Lengths are means over about so long (their seen length changes over a turn of the crank)...
MEAN_OVER_S = 10.0
#: ... and are told after so much of seen riding, beyond this share.
ASKED_AFTER_NS = 15 * NS_PER_S
LARGEST_SHARE = 0.05
NAMES = ("trunk", "thigh", "shank")


@dataclass(frozen=True, slots=True)
class SameRiderState:
    """Mean shares of the target's lengths, for how long the rider was seen, and whether asked."""

    shares: tuple[float, float, float] = (1.0, 1.0, 1.0)
    seen_ns: int = 0
    t_ns: int = 0
    asked: bool = False


def step(
    state: SameRiderState, target: Segments, body: BodySample
) -> tuple[SameRiderState, tuple[LengthsDiffer, ...]]:
    """Take in one picture."""
    dt_ns = body.t_ns - state.t_ns
    if state.asked or not body.seen:
        return SameRiderState(state.shares, state.seen_ns, body.t_ns, state.asked), ()
    usual = (target.trunk, target.thigh, target.shank)
    seen = segment_lengths(body.points.tolist())
    now = [length / own for length, own in zip(seen, usual, strict=True)]
    dt_ns = min(dt_ns, NS_PER_S)  # a gap tells nothing
    gain = min(1.0, dt_ns / NS_PER_S / MEAN_OVER_S)
    if state.seen_ns == 0:
        gain = 1.0
    trunk, thigh, shank = (
        mean + gain * (share - mean) for mean, share in zip(state.shares, now, strict=True)
    )
    shares, seen_ns = (trunk, thigh, shank), state.seen_ns + dt_ns
    worst = max(range(len(NAMES)), key=lambda i: abs(shares[i] - 1.0))
    if seen_ns < ASKED_AFTER_NS or abs(shares[worst] - 1.0) <= LARGEST_SHARE:
        return SameRiderState(shares, seen_ns, body.t_ns), ()
    asked = LengthsDiffer(body.t_ns, NAMES[worst], shares[worst] - 1.0)
    return SameRiderState(shares, seen_ns, body.t_ns, asked=True), (asked,)
