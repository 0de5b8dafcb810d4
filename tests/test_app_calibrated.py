"""Calibrated cameras through the parts wired together: captured, watched, logged and replayed."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from calibrated_cameras import PLAIN, camera
from linkage_rider import Pose, ride
from made_rides import write_ride

from posewatch.app import Watcher, WatchResult
from posewatch.capturing import capture_target
from posewatch.core.capture import Subject
from posewatch.core.envelope import LengthUnit, Target
from posewatch.core.outputs import HoldLost, StrokeJudged
from posewatch.core.plane import CameraProfile, Lens
from posewatch.core.records import Channel, Side
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import BadInput, ChainMismatch
from posewatch.replaying import replay
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import load_settings
from posewatch.watched_source import Camera, Source

SUBJECT = Subject("rider", "bike", "hoods")
HERE = camera(Side.LEFT, 5.0, -2.0, 1.0)


def nothing(*_: object) -> None:
    pass


def source(path: Path, profile: CameraProfile | None) -> Source:
    return Source(path, "full", camera=None if profile is None else Camera(profile, None))


def drifting(t_s: float, crank_deg: float) -> Pose:
    """Slide by 12 mm from 12 to 16 s."""
    return Pose(crank_deg, hip_m=(0.012 if 12.0 <= t_s < 16.0 else 0.0, 0.0))


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Rides as the calibrated camera saw them: three sits to capture, and one to watch."""
    folder = tmp_path_factory.mktemp("calibrated")
    rides = {f"sit {n}": ride(15.0, seed=n, camera=HERE) for n in range(3)}
    rides["watched"] = ride(22.0, drifting, seed=9, camera=HERE)
    return {
        name: write_ride(folder / f"{name}.landmarks.npz", frames) for name, frames in rides.items()
    }


@pytest.fixture(scope="module")
def target(recordings: dict[str, Path]) -> Target:
    return capture_target(
        [source(recordings[f"sit {n}"], HERE) for n in range(3)], SUBJECT, nothing
    )


def watch(
    path: Path,
    profile: CameraProfile | None,
    target: Target,
    session: Path | None = None,
    any_chain: bool = False,
) -> WatchResult:
    watcher = Watcher(
        source(path, profile), target, WatchPlan(), load_settings(), session, any_chain
    )
    return watcher.run(nothing, nothing)


def test_several_recordings_make_one_calibrated_target(target: Target) -> None:
    assert (target.length_unit, target.side) == (LengthUnit.MM, Side.LEFT)
    assert len(target.sits) == 3
    assert all(n >= 20 for n in target.sits)
    assert all(e.resit_sd is not None for e in target.envelopes)
    assert target.chain.camera_profile == HERE.fingerprint()
    assert target.chain.view is not None
    assert target.chain.view.yaw_deg == pytest.approx(5.0)


def test_recordings_of_two_chains_make_no_target(recordings: dict[str, Path]) -> None:
    both = [source(recordings["sit 0"], HERE), source(recordings["sit 1"], None)]
    with pytest.raises(BadInput, match=r"sit 1.* is of another measuring chain than sit 0.*view"):
        capture_target(both, SUBJECT, nothing)


def test_a_calibrated_session_carries_its_profile_and_replays_to_the_bit(
    recordings: dict[str, Path], target: Target, tmp_path: Path
) -> None:
    first = watch(recordings["watched"], HERE, target, tmp_path / "first")
    second = watch(recordings["watched"], HERE, target, tmp_path / "second")
    assert first.totals.n_counted > 8
    lost = [(o.channel, o.direction) for o in first.outputs if isinstance(o, HoldLost)]
    assert lost == [(Channel.SITTING_PLACE, "sit back")]
    assert repr(first.outputs) == repr(second.outputs)
    with SessionReader(tmp_path / "first") as reader:
        assert reader.header.profile == HERE
        assert reader.header.chain == target.chain
        assert reader.header.target == target
    again = replay(tmp_path / "first", nothing)
    assert repr(again.outputs) == repr(first.outputs)
    assert (again.same, again.n_inputs) == (True, 660)


def test_a_replay_goes_by_the_session_s_profile(
    recordings: dict[str, Path], target: Target, tmp_path: Path
) -> None:
    """Without it the same landmarks are read as pixels, and nobody is this rider."""
    recorded = watch(recordings["watched"], HERE, target, tmp_path / "s")
    with sqlite3.connect(tmp_path / "s" / "session.sqlite") as connection:
        connection.execute("UPDATE meta SET value = 'null' WHERE key = 'profile'")
    connection.close()
    again = replay(tmp_path / "s", nothing)
    assert not again.same
    assert not any(isinstance(o, StrokeJudged) and o.counted for o in again.outputs)
    assert recorded.totals.n_counted > 0


def test_a_camera_set_up_anew_within_tolerance_is_watched(target: Target, tmp_path: Path) -> None:
    anew = camera(Side.LEFT, 6.5, -0.5, -1.0, PLAIN, 3550.0)
    path = write_ride(tmp_path / "anew.landmarks.npz", ride(12.0, seed=3, camera=anew))
    result = watch(path, anew, target, tmp_path / "s")
    assert result.totals.n_counted >= 8
    with SessionReader(tmp_path / "s") as reader:
        assert reader.header.profile == anew
        assert reader.header.chain.camera_profile != target.chain.camera_profile


@pytest.mark.parametrize(
    ("profile", "difference"),
    [
        (camera(Side.LEFT, 7.5, -2.0), "view: lens .*, yaw 5.0, .* / lens .*, yaw 7.5, "),
        (camera(Side.LEFT, 5.0, 1.0), "view: .* pitch -2.0 deg, .* pitch 1.0 deg"),
        (camera(Side.LEFT, 5.0, -2.0, 0.0, PLAIN, 3900.0), r"view: .* 3\.50 m / .* 3\.90 m"),
        (
            camera(Side.LEFT, 5.0, -2.0, 0.0, Lens(640, 480, 861.0, 860.0, 320.0, 240.0)),
            "view: lens",
        ),
        (None, "view: lens .* / uncalibrated"),
    ],
    ids=["yaw", "pitch", "distance", "lens", "uncalibrated"],
)
def test_another_camera_or_view_is_refused_and_leaves_nothing(
    recordings: dict[str, Path],
    target: Target,
    tmp_path: Path,
    profile: CameraProfile | None,
    difference: str,
) -> None:
    with pytest.raises(ChainMismatch, match=difference):
        watch(recordings["watched"], profile, target, tmp_path / "s")
    assert not (tmp_path / "s").exists()


def test_a_calibrated_camera_does_not_fit_an_uncalibrated_target(
    recordings: dict[str, Path], ridden_target: Target, tmp_path: Path
) -> None:
    with pytest.raises(ChainMismatch, match=r"view: uncalibrated / lens"):
        watch(recordings["watched"], HERE, ridden_target, tmp_path / "s")


def test_with_any_chain_an_unfit_view_is_watched_and_marked(
    recordings: dict[str, Path], target: Target, tmp_path: Path
) -> None:
    watch(recordings["watched"], None, target, tmp_path / "s", any_chain=True)
    with SessionReader(tmp_path / "s") as reader:
        assert reader.ending is not None
        assert "other chain: view: lens" in reader.ending.message
        assert reader.header.profile is None


def test_a_profile_of_another_picture_size_is_refused(recordings: dict[str, Path]) -> None:
    large = camera(Side.LEFT, lens=Lens(1280, 720, 900.0, 900.0, 640.0, 360.0))
    with pytest.raises(BadInput, match=r"of pictures of 1280 x 720; .* has 640 x 480"):
        capture_target([source(recordings["sit 0"], large)], SUBJECT, nothing)
