"""The room on a drive, looked at every five seconds."""

from __future__ import annotations

from pathlib import Path

import pytest

from posewatch.core.records import NS_PER_S, SourceCondition, SourceState
from posewatch.errors import BadInput, PosewatchError
from posewatch.runtime import clock, disk_watch
from posewatch.runtime.disk_watch import DiskWatch, free_bytes, require_room
from posewatch.runtime.health import HealthMeter

MB = 1_000_000


class Drive:
    """A drive and a clock, both set by hand."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.free = 10_000 * MB
        self.now_ns = 0
        self.looks = 0
        monkeypatch.setattr(clock, "monotonic_ns", lambda: self.now_ns)
        monkeypatch.setattr(disk_watch, "free_bytes", self._look)

    def _look(self, folder: Path) -> int:
        self.looks += 1
        return self.free


@pytest.fixture
def drive(monkeypatch: pytest.MonkeyPatch) -> Drive:
    return Drive(monkeypatch)


def conditions(told: list[SourceState]) -> list[SourceCondition]:
    return [one.condition for one in told]


def test_it_looks_every_five_seconds_and_health_knows(drive: Drive) -> None:
    health = HealthMeter()
    watch = DiskWatch(Path("here"), health)
    for tenth in range(201):
        drive.now_ns = tenth * NS_PER_S // 10
        assert list(watch.told(drive.now_ns)) == []
    assert drive.looks == 5
    assert health.read().disk_free_bytes == drive.free


def test_first_it_warns_once_then_the_watch_ends(drive: Drive) -> None:
    watch = DiskWatch(Path("here"), HealthMeter())
    told: list[SourceState] = []

    def ride() -> None:
        for second in range(60):
            drive.now_ns = second * NS_PER_S
            drive.free = (1000 - 20 * second) * MB
            told.extend(watch.told(second * NS_PER_S))

    with pytest.raises(PosewatchError, match="only 0 MB are left on the drive of here"):
        ride()
    assert conditions(told) == [SourceCondition.LITTLE, SourceCondition.FULL]
    assert [one.t_ns // NS_PER_S for one in told] == [30, 50]


def test_the_last_word_comes_before_the_error(drive: Drive) -> None:
    drive.free = 1 * MB
    telling = DiskWatch(Path("here"), HealthMeter()).told(3)
    assert next(telling).condition is SourceCondition.FULL
    with pytest.raises(PosewatchError, match="What was recorded is kept"):
        next(telling)


def test_room_that_comes_back_is_told(drive: Drive) -> None:
    watch = DiskWatch(Path("here"), HealthMeter())
    told = []
    for number, free in enumerate((400, 450, 520, 560)):
        drive.now_ns, drive.free = number * 5 * NS_PER_S, free * MB
        told += watch.told(drive.now_ns)
    assert conditions(told) == [SourceCondition.LITTLE, SourceCondition.RUNNING]


def test_a_log_begins_only_with_room(drive: Drive, tmp_path: Path) -> None:
    require_room(tmp_path)
    drive.free = 499 * MB
    with pytest.raises(BadInput, match="needed to begin"):
        require_room(tmp_path)


def test_a_folder_to_come_is_asked_by_its_parent(tmp_path: Path) -> None:
    assert free_bytes(tmp_path / "a" / "b") == pytest.approx(free_bytes(tmp_path), rel=0.05)
    assert free_bytes(tmp_path) > 0


def test_a_drive_that_does_not_tell_is_not_known(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(folder: Path) -> None:
        raise OSError("gone")

    monkeypatch.setattr(disk_watch.shutil, "disk_usage", refuse)
    assert free_bytes(tmp_path) == -1
