"""When a camera is lost, slow or dark, and when it is well again."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from posewatch.core.camera_watch import (
    NEAR,
    NETWORK,
    CameraWatchState,
    Glimpse,
    Limits,
    step,
)
from posewatch.core.records import CAMERA, PICTURE, SourceCondition, SourceState
from posewatch.core.timebase import to_ns, to_s

GOOD = Glimpse(0, None, 0.5, 30.0, "", 30.0)
STEP_S = 1 / 30


def watch(
    seen: Callable[[float], Glimpse],
    until_s: float,
    limits: Limits = NEAR,
    every_s: float = STEP_S,
) -> list[SourceState]:
    """Look at the glimpse of each time, given in s, at even steps."""
    state = CameraWatchState()
    told: list[SourceState] = []
    for number in range(round(until_s / every_s) + 1):
        t_s = number * every_s
        state, changed = step(state, to_ns(t_s), seen(t_s), limits)
        told += changed
    return told


def running(t_s: float, **otherwise: object) -> Glimpse:
    """A picture just came."""
    return replace(GOOD, last_ns=to_ns(t_s), **otherwise)  # type: ignore[arg-type]


def brief(told: list[SourceState]) -> list[tuple[str, str, float]]:
    return [(one.source, str(one.condition), round(to_s(one.t_ns), 1)) for one in told]


def test_a_good_camera_is_not_spoken_of() -> None:
    assert watch(running, 20.0) == []
    assert watch(lambda t: running(t, rate_hz=math.nan, usual_hz=math.nan), 20.0) == []


@pytest.mark.parametrize("every_s", [1 / 60, 1 / 30, 0.1])
@pytest.mark.parametrize(("limits", "told_s"), [(NEAR, 5.5), (NETWORK, 7.0)])
def test_without_pictures_it_is_lost_since_the_last_one(
    limits: Limits, told_s: float, every_s: float
) -> None:
    def seen(t_s: float) -> Glimpse:
        return running(min(t_s, 5.0))

    assert watch(seen, told_s - 0.01, limits, every_s) == []
    told = watch(seen, 30.0, limits, every_s)
    assert brief(told) == [(CAMERA, "lost", 5.0)]
    assert f"for over {limits.gone_s:g} s" in told[0].text
    assert "unplug it and plug it in again" in told[0].text


@pytest.mark.parametrize("limits", [NEAR, NETWORK])
def test_a_repeated_picture_is_lost_since_it_first_came(limits: Limits) -> None:
    def seen(t_s: float) -> Glimpse:
        return running(t_s, same_since_ns=to_ns(5.0) if t_s > 5.0 else None)

    assert watch(seen, 5.0 + limits.frozen_s, limits) == []
    told = watch(seen, 30.0, limits)
    assert brief(told) == [(CAMERA, "lost", 5.0)]
    assert "repeats one picture" in told[0].text


def test_a_closed_camera_is_lost_at_once_and_each_reason_told_once() -> None:
    reasons = {3.1: "The camera Desk is not plugged in.", 4.0: "It is of another size."}

    def seen(t_s: float) -> Glimpse:
        since = [reason for from_s, reason in reasons.items() if t_s >= from_s]
        if not since or t_s > 8.0:
            return running(t_s)
        # While it is being tried, there is no reason but no picture either.
        return replace(GOOD, last_ns=to_ns(3.0), why="" if 5.0 < t_s < 5.1 else since[-1])

    told = watch(seen, 20.0)
    assert brief(told) == [
        (CAMERA, "lost", 3.0),
        (CAMERA, "lost", 4.0),
        (CAMERA, "lost", 5.0),
        (CAMERA, "running", 9.0),
    ]
    assert told[0].text.startswith("The camera Desk is not plugged in. It is tried again")
    assert told[1].text.startswith("It is of another size.")
    assert told[2].text.startswith("No picture has come")
    assert "after 6.0 s" in told[3].text


def test_it_runs_again_only_after_a_second_of_good_pictures() -> None:
    def seen(t_s: float) -> Glimpse:
        return running(t_s if t_s < 2.0 or t_s > 6.0 else 2.0)

    assert brief(watch(seen, 20.0)) == [(CAMERA, "lost", 2.0), (CAMERA, "running", 7.0)]


@pytest.mark.parametrize("limits", [NEAR, NETWORK])
@pytest.mark.parametrize("share", [1.2, 2.0])
def test_single_pictures_now_and_then_do_not_bring_it_back(limits: Limits, share: float) -> None:
    every_s = share * limits.gone_s

    def seen(t_s: float) -> Glimpse:
        return running(t_s - t_s % every_s)

    told = watch(seen, 60.0, limits)
    assert [one.condition for one in told] == [SourceCondition.LOST]


@pytest.mark.parametrize("limits", [NEAR, NETWORK])
def test_a_repeated_picture_with_a_new_one_now_and_then_stays_lost(limits: Limits) -> None:
    every_s = 1.5 * limits.frozen_s

    def seen(t_s: float) -> Glimpse:
        new_s = t_s - t_s % every_s
        return running(t_s, same_since_ns=to_ns(new_s) if t_s > new_s else None)

    assert [one.condition for one in watch(seen, 60.0, limits)] == [SourceCondition.LOST]


def test_a_loss_is_never_told_before_what_was_told_last() -> None:
    """It runs again at 7 s; what then shows as alike since earlier is told from 7 s on."""

    def seen(t_s: float) -> Glimpse:
        if t_s > 7.05:
            return running(t_s, same_since_ns=to_ns(6.5))
        return running(t_s if t_s < 2.0 or t_s > 6.0 else 2.0)

    times = [one.t_ns for one in watch(seen, 20.0)]
    assert times == sorted(times)
    assert len(times) == 3


@pytest.mark.parametrize("limits", [NEAR, NETWORK])
def test_limits_leave_no_room_for_flapping(limits: Limits) -> None:
    assert limits.back_s > max(limits.gone_s, limits.frozen_s)


def test_slow_is_told_after_two_seconds_and_well_again_likewise() -> None:
    def seen(t_s: float) -> Glimpse:
        return running(t_s, rate_hz=15.0 if 5.0 <= t_s < 12.0 else 30.0)

    told = watch(seen, 30.0)
    assert brief(told) == [(PICTURE, "slow", 7.0), (PICTURE, "running", 14.0)]
    assert "15 pictures a second, and gave 30 at first" in told[0].text
    assert "more light" in told[0].text


def test_a_short_slowness_and_one_at_the_limit_say_little() -> None:
    def short(t_s: float) -> Glimpse:
        return running(t_s, rate_hz=10.0 if t_s % 3.0 < 1.9 else 30.0)

    assert watch(short, 30.0) == []

    def about_the_limit(t_s: float) -> Glimpse:
        return running(t_s, rate_hz=23.9 if t_s % 6.0 < 3.0 else 24.1)

    assert brief(watch(about_the_limit, 60.0)) == [(PICTURE, "slow", 2.0)]


def test_dark_is_told_before_slow_and_with_what_to_do() -> None:
    def seen(t_s: float) -> Glimpse:
        dark, slow = 5.0 <= t_s < 15.0, 5.0 <= t_s < 20.0
        return running(t_s, brightness=0.04 if dark else 0.5, rate_hz=12.0 if slow else 30.0)

    told = watch(seen, 30.0)
    assert brief(told) == [
        (PICTURE, "dark", 7.0),
        (PICTURE, "slow", 17.0),
        (PICTURE, "running", 22.0),
    ]
    assert "4 % of full brightness" in told[0].text
    assert "Switch on more light" in told[0].text


def test_nothing_is_said_of_the_pictures_of_a_lost_camera() -> None:
    def seen(t_s: float) -> Glimpse:
        if t_s < 3.0:
            return running(t_s)
        return replace(GOOD, last_ns=to_ns(3.0), brightness=0.01, rate_hz=1.0)

    assert brief(watch(seen, 20.0)) == [(CAMERA, "lost", 3.0)]
