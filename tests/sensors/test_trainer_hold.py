"""A virtual trainer that answers, refuses or falls silent: it is let go on every fault."""

from __future__ import annotations

import asyncio
import struct
from collections.abc import Awaitable, Callable

import pytest
from bumble.att import ATT_Error, ErrorCode
from followed_sensors import Followed, eventually
from virtual_sensor import (
    BIKE_DATA,
    CSC_MEASUREMENT,
    FITNESS_MACHINE,
    POWER,
    POWER_MEASUREMENT,
    SPEED_AND_CADENCE,
    TRAINER_STATUS,
    VirtualSensor,
    bike_data,
    pedalling_cadence,
    pedalling_power,
)

from posewatch.core.records import SourceCondition
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_link import Phase
from posewatch.core.trainer_state import Stage
from posewatch.sensors.calls import CallFailed

Air = Callable[[Callable[[Followed], Awaitable[None]]], None]

EVERY_S = 0.025
REQUEST, STOP, RESET = b"\x00", b"\x08\x01", b"\x01"


def power(watts: int) -> bytes:
    return b"\x05" + struct.pack("<h", watts)


def willing(data: bytes) -> bytes:
    """Answer every order with success."""
    return bytes((0x80, data[0], 0x01))


async def trainer(
    followed: Followed, answer: Callable[[bytes], bytes | None] = willing
) -> VirtualSensor:
    """Use a trainer whose crank turns and that answers so."""
    sensor = followed.studio.add("Trainer", FITNESS_MACHINE)
    sensor.answer = answer
    await sensor.wake()
    sensor.start(BIKE_DATA, bike_data, EVERY_S)
    await followed.use(sensor)
    return sensor


def choice(sensor: VirtualSensor) -> SensorChoice:
    return SensorChoice(sensor.name, sensor.address)


async def held(followed: Followed, sensor: VirtualSensor, watts: int = 150) -> None:
    """Let a trainer hold a power, the raise confirmed."""
    asked = await followed.roster.hold_power(choice(sensor), watts)
    assert asked.unconfirmed_w == watts
    state = await followed.roster.hold_power(choice(sensor), watts, confirmed=True)
    assert (state.stage, state.held_w) == (Stage.HOLDING, watts)


def told(followed: Followed) -> list[SourceCondition]:
    """What was said of the hold."""
    return [one.condition for one in followed.events if _is_of_hold(one)]


def _is_of_hold(event: object) -> bool:
    return getattr(event, "source", "") == "power hold of Trainer"


def test_nothing_is_written_until_a_raise_is_confirmed(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed)
        state = await followed.roster.hold_power(choice(sensor), 150)
        assert (state.stage, state.unconfirmed_w) == (Stage.OFF, 150)
        assert sensor.written == []
        await held(followed, sensor)
        assert sensor.written == [REQUEST, power(150)]
        # A step of 20 W, and every lower power, goes at once.
        assert (await followed.roster.hold_power(choice(sensor), 170)).held_w == 170
        assert (await followed.roster.hold_power(choice(sensor), 90)).held_w == 90
        assert sensor.written[2:] == [power(170), power(90)]
        assert followed.roster.hold_state(choice(sensor)).held_w == 90

    air(scenario)


def test_its_own_range_is_kept_to(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed)
        state = await followed.roster.hold_power(choice(sensor), 410)  # it says 0 to 400 W
        assert "25 to 400 W" in state.text
        assert state.unconfirmed_w is None
        assert sensor.written == []

    air(scenario)


def test_released_it_is_lowered_stopped_and_given_up(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed)
        await held(followed, sensor)
        state = await followed.roster.release(choice(sensor))
        assert (state.stage, state.fault) == (Stage.OFF, False)
        assert sensor.written[2:] == [power(50), STOP, RESET]
        assert told(followed) == [SourceCondition.RUNNING, SourceCondition.ENDED]
        assert sensor.n_links == 1

    air(scenario)


def test_a_sensor_that_is_forgotten_is_let_go_first(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed)
        await held(followed, sensor)
        await followed.roster.forget(choice(sensor))
        assert sensor.written[2:] == [power(50), STOP, RESET]
        await eventually(lambda: sensor.n_links == 0)
        assert followed.roster.hold_state(choice(sensor)).stage is Stage.OFF

    air(scenario)


def test_closing_the_roster_lets_go_too(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed)
        await held(followed, sensor)
        await followed.roster.close()
        assert sensor.written[2:] == [power(50), STOP, RESET]
        await eventually(lambda: sensor.n_links == 0)

    air(scenario)


@pytest.mark.parametrize("code", [0x02, 0x03, 0x04, 0x05, 0x77])
def test_a_trainer_that_gives_no_control_is_not_held(air: Air, code: int) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed, lambda data: bytes((0x80, data[0], code)))
        await followed.roster.hold_power(choice(sensor), 150)
        state = await followed.roster.hold_power(choice(sensor), 150, confirmed=True)
        assert (state.stage, state.fault, state.held_w) == (Stage.OFF, True, None)
        assert "did not give control" in state.text
        assert sensor.written == [REQUEST]
        assert told(followed) == [SourceCondition.LOST]

    air(scenario)


def test_a_trainer_that_refuses_the_power_is_let_go(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        def answer(data: bytes) -> bytes:
            return bytes((0x80, data[0], 0x03 if data == power(200) else 0x01))

        sensor = await trainer(followed, answer)
        await held(followed, sensor)
        await followed.roster.hold_power(choice(sensor), 200)
        state = await followed.roster.hold_power(choice(sensor), 200, confirmed=True)
        assert (state.stage, state.fault) == (Stage.OFF, True)
        assert "did not take 200 W" in state.text
        assert sensor.written[3:] == [power(50), STOP, RESET]

    air(scenario)


def test_a_trainer_whose_stack_refuses_the_write_is_let_go(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        def answer(data: bytes) -> bytes:
            if data == power(160):
                raise ATT_Error(ErrorCode.UNLIKELY_ERROR)
            return willing(data)

        sensor = await trainer(followed, answer)
        await held(followed, sensor)
        state = await followed.roster.hold_power(choice(sensor), 160)
        assert (state.stage, state.fault) == (Stage.OFF, True)
        assert "could not be told" in state.text
        assert sensor.written[3:] == [power(50), STOP, RESET]

    air(scenario)


@pytest.mark.parametrize(
    ("mute_from", "words", "letting_go"),
    [
        (REQUEST, "did not answer the request for control in time", [RESET]),
        (power(150), "did not answer the order to hold 150 W in time", [power(50), STOP, RESET]),
        (power(160), "did not answer the order to hold 160 W in time", [power(50), STOP, RESET]),
        (RESET, "did not confirm that it is let go", [power(50), STOP, RESET]),
    ],
)
def test_a_trainer_that_falls_silent_is_let_go_and_its_link_ended(
    air: Air, mute_from: bytes, words: str, letting_go: list[bytes]
) -> None:
    async def scenario(followed: Followed) -> None:
        mute = False

        def answer(data: bytes) -> bytes | None:
            nonlocal mute
            mute = mute or data == mute_from
            return None if mute else willing(data)

        sensor = await trainer(followed, answer)
        await followed.roster.hold_power(choice(sensor), 150)
        state = await followed.roster.hold_power(choice(sensor), 150, confirmed=True)
        if not mute:
            state = await followed.roster.hold_power(choice(sensor), 160)
        if not mute:
            state = await followed.roster.release(choice(sensor))
        assert (state.stage, state.fault, state.held_w) == (Stage.OFF, True, None)
        assert words in state.text
        assert "its link is ended" in state.text
        assert sensor.written[-len(letting_go) :] == letting_go
        # Its link is ended and it comes back not held.
        await eventually(lambda: SourceCondition.LOST in followed.conditions(sensor))
        n_written = len(sensor.written)
        await followed.comes_to(sensor, Phase.LIVE)
        await asyncio.sleep(0.2)
        assert len(sensor.written) == n_written
        assert followed.roster.hold_state(choice(sensor)).stage is Stage.OFF

    air(scenario)


def test_one_that_is_lost_comes_back_not_held_and_can_be_held_again(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed)
        await held(followed, sensor)
        await sensor.leave()
        await followed.comes_to(sensor, Phase.LOST)
        await eventually(lambda: followed.roster.hold_state(choice(sensor)).fault)
        state = followed.roster.hold_state(choice(sensor))
        assert (state.stage, state.held_w) == (Stage.OFF, None)
        assert "not held when it comes back" in state.text
        with pytest.raises(CallFailed):
            await followed.roster.hold_power(choice(sensor), 150)
        sensor.come_back()
        await followed.comes_to(sensor, Phase.LIVE)
        await asyncio.sleep(0.2)
        assert sensor.written == [REQUEST, power(150)]
        # The same power again is a raise from nothing, and must be confirmed again.
        await held(followed, sensor)
        assert sensor.written[2:] == [REQUEST, power(150)]
        assert told(followed) == [
            SourceCondition.RUNNING,
            SourceCondition.LOST,
            SourceCondition.RUNNING,
        ]

    air(scenario)


def test_one_whose_values_stop_is_let_go_before_it_is_connected_anew(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed)
        await held(followed, sensor)
        sensor.stop(BIKE_DATA)
        await eventually(lambda: sensor.written[2:] == [power(50), STOP, RESET])
        await eventually(lambda: followed.roster.hold_state(choice(sensor)).stage is Stage.OFF)

    air(scenario)


def turning(rpm: int) -> Callable[[int], bytes]:
    """Records of a trainer whose cranks turn so (2AD2, cadence in 1/2 rpm)."""
    return lambda n: struct.pack("<HHHh", 0x0044, 3000, 2 * rpm, 150 + n % 50)


def test_one_whose_cadence_sinks_is_let_go_with_a_plain_reason(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed)
        await followed.roster.hold_power(choice(sensor), 150, cadence_rpm=90.0)
        await followed.roster.hold_power(choice(sensor), 150, confirmed=True)
        sensor.start(BIKE_DATA, turning(64), EVERY_S)  # 70 % of 90 rpm are 63
        await asyncio.sleep(0.4)
        assert followed.roster.hold_state(choice(sensor)).held_w == 150
        sensor.start(BIKE_DATA, turning(55), EVERY_S)
        await eventually(lambda: followed.roster.hold_state(choice(sensor)).stage is Stage.OFF)
        assert sensor.written[2:] == [power(50), STOP, RESET]
        assert set(told(followed)[1:]) == {SourceCondition.LOST}
        assert "sank to 55 rpm" in followed.roster.hold_state(choice(sensor)).text

    air(scenario)


def test_without_a_cadence_of_its_own_another_sensor_s_is_watched(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = followed.studio.add("Trainer", FITNESS_MACHINE)
        sensor.answer = willing
        await sensor.wake()
        # Without a cadence: speed and power alone.
        sensor.start(BIKE_DATA, lambda n: struct.pack("<HHh", 0x0040, 3000, 150 + n % 50), EVERY_S)
        pod = followed.studio.add("Pod", SPEED_AND_CADENCE)
        await pod.wake()
        pod.start(CSC_MEASUREMENT, pedalling_cadence, EVERY_S)
        await followed.use(sensor, pod)
        await held(followed, sensor)
        await eventually(lambda: followed.roster.hold_state(choice(sensor)).cadence.rpm)
        pod.stop(CSC_MEASUREMENT)
        await eventually(lambda: followed.roster.hold_state(choice(sensor)).stage is Stage.OFF)
        assert "No cadence was told" in followed.roster.hold_state(choice(sensor)).text
        assert sensor.written[2:] == [power(50), STOP, RESET]

    air(scenario)


def test_cranks_that_stand_get_no_power(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed)
        await followed.roster.hold_power(choice(sensor), 150)
        sensor.start(BIKE_DATA, turning(0), EVERY_S)
        await eventually(lambda: followed.roster.hold_state(choice(sensor)).cadence.rpm == 0.0)
        state = await followed.roster.hold_power(choice(sensor), 150, confirmed=True)
        assert "turn at 0 rpm" in state.text
        assert sensor.written == []

    air(scenario)


def test_one_that_fades_while_held_is_off_in_time(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed)
        await held(followed, sensor)
        sensor.fade()
        await followed.comes_to(sensor, Phase.LOST)
        await eventually(lambda: followed.roster.hold_state(choice(sensor)).stage is Stage.OFF)
        assert followed.roster.hold_state(choice(sensor)).fault

    air(scenario)


@pytest.mark.parametrize(
    ("status", "orders"),
    [(b"\xff", []), (b"\x02\x01", [power(50), STOP, RESET]), (b"\x03", [power(50), STOP, RESET])],
)
def test_what_is_done_at_the_trainer_ends_the_hold(
    air: Air, status: bytes, orders: list[bytes]
) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = await trainer(followed)
        await held(followed, sensor)
        await sensor.send(TRAINER_STATUS, status)
        await eventually(lambda: followed.roster.hold_state(choice(sensor)).stage is Stage.OFF)
        assert followed.roster.hold_state(choice(sensor)).fault
        assert sensor.written[2:] == orders

    air(scenario)


def test_a_sensor_that_is_no_trainer_cannot_be_held(air: Air) -> None:
    async def scenario(followed: Followed) -> None:
        sensor = followed.studio.add("Crank", POWER)
        await sensor.wake()
        sensor.start(POWER_MEASUREMENT, pedalling_power, EVERY_S)
        await followed.use(sensor)
        with pytest.raises(CallFailed, match="no control point"):
            await followed.roster.hold_power(choice(sensor), 150)
        with pytest.raises(CallFailed, match="not in use"):
            await followed.roster.hold_power(SensorChoice("Nobody"), 150)
        assert (await followed.roster.release(choice(sensor))).stage is Stage.OFF

    air(scenario)
