"""Which trials are taken as a pair that is compared, for the power meter's zero offset. Without Qt.

Two trials one after the other are a pair, from the first counted stroke of the one to the end of
the other. A pair begins only after the offset was taken, or put off: what comes before is warm-up.
"""

from __future__ import annotations

from posewatch.core.meter_offset import (
    ComparisonBegan,
    OffsetEvent,
    PairBegan,
    PairEnded,
)
from posewatch.core.outputs import StrokeJudged
from posewatch.studio import Doing
from posewatch.ui.scene import Scene

#: Trials of a pair.
OF_A_PAIR = 2


class TrialPairs:
    """Follows the trials of a sitting. rides: the rider has pedalled. in_pair: one is under way."""

    def __init__(self) -> None:
        self.rides = self.in_pair = False
        self._was_watching = self._has_counted = self._may_begin = False
        self._n_ridden = 0

    def follow(self, scene: Scene, is_seen_to: bool) -> tuple[OffsetEvent, ...]:
        """Return what has happened since the last scene. is_seen_to: the offset, by now."""
        events: list[OffsetEvent] = []
        watching = scene.doing is Doing.WATCH
        if watching and not self._was_watching:
            self._has_counted, self._may_begin = False, is_seen_to
        self.rides = self.rides or _has_stroke(scene)
        stands = scene.standing
        if not self._has_counted and stands is not None and stands.counted > 0:
            self._has_counted = True
            if self._may_begin and not self.in_pair:
                self.in_pair, self._n_ridden = True, 0
                events.append(PairBegan())
        if self._was_watching and not watching and self._has_counted and self.in_pair:
            self._n_ridden += 1
            if self._n_ridden == OF_A_PAIR:
                self.in_pair = False
                events += [PairEnded(), ComparisonBegan()]
        self._was_watching = watching
        return tuple(events)


def _has_stroke(scene: Scene) -> bool:
    return any(isinstance(out, StrokeJudged) for said in scene.said for out in said.outputs)
