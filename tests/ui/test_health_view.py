"""Health in short items."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from made_operator_scenes import HEALTH, of_watch, scene, stands

from posewatch.core.outputs import Reason
from posewatch.runtime.health import Health, Stage
from posewatch.studio import Doing
from posewatch.ui.health_view import SIGNS, Item, Level, health_items, sensor_items
from posewatch.ui.scene import SensorLine

WARNED = SIGNS[Level.WARN]
NOT_YET = Stage(math.nan, math.nan)


def items(health: Health = HEALTH, doing: Doing = Doing.WATCH) -> dict[str, Item]:
    return {one.name: one for one in health_items(scene(doing, health=health))}


def test_all_well_has_neither_sign_nor_word() -> None:
    found = items()
    assert {one.level for one in found.values()} == {Level.WELL}
    assert not any(one.word for one in found.values())
    assert found["pictures"].text == "30 of 30 a second"
    assert found["model"].text == "18 / 27 ms"
    assert found["grab to screen"].text == "41 / 66 ms"
    assert found["log"].text == "saved 0.4 s ago, 0 waiting"
    assert found["disk"].text == "120 GB"
    assert found["camera"].line == "camera open"


@pytest.mark.parametrize(
    ("changes", "name", "level", "word"),
    [
        # The exact target's chain is of 30 pictures a second; 0.8 of that is the limit.
        ({"rate_hz": 23.9}, "pictures", Level.WARN, "slow"),
        ({"rate_hz": 24.0}, "pictures", Level.WELL, ""),
        ({"overtaken": 19}, "overtaken", Level.WARN, "too many"),
        ({"overtaken": 18}, "overtaken", Level.WELL, ""),
        ({"model": Stage(25.0, 34.0)}, "model", Level.WARN, "too slow"),
        ({"paint": Stage(80.0, 201.0)}, "grab to screen", Level.WARN, "late"),
        ({"log_age_s": 1.6}, "log", Level.FAULT, "behind"),
        ({"log_lag": 301}, "log", Level.FAULT, "behind"),
        ({"disk_free_bytes": 4_900_000_000}, "disk", Level.WARN, "little left"),
        ({"disk_free_bytes": 900_000_000}, "disk", Level.FAULT, "full"),
    ],
)
def test_out_of_limits_has_a_sign_and_a_word(
    changes: dict[str, object], name: str, level: Level, word: str
) -> None:
    item = items(replace(HEALTH, **changes))[name]  # type: ignore[arg-type]
    assert (item.level, item.word) == (level, word)
    if word:
        assert item.line.split()[0] != name
        assert item.line.endswith(f"({word})")


def test_what_was_not_measured_is_a_dash_and_never_called_good() -> None:
    nothing = Health(0.0, 0, 0, NOT_YET, NOT_YET, 0, math.nan, -1)
    found = items(nothing)
    for name in ("pictures", "overtaken", "model", "grab to screen", "log", "disk"):
        assert found[name].text == "\N{EN DASH}"


def test_a_closed_camera_has_no_rate() -> None:
    found = items(doing=Doing.NOTHING)
    assert (found["camera"].text, found["pictures"].text) == ("closed", "\N{EN DASH}")


def test_without_a_log_it_is_not_behind() -> None:
    found = items(replace(HEALTH, log_age_s=60.0), doing=Doing.PREVIEW)
    assert (found["log"].text, found["log"].level) == ("\N{EN DASH}", Level.WELL)


@pytest.mark.parametrize(
    ("waiting", "camera", "level", "word"),
    [
        ((Reason.CAMERA,), "No picture has come.", Level.FAULT, "no picture"),
        ((Reason.VIEW_MOVED,), "", Level.FAULT, "moved"),
        ((), "The picture is dark.", Level.WARN, "see messages"),
        ((Reason.HAND_OFF,), "", Level.WELL, ""),
    ],
)
def test_what_is_wrong_with_the_camera_is_said(
    waiting: tuple[Reason, ...], camera: str, level: Level, word: str
) -> None:
    found = health_items(of_watch(stands(waiting=waiting), camera=camera))[0]
    assert (found.name, found.level, found.word) == ("camera", level, word)


def test_the_same_items_in_the_same_order() -> None:
    names = [one.name for one in health_items(scene())]
    assert names == [one.name for one in health_items(scene(Doing.NOTHING, moment=None))]


@pytest.mark.parametrize(
    ("age_s", "state", "line", "level"),
    [
        (0.3, "", "Crank: power, one side (left crank), 0.3 s", Level.WELL),
        (2.5, "", "Crank: power, one side (left crank), 2.5 s", Level.WELL),
        (2.6, "", f"{WARNED} Crank: no packet for 3 s", Level.WARN),
        (41.0, "is asleep", f"{WARNED} Crank: no packet for 41 s (is asleep)", Level.WARN),
        (0.3, "has gone", f"{WARNED} Crank: no packet for 0 s (has gone)", Level.WARN),
        (math.nan, "", f"{WARNED} Crank: no packet yet", Level.WARN),
    ],
)
def test_how_a_sensor_stands(age_s: float, state: str, line: str, level: Level) -> None:
    sensor = SensorLine("Crank", "", age_s, state, "power", "one side (left crank)")
    told = replace(scene(), sensors=(sensor, SensorLine("Strap", "", 0.1)))
    found = sensor_items(told)
    assert [one.line for one in found] == [line, "Strap: 0.1 s"]
    assert found[0].level is level
    assert health_items(told) == health_items(scene())
