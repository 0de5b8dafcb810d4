"""Reads a clip of the rider on a new mounting and holds it against a target."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

from posewatch.core import tracking
from posewatch.core.bridge import Bridge, bridge
from posewatch.core.envelope import Target
from posewatch.core.records import SourceState
from posewatch.core.timebase import to_s
from posewatch.errors import BadInput, ChainMismatch
from posewatch.opening import open_frames
from posewatch.watched_source import Source


def bridge_mounting(
    target: Target, source: Source, mounting: str, on_frame: Callable[[int, int], None]
) -> Bridge:
    """Return the offsets of a mounting.

    on_frame is called with the numbers of frames done and expected (0 = not known). The rider's kit
    may be another than the target's: what it does to the numbers is the question.

    Raises:
        ChainMismatch: the target was captured with another chain, or from the other side.
        PosewatchError: the source cannot be used, or holds too few strokes.
    """
    with open_frames(source) as opened:
        differences = target.chain.differences(replace(opened.chain, kit=target.chain.kit))
        _require_fit(differences)
        state = tracking.with_target(tracking.start(opened.chain, opened.plane), target)
        tracked = []
        for item in opened.seen():
            if isinstance(item, SourceState):
                raise BadInput(
                    f"The view changed {to_s(item.t_ns):.0f} s into {source.path.name}, so no "
                    f"bridge can come of it. {item.text}",
                    "Fix the camera and record again, or give --end to use what came before.",
                )
            state, one = tracking.step(state, item)
            tracked.append(one)
            on_frame(len(tracked), opened.n_expected)
        chain = opened.chain
    side = next((t.side for t in reversed(tracked) if t.side is not None), None)
    if side not in (None, target.side):
        _require_fit((f"near side: {target.side} / {side}",))
    found = bridge(tracked, target, chain, mounting, source.path.name)
    return replace(found, created=datetime.now(UTC).astimezone().isoformat(timespec="seconds"))


def _require_fit(differences: tuple[str, ...]) -> None:
    if differences:
        raise ChainMismatch(
            f"The target does not fit this chain (target / here): {'; '.join(differences)}.",
            "Capture a target with this chain first.",
        )
