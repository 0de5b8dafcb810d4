"""What all packets have in common: a head that begins with flags, then what the flags announce.

Everything is little-endian. A packet that is too short for its flags is refused whole, since its
fields would be read shifted. Reserved flags, and bytes behind the last announced field, are
ignored: a later version of a profile may add fields at the end, and the profiles' own conformance
tests send such packets (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from struct import Struct
from typing import NamedTuple

from posewatch.core.sensor_records import Characteristic
from posewatch.errors import PosewatchError


class PacketProblem(PosewatchError):
    """A packet is too short for what it announces, or says what cannot be.

    Args:
        characteristic: where it came, as :class:`Characteristic` writes it.
        data: all of it.
        why: what was expected instead.
    """

    def __init__(self, characteristic: str, data: bytes, why: str) -> None:
        where = _in_words(characteristic)
        super().__init__(
            f"A packet of {len(data)} bytes from {where} cannot be read: {why}.",
            "If this goes on, bring the sensor's own software up to date or use another sensor.",
        )


def _in_words(characteristic: str) -> str:
    try:
        name = Characteristic(characteristic).name
    except ValueError:
        return characteristic
    return f"{name.replace('_', ' ').lower()} ({characteristic})"


class Field(NamedTuple):
    """A field that one bit of the flags announces.

    when_set, when_clear: its form, in the letters of :mod:`struct`; "" = it is not there.
    """

    bit: int
    when_set: str
    when_clear: str = ""


@dataclass(frozen=True, slots=True)
class Fields:
    """One packet taken apart.

    head: what is always there; the flags come first. by_bit: the fields that are there, as raw
    numbers, by the bit that announces them. rest: the bytes behind them.
    """

    head: tuple[int, ...]
    by_bit: dict[int, tuple[int, ...]]
    rest: bytes

    def flag(self, bit: int) -> bool:
        """Whether a bit of the flags is set."""
        return bool(self.head[0] >> bit & 1)

    def number(self, bit: int) -> int | None:
        """Give a field of one number, None = not there."""
        numbers = self.by_bit.get(bit)
        return None if numbers is None else numbers[0]

    def scaled(self, bit: int, units_per_one: int) -> float | None:
        """Give a field of one number in units of 1/units_per_one, None = not there."""
        number = self.number(bit)
        return None if number is None else number / units_per_one

    def pair(self, bit: int) -> tuple[int, int] | None:
        """Give a field of two numbers, None = not there."""
        numbers = self.by_bit.get(bit)
        return None if numbers is None else (numbers[0], numbers[1])


class Layout:
    """The layout of one characteristic.

    Args:
        characteristic: which.
        head: form of what is always there, flags first, in the letters of :mod:`struct`.
        fields: what the flags announce, in the order of the packet.
    """

    def __init__(self, characteristic: Characteristic, head: str, *fields: Field) -> None:
        self.characteristic = characteristic
        self._head = Struct(f"<{head}")
        self._fields = tuple(
            (field.bit, (Struct(f"<{field.when_clear}"), Struct(f"<{field.when_set}")))
            for field in fields
        )

    def length(self, data: bytes) -> int:
        """Give the bytes that the packet's flags call for.

        Raises:
            PacketProblem: it is too short to hold flags and head.
        """
        head = self._head_of(data)
        return self._head.size + sum(forms[head[0] >> bit & 1].size for bit, forms in self._fields)

    def read(self, data: bytes) -> Fields:
        """Take a packet apart.

        Raises:
            PacketProblem: it is shorter than its flags call for.
        """
        head = self._head_of(data)
        at = self._head.size
        by_bit: dict[int, tuple[int, ...]] = {}
        for bit, forms in self._fields:
            form = forms[head[0] >> bit & 1]
            if form.size:
                if at + form.size > len(data):
                    why = f"its flags ({head[0]:#x}) call for {self.length(data)}"
                    raise PacketProblem(self.characteristic, data, why)
                by_bit[bit] = form.unpack_from(data, at)
                at += form.size
        return Fields(head, by_bit, data[at:])

    def _head_of(self, data: bytes) -> tuple[int, ...]:
        if len(data) < self._head.size:
            why = f"at least {self._head.size} are needed"
            raise PacketProblem(self.characteristic, data, why)
        return self._head.unpack_from(data)
