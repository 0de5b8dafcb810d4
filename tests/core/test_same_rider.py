"""Whether the lengths seen are the target's: asked once, after some time, and never judged."""

from __future__ import annotations

import numpy as np
import pytest
from linkage_rider import CHAIN, MM_PER_PX, Pose, joints_m, ride

from posewatch.core import pipeline, same_rider
from posewatch.core.belief import BodySample, nothing, sample
from posewatch.core.envelope import Segments, Target
from posewatch.core.judge import Task
from posewatch.core.landmarks import ANKLE, HIP, JOINTS, KNEE, SHOULDER
from posewatch.core.outputs import LengthsDiffer, Output
from posewatch.core.records import Frame
from posewatch.core.same_rider import SameRiderState
from posewatch.core.timebase import to_ns
from posewatch.core.watch_plan import WatchPlan

RATE_HZ = 30.0
USUAL = Segments(520.0, 441.0, 443.0)
LINKAGE_MM = {joint: 1000.0 * place for joint, place in joints_m(Pose(70.0)).items()}
NO_DOUBT = np.zeros(len(JOINTS), np.uint8)


def body(t_s: float, trunk: float, thigh: float, shank: float) -> BodySample:
    """The linkage rider with lengths that are these shares of his own."""
    points = np.array([LINKAGE_MM[joint] for joint in JOINTS])
    hip, knee = points[HIP].copy(), points[KNEE].copy()
    points[SHOULDER] = hip + trunk * (points[SHOULDER] - hip)
    points[KNEE] = hip + thigh * (knee - hip)
    points[ANKLE] = points[KNEE] + shank * (points[ANKLE] - knee)
    return sample(to_ns(t_s), points, NO_DOUBT, points[HIP])


def asked(
    seconds: float,
    trunk: float = 1.0,
    thigh: float = 1.0,
    shank: float = 1.0,
    unseen: tuple[float, float] = (0.0, 0.0),
) -> list[LengthsDiffer]:
    state, found = SameRiderState(), list[LengthsDiffer]()
    for index in range(round(seconds * RATE_HZ)):
        t_s = index / RATE_HZ
        is_seen = not unseen[0] <= t_s < unseen[1]
        one = body(t_s, trunk, thigh, shank) if is_seen else nothing(to_ns(t_s))
        state, said = same_rider.step(state, USUAL, one)
        found += said
    return found


@pytest.mark.parametrize("segment", ["trunk", "thigh", "shank"])
@pytest.mark.parametrize("share", [0.94, 1.06])
def test_a_segment_of_another_length_is_asked_about_once(segment: str, share: float) -> None:
    trunk, thigh, shank = (share if name == segment else 1.0 for name in same_rider.NAMES)
    (one,) = asked(60.0, trunk, thigh, shank)
    assert one.segment == segment
    assert one.share == pytest.approx(share - 1.0, abs=1e-6)
    assert one.t_ns == pytest.approx(to_ns(15.0), abs=to_ns(0.1))


@pytest.mark.parametrize("share", [0.96, 1.0, 1.04])
def test_a_length_within_a_twentieth_is_the_rider_s(share: float) -> None:
    assert asked(40.0, trunk=share, thigh=share) == []


def test_the_worst_of_them_is_named() -> None:
    (one,) = asked(20.0, trunk=1.06, thigh=0.9, shank=1.08)
    assert one.segment == "thigh"
    assert one.share == pytest.approx(-0.1, abs=1e-6)


def test_only_what_is_seen_counts_towards_the_time() -> None:
    (one,) = asked(40.0, unseen=(5.0, 20.0), thigh=0.9)
    assert one.t_ns == pytest.approx(to_ns(30.0), abs=to_ns(0.2))
    assert asked(14.0, thigh=0.9) == []


def small(frame: Frame) -> Frame:
    """A camera set back by a twelfth and not calibrated: everything is that much smaller."""
    middle = np.array((300.0, 330.0)) + np.array((-70.0, -135.0)) / MM_PER_PX
    points = middle + (frame.points_px - middle) * 0.92
    return Frame(frame.t_ns, points, frame.visibility, frame.presence)


def test_a_watch_tells_it_and_judges_as_before(linkage_target: Target) -> None:
    def outputs(frames: list[Frame]) -> list[Output]:
        task = Task(linkage_target, WatchPlan())
        state, found = pipeline.start(task, CHAIN, None), list[Output]()
        for frame in frames:
            state, said = pipeline.step(task, state, frame)
            found += said
        return found

    told = [o for o in outputs([small(f) for f in ride(18.0)]) if isinstance(o, LengthsDiffer)]
    assert len(told) == 1
    assert told[0].share == pytest.approx(-0.08, abs=0.02)
    assert not any(isinstance(o, LengthsDiffer) for o in outputs(list(ride(18.0, seed=8))))
