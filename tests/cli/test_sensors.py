"""``posewatch sensors``, over a software stack instead of this computer's Bluetooth."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import pytest
from bumble.device import Device
from bumble_backend import VirtualStudio
from command_runs import Run
from virtual_sensor import (
    HEART_RATE,
    POWER,
    POWER_MEASUREMENT,
    RATE_MEASUREMENT,
    beating_heart,
    pedalling_power,
)

from posewatch.cli import listening
from posewatch.cli import sensors as commands
from posewatch.core.records import NS_PER_S, SourceCondition, SourceState
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_records import Packet
from posewatch.core.timebase import to_ns
from posewatch.sensors import client
from posewatch.store.packet_file import PacketWriter, read_packets


class Studio(VirtualStudio):
    """A studio whose sensors are there and awake from the first use of its Bluetooth on."""

    def __init__(self) -> None:
        super().__init__()
        self._planned: list[tuple[str, int]] = []

    def plan(self, name: str, service: int) -> str:
        """Have a sensor; returns its address."""
        self._planned.append((name, service))
        return f"F1:00:00:00:00:{len(self._planned):02X}"

    async def computer(self) -> Device:
        first = self.central is None
        computer = await super().computer()
        for name, service in self._planned if first else []:
            sensor = self.add(name, service)
            await sensor.wake()
            if service == POWER:
                sensor.start(POWER_MEASUREMENT, pedalling_power, 0.25)
            else:
                sensor.start(RATE_MEASUREMENT, beating_heart, 0.25)
        return computer


@pytest.fixture
def studio(monkeypatch: pytest.MonkeyPatch) -> Studio:
    """A studio whose Bluetooth is this computer's."""
    studio = Studio()
    monkeypatch.setattr(client, "SYSTEM", studio.backend)
    monkeypatch.setattr(commands, "LOOK_UP_S", 0.3)
    monkeypatch.setattr(commands, "CHECK_S", 0.3)
    return studio


def test_scan_lists_what_is_heard(run: Run, studio: Studio) -> None:
    crank = studio.plan("Crank", POWER)
    ran = run("sensors", "scan", "--seconds", "0.5")
    assert ran.status == 0
    assert all(word in ran.out for word in ("Crank", crank, "-50 dBm", "power"))


def test_scan_reads_battery_and_values_if_wished(run: Run, studio: Studio) -> None:
    studio.plan("Crank", POWER)
    ran = run("sensors", "scan", "--seconds", "0.5", "--read")
    assert "battery 87 %" in ran.out
    assert "left crank" in ran.out
    assert " W" in ran.out


def test_scan_without_anybody_says_what_to_do(run: Run, studio: Studio) -> None:
    ran = run("sensors", "scan", "--seconds", "0.5")
    assert ran.status == 0
    assert "wake them" in ran.out


def test_listen_prints_and_records_what_can_be_listened_to_again(
    run: Run, studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(listening, "SAY_NS", NS_PER_S // 4)
    studio.plan("Crank", POWER)
    studio.plan("Strap", HEART_RATE)
    path = tmp_path / "ride.jsonl"
    ran = run("sensors", "listen", "crank", "Strap", "--seconds", "1.5", "--record", path)
    assert ran.status == 0
    assert " W" in ran.out
    assert " rpm" in ran.out
    assert " bpm" in ran.out
    assert ran.last_line.endswith(f"recorded in {path}")
    recording = read_packets(path)
    kinds = {one.characteristic for one in recording.events if isinstance(one, Packet)}
    assert {"2A63", "2A37", "2A19", "2A65"} <= kinds
    assert [one.name for one in recording.sensors] == ["Crank", "Strap"]
    again = run("sensors", "listen", path, "--seconds", "0.8")
    assert again.status == 0
    assert "Crank: " in again.out


def test_a_name_of_two_is_asked_back(run: Run, studio: Studio) -> None:
    ids = [studio.plan(name, HEART_RATE) for name in ("Strap", "strap")]
    ran = run("sensors", "listen", "strap", "--seconds", "0.5")
    assert ran.status == 2
    assert all(one in ran.err for one in ids)


def test_one_that_is_not_there_is_searched_for(run: Run, studio: Studio) -> None:
    ran = run("sensors", "listen", "Crank", "--seconds", "0.5")
    assert ran.status == 0
    assert ran.last_line == "0 packets"


def test_check_says_that_it_works(run: Run, studio: Studio) -> None:
    studio.plan("Crank", POWER)
    ran = run("sensors", "check")
    assert ran.status == 0
    assert "heard 1 sensors" in ran.out


@pytest.mark.parametrize("command", [("check",), ("scan",), ("listen", "Crank")])
def test_without_the_service_each_command_says_what_to_do(
    run: Run, studio: Studio, command: tuple[str, ...]
) -> None:
    studio.trouble = FileNotFoundError(2, "No such file or directory")
    ran = run("sensors", *command)
    assert ran.status == 2
    assert "The Bluetooth service of this computer does not run." in ran.err
    assert "systemctl start bluetooth" in ran.err


def test_check_names_bluetooth_that_is_off(run: Run, studio: Studio) -> None:
    asyncio.run(studio.switch_off())
    ran = run("sensors", "check")
    assert ran.status == 2
    assert "Bluetooth is switched off." in ran.err


def test_a_recording_that_exists_is_left_alone(run: Run, studio: Studio, tmp_path: Path) -> None:
    path = tmp_path / "ride.jsonl"
    path.write_text("mine", encoding="utf-8")
    ran = run("sensors", "listen", "Crank", "--record", path)
    assert ran.status == 2
    assert path.read_text(encoding="utf-8") == "mine"


def test_a_recording_with_bad_packets_and_losses_is_listened_to(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "ride.jsonl"
    crank = SensorChoice("Crank", "F1:00:00:00:00:01")
    writer = PacketWriter(path, "2025-03-04T10:11:12+00:00", [crank])
    lost = "Crank is not found."
    writer.write(Packet(0, crank.platform_id, "2A63", bytes.fromhex("20000b000a6ed7fc")))
    writer.write(Packet(to_ns(0.1), crank.platform_id, "2A63", b"\x20"))
    writer.write(SourceState(to_ns(0.2), "Crank", SourceCondition.LOST, lost))
    writer.write(SourceState(to_ns(0.9), "Crank", SourceCondition.RUNNING, "Crank gives values."))
    writer.write(Packet(to_ns(0.9), crank.platform_id, "2A63", bytes.fromhex("20000b000b6e7501")))
    writer.write(Packet(to_ns(1.2), crank.platform_id, "2A19", b"\x57"))
    writer.close()
    with path.open("a", encoding="utf-8") as file:
        file.write(json.dumps({"t_ns": 5})[:4])
    ran = run("sensors", "listen", path)
    assert ran.status == 0
    assert "cut off" in ran.out
    assert lost in ran.out
    assert "Crank: 11 W" in ran.out
    assert "1 could not be read" in ran.out
    assert "rpm" not in ran.out  # the counters of two connections make no pair
    assert ran.last_line == "4 packets"
