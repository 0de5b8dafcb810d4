"""A stroke and its effort: when it has come, and what it is worth."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from posewatch.core import channels, effort
from posewatch.core.effort import EffortState
from posewatch.core.outputs import ChannelValue
from posewatch.core.records import EFFORT_CHANNELS, NS_PER_S, Channel
from posewatch.core.strokes import Revolution
from posewatch.core.watch_plan import WatchPlan


@dataclass(frozen=True, slots=True)
class EndedStroke:
    """A stroke to be judged; recent_ns are the durations of the last strokes, its own included."""

    revolution: Revolution
    recent_ns: tuple[int, ...]


def is_settled(plan: WatchPlan, readings: EffortState, end_ns: int, now_ns: int) -> bool:
    """Tell whether a stroke waits for no sensor: each planned quantity comes after the stroke."""
    return all(
        effort.is_settled(readings.of(channel), end_ns, now_ns)
        for channel in EFFORT_CHANNELS
        if plan.effort_centre(channel) is not None and _is_sensed(readings, channel)
    )


def _is_sensed(readings: EffortState, channel: Channel) -> bool:
    """Tell whether a quantity comes from sensors; the strokes themselves tell the cadence too."""
    return channel is Channel.POWER or bool(readings.cadence.readings)


def judge(
    plan: WatchPlan, readings: EffortState, ended: EndedStroke, out: Collection[Channel]
) -> tuple[ChannelValue, ...]:
    """Return a stroke's verdict on each planned quantity. out: channels that were out before it."""
    found = []
    for channel in EFFORT_CHANNELS:
        centre = plan.effort_centre(channel)
        if centre is not None:
            value = _value(readings, channel, ended)
            tol = plan.effort_tolerance(channel)
            found.append(channels.judge_effort(channel, value, centre, tol, channel in out))
    return tuple(found)


def _value(readings: EffortState, channel: Channel, ended: EndedStroke) -> float:
    five_strokes_ns, stroke = sum(ended.recent_ns), ended.revolution
    if _is_sensed(readings, channel):
        series = readings.of(channel)
        return effort.window_mean(series, stroke.start_ns, stroke.end_ns, five_strokes_ns)
    return 60.0 * NS_PER_S * len(ended.recent_ns) / five_strokes_ns
