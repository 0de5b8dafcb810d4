"""``posewatch camera level`` and ``check``: a camera set up, kept, shown and checked."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from command_runs import Ran, Run
from made_boards import Darkroom
from simulated_boards import (
    FRONT_MM,
    LENS,
    OFFSETS_MM,
    REAR_MM,
    WHEELBASE_MM,
    at_axles,
    camera_at,
)

from posewatch.camera.opencv import cv2
from posewatch.core.boards import board_named
from posewatch.core.lens_calibration import LensCalibration, LensSpread
from posewatch.core.plane import BikeView, project_px
from posewatch.core.records import Side
from posewatch.store.camera_shelf import read_profile
from posewatch.store.lens_file import save_lens
from posewatch.store.settings import load_settings

YAW = 6.0
CAMERA = camera_at(Side.LEFT, YAW, 1.0, -1.0, up_mm=450.0)
PLACES = ("front", "crank", "rear")


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with front.png, crank.png and rear.png: the large board at a bike's left side."""
    folder = tmp_path_factory.mktemp("boards")
    darkroom, board = Darkroom(LENS), board_named("bike-a3")
    for place, held in zip(PLACES, at_axles(Side.LEFT, 3.0, -5.0, 8.0), strict=True):
        cv2.imwrite(str(folder / f"{place}.png"), darkroom.picture(board, held.seen_by(CAMERA)))
    return folder


@pytest.fixture
def data_folder() -> Path:
    return load_settings().data_folder


@pytest.fixture
def calibrated(data_folder: Path) -> None:
    """The camera called side has a lens file."""
    sd = LensSpread(0.5, 0.5, 0.5, 0.5)
    ranges = (-30.0, 30.0), (-30.0, 30.0)
    found = LensCalibration(LENS, 0.2, sd, 20, 900, 0.9, *ranges, (), "lens-a3", 100.0)
    save_lens("side", found, data_folder)


def boards(folder: Path) -> list[object]:
    return [part for place in PLACES for part in (f"--{place}", folder / f"{place}.png")]


def points(camera: BikeView, crank_mm: float = 172.5) -> list[str]:
    front, crank, rear = OFFSETS_MM
    places = {
        "front": (*FRONT_MM, front),
        "rear": (*REAR_MM, rear),
        "crank": (0.0, 0.0, crank),
        "pedal-top": (0.0, crank_mm, crank),
        "pedal-bottom": (0.0, -crank_mm, crank),
    }
    seen = project_px(LENS, camera, np.array(list(places.values())))
    return [
        part
        for name, (x, y) in zip(places, seen, strict=True)
        for part in (f"--{name}-at", f"{x:.1f},{y:.1f}")
    ]


LENGTHS = ("--wheelbase-mm", WHEELBASE_MM, "--crank-length-mm", 172.5)


def files(folder: Path) -> list[str]:
    return sorted(path.name for path in (folder / "cameras" / "side").glob("*"))


@pytest.mark.usefixtures("calibrated")
def test_boards_set_a_camera_up(run: Run, pictures: Path, data_folder: Path) -> None:
    options = ("--bike", "road [1]", "--wheelbase-mm", 1001, "--depths", "hip=95, knee=110.5")
    ran = run("camera", "level", "--name", "side", *boards(pictures), *options, "--note", "taped")
    assert (ran.status, ran.err) == (0, "")
    saved = read_profile("side", data_folder)
    view = saved.profile.view
    assert view.side is Side.LEFT
    assert view.yaw_deg == pytest.approx(YAW, abs=0.5)
    assert saved.setup.wheelbase_mm == pytest.approx(WHEELBASE_MM, rel=0.005)
    assert (saved.bike, saved.note, saved.version) == ("road [1]", "taped", 1)
    depths = saved.profile.depths
    assert (depths.hip, depths.knee, depths.shoulder) == (95.0, 110.5, 180.0)
    assert saved.profile.lens == LENS
    for words in (
        "front: bike-a3 in front.png, 6 corners",
        f"saved side/v1 as {data_folder / 'cameras' / 'side' / 'setup-v1.json'}",
        "camera side, set up beside road [1]",
        "from boards",
        "sees the rider's left side; the bike points to the left in the picture",
        "front 55, crank 75, rear 72 mm (usual for road bikes)",
        "note kept with it: taped",
        "hip 95, knee 110.5",
        "(1001 told)",
        "note: the camera looks 6.",
    ):
        assert words in ran.out
    assert re.search(r"yaw .* \+[56]\.\d\d deg .* 0\.\d\d", ran.out)


@pytest.mark.usefixtures("calibrated")
def test_every_set_up_is_kept_and_shown(run: Run, pictures: Path, data_folder: Path) -> None:
    for _ in range(2):
        assert run("camera", "level", "--name", "side", *boards(pictures)).status == 0
    assert files(data_folder) == ["lens.json", "setup-v1.json", "setup-v2.json"]
    newest, first = run("camera", "check", "side"), run("camera", "check", "side/v1")
    by_path = run("camera", "check", data_folder / "cameras" / "side" / "setup-v1.json")
    assert (newest.status, first.status) == (0, 0)
    assert by_path.out == first.out
    assert "(0 days ago)" in newest.out
    assert "one SD" in newest.out


@pytest.mark.usefixtures("calibrated")
def test_a_board_checks_a_saved_profile(run: Run, pictures: Path, data_folder: Path) -> None:
    assert run("camera", "level", "--name", "side", *boards(pictures)).status == 0
    good = run("camera", "check", "side", pictures / "crank.png")
    assert good.status == 0
    found = re.search(r"squares of 88\.0 mm measure (\S+) mm \((\S+) mm, (\S+) %\)", good.out)
    assert found
    assert float(found[1]) == pytest.approx(88.0, abs=0.3)
    assert abs(float(found[3])) < 0.4
    assert "more than 1 % off" not in good.out
    off = run("camera", "check", "side", pictures / "crank.png", "--offset-mm", 175)
    assert off.status == 0
    assert "more than 1 % off" in off.out
    assert "level the camera again" in off.out


@pytest.mark.usefixtures("calibrated")
def test_typed_points_set_a_camera_up_and_say_what_stays_in_doubt(
    run: Run, data_folder: Path
) -> None:
    camera = camera_at(Side.RIGHT, 0.0, up_mm=450.0)
    ran = run("camera", "level", "--name", "side", "--typed", *points(camera), *LENGTHS)
    assert (ran.status, ran.err) == (0, "")
    assert "from typed points" in ran.out
    assert "how square the camera stands is only known to" in ran.out
    saved = read_profile("side", data_folder)
    assert saved.profile.view.side is Side.RIGHT
    assert saved.setup.scale_mm_per_px == pytest.approx(3500 / 860, rel=0.01)


@pytest.mark.usefixtures("calibrated")
def test_offsets_and_heights_can_be_typed(run: Run, pictures: Path, data_folder: Path) -> None:
    offsets = ("--front-offset-mm", 65, "--crank-offset-mm", 85, "--rear-offset-mm", 82)
    higher = ("--front-axle-higher-mm", 20)
    ran = run("camera", "level", "--name", "side", *boards(pictures), *offsets, *higher)
    assert "front 65, crank 85, rear 82 mm\n" in ran.out
    view = read_profile("side", data_folder).profile.view
    # All boards 10 mm nearer to the camera than before: so is the middle plane.
    assert view.distance_mm == pytest.approx(3510.0, abs=15.0)
    assert abs(view.roll_deg + 1.0) == pytest.approx(1.145, abs=0.1)


def refused(ran: Ran, words: str, data_folder: Path) -> None:
    assert ran.status == 2
    assert words in ran.err
    assert ran.err.count("\n") == 1
    assert files(data_folder) in ([], ["lens.json"])


@pytest.mark.usefixtures("calibrated")
@pytest.mark.parametrize(
    ("options", "words"),
    [
        ((), "Not given: --front, --crank, --rear. Give"),
        (("--front", "f.png", "--rear", "r.png"), "Not given: --crank."),
        (("--front", "f.png", "--crank", "c.png", "--rear", "r.png"), "There is no picture f.png"),
        (("--typed",), "Not given: --front-at, --rear-at"),
        (("--typed", *points(CAMERA)), "Not given: --wheelbase-mm, --crank-length-mm."),
        (("--typed", "--front", "f.png"), "were mixed"),
        (("--front-at", "1,2"), "were mixed"),
        (("--typed", *points(CAMERA)[2:], "--front-at", "12", *LENGTHS), "--front-at cannot be"),
        (("--depths", "nose=3"), "'nose=3' is no joint's depth"),
        (("--depths", "hip=wide"), "'hip=wide' is no joint's depth"),
        (("--depths", "hip=nan"), "'hip=nan' is no joint's depth"),
        (("--depths", "hip=-5"), "'hip=-5' is no joint's depth"),
        (("--lens", "other"), "The camera other is not calibrated"),
    ],
)
def test_what_was_asked_for_cannot_be(
    run: Run, data_folder: Path, options: tuple[object, ...], words: str
) -> None:
    refused(run("camera", "level", "--name", "side", *options), words, data_folder)


def test_a_camera_without_a_lens_file_is_told_what_to_do(
    run: Run, pictures: Path, data_folder: Path
) -> None:
    ran = run("camera", "level", "--name", "side", *boards(pictures))
    refused(ran, "The camera side is not calibrated", data_folder)
    assert "camera calibrate" in ran.err


@pytest.mark.usefixtures("calibrated")
def test_a_bar_of_another_unit_and_a_bad_name_are_refused(
    run: Run, pictures: Path, data_folder: Path
) -> None:
    ran = run("camera", "level", "--name", "side", *boards(pictures), "--bar-mm", 10)
    refused(ran, "cannot be 10 mm long", data_folder)
    refused(run("camera", "level", "--name", "a/b"), "cannot be called 'a/b'", data_folder)


@pytest.mark.usefixtures("calibrated")
def test_check_refuses_what_is_not_there_or_was_altered(
    run: Run, pictures: Path, data_folder: Path
) -> None:
    ran = run("camera", "check", "side")
    assert (ran.status, ran.out) == (2, "")
    assert "There is no camera side" in ran.err
    run("camera", "level", "--name", "side", *boards(pictures))
    path = data_folder / "cameras" / "side" / "setup-v1.json"
    document = json.loads(path.read_text(encoding="utf-8"))
    document["lens"]["fx_px"] += 1.0
    path.write_text(json.dumps(document), encoding="utf-8")
    ran = run("camera", "check", "side")
    assert ran.status == 2
    assert "fingerprint does not belong" in ran.err
