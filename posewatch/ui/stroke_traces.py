"""The last strokes' deviations from a target over the crank circle. Pure state, without Qt.

From a watch that goes on, or from recorded landmarks tracked anew with the target's own circle.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from posewatch.core import channels, pipeline, strokes, tracking
from posewatch.core.envelope import Target
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.pedal_circle import TURN
from posewatch.core.plane import PlaneMap
from posewatch.core.records import Channel, FloatArray, Frame
from posewatch.core.strokes import Revolution, Sample, StrokeState
from posewatch.core.tracking import Tracked

STROKES_SHOWN = 10


@dataclass(frozen=True, slots=True, eq=False)
class StrokeTrace:
    """One stroke: (n,) crank angles in degrees from its top, and (n, 9) deviations.

    means: (9,) over the whole turn. Deviations are in the target's units, NaN where not known.
    """

    crank_deg: FloatArray
    away: FloatArray
    means: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Traces:
    """The last strokes, the newest last. n: strokes seen in all; it changes with each new one."""

    target: Target
    strokes: tuple[StrokeTrace, ...] = ()
    n: int = 0
    _centres: FloatArray | None = None
    _state: StrokeState = StrokeState()
    _samples: tuple[Sample, ...] = ()
    _t_ns: int = -1


def start(target: Target) -> Traces:
    """Return no strokes yet against a target."""
    return Traces(target, _centres=channels.centre_table(target))


def step(traces: Traces, tracked: Tracked) -> Traces:
    """Take in one moment that was tracked with the target's circle; one seen before is ignored."""
    if tracked.t_ns == traces._t_ns:
        return traces
    assert traces._centres is not None
    seen = pipeline.observation(tracked, traces.target.place_scale, traces._centres)
    traces = replace(traces, _t_ns=tracked.t_ns)
    if seen.angle_rad is None:
        return replace(traces, _state=StrokeState(), _samples=())
    sample = Sample(tracked.t_ns, seen.angle_rad, seen.deviations)
    state, ended = strokes.step(traces._state, sample)
    recent = (s for s in traces._samples if sample.t_ns - s.t_ns <= strokes.KEPT_NS)
    samples = (*recent, sample)
    traces = replace(traces, _state=state, _samples=samples)
    for revolution in ended:
        traces = _with_stroke(traces, revolution)
    return traces


def _with_stroke(traces: Traces, ended: Revolution) -> Traces:
    inside = [s for s in traces._samples if ended.start_ns <= s.t_ns <= ended.end_ns]
    left = tuple(s for s in traces._samples if s.t_ns > ended.end_ns)
    if len(inside) < 2:
        return replace(traces, _samples=left)
    middle = 0.5 * (inside[0].angle_rad + inside[-1].angle_rad)
    top = TURN * np.floor(middle / TURN)
    trace = StrokeTrace(
        np.degrees(np.array([s.angle_rad for s in inside]) - top),
        np.array([s.deviations for s in inside]),
        ended.means,
    )
    kept = (*traces.strokes, trace)[-STROKES_SHOWN:]
    return replace(traces, strokes=kept, n=traces.n + 1, _samples=left)


def traced(
    frames: Iterable[Frame], chain: MeasuringChain, plane: PlaneMap | None, target: Target
) -> Iterator[Traces]:
    """Track recorded frames with a target's circle; the strokes after each frame."""
    state = tracking.with_target(tracking.start(chain, plane), target)
    traces = start(target)
    for frame in frames:
        state, tracked = tracking.step(state, frame)
        traces = step(traces, tracked)
        yield traces


def of_channel(traces: Traces, channel: Channel) -> list[list[tuple[FloatArray, FloatArray]]]:
    """Return per stroke and part the crank angles and the deviations, in degrees or mm."""
    scale = traces.target.envelope(channel).unit.nominal
    return [
        [(one.crank_deg, scale * one.away[:, column]) for column in channels.COLUMNS[channel]]
        for one in traces.strokes
    ]


def means_of(traces: Traces, channel: Channel) -> list[float]:
    """Return each stroke's value, NaN where not known: signed, or the hand's distance."""
    scale = traces.target.envelope(channel).unit.nominal
    return [scale * channels.channel_size(channel, one.means) for one in traces.strokes]
