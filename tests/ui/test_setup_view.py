"""The flow: what comes next, what last time gives, and the one thing to do at each step."""

from __future__ import annotations

from dataclasses import replace

import pytest

from posewatch.core.needs import Facts, Line, Need, Readiness
from posewatch.core.readiness import readiness
from posewatch.core.sensor_choice import SensorChoice
from posewatch.store.remembered import Remembered, RememberedSensor
from posewatch.ui import setup_view
from posewatch.ui.sensor_plan import SensorPlan
from posewatch.ui.setup_choices import CameraChoice, ProfileChoice, TargetChoice
from posewatch.ui.setup_view import WITHOUT, Do, Setup, Step

SIDE, LAPTOP = CameraChoice("cam-1", "Side camera"), CameraChoice("cam-2", "Laptop camera")
PROFILE = ProfileChoice("studio/v3", "beside road")
TARGET = TargetChoice("r17/road/hoods/v2", "r17", "road", "hoods")
CRANK = RememberedSensor(name="Crank", platform_id="AA:01")
LAST = Remembered(
    camera="cam-1", camera_name="Side camera", profile="studio/v3", target=TARGET.name
)
WHOLE = Setup(Step.READY, "r17", SIDE, "studio/v3", "r17", "road", "hoods", TARGET.name, asked=True)
WHOLE = replace(WHOLE, sensors_known=True)
NUMBERED = [step for step in Step if Step.START < step <= Step.READY]


def all_ready(*but: Line) -> tuple[Line, ...]:
    other = {one.need: one for one in but}
    return tuple(other.get(need, Line(need, Readiness.READY, "")) for need in Need)


def test_a_new_rider_goes_through_every_step_in_order() -> None:
    setup = Setup(step=Step.CONSENT)
    seen = [setup_view.onward(setup)]
    setup = setup_view.agree(setup, "r17")
    seen.append(setup_view.onward(setup))
    setup = setup_view.choose_camera(setup, SIDE)
    seen.append(setup_view.onward(setup))
    setup = replace(setup, profile=WITHOUT)
    seen.append(setup_view.onward(setup))
    setup = setup_view.choose_target(setup, TARGET)
    seen.append(setup_view.onward(setup))
    setup = replace(setup, sensors_known=True)
    seen.append(setup_view.onward(setup))
    assert seen == NUMBERED
    assert setup.asked


def test_the_short_flow_is_straight_at_the_readiness_list_with_the_rider_not_asked() -> None:
    setup, note = setup_view.same_again(LAST, [LAPTOP, SIDE], [PROFILE], [TARGET])
    assert note == ""
    assert setup == replace(WHOLE, consent_of="", asked=False)


def test_the_sensors_of_last_time_come_back_with_what_was_planned() -> None:
    last = LAST.model_copy(update={"power_sensor": CRANK, "power_w": 180.0})
    setup, _ = setup_view.same_again(last, [SIDE], [PROFILE], [TARGET])
    assert setup.sensors == SensorPlan(SensorChoice("Crank", "AA:01"), power_w=180.0)
    assert setup.sensors_known
    assert setup_view.agree(setup, "r17").sensors.power_w == 180.0


def test_another_riders_effort_is_not_held() -> None:
    planned = SensorPlan(SensorChoice("Crank", "AA:01"), power_w=180.0, cadence_rpm=90.0)
    other = setup_view.agree(replace(WHOLE, sensors=planned), "r2")
    assert other.sensors == SensorPlan(planned.power)
    assert not other.sensors_known
    # Where nobody was there before, it is what a command has asked for.
    asked = setup_view.agree(Setup(sensors=planned), "r2")
    assert asked.sensors == planned


def test_no_sensors_is_one_key_and_a_power_without_a_sensor_is_none() -> None:
    assert setup_view.sensors_action(WHOLE, "") == setup_view.Action(
        Do.USE_SENSORS, "Go on without sensors"
    )
    power = replace(WHOLE, sensors=SensorPlan(power_w=180.0))
    assert setup_view.sensors_action(power, "").why_not.startswith("let a sensor give the power")
    assert setup_view.sensors_action(WHOLE, "the power is a number").why_not
    assert setup_view.ready_action(power, True, all_ready()).do is Do.CHOOSE_SENSORS


def test_without_a_profile_last_time_there_is_none_now() -> None:
    setup, _ = setup_view.same_again(
        LAST.model_copy(update={"profile": None}), [SIDE], [PROFILE], [TARGET]
    )
    assert setup.profile == WITHOUT


@pytest.mark.parametrize(
    ("cameras", "profiles", "targets", "step", "said"),
    [
        ([LAPTOP], [PROFILE], [TARGET], Step.CAMERA, "Side camera, is not there"),
        ([SIDE], [], [TARGET], Step.PROFILE, "studio/v3, cannot be used"),
        ([SIDE], [replace(PROFILE, problem="damaged")], [TARGET], Step.PROFILE, "studio/v3"),
        ([SIDE], [PROFILE], [], Step.TARGET, "r17/road/hoods/v2, is not there any more"),
        ([], [], [], Step.CAMERA, "Side camera, is not there"),
    ],
)
def test_what_is_gone_since_last_time_comes_first(
    cameras: list[CameraChoice],
    profiles: list[ProfileChoice],
    targets: list[TargetChoice],
    step: Step,
    said: str,
) -> None:
    setup, note = setup_view.same_again(LAST, cameras, profiles, targets)
    assert setup.step is step
    assert said in note


def test_there_is_a_last_time_only_with_camera_and_target() -> None:
    assert setup_view.can_be_same(LAST)
    assert not setup_view.can_be_same(Remembered())
    assert not setup_view.can_be_same(LAST.model_copy(update={"target": ""}))


def test_another_riders_consent_drops_the_target() -> None:
    assert setup_view.agree(WHOLE, "r17") == WHOLE
    other = setup_view.agree(WHOLE, "r2")
    assert (other.rider, other.target, other.asked) == ("r2", "", False)


def test_another_camera_drops_the_profile_and_is_told() -> None:
    assert setup_view.choose_camera(WHOLE, replace(SIDE, detail="number 4")).profile == "studio/v3"
    other = setup_view.choose_camera(WHOLE, LAPTOP)
    assert other.profile is None
    assert setup_view.onward(other) is Step.PROFILE
    assert setup_view.other_camera(other, LAST) == (
        "This is not the camera you used last time (Side camera)."
    )
    assert setup_view.other_camera(WHOLE, LAST) == ""
    assert setup_view.other_camera(other, Remembered()) == ""


def test_the_steps_say_whether_they_are_done_and_why_not() -> None:
    lines = setup_view.steps(Setup(step=Step.CAMERA), False, readiness(Facts()))
    assert [one.step for one in lines] == NUMBERED
    assert [one.is_here for one in lines] == [False, True, False, False, False, False]
    assert [one.why_not for one in lines] == [
        "nobody has agreed yet",
        "none is chosen",
        "nothing is chosen",
        "no target is chosen",
        "not seen to: none is a normal choice",
        "consent: not asked",
    ]
    done = setup_view.steps(WHOLE, True, all_ready())
    assert [one.why_not for one in done] == [""] * 6
    dark = setup_view.steps(WHOLE, False, all_ready())
    assert dark[1].why_not == "it gives no pictures yet"


@pytest.mark.parametrize(
    ("code", "why_not"),
    [
        ("r17", ""),
        ("", "type the rider's code first"),
        ("r/17", "this code cannot be: only letters, digits"),
    ],
)
def test_consent_needs_a_code_that_can_be_kept(code: str, why_not: str) -> None:
    action = setup_view.consent_action(code)
    assert action.do is Do.AGREE
    assert action.why_not.startswith(why_not)
    assert bool(action.why_not) == bool(why_not)


def test_a_camera_is_used_only_after_its_picture_was_seen() -> None:
    assert setup_view.camera_action(Setup(), False).why_not == "choose a camera first"
    assert setup_view.camera_action(WHOLE, False).why_not == "look at its picture first"
    assert setup_view.camera_action(WHOLE, True) == setup_view.Action(
        Do.USE_CAMERA, "Use Side camera"
    )


def test_a_profile_or_none_but_not_nothing() -> None:
    assert setup_view.profile_action(None).why_not
    assert setup_view.profile_action("studio/v3").label == "Use studio/v3"
    assert setup_view.profile_action(WITHOUT).label == "Go on without a profile"


def test_a_target_is_used_or_captured_with_names_that_can_be_kept() -> None:
    assert setup_view.target_action(WHOLE, TARGET).do is Do.USE_TARGET
    assert setup_view.target_action(WHOLE, None).label == "Capture r17/road/hoods"
    assert setup_view.target_action(Setup(), None).why_not.startswith("let the rider agree")
    assert setup_view.target_action(replace(WHOLE, bike=""), None).why_not == "type the bike first"
    assert (
        "cannot be called so" in setup_view.target_action(replace(WHOLE, hands="a/b"), None).why_not
    )


def test_readiness_asks_for_one_thing_after_the_other() -> None:
    no_consent = Line(Need.CONSENT, Readiness.MISSING, "not asked")
    no_picture = Line(Need.CAMERA, Readiness.MISSING, "no pictures", "look at its plug")
    gap = Line(Need.LIGHT, Readiness.GAP, "dark")
    not_asked = replace(WHOLE, asked=False)
    ready = setup_view.ready_action
    assert ready(not_asked, False, all_ready(no_consent)).do is Do.READ
    assert ready(replace(not_asked, camera=None), False, all_ready()).do is Do.CHOOSE_CAMERA
    assert ready(replace(not_asked, target=""), False, all_ready()).do is Do.CHOOSE_TARGET
    assert ready(not_asked, False, all_ready(no_picture)).label == "Open Side camera"
    assert ready(not_asked, True, all_ready(no_picture)).label == "Yes, it is r17 on road"
    waits = ready(WHOLE, True, all_ready(no_picture))
    assert (waits.do, waits.why_not) == (Do.BEGIN, "camera: look at its plug")
    assert ready(WHOLE, True, all_ready()).label == "Begin"
    assert ready(WHOLE, True, all_ready(gap)).label == "Begin, knowing of 1 gap"
