"""One watch from the first frame to the last."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from linkage_rider import CHAIN, ride

from posewatch.core.envelope import Target
from posewatch.core.judge import Task
from posewatch.core.outputs import HoldLost, Reason, StrokeJudged, ValidInterval
from posewatch.core.records import VIEW, Frame, Input, SourceCondition, SourceState
from posewatch.core.watch_plan import WatchPlan
from posewatch.runtime.watch_run import OnInput, WatchRun
from posewatch.runtime.writer_thread import Entry


def watch(
    target: Target,
    inputs: Iterator[Input],
    entries: list[Entry],
    on_input: OnInput = lambda *_: None,
    stop: threading.Event | None = None,
) -> WatchRun:
    return WatchRun(
        Task(target, WatchPlan()),
        CHAIN,
        None,
        inputs,
        entries.append,
        on_input,
        stop or threading.Event(),
    )


def test_every_frame_is_kept_with_its_number_and_what_was_said(ridden_target: Target) -> None:
    entries: list[Entry] = []
    run = watch(ridden_target, ride(20.0, seed=3, start_s=5.0), entries)
    run.follow()
    totals, last = run.end()
    assert [entry.seq for entry in entries] == list(range(600))
    said = [output for entry in entries for output in entry.outputs]
    counted = [o for o in said if isinstance(o, StrokeJudged) and o.counted]
    assert totals.n_frames == 600
    assert totals.watched_ns == entries[-1].item.t_ns - entries[0].item.t_ns
    assert totals.n_counted == len(counted) > 15
    assert totals.n_intervals == 1
    (interval,) = last
    assert isinstance(interval, ValidInterval)
    assert totals.counted_ns == interval.end_ns - interval.start_ns


def test_what_a_source_says_between_its_frames_is_kept_in_order_and_is_no_frame(
    ridden_target: Target,
) -> None:
    frames = list(ride(10.0, seed=3))
    moved = SourceState(frames[240].t_ns, VIEW, SourceCondition.VIEW_MOVED, "by 9 px")
    entries: list[Entry] = []
    run = watch(ridden_target, iter([*frames[:240], moved, *frames[240:]]), entries)
    run.follow()
    totals, _ = run.end()
    assert totals.n_frames == 300
    assert [entry.seq for entry in entries] == list(range(301))
    assert entries[240].item is moved
    lost = [o for o in entries[240].outputs if isinstance(o, HoldLost)]
    assert lost == [HoldLost(moved.t_ns, Reason.VIEW_MOVED)]
    assert totals.watched_ns == frames[-1].t_ns


def test_no_frame_at_all_counts_nothing(ridden_target: Target) -> None:
    run = watch(ridden_target, iter(()), [])
    run.follow()
    totals, last = run.end()
    assert (totals.n_frames, totals.watched_ns, totals.n_counted, last) == (0, 0, 0, ())


def test_stop_ends_it_after_the_frame_under_way(ridden_target: Target) -> None:
    stop = threading.Event()
    entries: list[Entry] = []
    run = watch(ridden_target, ride(5.0), entries, lambda *_: stop.set(), stop)
    run.follow()
    assert run.end()[0].n_frames == len(entries) == 1


def test_what_was_watched_before_an_error_can_still_be_ended(ridden_target: Target) -> None:
    def broken() -> Iterator[Frame]:
        yield from ride(10.0)
        raise OSError("unplugged")

    entries: list[Entry] = []
    run = watch(ridden_target, broken(), entries)
    with pytest.raises(OSError, match="unplugged"):
        run.follow()
    totals, last = run.end()
    assert totals.n_frames == len(entries) == 300
    assert [type(o) for o in last] == [ValidInterval]
