"""A picture hung in the scene: the right way round, in its place, and true when it is small."""

from dataclasses import replace

import numpy as np
import pytest

pytest.importorskip("moderngl", reason="drawing needs the extra 'clips'")

from demo_clips.render.board_sheet import board_picture, board_sheet
from demo_clips.render.camera import SideCamera
from demo_clips.render.light import SOFT
from demo_clips.render.renderer import Renderer
from demo_clips.render.shapes import make_mesh, printed_sheet, rgb
from demo_clips.render.skeleton import pitch, roll, yaw
from posewatch.camera.board_sightings import find_board
from posewatch.core.boards import board_named

CAMERA = SideCamera("R", up_m=0.0, forward_m=0.0)
BACKDROP = make_mesh(
    [[-9, -9, -2], [9, -9, -2], [9, 9, -2], [-9, 9, -2]],
    np.tile([0.0, 0.0, 1.0], (4, 1)),
    [(0, 1, 2), (0, 2, 3)],
    rgb("#9a9a96"),
)


def drawn(picture, sheet, camera=CAMERA):
    try:
        renderer = Renderer(camera, SOFT, BACKDROP, picture)
    except Exception as fault:  # the graphics library raises plain Exception without a driver
        pytest.skip(f"no offscreen graphics here: {fault}")
    with renderer:
        return renderer.frame([(sheet, None)]).astype(float)


def facing(half_width_m, half_height_m):
    return printed_sheet([0, 0, 0], [half_width_m, 0, 0], [0, half_height_m, 0])


def grey(image):
    return image.mean(axis=-1)


def test_a_picture_hangs_the_right_way_round():
    picture = np.full((40, 60, 3), 40, np.uint8)
    picture[:20, :30] = (250, 40, 40)
    image = drawn(picture, facing(0.6, 0.4))
    left, right, top, bottom = 320 - 70, 320 + 70, 240 - 45, 240 + 45
    red = image[..., 0] - image[..., 1]
    assert red[top, left] > 120
    assert max(red[top, right], red[bottom, left], red[bottom, right]) < 20
    assert grey(image)[240, 320 - 150] > 80, "beside the sheet there is the backdrop"


def test_the_back_of_a_sheet_is_not_drawn():
    black = np.zeros((4, 4, 3), np.uint8)
    away = printed_sheet([0, 0, 0], [-0.6, 0, 0], [0, 0.4, 0])
    assert grey(drawn(black, facing(0.6, 0.4)))[240, 320] < 20
    assert grey(drawn(black, away))[240, 320] > 80


def test_lines_of_a_sixth_of_a_pixel_melt_into_one_grey():
    stripes = np.zeros((1000, 1000, 3), np.uint8)
    stripes[:, ::2] = 255  # 0.7 mm wide; a pixel is 4.1 mm
    image = grey(drawn(stripes, facing(0.35, 0.35)))[200:280, 280:360]
    assert image.std() < 4, "no moire"
    white = np.full_like(stripes, 255)
    light = grey(drawn(white, facing(0.35, 0.35)))[240, 320]
    # Half the light: of a display's 2.2 power that is 0.73 of the grey level, but for the shoulder
    # of the renderer's tone curve.
    assert image.mean() / light == pytest.approx(0.5 ** (1 / 2.2), abs=0.04)


@pytest.mark.parametrize("turned", [(0, 0, 0), (20, 0, 3), (-25, 15, -2), (0, -30, 0)], ids=str)
def test_the_corners_of_a_small_board_are_where_the_camera_has_them(turned):
    board = board_named("bike-a3")
    held = yaw(turned[0]) @ roll(turned[1]) @ pitch(turned[2])
    middle = np.array([0.21, -0.13, 0.086])
    image = drawn(board_picture(board), board_sheet(board, middle, held[:, 0], held[:, 1]))
    seen = find_board(image.astype(np.uint8), [board])
    assert len(seen.corner_ids) == board.n_corners
    corners_m = middle + (seen.points_mm / 1000) @ held[:, :2].T
    away_px = seen.corners_px - CAMERA.project_px(corners_m)
    assert np.sqrt((away_px**2).mean()) < 0.08
    assert np.abs(away_px.mean(axis=0)).max() < 0.05


def test_a_large_board_is_exact_to_a_few_hundredths_of_a_pixel():
    board = board_named("lens-a3")
    near = replace(CAMERA, distance_m=0.9)
    right, up = np.eye(3)[0], np.eye(3)[1]
    image = drawn(board_picture(board), board_sheet(board, np.zeros(3), right, up), near)
    seen = find_board(image.astype(np.uint8), [board])
    assert len(seen.corner_ids) == board.n_corners
    flat = np.column_stack([seen.points_mm / 1000, np.zeros(board.n_corners)])
    away_px = seen.corners_px - near.project_px(flat)
    assert np.sqrt((away_px**2).mean()) < 0.12


def test_the_ink_of_a_board_is_where_the_program_prints_it():
    board = board_named("bike-a3")
    picture = board_picture(board)
    height, width, _ = picture.shape
    assert (width / 4, height / 4) == (board.paper.width_mm, board.paper.height_mm)

    def at(x_mm, y_mm):
        return picture[round(height / 2 - 4 * y_mm), round(width / 2 + 4 * x_mm), 0]

    left, top = -board.width_mm / 2 + 5, board.height_mm / 2 - 5
    assert at(left, top) < 50, "the square at the top left is black"
    assert at(left + board.square_mm, top) > 200
    assert at(0, 3) > 200, "a white disc marks the middle"
    bar_x = -board.width_mm / 2 - 12
    assert at(bar_x, 49) < 50
    assert at(bar_x, 51) > 200
