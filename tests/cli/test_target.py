"""``posewatch target``: a position captured, kept, listed, shown, changed, compared, passed on."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from calibrated_cameras import camera
from command_runs import Run
from linkage_rider import Pose, ride
from made_profiles import saved as saved_profile
from made_rides import write_ride

from posewatch.store.camera_profile_file import render_profile
from posewatch.store.target_document import SCHEMA_FILE


def saved(run: Run) -> str:
    """The names in the list, or its one line where there are none."""
    out = run("target", "list").out
    return out if out.startswith("no targets") else "".join(f"{n}\n" for n in names(out))


def names(listed: str) -> list[str]:
    return [line.split("  ")[0] for line in listed.splitlines()[1:]]


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
        return Pose(crank_deg, hip_m=(0.0, 0.12 if 16.0 <= t_s < 19.0 else 0.0))

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


def test_one_sit_and_no_calibration_are_said_plainly(run: Run, captured: str) -> None:
    out = run("target", "show", captured).out
    assert (
        "captured from one sit: what a fresh sit adds is not known; three sits of 20 strokes would "
        "tell"
    ) in out
    assert ", one sit" in out
    assert "mm*: nominal, for a thigh of 430 mm" in out
    assert "in all 5 required bands with probability" in out


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


@pytest.fixture
def captured(run: Run, reference_recording: Path) -> str:
    """The name of a saved target."""
    assert run("target", "capture", reference_recording, "--hands", "hoods").status == 0
    return "rider/bike/hoods"


def held(run: Run, name: str, tmp_path: Path) -> dict[str, Any]:
    """A saved target's channels, as its file has them."""
    path = tmp_path / f"{uuid4().hex}.json"
    assert run("target", "export", name, path).status == 0
    document = json.loads(path.read_text(encoding="utf-8"))
    return {one["channel"]: one for one in document["envelopes"]} | {"whole": document}


def test_limits_at_capture(run: Run, reference_recording: Path, tmp_path: Path) -> None:
    limits = ("--tol", "torso=2.5", "--tol", "sitting-place=6", "--advisory", "hand place")
    more = ("--required", "pelvis_height", "--tol", "Knee=3")
    ran = run("target", "capture", reference_recording, "--hands", "hoods", *limits, *more)
    assert (ran.status, ran.err) == (0, "")
    found = held(run, "rider/bike/hoods", tmp_path)
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


def test_a_limit_tighter_than_the_noise_takes_force(
    run: Run, captured: str, tmp_path: Path
) -> None:
    ran = run("target", "edit", captured, "--tol", "torso=0.05", "--tol", "knee=5")
    assert (ran.status, ran.out) == (2, "")
    assert "SD of one stroke value; at least 2 are needed" in ran.err
    assert "--force" in ran.err
    assert names(run("target", "list").out) == [f"{captured}/v1"]
    ran = run("target", "edit", captured, "--tol", "torso=0.05", "--force")
    assert ran.status == 0
    assert "tighter than the noise: torso: it is" in ran.out
    assert held(run, captured, tmp_path)["torso"]["tol"] == 0.05
    # What was forced once stands in nobody's way, as long as it is not touched.
    assert run("target", "edit", captured, "--tol", "hip=6").status == 0
    assert run("target", "edit", captured, "--required", "torso", "--note", "x").status == 2


def test_an_edit_is_a_new_version_and_the_old_one_stays(
    run: Run, captured: str, tmp_path: Path
) -> None:
    before = held(run, captured, tmp_path)["whole"]
    ran = run(
        "target", "edit", captured, "--tol", "hip=6", "--advisory", "knee", "--note", "wider",
        "--author", "B",
    )  # fmt: skip
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith(f"saved {captured}/v2 as ")
    found = held(run, captured, tmp_path)
    assert (found["hip"]["tol"], found["knee"]["required"]) == (6.0, False)
    assert (found["whole"]["note"], found["whole"]["author"]) == ("wider", "B")
    assert found["whole"]["crank"] == before["crank"]
    assert held(run, f"{captured}/v1", tmp_path)["whole"] == before
    again = run("target", "edit", captured, "--tol", "hip=6", "--note", "wider")
    assert (again.status, again.out) == (2, "")
    assert "Nothing would change" in again.err
    assert names(run("target", "list").out) == [f"{captured}/v1", f"{captured}/v2"]


def test_compare_shows_what_moved_and_what_of_it_is_told(
    run: Run, captured: str, tmp_path: Path
) -> None:
    lower = write_ride(
        tmp_path / "lower.landmarks.npz", ride(30.0, lambda _, deg: Pose(deg, torso_deg=39.0))
    )
    assert run("target", "capture", lower, "--hands", "drops").status == 0
    ran = run("target", "compare", captured, "rider/bike/drops")
    assert (ran.status, ran.err) == (0, "")
    rows = {
        line.split("\u2502")[1].strip(): line for line in ran.out.splitlines() if "\u2502" in line
    }
    torso, knee = (rows[name].split("\u2502") for name in ("torso", "knee"))
    assert float(torso[2].split()[0]) == pytest.approx(-3.0, abs=0.2)
    assert "not told" not in torso[4]
    assert float(knee[2].split()[0]) == pytest.approx(0.0, abs=0.5)
    assert {"hand place, forward", "hand place, up", "sitting place"} <= set(rows)
    assert f"{captured} was captured from one sit" in ran.out


def test_other_chains_are_told_and_have_no_mm(run: Run, captured: str, tmp_path: Path) -> None:
    other = write_ride(tmp_path / "left.landmarks.npz", ride(30.0, facing=-1))
    assert run("target", "capture", other, "--hands", "left", "--kit", "tights").status == 0
    ran = run("target", "compare", captured, "rider/bike/left")
    assert ran.status == 0
    assert "No mm claims: they differ in near side: right / left" in ran.out
    assert "sitting place" not in ran.out


def test_a_target_goes_out_and_comes_in_again(run: Run, captured: str, tmp_path: Path) -> None:
    path = tmp_path / "out.json"
    assert run("target", "export", captured, path).out == f"wrote {path}\n"
    text = path.read_text(encoding="utf-8")
    refused = run("target", "export", captured, path)
    assert (refused.status, "exists already" in refused.err) == (2, True)
    ran = run("target", "import", path)
    assert ran.out.startswith(f"saved {captured}/v2 as ")
    ran = run("target", "import", path, "--rider", "R9", "--hands", "aero")
    assert ran.out.startswith("saved R9/bike/aero/v1 as ")
    before, after = (held(run, name, tmp_path)["whole"] for name in (captured, "R9/bike/aero"))
    assert after == before | {"rider": "R9", "hands": "aero", "version": 1}
    assert after["created"] == json.loads(text)["created"]
    assert path.read_text(encoding="utf-8") == text


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"width_px": 641}, "chain: the fingerprint does not belong to this chain; it was altered"),
        ({"fingerprint": "0" * 16}, "it was altered"),
        ({"colour": "red"}, "chain.colour: this key is not known"),
    ],
)
def test_an_altered_file_is_refused(
    run: Run, captured: str, tmp_path: Path, change: dict[str, object], message: str
) -> None:
    path = tmp_path / "out.json"
    run("target", "export", captured, path)
    document = json.loads(path.read_text(encoding="utf-8"))
    document["chain"] |= change
    path.write_text(json.dumps(document), encoding="utf-8")
    ran = run("target", "import", path)
    assert (ran.status, ran.out) == (2, "")
    assert message in ran.err
    assert names(run("target", "list").out) == [f"{captured}/v1"]


def test_names_that_cannot_be_are_refused_at_import(
    run: Run, captured: str, tmp_path: Path
) -> None:
    path = tmp_path / "out.json"
    run("target", "export", captured, path)
    ran = run("target", "import", path, "--bike", "a/b")
    assert (ran.status, "The bike cannot be called 'a/b'" in ran.err) == (2, True)


def test_a_broken_file_does_not_hide_the_others(run: Run, captured: str) -> None:
    path = Path(run("target", "edit", captured, "--note", "x").out.split(" as ")[1].split("\n")[0])
    path.write_text("{", encoding="utf-8")
    ran = run("target", "list")
    assert ran.status == 0
    lines = ran.out.splitlines()
    assert lines[1].startswith(f"{captured}/v1 ")
    assert lines[2].split("  ")[-1].strip() != "not calibrated"
    assert "cannot be used" in lines[2]
    assert lines[3].startswith(f"{path} is not a target file")


def test_show_draws_a_figure_when_asked(run: Run, captured: str, tmp_path: Path) -> None:
    path = tmp_path / "t.svg"
    ran = run("target", "show", captured, "--figure", path)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith(f"drew {path}\n")
    assert path.read_text(encoding="utf-8").startswith("<?xml")
    again = run("target", "show", captured, "--figure", path)
    assert (again.status, again.out) == (2, "")
    assert "exists already" in again.err


def test_the_schema_is_printed_as_it_is(run: Run) -> None:
    ran = run("target", "schema")
    assert ran.out == SCHEMA_FILE.read_text(encoding="utf-8")
    assert json.loads(ran.out)["properties"]["format_version"]["const"] == 2


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
