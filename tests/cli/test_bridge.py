"""``posewatch bridge``: a new mounting held against a target, told and kept, never re-centred."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from command_runs import Ran, Run
from linkage_rider import Pose, ride
from made_rides import write_ride

from posewatch.store.bridge_file import read_bridge

FITTED = Pose(0.0)
#: Torso 2 degrees steeper, hip 6 mm forward and 4 up.
MOVED = Pose(0.0, torso_deg=44.0, hip_m=(0.006, 0.004))

Mount = Callable[..., Ran]


@pytest.fixture
def mount(run: Run, target_file: Path, tmp_path: Path) -> Mount:
    """Ride 20 s on a mounting that moves the rider like this, and bridge it."""

    def command(pose: Pose, label: str, *options: object) -> Ran:
        recording = tmp_path / f"{label}.landmarks.npz"
        if not recording.exists():
            frames = ride(20.0, lambda _, deg: replace(pose, crank_deg=deg), seed=len(label))
            write_ride(recording, frames)
        return run("bridge", target_file, recording, "--mounting", label, *options)

    return command


def test_a_mounting_like_the_target_is_within_the_aim(mount: Mount) -> None:
    ran = mount(FITTED, "A1", "--kit", "long tights")
    assert (ran.status, ran.err) == (0, "")
    first = "mounting A1, kit long tights: 20 strokes held against rider/bike/hoods/v0\n"
    assert ran.out.startswith(first)
    for channel in ("torso", "knee", "hip", "sitting place", "pelvis height"):
        assert f"\u2502 {channel} " in ran.out
    assert "hand place" not in ran.out
    assert "the target stays as it is" in ran.out
    assert "mm*: nominal" in ran.out
    assert ran.last_line == "within the aim: mm* may be compared between items"


def test_a_mounting_that_moves_the_rider_is_beyond_the_aim(
    mount: Mount, target_file: Path, tmp_path: Path
) -> None:
    before = target_file.read_bytes()
    ran = mount(MOVED, "B12", "-o", tmp_path / "b.json")
    assert (ran.status, ran.err) == (0, "")
    assert "torso: 2.0" in ran.out
    assert "hip's place: " in ran.out
    assert ran.last_line == (
        "beyond the aim: no mm claims between this mounting and others (torso, hip's place)"
    )
    assert target_file.read_bytes() == before
    kept = read_bridge(tmp_path / "b.json")
    assert (kept.mounting, kept.n_strokes) == ("B12", 20)
    assert kept.offsets[0].mean == pytest.approx(2.0, abs=0.15)
    assert kept.created


def test_two_mountings_moved_alike_may_be_compared(mount: Mount, tmp_path: Path) -> None:
    assert mount(MOVED, "B1", "-o", tmp_path / "b1.json").status == 0
    alike = mount(MOVED, "B12", "--against", tmp_path / "b1.json")
    assert "no mm claims between this mounting and others" in alike.out
    assert alike.last_line == "within the aim: mm* may be compared between items B12 and B1"
    other = mount(FITTED, "C123", "--against", tmp_path / "b1.json")
    assert other.last_line.startswith("beyond the aim: no mm claims between C123 and B1 (")


def test_another_chain_or_side_is_refused(run: Run, target_file: Path, tmp_path: Path) -> None:
    left = write_ride(tmp_path / "left.landmarks.npz", ride(20.0, facing=-1))
    ran = run("bridge", target_file, left, "--mounting", "A1")
    assert (ran.status, ran.out) == (3, "")
    assert "near side: right / left" in ran.err
    fast = write_ride(tmp_path / "fast.landmarks.npz", ride(20.0, rate_hz=60.0), 60.0)
    ran = run("bridge", target_file, fast, "--mounting", "A1")
    assert (ran.status, ran.out) == (3, "")
    assert "rate_hz: 30.0 / 60.0" in ran.err


def test_what_cannot_be_bridged(run: Run, mount: Mount, target_file: Path, tmp_path: Path) -> None:
    there = tmp_path / "there.json"
    there.write_text("mine", encoding="utf-8")
    for options, message in (
        (("-o", there), "exists already"),
        (("--against", there), "there.json is not a bridge file"),
        (("--end", "9"), "a bridge takes 20"),
        (("--camera", "nowhere"), "There is no camera nowhere"),
    ):
        ran = mount(FITTED, "A1", *options)
        assert (ran.status, ran.out) == (2, "")
        assert message in ran.err
        assert ran.err.count("\n") == 1
    assert there.read_text(encoding="utf-8") == "mine"
    assert json.loads(target_file.read_text(encoding="utf-8"))["version"] == 0
