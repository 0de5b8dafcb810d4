"""What is remembered from scene to scene."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from linkage_rider import ride
from made_operator_scenes import BEGUN_NS, RiddenScenes, of_watch, said, scene, shown, stands

from posewatch.core.envelope import Target, Unit
from posewatch.core.outputs import (
    CadenceDiffers,
    CreepWarning,
    Figure,
    Measure,
    Phase,
    SmoothnessFlag,
    SmoothnessMean,
)
from posewatch.core.records import NS_PER_S, Channel, Command, CommandKind, Effort
from posewatch.core.watch_plan import WatchPlan
from posewatch.runtime.engine import Said
from posewatch.studio import Doing
from posewatch.ui import operator_record
from posewatch.ui.operator_record import Record
from posewatch.ui.operator_view import State
from posewatch.ui.scene import Scene
from posewatch.ui.weave_view import Column, Fate


def fold(*scenes: Scene) -> Record:
    record = Record()
    for one in scenes:
        record = operator_record.take(record, one)
    return record


def test_a_watch_is_timed_from_its_first_scene_and_stays_after_its_end() -> None:
    record = fold(scene(Doing.NOTHING, 5.0, moment=None), of_watch(stands(), seconds=10.0))
    assert record.elapsed_ns == 0
    record = operator_record.take(record, of_watch(stands(counted=31), seconds=70.0))
    assert record.elapsed_ns == 60 * NS_PER_S
    last = shown(stands(counted=32))
    for seconds in (70.1, 90.0):
        record = operator_record.take(record, scene(Doing.NOTHING, seconds, moment=last))
        assert record.elapsed_ns == pytest.approx(60.1 * NS_PER_S)
    assert record.standing is not None
    assert record.standing.counted == 32
    assert record.weave is not None


def test_a_new_watch_begins_anew_and_keeps_unread_messages() -> None:
    creep = said(CreepWarning(0, Channel.TORSO, 2.0, 300 * NS_PER_S, Unit.DEG))
    mark = said(item=Command(0, CommandKind.MARK))
    record = fold(of_watch(stands(), seconds=10.0, said=(creep, mark)))
    assert len(record.marks) == len(record.messages) == 1
    record = operator_record.take(record, scene(Doing.NOTHING, 20.0, moment=None))
    assert len(record.marks) == 1
    record = operator_record.take(record, scene(Doing.WATCH, 30.0, moment=None))
    assert record.marks == ()
    assert record.standing is None
    assert record.begun_ns == BEGUN_NS + 30 * NS_PER_S
    assert len(record.messages) == 1


def test_how_long_a_state_holds() -> None:
    record = fold(of_watch(stands(Phase.STEADYING), seconds=10.0), of_watch(stands(), seconds=14.0))
    assert (record.state, record.state_ns) == (State.COUNTING, BEGUN_NS + 14 * NS_PER_S)
    record = operator_record.take(record, of_watch(stands(), seconds=20.0))
    assert record.state_ns == BEGUN_NS + 14 * NS_PER_S


def test_an_error_is_told_once_and_stays_to_be_read() -> None:
    failed = scene(Doing.NOTHING, 5.0, moment=None, error="The log failed. Free some room.")
    record = fold(failed, replace(failed, monotonic_ns=failed.monotonic_ns + NS_PER_S))
    (message,) = record.messages
    assert (message.text, message.times) == ("The log failed. Free some room.", 1)


def test_a_whole_ride_fills_the_weave_as_the_judge_counts(ridden_target: Target) -> None:
    record, n_strokes = Record(), 0
    for one in RiddenScenes(ridden_target, WatchPlan()).of(ride(20.0, seed=5)):
        record = operator_record.take(record, one)
        n_strokes += sum(len(s.outputs) > 0 for s in one.said)
    assert record.standing is not None
    assert record.yielded is not None
    assert record.weave is not None
    columns = [c for c in record.weave.columns if isinstance(c, Column)]
    counted = sum(c.fate is Fate.COUNTED for c in columns)
    assert counted == record.standing.counted == record.yielded.tally.n_strokes > 15
    assert len(columns) == record.yielded.n_ridden


def test_flags_and_smoothness_are_of_one_trial_and_stay_after_it() -> None:
    unsteady = SmoothnessFlag(0, Measure.POWER, 4.2)
    older, newer = (SmoothnessMean(n, Figure.PEDAL_SMOOTHNESS, n, 45, True) for n in (20, 22))
    told = said(unsteady, older, CadenceDiffers(0, 4.0))
    again = said(unsteady, newer)
    ended = scene(Doing.NOTHING, 3.0, moment=None)
    record = fold(scene(seconds=0.0), scene(seconds=1.0, said=(told,)), scene(said=(again,)), ended)
    assert record.flags == ("unsteady power", "sensor's cadence differs")
    assert record.means == (newer,)
    record = operator_record.take(record, scene(seconds=5.0))
    assert (record.flags, record.means) == ((), ())


def test_power_is_read_while_it_comes() -> None:
    told = Said(Effort(0, 203.0, math.nan), ())
    record = fold(scene(seconds=0.0), scene(seconds=1.0, said=(told,)))
    assert (record.power.ever, record.power.watts) == (True, 203.0)
    record = operator_record.take(record, scene(seconds=6.0))
    assert math.isnan(record.power.watts)
