"""``posewatch target``: a position captured, kept, listed and shown."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from command_runs import Run
from linkage_rider import Pose, ride
from made_rides import write_ride


def saved(run: Run) -> str:
    return run("target", "list").out


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
