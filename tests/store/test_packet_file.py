"""Recordings of packets: whole lines, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from posewatch.core.records import SourceCondition, SourceState
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_records import Packet
from posewatch.errors import BadInput
from posewatch.store.packet_file import PacketWriter, is_packet_file, read_packets

BEGUN = "2025-03-04T10:11:12+00:00"
CRANK = SensorChoice("Crank Ä", "F1:00:00:00:00:01")
EVENTS = (
    Packet(0, CRANK.platform_id, "2A19", b"\x57"),
    SourceState(3, "Crank Ä", SourceCondition.RUNNING, "Crank Ä gives values."),
    Packet(3, CRANK.platform_id, "2A63", bytes.fromhex("20000b000a6ed7fc")),
    Packet(1_000_000_003, CRANK.platform_id, "2A63", b""),
    SourceState(2_000_000_000, "Crank Ä", SourceCondition.LOST, "Crank Ä is not found."),
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A recording of EVENTS."""
    path = tmp_path / "ride.packets.jsonl"
    writer = PacketWriter(path, BEGUN, [CRANK])
    for event in EVENTS:
        writer.write(event)
    writer.close()
    return path


def test_what_is_written_is_read(path: Path) -> None:
    read = read_packets(path)
    assert (read.begun, read.sensors, read.events) == (BEGUN, (CRANK,), EVENTS)
    assert not read.torn
    assert is_packet_file(path)


def test_each_event_is_on_the_disk_at_once(tmp_path: Path) -> None:
    writer = PacketWriter(tmp_path / "ride", BEGUN, [CRANK])
    writer.write(EVENTS[0])
    assert read_packets(tmp_path / "ride").events == EVENTS[:1]
    writer.close()
    writer.close()


def test_a_kill_at_any_byte_loses_the_last_line_at_most(path: Path) -> None:
    whole = path.read_bytes()
    head = whole.index(b"\n") + 1
    for n in range(head, len(whole) + 1):
        path.write_bytes(whole[:n])
        read = read_packets(path)
        n_lines = whole[head:n].count(b"\n")
        assert read.events == EVENTS[:n_lines], n
        assert read.torn == (whole[n - 1 : n] != b"\n"), n


def test_a_file_that_exists_is_left_as_it_is(path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(BadInput, match="exists already"):
        PacketWriter(path, BEGUN, [CRANK])
    assert path.read_bytes() == before


def test_a_folder_that_is_missing_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="cannot be written"):
        PacketWriter(tmp_path / "none" / "ride", BEGUN, [CRANK])


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("t_ns", -1, "t_ns"),
        ("t_ns", 1.5, "t_ns"),
        ("data", "2", "data"),
        ("data", "ZZ", "data"),
        ("data", "00" * 513, "data"),
        ("characteristic", "2a63", "characteristic"),
        ("device", None, "device"),
        ("more", 1, "more"),
    ],
)
def test_a_damaged_line_is_refused_by_its_number(
    path: Path, key: str, value: object, said: str
) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    lines[3] = json.dumps(json.loads(lines[3]) | {key: value})
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    with pytest.raises(BadInput, match=f"line 4: {said}"):
        read_packets(path)


def test_times_that_fall_are_refused(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([*lines, lines[1]]) + "\n", encoding="utf-8")
    with pytest.raises(BadInput, match="line 7: its time is before"):
        read_packets(path)


@pytest.mark.parametrize("text", ["", "nonsense", "[]", '{"format": "other"}', "\n\n"])
def test_other_files_are_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "other"
    path.write_text(text, encoding="utf-8")
    assert not is_packet_file(path)
    with pytest.raises(BadInput, match="is not a sensor packet file"):
        read_packets(path)


def test_a_later_version_is_refused(path: Path) -> None:
    text = path.read_text(encoding="utf-8").replace('"format_version": 1', '"format_version": 2')
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match="format version 2; this program reads 1"):
        read_packets(path)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    assert not is_packet_file(tmp_path / "none")
    with pytest.raises(BadInput, match="There is no sensor packet file"):
        read_packets(tmp_path / "none")
