"""The state's word, counts, yield and advice, as the operator reads them."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from exact_rider import target
from made_operator_scenes import of_watch, scene, stands

from posewatch.core import yield_loss
from posewatch.core.envelope import Unit
from posewatch.core.outputs import (
    CadenceDiffers,
    Figure,
    HoldGained,
    Measure,
    Phase,
    Reason,
    SmoothnessFlag,
    SmoothnessMean,
)
from posewatch.core.records import NS_PER_S, Channel
from posewatch.core.smoothness import HIDES_ONE_LEG
from posewatch.core.watch_plan import WatchPlan
from posewatch.core.yield_loss import Advice
from posewatch.runtime.engine import EngineState
from posewatch.studio import Doing
from posewatch.ui import operator_view
from posewatch.ui.operator_view import State, state_of
from posewatch.ui.readings import NO_POWER, PowerShown
from posewatch.ui.scene import Reset, Scene, SensorLine, Switches

DEG = "\N{DEGREE SIGN}"


@pytest.mark.parametrize(
    ("now", "state"),
    [
        (scene(Doing.NOTHING, moment=None), State.CURTAIN),
        (scene(Doing.NOTHING, moment=None, error="The log failed."), State.FAULT),
        (scene(Doing.PREVIEW), State.ARMED),
        (scene(Doing.PREVIEW, target=None), State.LOOKING),
        (scene(Doing.CAPTURE), State.CAPTURING),
        (scene(state=EngineState.STARTING, moment=None), State.ARMED),
        (of_watch(stands(Phase.SIT_IN, sit_in_left_s=3.0)), State.SIT_IN),
        (replace(of_watch(stands(Phase.SIT_IN)), reset=Reset("stand", 3.0)), State.RESET),
        (replace(of_watch(stands(counted=60)), reset=Reset("pedal", 0.0)), State.REACHED),
        (of_watch(stands(Phase.STEADYING)), State.STEADYING),
        (of_watch(stands()), State.COUNTING),
        (of_watch(stands(counted=60)), State.REACHED),
        (of_watch(stands(Phase.STEADYING, counted=61)), State.REACHED),
        (of_watch(stands(), paused="paused"), State.PAUSED),
        (of_watch(stands(counted=60), paused="rest"), State.REST),
        (of_watch(stands(waiting=(Reason.CAMERA,))), State.FAULT),
        (of_watch(stands(counted=60, waiting=(Reason.VIEW_MOVED,))), State.FAULT),
        (of_watch(stands(Phase.STEADYING, waiting=(Reason.HAND_OFF,))), State.STEADYING),
        (scene(state=EngineState.FAULTED), State.FAULT),
    ],
)
def test_one_word_for_how_things_stand(now: Scene, state: State) -> None:
    assert state_of(now) is state


def test_clocks() -> None:
    assert operator_view.clock(0) == "0:00"
    assert operator_view.clock(67 * NS_PER_S + 999_999_999) == "1:07"
    assert operator_view.clock(3725 * NS_PER_S) == "1:02:05"
    assert operator_view.clock(-5) == "0:00"


def test_counts_of_the_goal_and_what_is_pending() -> None:
    assert operator_view.counts(None)[0] == "\N{EN DASH}"
    assert operator_view.counts(stands(counted=24)) == ("24 of 60", "strokes counted")
    assert operator_view.counts(stands(counted=0, pending=5)) == (
        "0 of 60",
        "strokes, 5 pending",
    )
    assert operator_view.seconds(stands(counted=24)) == "16 s"
    assert operator_view.cadence(stands(), WatchPlan()) == ("90", "rpm")
    unknown = replace(stands(), cadence_rpm=math.nan)
    planned = WatchPlan(cadence_rpm=85.0)
    assert operator_view.cadence(unknown, planned) == ("\N{EN DASH}", "of 85 rpm")


def test_a_yield_of_few_strokes_is_not_said() -> None:
    state = yield_loss.start(target(), WatchPlan())
    assert operator_view.yield_text(None)[0] == "\N{EN DASH}"
    assert operator_view.yield_text(replace(state, n_ridden=9))[0] == "\N{EN DASH}"
    tally = replace(state.tally, n_strokes=38)
    ridden = replace(state, tally=tally, n_ridden=45)
    assert operator_view.yield_text(ridden) == ("84 %", "yield of 45 ridden")


@pytest.mark.parametrize(
    ("switches", "words"),
    [
        (Switches(), "cues, sound"),
        (Switches(cues=False), "cues off, sound"),
        (Switches(speech=True), "cues, sound, spoken"),
        (Switches(sound=False, speech=True), "cues, sound off"),
        (Switches(no_sound="PortAudio is missing", speech=True), "cues, no sound device"),
    ],
)
def test_what_the_rider_gets(switches: Switches, words: str) -> None:
    assert operator_view.switch_words(switches) == words


TORSO = Advice(62, 3, Channel.TORSO, Unit.DEG, 3.0, 50, 41, 2, 3.4, 3.5, 30)


@pytest.mark.parametrize(
    ("advice", "text"),
    [
        (None, ""),
        (
            TORSO,
            f"torso costs most: of 62 strokes lost, 41 by it alone, mostly too high; at 3.5{DEG} "
            f"instead of 3{DEG}, 30 more would be good",
        ),
        (
            replace(TORSO, wider=None, n_gained=0, n_restless=40),
            "torso costs most: of 62 strokes lost, 41 by it alone, by movement within the stroke, "
            "which no wider band lets pass",
        ),
        (
            replace(TORSO, wider=None, n_gained=0, off=-9.0),
            "torso costs most: of 62 strokes lost, 41 by it alone, mostly too low; a band half as "
            "wide again would not help",
        ),
        (
            replace(TORSO, n_alone=0, off=math.nan, wider=None),
            "torso costs most: of 62 strokes lost, it was out in 50, never alone; one wider band "
            "would not help",
        ),
        (
            replace(TORSO, channel=Channel.POWER, unit=None, tol=14.0, wider=None, off=-20.0),
            "power costs most: of 62 strokes lost, 41 by it alone, mostly too low; plan what the "
            "rider can hold",
        ),
        (
            replace(
                TORSO, channel=Channel.SITTING_PLACE, unit=Unit.THIGH, tol=8 / 430, wider=10 / 430
            ),
            "sitting place costs most: of 62 strokes lost, 41 by it alone, mostly too far forward; "
            "at 10 mm instead of 8 mm, 30 more would be good",
        ),
    ],
)
def test_advice_in_a_sentence(advice: Advice | None, text: str) -> None:
    assert operator_view.advice_text(advice) == text


def test_not_knowing_costs_most() -> None:
    advice = replace(TORSO, channel=None, unit=None, n_unknown=38)
    assert operator_view.advice_text(advice).startswith(
        "not knowing costs most: 38 of 62 strokes lost were not known; light"
    )


def sensor(whose: str, gives: str = "power") -> SensorLine:
    return SensorLine("Crank", "", 0.2, "", gives, whose)


@pytest.mark.parametrize(
    ("sources", "label"),
    [
        ((), ""),
        (("both sides (spider)",), ""),
        (("sides not told (place not told)",), ""),
        (("one side (left crank)",), "one side"),
        (("both sides, at the wheel (rear hub)",), "at the wheel"),
        (("one side (left pedal)", "one side (right pedal)"), "two sides added"),
        (("one side (left pedal)", ""), "one side"),
    ],
)
def test_where_the_power_is_taken_is_said_where_it_matters(
    sources: tuple[str, ...], label: str
) -> None:
    assert operator_view.power_label(tuple(map(sensor, sources))) == label


def test_the_power_stands_with_what_is_planned_and_whose_it_is() -> None:
    told = PowerShown(ever=True, watts=203.6)
    one_side = (sensor("one side (left crank)"),)
    planned = WatchPlan(power_w=200.0)
    assert operator_view.power(told, planned, one_side) == ("204", "of 200 W, one side")
    assert operator_view.power(told, WatchPlan(), ()) == ("204", "W")
    assert operator_view.power(NO_POWER, planned, ()) == ("\N{EN DASH}", "of 200 W")
    assert operator_view.power(NO_POWER, WatchPlan(), ()) is None


def test_what_flags_a_trial_and_how_smooth_it_was() -> None:
    unsteady = SmoothnessFlag(0, Measure.POWER, 4.2)
    differs = CadenceDiffers(0, -4.1)
    flags = tuple(operator_view.flag_of(one) for one in (differs, unsteady))
    assert operator_view.flag_of(HoldGained(0)) == ""
    assert operator_view.notes(flags, ()).endswith(
        "this trial is flagged: sensor's cadence differs, unsteady power; it counts all the same"
    )
    assert operator_view.notes((), ()) == ""
    mean = SmoothnessMean(0, Figure.PEDAL_SMOOTHNESS, 24.4, 45, True)
    assert operator_view.notes((), (mean,)) == "pedal smoothness 24 %; of one leg"
    both = replace(mean, per_leg=False)
    assert operator_view.notes((), (mean, both)).endswith(HIDES_ONE_LEG)
