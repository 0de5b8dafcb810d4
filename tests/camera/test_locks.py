"""Locks, with drivers that accept, clamp, ignore, refuse and take over again."""

from __future__ import annotations

import pytest

from posewatch.camera.locks import CameraSetting, Lock, lock, still_held
from posewatch.camera.opencv import cv2

EXPOSURE, FOCUS = CameraSetting.EXPOSURE, CameraSetting.FOCUS


class FakeDriver:
    """A driver with some properties. limits: clamps; deaf: takes no value; says: set()'s answer."""

    def __init__(
        self,
        backend: str = "V4L2",
        properties: dict[int, float] | None = None,
        limits: tuple[float, float] = (-1e9, 1e9),
        deaf: tuple[int, ...] = (),
        says: bool = True,
    ) -> None:
        self.properties = dict(properties or {})
        self.asked: list[tuple[int, float]] = []
        self._backend, self._limits, self._deaf, self._says = backend, limits, deaf, says

    def getBackendName(self) -> str:
        return self._backend

    def get(self, propId: int) -> float:
        return self.properties.get(propId, -1.0)

    def set(self, propId: int, value: float) -> bool:
        self.asked.append((propId, value))
        if propId not in self.properties:
            return False
        if propId not in self._deaf:
            low, high = self._limits
            self.properties[propId] = min(max(value, low), high)
        return self._says


def v4l2() -> dict[int, float]:
    """A camera on Linux with all automatics on."""
    return {
        cv2.CAP_PROP_AUTO_EXPOSURE: 3.0,  # aperture priority
        cv2.CAP_PROP_EXPOSURE: 156.0,
        cv2.CAP_PROP_GAIN: 10.0,
        cv2.CAP_PROP_AUTO_WB: 1.0,
        cv2.CAP_PROP_WB_TEMPERATURE: 4600.0,
        cv2.CAP_PROP_AUTOFOCUS: 1.0,
        cv2.CAP_PROP_FOCUS: 30.0,
    }


def test_a_driver_that_accepts_holds_everything() -> None:
    driver = FakeDriver(properties=v4l2())
    wishes = {EXPOSURE: 40.0, CameraSetting.GAIN: None, CameraSetting.WHITE_BALANCE: None, FOCUS: 0}
    locks = lock(driver, wishes)
    assert [(one.setting, one.wished, one.read_back, one.held) for one in locks] == [
        (EXPOSURE, 40.0, 40.0, True),
        (CameraSetting.GAIN, 10.0, 10.0, True),
        (CameraSetting.WHITE_BALANCE, 4600.0, 4600.0, True),
        (FOCUS, 0, 0.0, True),
    ]
    # Linux: 1 = manual exposure; the others 0 = off. First the automatic off, then the value.
    assert driver.asked[:2] == [(cv2.CAP_PROP_AUTO_EXPOSURE, 1.0), (cv2.CAP_PROP_EXPOSURE, 40.0)]
    assert (cv2.CAP_PROP_AUTO_WB, 0.0) in driver.asked
    assert (cv2.CAP_PROP_AUTOFOCUS, 0.0) in driver.asked


def test_nothing_is_touched_that_was_not_wished_for() -> None:
    driver = FakeDriver(properties=v4l2())
    lock(driver, {FOCUS: 20.0})
    assert {what for what, _ in driver.asked} == {cv2.CAP_PROP_AUTOFOCUS, cv2.CAP_PROP_FOCUS}
    assert lock(driver, {}) == ()


def test_a_driver_that_clamps_is_found_out() -> None:
    driver = FakeDriver(properties=v4l2(), limits=(0.0, 250.0))
    (focus,) = lock(driver, {FOCUS: 600.0})
    assert focus == Lock(FOCUS, 600.0, 250.0, False, "the camera made it 250")


def test_a_driver_that_says_yes_and_does_nothing_is_found_out() -> None:
    deaf = (cv2.CAP_PROP_EXPOSURE,)
    (exposure,) = lock(FakeDriver(properties=v4l2(), deaf=deaf), {EXPOSURE: 40.0})
    assert (exposure.held, exposure.note) == (False, "the camera made it 156")


def test_an_automatic_that_stays_on_is_found_out() -> None:
    deaf = (cv2.CAP_PROP_AUTO_EXPOSURE,)
    (exposure,) = lock(FakeDriver(properties=v4l2(), deaf=deaf), {EXPOSURE: 40.0})
    assert (exposure.held, exposure.note) == (False, "the camera keeps it automatic")


def test_a_setting_that_is_not_there_is_said() -> None:
    (zoom,) = lock(FakeDriver(properties=v4l2()), {CameraSetting.ZOOM: None})
    assert zoom == Lock(CameraSetting.ZOOM, None, None, False, "this camera does not offer it")


def test_a_refusal_counts_even_if_the_value_reads_back() -> None:
    (gain,) = lock(FakeDriver(properties=v4l2(), says=False), {CameraSetting.GAIN: 10.0})
    assert (gain.held, gain.note) == (False, "the camera refuses it")


@pytest.mark.parametrize(
    ("backend", "automatic"),
    [
        pytest.param("DSHOW", 2.0, id="flags: manual"),
        pytest.param("MSMF", 0.0, id="off"),
        pytest.param("MSMF", -1.0, id="not told"),
    ],
)
def test_windows_counts_exposure_in_powers_of_two(backend: str, automatic: float) -> None:
    # An exposure of -1 is half a second there, not "no such setting".
    properties = {cv2.CAP_PROP_EXPOSURE: -1.0, cv2.CAP_PROP_AUTO_EXPOSURE: automatic}
    deaf = (cv2.CAP_PROP_AUTO_EXPOSURE,)
    driver = FakeDriver(backend, properties, deaf=deaf)
    (kept,) = lock(driver, {EXPOSURE: None})
    assert (kept.wished, kept.read_back, kept.held) == (-1.0, -1.0, True)
    assert driver.asked[0] == (cv2.CAP_PROP_AUTO_EXPOSURE, 0.0)


def test_flags_that_say_automatic_are_not_held() -> None:
    properties = {cv2.CAP_PROP_EXPOSURE: -7.0, cv2.CAP_PROP_AUTO_EXPOSURE: 1.0}
    driver = FakeDriver("DSHOW", properties, deaf=(cv2.CAP_PROP_AUTO_EXPOSURE,))
    (exposure,) = lock(driver, {EXPOSURE: -7.0})
    assert not exposure.held


def test_a_value_that_changes_later_is_found_out() -> None:
    driver = FakeDriver(properties=v4l2())
    locks = lock(driver, {FOCUS: 30.0, CameraSetting.GAIN: 10.0})
    assert all(one.held for one in still_held(driver, locks))
    driver.properties[cv2.CAP_PROP_FOCUS] = 35.0
    asked = len(driver.asked)
    gain, focus = still_held(driver, locks)
    assert (gain.held, focus.held, focus.note) == (True, False, "the camera made it 35")
    assert len(driver.asked) == asked  # reading back sets nothing
