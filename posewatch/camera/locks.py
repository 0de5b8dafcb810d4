"""Locking what a camera would change by itself: exposure, gain, white balance, focus, zoom.

A driver may take a value, take another, or say yes and do nothing; so everything is read back, and
only what reads back as wished is called held. Values are the driver's own: exposure is in units of
100 microseconds with V4L2 and a power of two of seconds (-7 = 1/128 s) on Windows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from posewatch.camera.opencv import cv2


class CameraSetting(StrEnum):
    """What can be locked, in the order in which it must be set: gain may follow exposure."""

    EXPOSURE = "exposure"
    GAIN = "gain"
    WHITE_BALANCE = "white balance"
    FOCUS = "focus"
    ZOOM = "zoom"


class Capture(Protocol):
    """The part of an open ``cv2.VideoCapture`` that is used here."""

    def get(self, propId: int) -> float: ...

    def set(self, propId: int, value: float) -> bool: ...

    def getBackendName(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Lock:
    """What became of one setting.

    wished: what it is to be; None = the camera does not have it. read_back: None = the driver does
    not tell. held: it reads back as wished, and the camera's own control of it not as on. note: why
    it is not held.
    """

    setting: CameraSetting
    wished: float | None
    read_back: float | None
    held: bool
    note: str = ""


@dataclass(frozen=True, slots=True)
class _Control:
    value: int
    automatic: int | None = None


_CONTROLS = {
    CameraSetting.EXPOSURE: _Control(cv2.CAP_PROP_EXPOSURE, cv2.CAP_PROP_AUTO_EXPOSURE),
    CameraSetting.GAIN: _Control(cv2.CAP_PROP_GAIN),
    CameraSetting.WHITE_BALANCE: _Control(cv2.CAP_PROP_WB_TEMPERATURE, cv2.CAP_PROP_AUTO_WB),
    CameraSetting.FOCUS: _Control(cv2.CAP_PROP_FOCUS, cv2.CAP_PROP_AUTOFOCUS),
    CameraSetting.ZOOM: _Control(cv2.CAP_PROP_ZOOM),
}

#: Switches the automatic off. V4L2's exposure is a menu: 0 auto, 1 manual, 2 shutter priority,
#: 3 aperture priority (Linux kernel, "Camera Control Reference", V4L2_CID_EXPOSURE_AUTO); all
#: others are 0 = off, 1 = on.
_OFF = 0.0
_V4L2_MANUAL = 1.0
#: What reads back when it is off. DirectShow answers with flags, 1 automatic and 2 manual
#: (Microsoft, CameraControlFlags).
_READS_OFF: dict[str, tuple[float, ...]] = {"DSHOW": (0.0, 2.0)}
#: What a driver answers for a setting it does not have; as an exposure on Windows it is 1/2 s.
_NOT_THERE = -1.0
_POWER_OF_TWO = ("DSHOW", "MSMF")


def lock(capture: Capture, wishes: Mapping[CameraSetting, float | None]) -> tuple[Lock, ...]:
    """Set and read back settings; a wish of None keeps what the camera has now.

    Changes nothing that is not wished for. Some drivers take values only with the next pictures:
    look again after a few with :func:`still_held`.
    """
    wanted = {
        setting: _value(capture, setting) if wishes[setting] is None else wishes[setting]
        for setting in CameraSetting
        if setting in wishes
    }
    locks = []
    for setting, value in wanted.items():
        control = _CONTROLS[setting]
        if control.automatic is not None:
            capture.set(control.automatic, _off_value(capture, setting))
        taken = value is not None and capture.set(control.value, value)
        locks.append(_read_back(capture, setting, value, taken))
    return tuple(locks)


def still_held(capture: Capture, locks: tuple[Lock, ...]) -> tuple[Lock, ...]:
    """Read the settings back again, without setting them."""
    return tuple(_read_back(capture, one.setting, one.wished, True) for one in locks)


def _read_back(capture: Capture, setting: CameraSetting, wished: float | None, taken: bool) -> Lock:
    read = _value(capture, setting)
    if wished is None or read is None:
        note = "this camera does not offer it"
    elif read != wished:
        note = f"the camera made it {read:g}"
    elif not taken:
        note = "the camera refuses it"
    elif _is_automatic(capture, setting):
        note = "the camera keeps it automatic"
    else:
        return Lock(setting, wished, read, True)
    return Lock(setting, wished, read, False, note)


def _value(capture: Capture, setting: CameraSetting) -> float | None:
    read = capture.get(_CONTROLS[setting].value)
    may_be_so = setting is CameraSetting.EXPOSURE and capture.getBackendName() in _POWER_OF_TWO
    return None if read == _NOT_THERE and not may_be_so else read


def _off_value(capture: Capture, setting: CameraSetting) -> float:
    menu = setting is CameraSetting.EXPOSURE and capture.getBackendName() == "V4L2"
    return _V4L2_MANUAL if menu else _OFF


def _is_automatic(capture: Capture, setting: CameraSetting) -> bool:
    """Tell whether the camera says that it controls it; one that does not tell is believed."""
    automatic = _CONTROLS[setting].automatic
    if automatic is None:
        return False
    off = _READS_OFF.get(capture.getBackendName(), (_off_value(capture, setting),))
    return capture.get(automatic) not in (*off, _NOT_THERE)
