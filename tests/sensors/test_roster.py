"""Sensors that come, go, fall silent and are taken, over a whole Bluetooth stack in software."""

from __future__ import annotations

import asyncio
import struct
from collections.abc import Awaitable, Callable

import pytest
from bleak.backends.device import BLEDevice
from bleak.exc import BleakDBusError
from followed_sensors import Followed, eventually
from virtual_sensor import (
    BIKE_DATA,
    CSC_MEASUREMENT,
    FITNESS_MACHINE,
    HEART_RATE,
    POWER,
    POWER_MEASUREMENT,
    POWER_VECTOR,
    RATE_MEASUREMENT,
    SPEED_AND_CADENCE,
    THERMOMETER,
    VirtualSensor,
    beating_heart,
    bike_data,
    new_device,
    pedalling_cadence,
    pedalling_power,
)

from posewatch.core.records import SourceCondition
from posewatch.core.sensor_choice import SensorChoice, Service
from posewatch.core.sensor_link import Phase
from posewatch.core.sensor_records import Packet

RUNNING, LOST = SourceCondition.RUNNING, SourceCondition.LOST
EVERY_S = 0.025

Air = Callable[[Callable[[Followed], Awaitable[None]]], None]


async def crank(followed: Followed, name: str = "Crank") -> VirtualSensor:
    """Add a power sensor whose crank turns."""
    sensor = followed.studio.add(name, POWER)
    await sensor.wake()
    sensor.start(POWER_MEASUREMENT, pedalling_power, EVERY_S)
    return sensor


async def more_values(followed: Followed, sensor: VirtualSensor, n: int = 3) -> None:
    """Wait for some more values of a power sensor."""
    before = len(followed.values(sensor, "2A63"))
    await eventually(lambda: len(followed.values(sensor, "2A63")) >= before + n)


def test_values_come_with_what_the_sensor_is(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        await followed.use(sensor)
        await more_values(followed, sensor)
        followed.check_stream(sensor, "2A63")
        assert followed.values(sensor, "2A65") == [b"\x08\0\0\0"]
        assert followed.values(sensor, "2A5D") == [b"\x05"]
        assert followed.values(sensor, "2A19") == [b"\x57"]
        assert followed.conditions(sensor) == [RUNNING]
        status = followed.status(sensor)
        assert status.services == {Service.POWER}
        assert status.rssi_dbm == -50
        known = status.known(7)
        assert [one.characteristic for one in known if isinstance(one, Packet)] == [
            "2A65",
            "2A5D",
            "2A19",
        ]
        assert {one.t_ns for one in known} == {7}

    air(scenario)


def test_torque_vectors_come_too_and_may_fall_silent(air: Air) -> None:
    """Meters send them only while they are driven: that is no fault of the link."""

    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        sensor.start(POWER_VECTOR, lambda n: struct.pack("<BHHh", 9, n % 65536, 0, 32), EVERY_S)
        await followed.use(sensor)
        await eventually(lambda: len(followed.values(sensor, "2A64")) > 2)
        sensor.stop(POWER_VECTOR)
        await more_values(followed, sensor, 20)  # for longer than silent_s
        assert followed.conditions(sensor) == [RUNNING]
        followed.check_stream(sensor, "2A64")

    air(scenario)


def test_several_sensors_at_once_each_give_their_own(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        kinds = [
            ("Crank", POWER, POWER_MEASUREMENT, pedalling_power, "2A63"),
            ("Cadence", SPEED_AND_CADENCE, CSC_MEASUREMENT, pedalling_cadence, "2A5B"),
            ("Trainer", FITNESS_MACHINE, BIKE_DATA, bike_data, "2AD2"),
            ("Strap", HEART_RATE, RATE_MEASUREMENT, beating_heart, "2A37"),
        ]
        sensors = []
        for name, service, number, data, _ in kinds:
            sensors.append(followed.studio.add(name, service))
            await sensors[-1].wake()
            sensors[-1].start(number, data, EVERY_S)
        await followed.use(*sensors)
        for sensor, (*_, name) in zip(sensors, kinds, strict=True):
            await eventually(lambda s=sensor, n=name: len(followed.values(s, n)) > 3)
            followed.check_stream(sensor, name)
        await sensors[3].sleep()
        await followed.comes_to(sensors[3], Phase.LOST)
        assert [followed.phase(one) for one in sensors[:3]] == [Phase.LIVE] * 3

    air(scenario)


def test_one_that_falls_asleep_is_found_when_it_wakes(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        sensor.start(POWER_MEASUREMENT, lambda _: pedalling_power(7), 0.12)
        await followed.use(sensor)
        await asyncio.sleep(0.7)  # a rest, as long as rest_s
        await sensor.sleep()
        await followed.comes_to(sensor, Phase.LOST)
        assert "gone to sleep" in followed.said(sensor)[-1].text
        await eventually(lambda: followed.status(sensor).next_ns is not None)
        sensor.start(POWER_MEASUREMENT, pedalling_power, EVERY_S)
        await sensor.wake()
        await followed.comes_to(sensor, Phase.LIVE)
        await more_values(followed, sensor)
        followed.check_stream(sensor, "2A63")
        assert followed.conditions(sensor) == [RUNNING, LOST, RUNNING]

    air(scenario)


def test_one_that_leaves_and_returns_again_and_again_gives_nothing_twice(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        await followed.use(sensor)
        for _ in range(3):
            await more_values(followed, sensor)
            await sensor.leave()
            await followed.comes_to(sensor, Phase.LOST)
            sensor.come_back()
            await followed.comes_to(sensor, Phase.LIVE)
        await more_values(followed, sensor)
        followed.check_stream(sensor, "2A63")
        assert followed.conditions(sensor) == [RUNNING] + [LOST, RUNNING] * 3
        assert sensor.n_links == 1

    air(scenario)


def test_one_that_stops_while_connected_is_blanked_and_connected_anew(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        await followed.use(sensor)
        sensor.stop(POWER_MEASUREMENT)
        await followed.comes_to(sensor, Phase.SILENT)
        assert followed.conditions(sensor) == [RUNNING, LOST]
        assert "sends nothing any more" in followed.said(sensor)[-1].text
        # The battery is the probe; then comes a new connection that is asked once.
        await eventually(lambda: followed.studio.n_asked.count("2a63") == 2)
        assert len(followed.values(sensor, "2A19")) >= 2
        sensor.start(POWER_MEASUREMENT, pedalling_power, EVERY_S)
        await followed.comes_to(sensor, Phase.LIVE)
        await more_values(followed, sensor)
        assert sensor.n_links == 1

    air(scenario)


def test_one_that_fades_without_the_stack_noticing_is_found_when_back(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        await followed.use(sensor)
        sensor.fade()
        await followed.comes_to(sensor, Phase.SILENT)
        await followed.comes_to(sensor, Phase.LOST)
        assert "out of reach" in followed.said(sensor)[-1].text
        await sensor.leave()  # its own end of the link notices too
        sensor.come_back()
        await followed.comes_to(sensor, Phase.LIVE)
        await more_values(followed, sensor)
        followed.check_stream(sensor, "2A63")

    air(scenario)


def test_one_that_another_device_took_is_told_and_taken_back_when_free(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        await followed.use(sensor)
        await more_values(followed, sensor)
        rival = new_device(followed.studio.air, "display", "F2:00:00:00:00:01")
        await rival.power_on()
        taking = asyncio.create_task(rival.connect(sensor.advertised, timeout=5.0))
        await asyncio.sleep(0)
        await sensor.end_links()
        link = await taking
        await followed.comes_to(sensor, Phase.LOST)
        text = followed.said(sensor)[-1].text
        assert "another program or display may have taken it" in text
        await link.disconnect()
        await followed.comes_to(sensor, Phase.LIVE)
        await more_values(followed, sensor)
        followed.check_stream(sensor, "2A63")

    air(scenario)


def test_one_that_is_heard_but_lets_nobody_in_is_taken(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        other = await crank(followed, "Other")
        sensor.refuse(True)
        await followed.roster.use(SensorChoice(sensor.name, sensor.address))
        await followed.comes_to(sensor, Phase.TAKEN)
        assert "lets nobody in" in followed.said(sensor)[-1].text
        # The attempts that were given up do not keep others from being connected.
        await followed.use(other)
        sensor.refuse(False)
        await followed.comes_to(sensor, Phase.LIVE)
        await more_values(followed, sensor)
        assert followed.conditions(sensor) == [LOST, RUNNING]

    air(scenario)


def test_one_that_this_computer_is_linked_to_already_is_used_without_being_heard(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        seen = (await followed.roster.survey(0.2)).seen
        assert [one.elsewhere for one in seen] == [False]
        device = BLEDevice(sensor.address, sensor.name, sensor.advertised)
        followed.studio.linked = [device]
        (one,) = (await followed.roster.survey(0.2)).seen
        assert one.elsewhere
        await followed.use(sensor)
        (one,) = (await followed.roster.survey(0.2)).seen
        assert not one.elsewhere

    air(scenario)


def test_bluetooth_that_is_switched_off_is_named_and_all_come_back_with_it(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensors = [await crank(followed), await crank(followed, "Other")]
        await followed.use(*sensors)
        await followed.studio.switch_off()
        for one in sensors:
            await followed.comes_to(one, Phase.OFF)
            assert "Bluetooth is switched off." in followed.said(one)[-1].text
        assert (await followed.roster.survey(0.1)).obstacle is Phase.OFF
        followed.studio.switch_on()
        for one in sensors:
            await followed.comes_to(one, Phase.LIVE)
            await more_values(followed, one)
            followed.check_stream(one, "2A63")

    air(scenario)


@pytest.mark.parametrize(
    ("trouble", "phase"),
    [
        (FileNotFoundError(2, "No such file or directory"), Phase.NO_SERVICE),
        (BleakDBusError("org.freedesktop.DBus.Error.ServiceUnknown", []), Phase.NO_SERVICE),
        (BleakDBusError("org.bluez.Error.NotReady", []), Phase.OFF),
        (BleakDBusError("org.freedesktop.DBus.Error.AccessDenied", []), Phase.NOT_ALLOWED),
    ],
)
def test_a_missing_service_is_named_and_polled(air: Air, trouble: Exception, phase: Phase) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        followed.studio.trouble = trouble
        await followed.roster.use(SensorChoice(sensor.name, sensor.address))
        await followed.comes_to(sensor, phase)
        assert followed.conditions(sensor) == [LOST]
        followed.studio.switch_on()
        await followed.comes_to(sensor, Phase.LIVE)

    air(scenario)


def test_a_scan_in_progress_elsewhere_is_tried_again(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        followed.studio.trouble = BleakDBusError("org.bluez.Error.InProgress", [])
        await followed.roster.use(SensorChoice(sensor.name, sensor.address))
        await eventually(lambda: len(followed.said(sensor)) == 1)
        assert followed.phase(sensor) is Phase.SEARCHING
        followed.studio.switch_on()
        await followed.comes_to(sensor, Phase.LIVE)

    air(scenario)


def test_what_the_stack_delivers_several_times_comes_once(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        followed.studio.copies = 3
        await followed.use(sensor)
        await more_values(followed, sensor, 5)
        followed.check_stream(sensor, "2A63")
        assert followed.status(sensor).n_repeats >= 10

    air(scenario)


def test_a_sensor_that_is_let_go_is_free_for_others(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        await followed.use(sensor)
        assert sensor.n_links == 1
        await followed.roster.forget(SensorChoice(sensor.name, sensor.address))
        await eventually(lambda: sensor.n_links == 0)
        assert followed.roster.statuses() == ()
        n_events = len(followed.events)
        await asyncio.sleep(0.2)
        assert len(followed.events) == n_events

    air(scenario)


def test_one_is_tried_before_it_is_chosen(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await crank(followed)
        (one,) = (await followed.roster.survey(0.2)).seen
        tried = await followed.roster.try_out(one.choice, 4.0)
        assert tried.services == {Service.POWER}
        assert tried.last["2A19"].data == b"\x57"
        assert "2A63" in tried.last
        assert followed.events == []
        await eventually(lambda: sensor.n_links == 0)

    air(scenario)


def test_two_of_one_name_are_told_apart(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        left, right = await crank(followed, "Pedal"), followed.studio.add("Pedal right", POWER)
        await right.wake()
        right.start(POWER_MEASUREMENT, pedalling_power, EVERY_S)
        await followed.roster.use(SensorChoice("Pedal", left.address))
        await followed.roster.use(SensorChoice("Pedal", right.address))
        await eventually(lambda: all(s.phase is Phase.LIVE for s in followed.roster.statuses()))
        names = [one.name for one in followed.roster.statuses()]
        assert names == ["Pedal", f"Pedal ({right.address})"]
        assert followed.values(left, "2A63")
        assert followed.values(right, "2A63")

    air(scenario)


def test_a_scan_lists_only_sensors_of_these_services(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        await followed.studio.add("Strap", HEART_RATE).wake()
        await followed.studio.add("Trainer", FITNESS_MACHINE, POWER).wake()
        await followed.studio.add("Thermometer", THERMOMETER).wake()
        seen = (await followed.roster.survey(0.2)).seen
        assert {one.name: one.services for one in seen} == {
            "Strap": {Service.HEART_RATE},
            "Trainer": {Service.FITNESS_MACHINE, Service.POWER},
        }

    air(scenario)
