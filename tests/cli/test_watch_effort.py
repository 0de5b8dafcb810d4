"""Power and cadence from recorded sensors in a watch: held, logged, replayed, or refused."""

from __future__ import annotations

import json
import struct
from pathlib import Path

import pytest
from command_runs import Run
from linkage_rider import ride
from made_rides import write_ride

from posewatch.core.records import Effort
from posewatch.core.sensor_records import Packet
from posewatch.store.session_reader import SessionReader

CRANK = "C0:00:00:00:00:01"


def write_stream(path: Path, watts: int, seconds: float) -> Path:
    """A crank meter at 90 rpm, four packets a second (2A63 with crank revolutions)."""
    head = {
        "format": "posewatch sensor packets",
        "format_version": 1,
        "begun": "2026-01-02T10:00:00+00:00",
        "sensors": [{"name": "Crank", "platform_id": CRANK}],
    }
    lines = [json.dumps(head)]
    for n in range(int(seconds * 4)):
        t_s = n / 4
        turns = int(t_s * 1.5)
        data = (0x20).to_bytes(2, "little") + watts.to_bytes(2, "little", signed=True)
        data += turns.to_bytes(2, "little")
        data += (round(turns / 1.5 * 1024) % 65536).to_bytes(2, "little")
        line = {"t_ns": round(t_s * 1e9), "device": CRANK, "characteristic": "2A63"}
        lines.append(json.dumps(line | {"data": data.hex()}))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def with_torques(stream: Path, path: Path, location: int) -> Path:
    """The same, which sends twelve torques a turn (2A64) and says where it sits (2A5D)."""
    head, *lines = stream.read_text(encoding="utf-8").splitlines()
    sectors = (-4, 2, 12, 28, 34, 26, 12, 2, -6, -8, -8, -6)
    packets = [json.loads(line) for line in lines]
    packets.append(
        {"t_ns": 0, "device": CRANK, "characteristic": "2A5D", "data": f"{location:02x}"}
    )
    for turn in range(int(packets[-2]["t_ns"] / 1e9 * 1.5)):
        data = struct.pack("<BHH12h", 0x09, turn, turn * 683 % 65536, *(32 * t for t in sectors))
        t_ns = round((turn + 1) / 1.5 * 1e9)
        packet = {"t_ns": t_ns, "device": CRANK, "characteristic": "2A64"}
        packets.append(packet | {"data": data.hex()})
    packets.sort(key=lambda one: one["t_ns"])
    path.write_text("\n".join([head, *map(json.dumps, packets)]) + "\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def ridden(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_ride(tmp_path_factory.mktemp("effort") / "r.landmarks.npz", ride(25.0, seed=6))


def counted(run: Run, ridden: Path, target: Path, *more: object) -> int:
    ran = run("watch", "--source", ridden, "--target", target, "--fast", *more)
    assert (ran.status, ran.err) == (0, "")
    return int(ran.last_line.split()[1])


def test_strokes_count_only_at_the_planned_power(
    run: Run, tmp_path: Path, ridden: Path, target_file: Path
) -> None:
    held = ("--power-sensor", "Crank", "--cadence-sensor", CRANK, "--cadence", "90")
    at_200 = write_stream(tmp_path / "at_200.jsonl", 200, 26.0)
    at_230 = write_stream(tmp_path / "at_230.jsonl", 230, 26.0)
    alone = counted(run, ridden, target_file, "--session", tmp_path / "a")
    on_plan = counted(
        run, ridden, target_file, "--sensors", at_200, "--power", "200", *held,
        "--session", tmp_path / "b",
    )  # fmt: skip
    off_plan = counted(
        run, ridden, target_file, "--sensors", at_230, "--power", "200", *held,
        "--session", tmp_path / "c",
    )  # fmt: skip
    # The first strokes have no cadence yet: the crank's first pair of events makes one.
    assert alone - 3 <= on_plan <= alone
    assert off_plan == 0
    for name in ("b", "c"):
        assert run("replay", tmp_path / name).status == 0


def test_packets_and_what_came_of_them_are_in_the_session(
    run: Run, tmp_path: Path, ridden: Path, target_file: Path
) -> None:
    stream = write_stream(tmp_path / "s.jsonl", 200, 26.0)
    arguments = ("--sensors", stream, "--power-sensor", "Crank", "--session", tmp_path / "d")
    counted(run, ridden, target_file, *arguments)
    with SessionReader(tmp_path / "d") as session:
        inputs = [item for _, item in session.inputs()]
    packets = [i for i in inputs if isinstance(i, Packet)]
    recorded = stream.read_text(encoding="utf-8").splitlines()[1:]
    assert [p.data.hex() for p in packets] == [
        json.loads(line)["data"] for line in recorded[: len(packets)]
    ]
    assert len(packets) >= 99
    assert {i.power_w for i in inputs if isinstance(i, Effort)} == {200.0}


@pytest.mark.parametrize(
    ("location", "whose"),
    [(5, "of one leg"), (15, "of both legs together: one leg that pulls back is hidden")],
)
def test_smoothness_from_torques_is_told_with_its_definition(
    run: Run, tmp_path: Path, ridden: Path, target_file: Path, location: int, whose: str
) -> None:
    """Project arithmetic: these sectors are 20.588 % smooth and 72.414 % effective."""
    plain = write_stream(tmp_path / "plain.jsonl", 200, 26.0)
    stream = with_torques(plain, tmp_path / "torques.jsonl", location)
    session = tmp_path / "e"
    ran = run(
        "watch", "--source", ridden, "--target", target_file, "--fast", "--session", session,
        "--sensors", stream, "--power-sensor", "Crank",
    )  # fmt: skip
    assert ran.status == 0
    shown = run("session", "show", session)
    for said in (ran.out, shown.out):
        smooth, effective, definition = (
            next(line for line in said.splitlines() if line.startswith(begins))
            for begins in ("pedal smoothness: ", "torque effectiveness: ", "these two ")
        )
        assert smooth.startswith("pedal smoothness: 20.6 %, mean of ")
        assert smooth.endswith(" revolutions in position")
        # As many as counted, but for a turn at either end that a packet comes after.
        n_counted = int(ran.last_line.split()[1])
        assert abs(int(smooth.split()[-4]) - n_counted) <= 2
        assert "72.4 %" in effective
        assert "open wireless power profile, page 0x13" in definition
        assert whose in definition
    assert f"sensors: power from Crank, played from {stream}" in shown.out
    # It flags the trial and touches no stroke.
    assert ran.last_line.split()[1] == str(
        counted(run, ridden, target_file, "--session", tmp_path / "f")
    )
    assert run("replay", session).status == 0


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--power", "200"), "needs a sensor that measures it"),
        (("--power", "0", "--power-sensor", "Crank"), "power of 0 W cannot be held"),
        (("--power-sensor", "Other", "--sensors", "STREAM"), "no sensor called Other"),
    ],
)
def test_an_effort_that_cannot_be_held_is_refused(
    run: Run, tmp_path: Path, ridden: Path, target_file: Path, more: tuple[str, ...], said: str
) -> None:
    stream = write_stream(tmp_path / "s.jsonl", 200, 2.0)
    given = [stream if word == "STREAM" else word for word in more]
    session = tmp_path / "s"
    arguments = ("--source", ridden, "--target", target_file, "--fast", "--session", session)
    ran = run("watch", *arguments, *given)
    assert ran.status == 2
    assert said in " ".join(ran.err.split())
    assert not session.exists()
