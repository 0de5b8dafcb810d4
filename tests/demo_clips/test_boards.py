"""The shipped board pictures, solved by the program, against the exact camera and bike.

The truth is ``demo_clips/boards/truth.json``, which the renderer wrote beside the pictures.
"""

import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from posewatch.camera.bike_view import BoardView, HeldHow, solve_boards
from posewatch.camera.board_check import check_board
from posewatch.camera.board_sightings import find_board
from posewatch.camera.clip import Clip
from posewatch.camera.lens_calibration import calibrate_lens
from posewatch.camera.lens_views import gather, look_through_folder
from posewatch.core.boards import BOARDS, board_named
from posewatch.core.plane import BikeView, CameraProfile

FOLDER = Path(__file__).parents[2] / "demo_clips" / "boards"
TRUTH = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))
BIKES = ("bike", "bike_yaw_6")
PLACES = ("front_axle", "crank", "rear_axle")
EVERY_FRAMES = 6
ALL_BYTES = 6 * 1000 * 1000
bikes = pytest.mark.parametrize("bike", BIKES)


@cache
def found_lens():
    boards = [board_named(TRUTH["lens_board"])]
    found = gather(look_through_folder(FOLDER / "lens", boards, lambda n, what: None))
    return calibrate_lens(found.views, found.size_px, found.board.name)


def pictures(path):
    clip = Clip(path)
    try:
        return [timed.rgb for timed in clip]
    finally:
        clip.close()


@cache
def held(bike, place):
    """The mean corners of the bike board at one place, from some of its pictures."""
    board = board_named(TRUTH["bike_board"])
    seen = [
        find_board(rgb, [board]) for rgb in pictures(FOLDER / bike / f"{place}.mp4")[::EVERY_FRAMES]
    ]
    corners_px = np.array([one.corners_px for one in seen])
    assert corners_px.shape == (10, board.n_corners, 2)
    return BoardView(board.corners_mm(), corners_px.mean(axis=0), seen[0].corner_sd_px)


@cache
def found_setup(bike):
    how = HeldHow(tuple(TRUTH["offsets_mm"][place] for place in PLACES))
    views = (held(bike, place) for place in PLACES)
    return solve_boards(found_lens().lens, *views, how)


def test_every_lens_view_is_of_use_and_the_lens_is_found_to_half_a_percent():
    found = found_lens()
    camera = TRUTH["cameras"]["bike"]
    assert found.n_views == 16
    assert found.coverage == 1.0
    assert (found.lens.width_px, found.lens.height_px) == tuple(camera["size_px"])
    for value, true in zip(
        (found.lens.fx_px, found.lens.fy_px), camera["focal_length_px"], strict=True
    ):
        assert value == pytest.approx(true, rel=0.005)
    middle = found.lens.cx_px, found.lens.cy_px
    assert middle == pytest.approx(camera["principal_point_px"], abs=3.0)
    assert found.rms_px < 0.2


@bikes
def test_the_view_of_the_bike_is_found(bike):
    found, camera = found_setup(bike), TRUTH["cameras"][bike]
    assert found.scale_mm_per_px == pytest.approx(camera["scale_mm_per_px"], rel=0.005)
    true = BikeView(
        tuple(camera["position_mm"]),
        tuple(v for row in camera["rotation_bike_to_camera"] for v in row),
    )
    assert true.yaw_deg == pytest.approx(camera["yaw_deg"], abs=1e-4)
    assert found.view.side is true.side
    assert found.view.yaw_deg == pytest.approx(true.yaw_deg, abs=0.5)
    assert found.view.roll_deg == pytest.approx(true.roll_deg, abs=0.3)
    assert found.view.pitch_deg == pytest.approx(true.pitch_deg, abs=0.5)
    assert found.view.distance_mm == pytest.approx(true.distance_mm, rel=0.01)


@bikes
def test_the_axles_are_found_where_they_are(bike):
    found = found_setup(bike)
    np.testing.assert_allclose(found.front_axle_mm, TRUTH["front_axle_mm"], atol=4.0)
    np.testing.assert_allclose(found.rear_axle_mm, TRUTH["rear_axle_mm"], atol=4.0)
    front_x, rear_x = TRUTH["front_axle_mm"][0], TRUTH["rear_axle_mm"][0]
    assert TRUTH["wheelbase_mm"] == front_x - rear_x


@bikes
def test_squares_measured_at_the_crank_have_their_size(bike):
    board = board_named(TRUTH["bike_board"])
    profile = CameraProfile(found_lens().lens, found_setup(bike).view)
    found = check_board(profile, held(bike, "crank"), board.square_mm, TRUTH["offsets_mm"]["crank"])
    assert abs(found.share) < 0.005
    assert found.n_sides == 7


@bikes
def test_a_board_said_to_be_where_it_is_not_spoils_the_view(bike):
    # What the limits above are worth: the trainer keeps the rear board far out.
    views = [held(bike, place) for place in PLACES]
    found = solve_boards(found_lens().lens, *views, HeldHow())
    assert abs(found.view.yaw_deg - TRUTH["cameras"][bike]["yaw_deg"]) > 2.0


@bikes
def test_the_clips_are_two_seconds_of_board_and_one_of_the_bike_alone(bike):
    for place in PLACES:
        assert len(pictures(FOLDER / bike / f"{place}.mp4")) == 60
    still = pictures(FOLDER / bike / "still.mp4")
    assert len(still) == 30
    assert find_board(still[0], BOARDS) is None


def test_the_board_trembles_and_the_pictures_are_noisy():
    still = np.array(pictures(FOLDER / "bike" / "still.mp4"), dtype=float)
    assert 0.3 < still.std(axis=0).mean() < 2 * TRUTH["noise_sd_grey_levels"]
    board = board_named(TRUTH["bike_board"])
    shown = pictures(FOLDER / "bike" / "crank.mp4")[::EVERY_FRAMES]
    middles_px = np.array([find_board(rgb, [board]).corners_px.mean(axis=0) for rgb in shown])
    moved_mm = middles_px.std(axis=0) * TRUTH["cameras"]["bike"]["scale_mm_per_px"]
    assert (moved_mm > 0.3 * TRUTH["tremor_sd_mm"]).all()
    assert (moved_mm < 2 * TRUTH["tremor_sd_mm"]).all()


def test_the_truth_file_is_that_of_the_program():
    pytest.importorskip("moderngl", reason="drawing needs the extra 'clips'")
    pytest.importorskip("av", reason="drawing needs the extra 'clips'")
    from demo_clips.render.board_views import truth

    assert json.loads(json.dumps(truth())) == TRUTH
    for name, stated in TRUTH["boards"].items():
        board = board_named(name)
        assert stated["squares"] == [board.squares_across, board.squares_up]
        assert (stated["square_mm"], stated["marker_mm"]) == (board.square_mm, board.marker_mm)


def test_together_they_stay_small():
    files = [path for path in FOLDER.rglob("*") if path.is_file()]
    assert len(files) == 16 + 2 * 4 + 1
    assert sum(path.stat().st_size for path in files) <= ALL_BYTES
