"""What a watch is asked to hold, besides the target."""

from __future__ import annotations

from dataclasses import dataclass

from posewatch.core.records import Channel
from posewatch.core.strokes import SLOWEST_REVOLUTION_NS

#: Slower strokes are never judged; no rider pedals faster, or harder, for long.
SLOWEST_RPM, FASTEST_RPM = 60e9 / SLOWEST_REVOLUTION_NS, 200.0
LARGEST_W = 2000.0


@dataclass(frozen=True, slots=True)
class WatchPlan:
    """The plan's part of a trial: effort, sit-in and how many strokes are wanted.

    power_w, cadence_rpm: planned effort, None = not held. sit_in_s: pause after leaving the saddle
    or stopping, before steadying begins. first_sit_in_s: the same from the watch's beginning, in
    the saddle on a fresh mounting. goal_strokes: counted strokes at which a trial is reached.
    trainer_holds_power: a trainer sets the load; while it does, the rider is not told to change the
    power, which is judged all the same.
    """

    power_w: float | None = None
    cadence_rpm: float | None = None
    sit_in_s: float = 30.0
    goal_strokes: int = 60
    first_sit_in_s: float = 0.0
    trainer_holds_power: bool = False

    def effort_centre(self, channel: Channel) -> float | None:
        """Return the planned power or cadence, None where it is not held."""
        return self.power_w if channel is Channel.POWER else self.cadence_rpm

    def asks_for(self, channel: Channel) -> bool:
        """Return whether the rider can be asked to correct a channel."""
        return not (self.trainer_holds_power and channel is Channel.POWER)

    def effort_tolerance(self, channel: Channel) -> float:
        """Return the outer limit: the larger of 7 % and 10 W, or 4 rpm."""
        if channel is Channel.POWER:
            return max(0.07 * (self.power_w or 0.0), 10.0)
        return 4.0
