"""One frame of a scene, drawn: the rider is where the truth says, in the colours of the kit."""

from dataclasses import replace

import numpy as np
import pytest

pytest.importorskip("moderngl", reason="drawing needs the extra 'clips'")
pytest.importorskip("av", reason="drawing needs the extra 'clips'")
import av

from demo_clips.render.clips import CLIPS
from demo_clips.render.filming import Film, shoot
from demo_clips.render.kit import (
    LIGHT_SHORTS,
    LONG_TIGHTS,
    LOOSE_SHORTS,
    OTHER_JERSEY,
    PATTERNED_SHORTS,
    RIDER_KIT,
)
from demo_clips.render.truth import near_points_m

KITS = (RIDER_KIT, LIGHT_SHORTS, PATTERNED_SHORTS, LONG_TIGHTS, LOOSE_SHORTS, OTHER_JERSEY)
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


@pytest.mark.parametrize("kit", KITS, ids=lambda kit: kit.shorts + kit.jersey)
def test_stickers_show_where_the_truth_has_them_in_every_kit(kit, film):
    scene = replace(SHORT, kit=kit, has_dots=True)
    with Film(scene) as dotted:
        for frame in (0, 2):
            image, pose = dotted.frame(frame)
            centres_m = dotted.stickers.centres_m(pose, dotted.motion.right_crank_deg[frame])
            for name, centre_m in centres_m.items():
                x, y = scene.camera.project_px(centre_m)
                left, top = round(x) - 8, round(y) - 8
                part = image[top : top + 16, left : left + 16].astype(float)
                magenta = np.clip(np.minimum(part[..., 0], part[..., 2]) - part[..., 1] - 40, 0, 90)
                rows, columns = np.mgrid[top : top + 16, left : left + 16] + 0.5
                found = np.array([(magenta * columns).sum(), (magenta * rows).sum()])
                np.testing.assert_allclose(
                    found / magenta.sum(), (x, y), atol=0.5, err_msg=f"{name}, frame {frame}"
                )


def test_long_tights_cover_the_knee_and_light_shorts_are_light():
    for kit, joint, least, most in (
        (LONG_TIGHTS, "knee", 0, 90),
        (LIGHT_SHORTS, "hip", 150, 255),
        (RIDER_KIT, "knee", 91, 255),
    ):
        with Film(replace(SHORT, kit=kit)) as film:
            image, pose = film.frame(0)
            at = SHORT.camera.project_px(near_points_m(film.rider, pose, "R")[joint])
            assert least <= around(image, at).max() <= most, (kit.shorts, joint)


def test_a_clip_is_encoded_at_its_own_rate(tmp_path, film):
    scene = replace(SHORT, frames_per_s=60)
    shoot(scene, tmp_path, lambda: None)
    with av.open(str(tmp_path / f"{scene.name}.mp4")) as container:
        stream = container.streams.video[0]
        times = [
            float(p.pts * stream.time_base) for p in container.demux(stream) if p.pts is not None
        ]
    assert times == pytest.approx([n / 60 for n in range(6)])
