"""The calls to the Bluetooth stack: each ends in time, whatever the stack does."""

from __future__ import annotations

import asyncio
import time
from typing import Any

import pytest
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakError,
)
from bumble_backend import VirtualStudio
from followed_sensors import SHORT, eventually
from virtual_sensor import HEART_RATE, POWER, VirtualSensor

from posewatch.core.sensor_choice import Sighting
from posewatch.core.sensor_link import Phase
from posewatch.sensors.calls import CallFailed, RadioBlocked
from posewatch.sensors.client import Radio, limited


async def seen(radio: Radio, *sensors: VirtualSensor) -> None:
    """Scan until all of these were heard."""
    heard: list[Sighting] = []
    async with radio.scanning(heard.append):
        await eventually(
            lambda: {one.address for one in sensors} <= {one.platform_id for one in heard}
        )


async def raises(error: Exception) -> None:
    raise error


@pytest.mark.parametrize(
    ("error", "phase"),
    [
        (FileNotFoundError(2, "no socket"), Phase.NO_SERVICE),
        (ConnectionRefusedError(), Phase.NO_SERVICE),
        *(
            (BleakBluetoothNotAvailableError("", reason), phase)
            for reason, phase in {
                BleakBluetoothNotAvailableReason.POWERED_OFF: Phase.OFF,
                BleakBluetoothNotAvailableReason.NO_BLUETOOTH: Phase.NO_ADAPTER,
                BleakBluetoothNotAvailableReason.DENIED_BY_USER: Phase.NOT_ALLOWED,
            }.items()
        ),
    ],
)
def test_what_stands_in_the_way_of_bluetooth_is_told_apart(error: Exception, phase: Phase) -> None:
    with pytest.raises(RadioBlocked) as told:
        asyncio.run(limited(raises(error), 1.0))
    assert told.value.phase is phase


@pytest.mark.parametrize(
    "error", [BleakError("x"), BleakDBusError("org.bluez.Error.Failed", []), TimeoutError()]
)
def test_all_else_is_one_call_that_failed(error: Exception) -> None:
    with pytest.raises(CallFailed):
        asyncio.run(limited(raises(error), 1.0))


def test_every_reason_of_the_library_has_a_phase() -> None:
    for reason in BleakBluetoothNotAvailableReason:
        with pytest.raises(RadioBlocked):
            asyncio.run(limited(raises(BleakBluetoothNotAvailableError("", reason)), 1.0))


def test_a_call_that_hangs_and_will_not_be_cancelled_is_left_behind() -> None:
    async def whole() -> None:
        free = asyncio.Event()

        async def hang() -> None:
            while not free.is_set():
                try:
                    await free.wait()
                except asyncio.CancelledError:
                    continue

        begun_s = time.monotonic()
        with pytest.raises(CallFailed, match="no answer within"):
            await limited(hang(), 0.1)
        assert time.monotonic() - begun_s < 2.0
        free.set()

    asyncio.run(whole())


def test_a_connection_that_is_cancelled_leaves_the_radio_usable() -> None:
    async def whole() -> None:
        studio = VirtualStudio()
        shy, strap = studio.add("Crank", POWER), studio.add("Strap", HEART_RATE)
        await shy.wake()
        await strap.wake()
        radio = Radio(studio.backend, SHORT.call)
        await seen(radio, shy, strap)
        shy.refuse(True)
        opening = asyncio.create_task(radio.open(shy.address, lambda: None))
        await eventually(lambda: studio.busy)
        opening.cancel()
        with pytest.raises(asyncio.CancelledError):
            await opening
        with pytest.raises(CallFailed, match="no answer within"):
            await radio.open(shy.address, lambda: None)
        connection = await radio.open(strap.address, lambda: None)
        assert await connection.read("2A19") == b"\x57"
        await connection.close()
        assert strap.n_links == 0

    asyncio.run(whole())


def test_a_read_out_of_reach_ends_in_time_and_so_does_closing() -> None:
    async def whole() -> None:
        studio = VirtualStudio()
        sensor = studio.add("Crank", POWER)
        await sensor.wake()
        radio = Radio(studio.backend, SHORT.call)
        await seen(radio, sensor)
        connection = await radio.open(sensor.address, lambda: None)
        assert await connection.listen("2A63", lambda _: None)
        assert not await connection.listen("2A37", lambda _: None)
        with pytest.raises(AssertionError, match="listened to already"):
            await connection.listen("2A63", lambda _: None)
        assert await connection.read("2A63") is None
        sensor.fade()
        begun_s = time.monotonic()
        with pytest.raises(CallFailed):
            await connection.read("2A19", probe=True)
        await connection.close()
        assert time.monotonic() - begun_s < 2.0

    asyncio.run(whole())


def test_only_what_the_last_scan_heard_can_be_opened() -> None:
    async def whole() -> None:
        studio = VirtualStudio()
        sensor = studio.add("Crank", POWER)
        await sensor.wake()
        radio = Radio(studio.backend, SHORT.call)
        await seen(radio, sensor)
        await sensor.sleep()
        async with radio.scanning(lambda _: None):
            pass
        with pytest.raises(CallFailed, match="not seen by the last scan"):
            await radio.open(sensor.address, lambda: None)

    asyncio.run(whole())


def test_a_stack_without_a_list_of_links_is_no_failure() -> None:
    class Backend:
        @classmethod
        async def get(cls, **_: Any) -> None:
            raise NotImplementedError

    async def whole() -> None:
        studio = VirtualStudio()
        adapter: Any = Backend
        radio = Radio(type(studio.backend)(adapter=adapter), SHORT.call)
        assert await radio.linked() == []

    asyncio.run(whole())
