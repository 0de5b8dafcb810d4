"""A ride before a live camera while somebody sets the clock, or the machine sleeps."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import pytest
from linkage_rider import CHAIN, ride

from posewatch.core.camera_watch import NEAR, Glimpse
from posewatch.core.clock_watch import Clocks
from posewatch.core.envelope import Target
from posewatch.core.judge import Task
from posewatch.core.outputs import HoldLost, Output, Reason, StrokeJudged, ValidInterval
from posewatch.core.records import CAMERA, CLOCK, NS_PER_S, Frame, Input, SourceState
from posewatch.core.watch_plan import WatchPlan
from posewatch.runtime.attended import LiveClock, attended
from posewatch.runtime.controls import Controls
from posewatch.runtime.watch_run import WatchRun, WatchTotals

RIDDEN_S = 40.0
#: In the middle of it, from here on, the clocks are others.
AT_NS = 20 * NS_PER_S
HOUR_NS = 3600 * NS_PER_S


class Machine:
    """A camera that gives a ride, and this machine's clocks, which go with its pictures."""

    def __init__(self, slept_ns: int = 0, stepped_ns: int = 0) -> None:
        self._slept_ns, self._stepped_ns = slept_ns, stepped_ns
        self._t_ns = 0
        self._after = False

    def pictures(self) -> Iterator[Frame | None]:
        for frame in ride(RIDDEN_S, seed=3):
            self._after = frame.t_ns >= AT_NS
            self._t_ns = frame.t_ns + (self._slept_ns if self._after else 0)
            yield replace(frame, t_ns=self._t_ns)

    def clocks(self) -> Clocks:
        slept, stepped = (self._slept_ns, self._stepped_ns) if self._after else (0, 0)
        return Clocks(self._t_ns, self._t_ns - slept, 10**18 + self._t_ns + stepped)

    def live(self) -> LiveClock:
        return LiveClock(
            lambda: self._t_ns,
            lambda: Glimpse(self._t_ns, None, 0.5, 30.0, "", 30.0),
            NEAR,
            self.clocks,
        )


@pytest.fixture(scope="module")
def watch(
    ridden_target: Target,
) -> Callable[[Machine], tuple[WatchTotals, list[Output], list[Input]]]:
    def run_on(machine: Machine) -> tuple[WatchTotals, list[Output], list[Input]]:
        outputs: list[Output] = []
        consumed: list[Input] = []

        def keep(entry: object) -> None:
            consumed.append(entry.item)  # type: ignore[attr-defined]
            outputs.extend(entry.outputs)  # type: ignore[attr-defined]

        stop = threading.Event()
        inputs = attended(machine.pictures(), Controls(), stop, machine.live())
        task = Task(ridden_target, WatchPlan())
        run = WatchRun(task, CHAIN, None, inputs, keep, lambda *_: None, stop)
        run.follow()
        totals, last = run.end()
        return totals, [*outputs, *last], consumed

    return run_on


Watch = Callable[[Machine], tuple[WatchTotals, list[Output], list[Input]]]


def sources(consumed: Sequence[Input]) -> list[str]:
    return [item.source for item in consumed if isinstance(item, SourceState)]


@pytest.mark.parametrize("stepped_ns", [HOUR_NS, -HOUR_NS])
def test_a_clock_set_by_an_hour_changes_no_counted_stroke(watch: Watch, stepped_ns: int) -> None:
    totals, outputs, consumed = watch(Machine())
    again_totals, again, again_consumed = watch(Machine(stepped_ns=stepped_ns))
    assert totals.n_counted > 40
    assert again_totals == totals
    assert repr(again) == repr(outputs)
    assert (sources(consumed), sources(again_consumed)) == ([], [CLOCK])


@pytest.mark.parametrize("slept_s", [0.8, 3.0, 3600.0])
def test_a_sleep_ends_the_interval_and_no_stroke_reaches_across_it(
    watch: Watch, slept_s: float
) -> None:
    slept_ns = round(slept_s * NS_PER_S)
    totals, outputs, consumed = watch(Machine(slept_ns=slept_ns))
    assert sources(consumed)[:1] == [CAMERA]
    lost = [o for o in outputs if isinstance(o, HoldLost)]
    assert lost[0].reason is Reason.CAMERA
    assert AT_NS - NS_PER_S // 10 <= lost[0].t_ns < AT_NS
    for one in outputs:
        if isinstance(one, ValidInterval) or (isinstance(one, StrokeJudged) and one.counted):
            assert one.end_ns <= AT_NS or one.start_ns >= AT_NS + slept_ns
    assert totals.n_intervals >= 1
    # Nobody knows what the rider did in a longer one: it costs a sit-in of 30 s.
    counted_after = [o for o in outputs if isinstance(o, StrokeJudged) and o.counted]
    assert any(o.start_ns > AT_NS + slept_ns for o in counted_after) == (slept_s < 1.0)
