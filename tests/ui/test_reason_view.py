"""The one reason, sentence by sentence."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from made_operator_scenes import live, of_watch, scene, shown, stands

from posewatch.core.doubts import Doubt
from posewatch.core.outputs import Phase, Reason
from posewatch.core.records import NS_PER_S, Channel, Verdict
from posewatch.core.sources import TimedPicture
from posewatch.core.standing import Standing
from posewatch.core.watch_plan import WatchPlan
from posewatch.studio import Doing
from posewatch.ui.key_help import with_keys
from posewatch.ui.reason_view import KEPT_NS, WAITING, Kind, Line, reason, settle
from posewatch.ui.scene import SensorLine

OUT = Verdict.OUT


def text(standing: Standing, **others: object) -> str:
    return reason(of_watch(standing, **others)).text


def test_in_position_and_good_counts() -> None:
    assert reason(of_watch(stands())) == Line(Kind.COUNTS, "counts")


@pytest.mark.parametrize(
    ("standing", "said"),
    [
        (stands(Phase.STEADYING, steady=3), "steadying: 3 of 5"),
        (stands(Phase.STEADYING, steady=1, needed=3), "steadying: 1 of 3"),
        (stands(Phase.SIT_IN, sit_in_left_s=11.2), "sit-in: 12 s"),
        (stands(pending=5), "run of 5, counts from 8"),
        (stands(counted=60), "reached: 60 of 60 strokes"),
    ],
)
def test_what_is_still_missing(standing: Standing, said: str) -> None:
    assert text(standing) == said


@pytest.mark.parametrize(
    ("deviation", "said"),
    [
        (4.4, "torso 4° too high (limit 3°)"),
        (-6.5, "torso 7° too low (limit 3°)"),
        # Whole degrees would say 3 of 3.
        (3.4, "torso too high: just over 3°"),
        (2.7, "torso too high: not yet back inside 2.5°"),
    ],
)
def test_what_is_out_in_whole_degrees_with_its_limit(deviation: float, said: str) -> None:
    line = reason(of_watch(stands(now=(live(deviation=deviation, verdict=OUT),))))
    assert (line.kind, line.text) == (Kind.OFF, said)
    way = "lower, bend elbows" if deviation > 0 else "taller, straighten arms"
    assert way in line.todo


def test_out_comes_before_steadying() -> None:
    out = (live(deviation=4.4, verdict=OUT),)
    assert text(stands(Phase.STEADYING, steady=3, now=out)).startswith("torso 4°")


def test_the_rider_and_the_operator_are_told_of_the_same_channel() -> None:
    out = (live(deviation=4.0, verdict=OUT), live(Channel.KNEE, 9.0, OUT))
    assert text(stands(now=out)).startswith("knee 9°")
    told = stands(now=out, cue=Channel.TORSO, direction="lower, bend elbows")
    assert text(told).startswith("torso 4°")


def test_places_of_an_uncalibrated_camera_are_nominal_mm() -> None:
    # 0.03 of the thigh = 12.9 mm; the limit of 8 mm as it was set.
    out = (live(Channel.SITTING_PLACE, 0.03, OUT),)
    assert text(stands(now=out)) == "sitting place 13 mm too far forward (limit 8 mm)"


def test_effort_has_its_own_units() -> None:
    out = (live(Channel.POWER, -31.0, OUT),)
    planned = replace(of_watch(stands(now=out)), plan=WatchPlan(power_w=200.0))
    line = reason(planned)
    assert line.text == "power too low: 169 W, planned 200 ±14 W"
    assert "push harder" in line.todo
    held = replace(planned.plan, trainer_holds_power=True)
    line = reason(replace(planned, plan=held))
    assert line.text == "power too low: 169 W, planned 200 ±14 W"
    assert line.todo == "the trainer is to hold it; key {HOLD}"


@pytest.mark.parametrize(
    ("sensor", "text", "todo"),
    [
        (None, "power unknown: no reading from the sensor", "wake the sensor, check its battery"),
        (
            SensorLine("Crank", "Crank gives values.", 7.2, "", "power and cadence"),
            "power unknown: no packet for 7 s from Crank",
            "wake the sensor, check its battery",
        ),
        (
            SensorLine("Crank", "Crank has gone. Turn it.", 7.2, "has gone", "power"),
            "power unknown: Crank has gone",
            "Turn it.",
        ),
        (
            SensorLine("Strap", "Strap has gone. Wear it.", 7.2, "has gone", ""),
            "power unknown: no reading from the sensor",
            "wake the sensor, check its battery",
        ),
    ],
)
def test_a_silent_sensor_says_itself_why_the_effort_is_unknown(
    sensor: SensorLine | None, text: str, todo: str
) -> None:
    nothing = live(Channel.POWER, math.nan, Verdict.UNKNOWN, Reason.NO_EFFORT)
    sensors = () if sensor is None else (sensor,)
    line = reason(replace(of_watch(stands(now=(nothing,))), sensors=sensors))
    assert (line.kind, line.text, line.todo) == (Kind.UNKNOWN, text, todo)


def test_a_restless_torso() -> None:
    out = (live(deviation=0.4, verdict=OUT, restless=True),)
    assert text(stands(now=out)) == "torso moves too much within the stroke"


def test_advice_is_no_reason() -> None:
    advice = live(Channel.PELVIS_HEIGHT, 1.0, OUT, required=False)
    assert text(stands(now=(live(), advice))) == "counts"


@pytest.mark.parametrize(
    ("why", "doubt", "said"),
    [
        (Reason.NOT_BELIEVED, ("knee", Doubt.NOT_VISIBLE), "knee unknown: hidden or not made out"),
        (Reason.HOLE, ("hip", Doubt.BEHIND_ARM), "hip unknown: behind the arm"),
        (Reason.TOO_SLOW, ("knee", Doubt.TOO_FAST), "too slow: a revolution takes over 1.5 s"),
        (Reason.NOT_BELIEVED, None, "not seen well enough for a whole stroke"),
    ],
)
def test_what_is_not_known(why: Reason, doubt: tuple[str, Doubt] | None, said: str) -> None:
    unknown = (live(deviation=math.nan, verdict=Verdict.UNKNOWN, reason=why),)
    line = reason(of_watch(stands(now=unknown, doubt=doubt)))
    assert (line.kind, line.text) == (Kind.UNKNOWN, said)
    assert line.todo


def test_a_sensor_without_readings_is_named() -> None:
    unknown = live(Channel.POWER, math.nan, Verdict.UNKNOWN, Reason.NO_EFFORT)
    assert text(stands(now=(live(), unknown))) == "power unknown: no reading from the sensor"


def test_nothing_known_yet() -> None:
    assert reason(of_watch(stands(now=()))).kind is Kind.UNKNOWN


@pytest.mark.parametrize("waiting", WAITING)
def test_each_event_that_goes_on_has_a_sentence_and_a_way_out(waiting: Reason) -> None:
    out = (live(deviation=4.4, verdict=OUT),)
    line = reason(of_watch(stands(Phase.STEADYING, waiting=(waiting,), now=out)))
    assert line.text == WAITING[waiting][1]
    assert line.todo


def test_every_reason_that_can_wait_has_a_sentence() -> None:
    gross = {
        Reason.OUT_OF_SADDLE,
        Reason.HAND_OFF,
        Reason.COASTED,
        Reason.BACK_PEDALLED,
        Reason.NOT_SEEN,
        Reason.CAMERA,
        Reason.VIEW_MOVED,
    }
    assert set(WAITING) == gross


def test_the_camera_comes_first_in_the_sources_own_words() -> None:
    standing = stands(Phase.STEADYING, waiting=(Reason.NOT_SEEN, Reason.CAMERA))
    picture = TimedPicture(10 * NS_PER_S, np.zeros((4, 4, 3), np.uint8))
    moment = shown(standing, picture, t_ns=12 * NS_PER_S)
    line = reason(scene(moment=moment, camera="Check its plug."))
    assert line == Line(Kind.FAULT, "camera: no picture since 2 s", "Check its plug.")
    line = reason(of_watch(standing))
    assert line.text == "camera: no picture"


def test_why_the_rider_is_not_seen() -> None:
    standing = stands(
        Phase.STEADYING, waiting=(Reason.NOT_SEEN,), doubt=("shoulder", Doubt.CUT_OFF)
    )
    line = reason(of_watch(standing))
    assert line.text == "rider not seen: the picture's edge cuts off the body"
    assert "move the camera back" in line.todo


def test_a_pause_is_above_all_and_says_its_key() -> None:
    standing = stands(Phase.STEADYING, waiting=(Reason.CAMERA, Reason.PAUSED))
    for word, act in (("paused", "{PAUSE}"), ("rest", "{REST}")):
        line = reason(of_watch(standing, paused=word))
        assert (line.kind, line.text) == (Kind.STOPPED, word)
        assert act in line.todo


def test_without_a_watch() -> None:
    assert reason(scene(Doing.NOTHING, moment=None)).text == "camera closed"
    assert "{BEGIN}" in reason(scene(Doing.NOTHING, moment=None)).todo
    assert "{BEGIN}" not in reason(scene(Doing.NOTHING, moment=None, target=None)).todo
    failed = reason(scene(Doing.NOTHING, moment=None, error="The log failed."))
    assert failed == Line(Kind.FAULT, "The log failed.")
    assert reason(scene(Doing.PREVIEW)).text == "looking, not counting"
    assert reason(scene(Doing.PREVIEW, target=None)).text.startswith("no target chosen")
    assert reason(scene(Doing.CAPTURE, progress=(12, 30))).text == "capturing: 12 of 30"
    assert reason(scene(Doing.WATCH, moment=None)).text == "getting ready"


def test_a_line_stays_long_enough_to_be_read() -> None:
    first, second = Line(Kind.SOON, "one"), Line(Kind.SOON, "two")
    before = settle(None, first, NS_PER_S)
    assert settle(before, second, NS_PER_S + KEPT_NS - 1) is before
    later = settle(before, second, NS_PER_S + KEPT_NS)
    assert (later.line, later.since_ns) == (second, NS_PER_S + KEPT_NS)
    assert settle(later, second, 9 * NS_PER_S) is later
    assert KEPT_NS > NS_PER_S / 3


def test_faults_and_pauses_are_shown_at_once() -> None:
    before = settle(None, Line(Kind.COUNTS, "counts"), NS_PER_S)
    for line in (Line(Kind.FAULT, "x"), Line(Kind.STOPPED, "paused")):
        assert settle(before, line, NS_PER_S + 1).line is line
    fault = settle(None, Line(Kind.FAULT, "x"), NS_PER_S)
    assert settle(fault, Line(Kind.COUNTS, "counts"), NS_PER_S + 1).line.kind is Kind.COUNTS


def test_keys_are_named_by_acts_that_exist() -> None:
    lines = [
        reason(scene(Doing.NOTHING, moment=None)),
        reason(scene(Doing.PREVIEW)),
        reason(of_watch(stands(counted=60))),
        reason(of_watch(stands(), paused="paused")),
        reason(of_watch(stands(), paused="rest")),
    ]
    for line in lines:
        assert "{" in line.todo
        assert "{" not in with_keys(line.todo)
