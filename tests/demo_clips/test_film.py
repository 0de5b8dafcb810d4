"""One frame of a scene, drawn: the rider is where the truth says, in the colours of the kit."""

from dataclasses import replace

import numpy as np
import pytest

pytest.importorskip("moderngl", reason="drawing needs the extra 'clips'")
pytest.importorskip("av", reason="drawing needs the extra 'clips'")
from demo_clips.render.clips import CLIPS
from demo_clips.render.filming import Film, shoot
from demo_clips.render.truth import near_points_m

SHORT = replace(CLIPS[0], duration_s=0.1)


@pytest.fixture(scope="module")
def film():
    try:
        made = Film(SHORT)
    except Exception as fault:  # the graphics library raises plain Exception without a driver
        pytest.skip(f"no offscreen graphics here: {fault}")
    with made:
        yield made


def around(image, point_px, half=2):
    x, y = np.round(point_px).astype(int)
    return image[y - half : y + half + 1, x - half : x + half + 1].reshape(-1, 3).mean(axis=0)


def test_projected_joints_lie_on_what_covers_them(film):
    image, pose = film.frame(0)
    points_m = near_points_m(film.rider, pose, "R")
    seen = {name: around(image, SHORT.camera.project_px(at)) for name, at in points_m.items()}
    assert seen["hip"].max() < 70, "the shorts are near black"
    red, _, blue = seen["shoulder"]
    assert blue > red + 60, "the jersey is blue"
    red, _, blue = seen["knee"]
    assert red > blue + 30, "the knee is bare skin"
    assert seen["ankle"].min() > 150, "sock and shoe are white"


def test_the_same_frame_is_drawn_the_same_twice(film):
    np.testing.assert_array_equal(film.frame(2)[0], film.frame(2)[0])


def test_shooting_leaves_a_clip_and_its_truth_and_nothing_unfinished(film, tmp_path):
    drawn = []
    shoot(SHORT, tmp_path, lambda: drawn.append(1))
    assert len(drawn) == SHORT.frame_count
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == [f"{SHORT.name}.mp4", f"{SHORT.name}.truth.csv"]
