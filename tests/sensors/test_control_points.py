"""The bytes of the control points, against op codes that others wrote down.

Independent judge: bluetooth-sig 0.6.0 (op codes, results and status codes of 2AD9, 2ADA, 2A66 and
the layout of 2AD8). From memory: stop's parameter 1; a raw offset is signed, 0xFFFF = not known.
"""

from __future__ import annotations

import struct

import pytest
from bluetooth_sig.gatt.characteristics.cycling_power_control_point import (
    CyclingPowerOpCode,
    CyclingPowerResponseValue,
)
from bluetooth_sig.gatt.characteristics.fitness_machine_control_point import (
    FitnessMachineControlPointCharacteristic,
    FitnessMachineControlPointOpCode,
    FitnessMachineResultCode,
)
from bluetooth_sig.gatt.characteristics.fitness_machine_status import FitnessMachineStatusOpCode
from bluetooth_sig.gatt.characteristics.supported_power_range import (
    SupportedPowerRangeCharacteristic,
)

from posewatch.core.meter_offset import OffsetAnswer
from posewatch.core.trainer_records import (
    Answered,
    Command,
    ControlTaken,
    Order,
    PowerRange,
    Result,
    StoppedThere,
)
from posewatch.sensors import control_points

JUDGED = {
    Order.REQUEST_CONTROL: FitnessMachineControlPointOpCode.REQUEST_CONTROL,
    Order.RESET: FitnessMachineControlPointOpCode.RESET,
    Order.SET_POWER: FitnessMachineControlPointOpCode.SET_TARGET_POWER,
    Order.STOP: FitnessMachineControlPointOpCode.STOP_OR_PAUSE,
}
RESULTS = {
    FitnessMachineResultCode.SUCCESS: Result.SUCCESS,
    FitnessMachineResultCode.OP_CODE_NOT_SUPPORTED: Result.NOT_SUPPORTED,
    FitnessMachineResultCode.INVALID_PARAMETER: Result.INVALID,
    FitnessMachineResultCode.OPERATION_FAILED: Result.FAILED,
    FitnessMachineResultCode.CONTROL_NOT_PERMITTED: Result.NOT_PERMITTED,
}


@pytest.mark.parametrize(
    ("command", "data"),
    [
        (Command(Order.REQUEST_CONTROL), b"\x00"),
        (Command(Order.RESET), b"\x01"),
        (Command(Order.SET_POWER, 180), b"\x05\xb4\x00"),
        (Command(Order.SET_POWER, 300), b"\x05\x2c\x01"),
        (Command(Order.SET_POWER, -1), b"\x05\xff\xff"),
        (Command(Order.STOP), b"\x08\x01"),
    ],
)
def test_orders(command: Command, data: bytes) -> None:
    assert control_points.encode_order(command) == data
    judged = FitnessMachineControlPointCharacteristic().parse_value(bytearray(data))
    assert judged.op_code == JUDGED[command.order]


def test_ending_the_link_is_no_order() -> None:
    with pytest.raises(ValueError, match="not sent"):
        control_points.encode_order(Command(Order.END_LINK))


@pytest.mark.parametrize("order", JUDGED)
def test_answers(order: Order) -> None:
    known = {int(one): result for one, result in RESULTS.items()}
    for code in range(256):
        data = bytes((FitnessMachineControlPointOpCode.RESPONSE_CODE, JUDGED[order], code))
        assert control_points.decode_answer(data) == Answered(order, known.get(code, Result.OTHER))


@pytest.mark.parametrize("data", [b"", b"\x80", b"\x80\x00", b"\x20\x00\x01", b"\x80\x11\x01"])
def test_what_is_no_answer_to_an_order(data: bytes) -> None:
    assert control_points.decode_answer(data) is None


def test_status() -> None:
    ends = {
        int(FitnessMachineStatusOpCode.CONTROL_PERMISSION_LOST): ControlTaken(),
        int(FitnessMachineStatusOpCode.RESET): StoppedThere(),
        int(FitnessMachineStatusOpCode.FITNESS_MACHINE_STOPPED_OR_PAUSED_BY_USER): StoppedThere(),
        int(FitnessMachineStatusOpCode.FITNESS_MACHINE_STOPPED_BY_SAFETY_KEY): StoppedThere(),
    }
    for code in range(256):
        assert control_points.decode_status(bytes((code, 1))) == ends.get(code)


def test_an_empty_status_says_nothing() -> None:
    assert control_points.decode_status(b"") is None


def test_the_power_range() -> None:
    data = struct.pack("<hhH", 25, 800, 5)
    judged = SupportedPowerRangeCharacteristic().parse_value(bytearray(data))
    assert control_points.decode_power_range(data) == PowerRange(judged.minimum, judged.maximum)


@pytest.mark.parametrize("data", [b"", b"\0" * 5, b"\0" * 6, struct.pack("<hhH", -9, 800, 5)])
def test_a_range_that_cannot_be(data: bytes) -> None:
    assert control_points.decode_power_range(data) is None


def test_the_order_to_take_the_offset() -> None:
    assert control_points.encode_start_offset() == bytes(
        (CyclingPowerOpCode.START_OFFSET_COMPENSATION,)
    )


@pytest.mark.parametrize(
    ("tail", "raw"),
    [
        (b"\x40\x01", 320),
        (b"\x70\xfe", -400),
        (b"\xff\xff", None),
        (b"", None),
        (b"\x40", None),
        (b"\x40\x01\x99", 320),
    ],
)
def test_the_offset_that_was_taken(tail: bytes, raw: int | None) -> None:
    head = bytes((CyclingPowerOpCode.RESPONSE_CODE, 0x0C, CyclingPowerResponseValue.SUCCESS))
    assert control_points.decode_offset_answer(head + tail) == OffsetAnswer(True, raw)


@pytest.mark.parametrize(
    ("code", "words"), [(2, "by radio"), (3, "question"), (4, "cranks moved"), (9, "0x09")]
)
def test_an_offset_that_was_refused(code: int, words: str) -> None:
    answer = control_points.decode_offset_answer(bytes((0x20, 0x0C, code)))
    assert answer is not None
    assert not answer.done
    assert words in answer.why


@pytest.mark.parametrize("data", [b"", b"\x20\x0c", b"\x20\x04\x01", b"\x80\x0c\x01"])
def test_what_is_no_answer_about_the_offset(data: bytes) -> None:
    assert control_points.decode_offset_answer(data) is None
