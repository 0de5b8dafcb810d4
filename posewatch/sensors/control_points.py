"""The bytes of two control points: a trainer's (2AD9) and a power meter's (2A66).

Op codes, results and status codes of the Fitness Machine Service 1.0, and op codes and results of
the Cycling Power Service as the GATT Specification Supplement lists them. From memory: the
parameter of stop (1 = stop, 2 = pause), that a raw offset is signed with 0xFFFF for "not known",
and that it counts 1/32 N m where feature bit 16 of 2A65 is set, else N.
"""

from __future__ import annotations

import struct

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

FITNESS_MACHINE_CONTROL_POINT = "2AD9"
FITNESS_MACHINE_STATUS = "2ADA"
SUPPORTED_POWER_RANGE = "2AD8"
CYCLING_POWER_CONTROL_POINT = "2A66"

_ORDERS = {
    Order.REQUEST_CONTROL: 0x00,
    Order.RESET: 0x01,
    Order.SET_POWER: 0x05,
    Order.STOP: 0x08,
}
_BY_CODE = {code: order for order, code in _ORDERS.items()}
_STOP = 0x01
_TRAINER_RESPONSE = 0x80
_RESULTS = {
    0x01: Result.SUCCESS,
    0x02: Result.NOT_SUPPORTED,
    0x03: Result.INVALID,
    0x04: Result.FAILED,
    0x05: Result.NOT_PERMITTED,
}
_RESET_THERE, _STOPPED, _SAFETY_KEY, _CONTROL_LOST = 0x01, 0x02, 0x03, 0xFF

_START_OFFSET = 0x0C
_METER_RESPONSE = 0x20
_SUCCESS = 0x01
_REFUSALS = {
    0x02: "it cannot take its offset by radio",
    0x03: "it did not understand the question",
    0x04: "it could not take it: the cranks moved, carried load, or stood in another position",
}
_NOT_KNOWN = b"\xff\xff"


def encode_order(command: Command) -> bytes:
    """Return the bytes for the trainer's control point.

    Raises:
        ValueError: END_LINK is nothing that is sent.
    """
    code = _ORDERS.get(command.order)
    if code is None:
        raise ValueError(f"{command.order} is not sent to a control point")
    if command.order is Order.SET_POWER:
        return struct.pack("<Bh", code, command.watts)
    if command.order is Order.STOP:
        return bytes((code, _STOP))
    return bytes((code,))


def decode_answer(data: bytes) -> Answered | None:
    """Read an indication of 2AD9; None = no answer to any of our orders, or cut short."""
    if len(data) < 3 or data[0] != _TRAINER_RESPONSE or data[1] not in _BY_CODE:
        return None
    return Answered(_BY_CODE[data[1]], _RESULTS.get(data[2], Result.OTHER))


def decode_status(data: bytes) -> ControlTaken | StoppedThere | None:
    """Read a notification of 2ADA; None = nothing that ends the hold."""
    code = data[0] if data else None
    if code == _CONTROL_LOST:
        return ControlTaken()
    return StoppedThere() if code in (_RESET_THERE, _STOPPED, _SAFETY_KEY) else None


def decode_power_range(data: bytes) -> PowerRange | None:
    """Read 2AD8: lowest, highest (s16 W) and increment (u16 W); None = cut short or no range."""
    if len(data) < 6:
        return None
    lowest_w, highest_w, _ = struct.unpack_from("<hhH", data)
    return PowerRange(lowest_w, highest_w) if 0 <= lowest_w < highest_w else None


def encode_start_offset() -> bytes:
    """Return the bytes that tell a power meter to take its zero offset."""
    return bytes((_START_OFFSET,))


def decode_offset_answer(data: bytes) -> OffsetAnswer | None:
    """Read an indication of 2A66; None = not the answer to the offset, or cut short."""
    if len(data) < 3 or data[0] != _METER_RESPONSE or data[1] != _START_OFFSET:
        return None
    if data[2] != _SUCCESS:
        return OffsetAnswer(False, why=_REFUSALS.get(data[2], f"it answered {data[2]:#04x}"))
    parameter = data[3:5]
    if len(parameter) < 2 or parameter == _NOT_KNOWN:
        return OffsetAnswer(True)
    return OffsetAnswer(True, struct.unpack("<h", parameter)[0])
