"""A virtual meter that tells its zero offset, refuses, or falls silent."""

from __future__ import annotations

import asyncio
import struct
from collections.abc import Awaitable, Callable

import pytest
import virtual_sensor
from followed_sensors import Followed, eventually
from virtual_sensor import (
    BIKE_DATA,
    FITNESS_MACHINE,
    METER_POINT,
    POWER,
    POWER_FEATURE,
    POWER_MEASUREMENT,
    VirtualSensor,
    bike_data,
    pedalling_power,
)

from posewatch.core.meter_offset import OffsetAnswer, PairBegan
from posewatch.core.records import SourceState
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_link import Phase
from posewatch.sensors.calls import CallFailed

Air = Callable[[Callable[[Followed], Awaitable[None]]], None]


async def meter(followed: Followed, answer: bytes | None) -> VirtualSensor:
    sensor = followed.studio.add("Meter", POWER)
    sensor.answer = lambda _: answer
    await sensor.wake()
    sensor.start(POWER_MEASUREMENT, pedalling_power, 0.05)
    await followed.use(sensor)
    return sensor


def choice(sensor: VirtualSensor) -> SensorChoice:
    return SensorChoice(sensor.name, sensor.address)


def lines(followed: Followed) -> list[str]:
    return [
        one.text
        for one in followed.events
        if isinstance(one, SourceState) and one.source == "zero offset of Meter"
    ]


def test_the_offset_is_taken_and_logged_and_a_change_warned_of(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await meter(followed, b"\x20\x0c\x01\x40\x01")
        zeroed = await followed.roster.zero_offset(choice(sensor))
        assert zeroed.answer == OffsetAnswer(True, 320)
        assert sensor.written == [b"\x0c"]
        # The virtual meter's features do not say torque: a force.
        assert lines(followed) == ["Zero offset of Meter: 320 N (raw 320)."]
        # The same connection is listened to once only.
        sensor.answer = lambda _: b"\x20\x0c\x01\x4a\x01"
        zeroed = await followed.roster.zero_offset(choice(sensor))
        assert "changed by +10 N" in zeroed.said[-1]
        assert followed.studio.n_asked.count("2a66") == 1

    air(scenario)


def test_a_meter_that_measures_torque_is_told_in_newton_metres(
    air: Air, monkeypatch: pytest.MonkeyPatch
) -> None:
    features = struct.pack("<I", 1 << 16 | 1 << 9)
    monkeypatch.setitem(virtual_sensor._LAYOUT[POWER], POWER_FEATURE, features)

    async def scenario(followed: Followed) -> None:
        sensor = await meter(followed, b"\x20\x0c\x01\x40\x01")
        await eventually(lambda: followed.values(sensor, "2A65"))
        await followed.roster.zero_offset(choice(sensor))
        assert lines(followed) == ["Zero offset of Meter: 10.00 N m (raw 320)."]

    air(scenario)


@pytest.mark.parametrize(
    ("answer", "why"),
    [(b"\x20\x0c\x04", "cranks moved"), (b"\x20\x04\x01", "within 0.4 s"), (None, "within 0.4 s")],
)
def test_a_refusal_or_silence_is_told(air: Air, answer: bytes | None, why: str) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await meter(followed, answer)
        zeroed = await followed.roster.zero_offset(choice(sensor))
        assert zeroed.answer is not None
        assert not zeroed.answer.done
        assert why in zeroed.said[-1]
        assert why in lines(followed)[0]
        assert followed.phase(sensor) is Phase.LIVE

    air(scenario)


def test_between_two_mountings_it_is_not_asked_unless_insisted(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await meter(followed, b"\x20\x0c\x01\x40\x01")
        await followed.roster.tell_meter(choice(sensor), PairBegan())
        zeroed = await followed.roster.zero_offset(choice(sensor))
        assert zeroed.answer is None
        assert "Do not zero" in zeroed.said[0]
        assert sensor.written == []
        zeroed = await followed.roster.zero_offset(choice(sensor), insisted=True)
        assert zeroed.answer == OffsetAnswer(True, 320)
        assert await followed.roster.tell_meter(SensorChoice("Nobody"), None) == ()

    air(scenario)


def test_a_sensor_that_is_no_meter_cannot_be_zeroed(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = followed.studio.add("Meter", FITNESS_MACHINE)
        await sensor.wake()
        sensor.start(BIKE_DATA, bike_data, 0.05)
        await followed.use(sensor)
        zeroed = await followed.roster.zero_offset(choice(sensor))
        assert "by radio" in zeroed.said[-1]
        assert sensor.written == []

    air(scenario)


def test_one_that_leaves_while_it_is_asked_is_told_and_can_be_asked_again(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await meter(followed, None)
        asking = asyncio.create_task(followed.roster.zero_offset(choice(sensor)))
        await eventually(lambda: sensor.written)
        await sensor.leave()
        zeroed = await asking
        assert zeroed.answer is not None
        assert not zeroed.answer.done
        await followed.comes_to(sensor, Phase.LOST)
        with pytest.raises(CallFailed):
            await followed.roster.zero_offset(choice(sensor))
        sensor.answer = lambda _: b"\x20\x0c\x01\xff\xff"
        sensor.come_back()
        await followed.comes_to(sensor, Phase.LIVE)
        zeroed = await followed.roster.zero_offset(choice(sensor))
        assert zeroed.answer == OffsetAnswer(True)
        # What nobody asked for does no harm.
        await sensor.send(METER_POINT, b"\x20\x0c\x01\x00\x00")
        await asyncio.sleep(0.05)
        assert len(lines(followed)) == 2

    air(scenario)
