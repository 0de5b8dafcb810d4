"""Packets say what they are known to say, and broken ones are refused whole."""

from __future__ import annotations

import random
from collections import Counter

import pytest
from made_packets import made_packet
from sensor_payloads import PAYLOADS, SEQUENCES, Payload, Sequence

from posewatch.core.sensor_records import (
    Battery,
    Characteristic,
    CyclingPower,
    HeartRate,
    IndoorBike,
    Location,
    SpeedAndCadence,
    Turns,
)
from posewatch.sensors.gatt import decode
from posewatch.sensors.gatt_fields import PacketProblem

N_BROKEN = 100_000


@pytest.mark.parametrize("payload", PAYLOADS, ids=lambda payload: payload.hex)
def test_known_packets_say_what_is_known_of_them(payload: Payload) -> None:
    assert decode(payload.characteristic, payload.data) == payload.record


def crank_of(payload: Payload) -> Turns:
    record = decode(payload.characteristic, payload.data)
    assert isinstance(record, CyclingPower | SpeedAndCadence)
    assert record.crank is not None
    return record.crank


@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda sequence: sequence.payloads[0].hex)
def test_counters_of_known_packets_give_the_known_cadence(sequence: Sequence) -> None:
    cranks = [crank_of(payload) for payload in sequence.payloads]
    for before, after, rpm in zip(cranks[:-1], cranks[1:], sequence.rpm, strict=True):
        turns = (after.count - before.count) % 2**after.count_bits
        ticks = (after.ticks - before.ticks) % 2**16
        assert (turns == 0) == (rpm is None)
        if rpm is not None:
            assert 60 * after.ticks_per_s * turns / ticks == pytest.approx(rpm, abs=0.002)


def test_one_trainers_wheel_takes_the_same_time_through_both_services() -> None:
    heard = [
        [decode(payload.characteristic, payload.data) for payload in sequence.payloads]
        for sequence in SEQUENCES
        if sequence.payloads[0].hex in ("30008800a25e0100af1d4b63967f", "03a25e01006d0e4b63967f")
    ]
    seconds = []
    for before, after in heard:
        assert isinstance(before, CyclingPower | SpeedAndCadence)
        assert isinstance(after, CyclingPower | SpeedAndCadence)
        assert before.wheel is not None
        assert after.wheel is not None
        assert after.wheel.count - before.wheel.count == 2
        seconds.append((after.wheel.ticks - before.wheel.ticks) / after.wheel.ticks_per_s)
    assert seconds == [1130 / 1024, 1130 / 1024]


def may_end_at(characteristic: Characteristic, data: bytes) -> set[int]:
    """Give the lengths at which a packet can be cut off unnoticed: in lists that run to the end.

    2A64 may end behind any value, 2A37 behind any interval (and one byte on). 2AD2 with a wide
    resistance is a case of its own: one byte less is what it would have with a narrow one.
    """
    flags, length = data[0], len(data)
    match characteristic:
        case Characteristic.CYCLING_POWER_VECTOR if flags & 0b1100:
            fixed = 1 + (4 if flags & 1 else 0) + (2 if flags & 2 else 0)
            return set(range(fixed, length, 2))
        case Characteristic.HEART_RATE_MEASUREMENT if flags & 16:
            fixed = 1 + (2 if flags & 1 else 1) + (2 if flags & 8 else 0)
            return set(range(fixed, length))
    return set()


def readable_prefixes(characteristic: Characteristic, data: bytes) -> set[int]:
    readable = set()
    for length in range(len(data)):
        try:
            decode(characteristic, data[:length])
        except PacketProblem:
            continue
        readable.add(length)
    return readable


@pytest.mark.parametrize("characteristic", Characteristic)
def test_what_is_cut_off_is_noticed(characteristic: Characteristic) -> None:
    chance = random.Random(7)
    flag_bytes = 2 if characteristic in ("2A63", "2AD2") else 1
    for _ in range(500):
        flags = chance.getrandbits(8 * flag_bytes)
        if characteristic == "2A64" and flags & 0b1100 == 0b1100:
            flags ^= 0b1000
        data = made_packet(characteristic, flags, chance)
        decode(characteristic, data)
        assert readable_prefixes(characteristic, data) == may_end_at(characteristic, data)


@pytest.mark.parametrize("payload", PAYLOADS, ids=lambda payload: payload.hex)
def test_what_is_cut_off_known_packets_is_noticed(payload: Payload) -> None:
    record, data = payload.record, payload.data
    expected = may_end_at(payload.characteristic, data)
    if isinstance(record, IndoorBike) and record.resistance is not None:
        expected = {len(data) - 1}
    assert readable_prefixes(payload.characteristic, data) == expected


def broken_packet(characteristic: Characteristic, chance: random.Random) -> bytes:
    if chance.random() < 0.5:
        return chance.randbytes(chance.randint(0, 40))
    data = made_packet(characteristic, chance.getrandbits(8), chance)
    return data[: chance.randint(0, len(data))]


def test_broken_packets_raise_nothing_but_the_decoders_own_error() -> None:
    chance = random.Random(20)
    read: Counter[Characteristic] = Counter()
    refused: Counter[Characteristic] = Counter()
    for _ in range(N_BROKEN):
        characteristic = chance.choice(list(Characteristic))
        data = broken_packet(characteristic, chance)
        try:
            decode(characteristic, data)
        except PacketProblem:
            refused[characteristic] += 1
        else:
            read[characteristic] += 1
    assert read.total() + refused.total() == N_BROKEN
    # Both come to pass everywhere, so that neither side is idle.
    assert all(read[characteristic] > 1000 for characteristic in Characteristic)
    assert all(refused[characteristic] > 200 for characteristic in Characteristic)


@pytest.mark.parametrize("characteristic", Characteristic)
def test_nothing_is_read_of_an_empty_packet(characteristic: Characteristic) -> None:
    with pytest.raises(PacketProblem, match="A packet of 0 bytes"):
        decode(characteristic, b"")


@pytest.mark.parametrize(
    ("characteristic", "data"),
    [
        ("2A63", "2000c80064000010ff"),
        ("2A5B", "0264000010ff"),
        ("2A65", "08000000ff"),
        ("2A37", "003effff"),
        ("2AD2", "0500b400ff"),
        ("2A64", "0164000010ff"),
        ("2A5D", "05ff"),
        ("2A19", "50ff"),
    ],
)
def test_bytes_that_no_flag_announces_are_ignored(characteristic: str, data: str) -> None:
    packet = bytes.fromhex(data)
    assert decode(characteristic, packet) == decode(characteristic, packet[:-1])


def test_reserved_flags_are_ignored() -> None:
    assert decode("2A63", bytes.fromhex("20e0c80064000010")) == decode(
        "2A63", bytes.fromhex("2000c80064000010")
    )
    assert decode("2A5B", bytes.fromhex("fe64000010")) == decode(
        "2A5B", bytes.fromhex("0264000010")
    )


def test_the_refusal_names_the_packet_its_length_and_what_it_needs() -> None:
    with pytest.raises(PacketProblem) as caught:
        decode("2A63", bytes.fromhex("2000c800640000"))
    assert caught.value.what == (
        "A packet of 7 bytes from cycling power measurement (2A63) cannot be read: "
        "its flags (0x20) call for 8."
    )
    assert "If this goes on" in caught.value.advice


def test_a_characteristic_that_is_not_known_is_refused() -> None:
    with pytest.raises(PacketProblem, match="from 2A6E cannot be read: one of 2A63, 2A64,"):
        decode("2A6E", b"\x00\x00")


def test_the_heart_rate_may_have_two_bytes_contact_and_energy() -> None:
    # flags 0x1F; 256 a minute; 0x0102 = 258 kJ; 512 and 1024 ticks
    assert decode("2A37", bytes.fromhex("1f0001020100020004")) == HeartRate(
        256, contact=True, energy_kj=258, rr_s=(0.5, 1.0)
    )


@pytest.mark.parametrize(
    ("flags", "contact"), [(0b000, None), (0b010, None), (0b100, False), (0b110, True)]
)
def test_contact_is_told_only_by_sensors_that_can_tell(flags: int, contact: bool | None) -> None:
    assert decode("2A37", bytes([flags, 70])) == HeartRate(70, contact=contact)


def test_location_and_battery() -> None:
    assert decode("2A5D", b"\x0d") == Location(13)
    assert decode("2A19", b"\x64") == Battery(100)


def test_a_battery_of_more_than_all_is_refused() -> None:
    with pytest.raises(PacketProblem, match="it says 101 of 100 percent"):
        decode("2A19", b"\x65")
