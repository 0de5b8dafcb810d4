"""``posewatch target``: a position captured with its limits, kept and listed."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from calibrated_cameras import camera
from command_runs import Run
from linkage_rider import Pose, ride
from made_profiles import saved as saved_profile
from made_rides import write_ride
from saved_targets import channels_of, saved

from posewatch.store.camera_profile_file import render_profile


def test_capture_list_show_and_a_copy(run: Run, reference_recording: Path, tmp_path: Path) -> None:
    assert saved(run).startswith("no targets in ")
    copy = tmp_path / "copy [1].json"
    options = ("--rider", "R 7", "--bike", "road", "--hands", "hoods", "-o", copy)
    ran = run("target", "capture", reference_recording, *options)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith("saved R 7/road/hoods/v1 as ")
    assert f"copied to {copy}\n" in ran.out
    kept = json.loads(copy.read_text(encoding="utf-8"))
    assert (kept["rider"], kept["version"], kept["side"]) == ("R 7", 1, "right")
    assert saved(run) == "R 7/road/hoods/v1\n"
    by_name, by_path = run("target", "show", "R 7/road/hoods"), run("target", "show", copy)
    assert by_name.out == by_path.out
    for word in ("right side", "sitting place", "advisory", "90 rpm"):
        assert word in by_name.out
    assert run("target", "capture", reference_recording, *options[:-2]).status == 0
    assert saved(run) == "R 7/road/hoods/v1\nR 7/road/hoods/v2\n"


def test_piped_output_holds_no_bar_and_breaks_no_line(run: Run, reference_recording: Path) -> None:
    ran = run("target", "capture", reference_recording, "--hands", "a" * 40, "--rider", "b" * 40)
    lines = ran.out.splitlines()
    assert lines[0].startswith(f"saved {'b' * 40}/bike/{'a' * 40}/v1 as ")
    assert lines[0].endswith("v1.json")
    assert "\x1b" not in ran.out
    assert "\r" not in ran.out
    assert "reading" not in ran.out


PoseAt = Callable[[float, float], Pose]


def still(t_s: float, crank_deg: float) -> Pose:
    return Pose(90.0)


def nobody(t_s: float, crank_deg: float) -> Pose:
    return Pose(0.0, seen=False)


@pytest.mark.parametrize(
    ("pose", "seconds", "message"),
    [
        pytest.param(nobody, 4.0, "No rider is seen in ride.landmarks.npz.", id="nobody"),
        pytest.param(still, 10.0, "Nobody pedals in ride.landmarks.npz", id="never pedals"),
        pytest.param(None, 12.0, "good strokes were found in ride.landmarks.npz", id="too short"),
    ],
)
def test_a_clip_that_holds_no_target(
    run: Run, tmp_path: Path, pose: PoseAt | None, seconds: float, message: str
) -> None:
    recording = write_ride(tmp_path / "ride.landmarks.npz", ride(seconds, pose))
    copy = tmp_path / "copy.json"
    ran = run("target", "capture", recording, "--hands", "hoods", "-o", copy)
    assert (ran.status, ran.out) == (2, "")
    assert message in ran.err
    assert ran.err.count("\n") == 1
    assert not copy.exists()
    assert saved(run).startswith("no targets in ")


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--hands", "a/b"), "The hands cannot be called 'a/b'"),
        (("--hands", "hoods", "-o", "there.json"), "exists already and was left as it is"),
        (("--hands", "hoods", "-o", "no folder/x.json"), "there is no folder no folder"),
        (("--hands", "hoods", "--start", "40"), "is over before 40 s"),
        (("--hands", "hoods", "--start", "4", "--end", "4"), "has no part from 4 s to 4 s"),
        (("--hands", "hoods", "--model", "huge"), "model cannot be"),
    ],
)
def test_what_was_asked_for_cannot_be(
    run: Run,
    reference_recording: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    options: tuple[str, ...],
    message: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("there.json").write_text("mine", encoding="utf-8")
    ran = run("target", "capture", reference_recording, *options)
    assert (ran.status, ran.out) == (2, "")
    assert message in ran.err
    assert ran.err.count("\n") == 1
    assert Path("there.json").read_text(encoding="utf-8") == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["there.json"]
    assert saved(run).startswith("no targets in ")


def test_clips_and_sits_inside_a_clip_are_sits(run: Run, tmp_path: Path) -> None:
    def pose(t_s: float, crank_deg: float) -> Pose:
        return Pose(crank_deg, hip_m=(0.15 if 16.0 <= t_s < 19.0 else 0.0, 0.0))

    first = write_ride(tmp_path / "a.landmarks.npz", ride(35.0, pose, seed=2))
    second = write_ride(tmp_path / "b.landmarks.npz", ride(16.0, seed=3))
    options = ("--hands", "hoods", "--author", "the fitter", "--note", "after lunch")
    ran = run("target", "capture", first, second, *options)
    assert (ran.status, ran.err) == (0, "")
    for words in ("in 3 sits (", "by the fitter", "note: after lunch"):
        assert words in ran.out
    assert "fresh sit adds is not known" not in ran.out
    assert ", one sit" not in ran.out
    listed = run("target", "list").out.splitlines()
    assert listed[0].split() == ["target", "kept", "by", "sits", "strokes", "camera"]
    assert "the fitter" in listed[1]
    assert "not calibrated" in listed[1]


def test_a_calibrated_camera_gives_mm(run: Run, tmp_path: Path) -> None:
    seen_by = camera()
    path = tmp_path / "camera.json"
    path.write_text(render_profile(saved_profile(profile=seen_by)), encoding="utf-8")
    recording = write_ride(tmp_path / "r.landmarks.npz", ride(30.0, camera=seen_by))
    ran = run("target", "capture", recording, "--hands", "hoods", "--camera", path)
    assert (ran.status, ran.err) == (0, "")
    assert "mm*" not in ran.out
    assert "8.0 mm" in ran.out
    assert "calibrated" in run("target", "list").out
    ran = run("target", "capture", recording, "--hands", "hoods", "--camera", "nowhere")
    assert (ran.status, ran.out) == (2, "")
    assert "There is no camera nowhere" in ran.err


def test_limits_at_capture(run: Run, reference_recording: Path, tmp_path: Path) -> None:
    limits = ("--tol", "torso=2.5", "--tol", "sitting-place=6", "--advisory", "hand place")
    more = ("--required", "pelvis_height", "--tol", "Knee=3")
    ran = run("target", "capture", reference_recording, "--hands", "hoods", *limits, *more)
    assert (ran.status, ran.err) == (0, "")
    found = channels_of(run, "rider/bike/hoods", tmp_path)
    assert (found["torso"]["tol"], found["knee"]["tol"]) == (2.5, 3.0)
    assert found["sitting place"]["tol"] == pytest.approx(6.0 / 430.0)
    assert (found["hand place"]["required"], found["pelvis height"]["required"]) == (False, True)
    assert found["hip"]["required"] is True


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--tol", "torso"), "--tol cannot be 'torso'. Give CHANNEL=NUMBER"),
        (("--tol", "torso=-1"), "--tol cannot be 'torso=-1'"),
        (("--tol", "torso=nan"), "--tol cannot be 'torso=nan'"),
        (("--tol", "ankle=3"), "--tol names no channel: 'ankle'. Channels are torso, knee"),
        (("--required", "power"), "--required names no channel: 'power'"),
        (("--required", "hip", "--advisory", "hip"), "hip cannot be required and advisory at once"),
        (
            ("--advisory=torso", "--advisory=knee", "--advisory=hip", "--advisory=hand place")
            + ("--advisory=sitting place",),
            "No channel would be required",
        ),
        (("--tol", "torso=0.05"), "Tighter than the noise: torso 0.05 deg: it is"),
    ],
)
def test_limits_that_cannot_be(
    run: Run, reference_recording: Path, options: tuple[str, ...], message: str
) -> None:
    ran = run("target", "capture", reference_recording, "--hands", "hoods", *options)
    assert (ran.status, ran.out) == (2, "")
    assert message in ran.err
    assert ran.err.count("\n") == 1
    assert saved(run).startswith("no targets in ")


def test_hands_must_be_said(run: Run, reference_recording: Path) -> None:
    assert run("target", "capture", reference_recording).status == 2


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("modl = 3", "there is no setting 'modl'"),
        ('sit_in_s = "x"', "sit_in_s cannot be 'x'"),
        ("sit_in_s = ", "is not TOML"),
    ],
)
def test_settings_that_cannot_be_used(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str, message: str
) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text(text, encoding="utf-8")
    monkeypatch.setenv("POSEWATCH_SETTINGS", str(bad))
    ran = run("target", "list")
    assert (ran.status, ran.out) == (2, "")
    assert message in ran.err
    assert ran.err.count("\n") == 1
    monkeypatch.setenv("POSEWATCH_SETTINGS", str(tmp_path / "none.toml"))
    assert "There is no settings file" in run("target", "list").err
