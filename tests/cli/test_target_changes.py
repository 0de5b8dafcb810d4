"""``posewatch target``: saved targets shown, changed, compared and passed on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from command_runs import Run
from linkage_rider import Pose, ride
from made_rides import write_ride
from saved_targets import channels_of, document_of, names

from posewatch.store.target_document import SCHEMA_FILE


@pytest.fixture
def captured(run: Run, reference_recording: Path) -> str:
    """The name of a saved target."""
    assert run("target", "capture", reference_recording, "--hands", "hoods").status == 0
    return "rider/bike/hoods"


def test_one_sit_and_no_calibration_are_said_plainly(run: Run, captured: str) -> None:
    out = run("target", "show", captured).out
    assert (
        "captured from one sit: what a fresh sit adds is not known; three sits of 20 strokes would "
        "tell"
    ) in out
    assert ", one sit" in out
    assert "mm*: nominal, for a thigh of 430 mm" in out
    assert "in all 5 required bands with probability" in out


def test_a_limit_tighter_than_the_noise_takes_force(
    run: Run, captured: str, tmp_path: Path
) -> None:
    ran = run("target", "edit", captured, "--tol", "torso=0.05", "--tol", "knee=5")
    assert (ran.status, ran.out) == (2, "")
    assert "SD of one stroke value; at least 2 are needed" in ran.err
    assert "--force" in ran.err
    assert names(run) == [f"{captured}/v1"]
    ran = run("target", "edit", captured, "--tol", "torso=0.05", "--force")
    assert ran.status == 0
    assert "tighter than the noise: torso: it is" in ran.out
    assert channels_of(run, captured, tmp_path)["torso"]["tol"] == 0.05
    # What was forced once stands in nobody's way, as long as it is not touched.
    assert run("target", "edit", captured, "--tol", "hip=6").status == 0
    assert run("target", "edit", captured, "--required", "torso", "--note", "x").status == 2


def test_an_edit_is_a_new_version_and_the_old_one_stays(
    run: Run, captured: str, tmp_path: Path
) -> None:
    before = document_of(run, captured, tmp_path)
    ran = run(
        "target", "edit", captured, "--tol", "hip=6", "--advisory", "knee", "--note", "wider",
        "--author", "B",
    )  # fmt: skip
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith(f"saved {captured}/v2 as ")
    found = channels_of(run, captured, tmp_path)
    assert (found["hip"]["tol"], found["knee"]["required"]) == (6.0, False)
    after = document_of(run, captured, tmp_path)
    assert (after["note"], after["author"]) == ("wider", "B")
    assert after["crank"] == before["crank"]
    assert document_of(run, f"{captured}/v1", tmp_path) == before
    again = run("target", "edit", captured, "--tol", "hip=6", "--note", "wider")
    assert (again.status, again.out) == (2, "")
    assert "Nothing would change" in again.err
    assert names(run) == [f"{captured}/v1", f"{captured}/v2"]


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
    before, after = (document_of(run, name, tmp_path) for name in (captured, "R9/bike/aero"))
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
    assert names(run) == [f"{captured}/v1"]


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
