"""A video file as a source of pictures."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from made_clips import turn_display_matrix, write_clip

import posewatch.camera.clip as module
from posewatch.camera.clip import Clip
from posewatch.errors import BadInput

STEADY_MS = [round(number * 100 / 3) for number in range(30)]
#: H.264 changes colours a little.
COLOUR_TOLERANCE = 30


def times_ms(clip: Clip) -> list[float]:
    return [picture.t_ns / 1e6 for picture in clip]


@pytest.mark.parametrize(
    "given",
    [
        pytest.param(STEADY_MS, id="steady 30 Hz"),
        pytest.param([5000 + t for t in STEADY_MS], id="does not begin at 0"),
        pytest.param([0, 33, 66, 166, 266, 299, 400, 500, 533, 566], id="variable rate"),
        pytest.param([1000 * number for number in range(4)], id="one picture a second"),
    ],
)
@pytest.mark.parametrize("name", ["clip.mp4", "clip.mkv"])
def test_times_are_presentation_times_minus_the_first(
    tmp_path: Path, given: list[int], name: str
) -> None:
    clip = Clip(write_clip(tmp_path / name, given))
    assert times_ms(clip) == pytest.approx([t - given[0] for t in given], abs=0.6)
    assert (clip.n_dropped_times, clip.n_missing) == (0, 0)


def test_times_are_right_with_pictures_stored_out_of_order(tmp_path: Path) -> None:
    clip = Clip(write_clip(tmp_path / "clip.mp4", STEADY_MS, options={"bf": "3"}))
    assert times_ms(clip) == pytest.approx(STEADY_MS, abs=0.6)
    shades = [int(picture.rgb[-1, -1, 0]) for picture in clip]
    assert shades == pytest.approx([40 + 20 * (n % 10) for n in range(30)], abs=3)


def test_info_comes_from_the_pictures(tmp_path: Path) -> None:
    info = Clip(write_clip(tmp_path / "clip.mp4", STEADY_MS, size=(64, 48))).info
    assert (info.name, info.width_px, info.height_px, info.n_frames) == ("clip.mp4", 64, 48, 30)
    assert info.rate_hz == pytest.approx(30, rel=0.02)


def test_rate_is_the_usual_one_where_the_rate_varies(tmp_path: Path) -> None:
    given = [0, 33, 66, 99, 132, 632, 665, 698, 1698]
    assert Clip(write_clip(tmp_path / "clip.mp4", given)).info.rate_hz == pytest.approx(
        1000 / 33, rel=0.02
    )


def test_a_long_last_step_is_not_a_missing_picture(tmp_path: Path) -> None:
    clip = Clip(write_clip(tmp_path / "clip.mkv", [0, 33, 66, 99, 600, 633, 1133]))
    assert len(times_ms(clip)) == 7
    assert clip.n_missing == 0


def test_pictures_are_contiguous_rgb(tmp_path: Path) -> None:
    first = next(iter(Clip(write_clip(tmp_path / "clip.mp4", STEADY_MS[:3]))))
    assert first.rgb.dtype == np.uint8
    assert first.rgb.flags.c_contiguous
    assert first.rgb[10, 10] == pytest.approx([220, 20, 20], abs=COLOUR_TOLERANCE)
    assert first.rgb[40, 50] == pytest.approx([40, 40, 40], abs=COLOUR_TOLERANCE)


def test_identical_pictures_are_kept(tmp_path: Path) -> None:
    assert times_ms(
        Clip(write_clip(tmp_path / "clip.mp4", STEADY_MS, still=True))
    ) == pytest.approx(STEADY_MS, abs=0.6)


@pytest.mark.parametrize(("degrees", "red"), [(90, (0, 1)), (180, (1, 1))])
def test_a_rotated_clip_comes_upright(tmp_path: Path, degrees: int, red: tuple[int, int]) -> None:
    """The red quarter, top left as stored, is top right after a quarter turn clockwise."""
    path = write_clip(tmp_path / "clip.mp4", STEADY_MS[:3], size=(64, 48))
    turn_display_matrix(path, degrees)
    clip = Clip(path)
    height, width = (64, 48) if degrees == 90 else (48, 64)
    assert (clip.info.width_px, clip.info.height_px) == (width, height)
    rgb = next(iter(clip)).rgb
    assert rgb.shape == (height, width, 3)
    quarters = {
        (row, column): int(rgb[height * (1 + 2 * row) // 4, width * (1 + 2 * column) // 4, 0])
        for row in (0, 1)
        for column in (0, 1)
    }
    assert max(quarters, key=lambda place: quarters[place]) == red


def cut(path: Path) -> None:
    """Keep the first three fifths, as a copy that was broken off."""
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 3 // 5])


@pytest.mark.parametrize(
    ("name", "container_options"),
    [("clip.mp4", {"movflags": "faststart"}), ("clip.mkv", {})],
)
def test_a_clip_cut_short_says_how_many_pictures_are_missing(
    tmp_path: Path, name: str, container_options: dict[str, str]
) -> None:
    given = [round(number * 100 / 3) for number in range(150)]
    path = write_clip(
        tmp_path / name,
        given,
        options={"bf": "0", "g": "10", "crf": "5"},
        container_options=container_options,
    )
    cut(path)
    clip = Clip(path)
    read = len(times_ms(clip))
    assert 20 < read < 140
    assert clip.n_missing == 150 - read


def test_times_that_do_not_rise_are_dropped_and_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No writer at hand makes such a file, so the decoder's times are replaced."""
    told = iter([0.0, 33.0, 33.0, 20.0, 66.0, 100.0] * 2)
    real = module.cv2.VideoCapture

    class Stuttering:
        def __init__(self, *args: object) -> None:
            self._real = real(*args)

        def get(self, prop: int) -> float:
            return next(told) if prop == module.cv2.CAP_PROP_POS_MSEC else self._real.get(prop)

        def __getattr__(self, name: str) -> object:
            return getattr(self._real, name)

    path = write_clip(tmp_path / "clip.mp4", [0, 33, 66, 100, 133, 166])
    monkeypatch.setattr(module.cv2, "VideoCapture", Stuttering)
    clip = Clip(path)
    assert times_ms(clip) == [0.0, 33.0, 66.0, 100.0]
    assert clip.n_dropped_times == 2


def no_clip(folder: Path) -> Path:
    return folder / "nothing.mp4"


def a_folder(folder: Path) -> Path:
    return folder


def empty(folder: Path) -> Path:
    (folder / "empty.mp4").write_bytes(b"")
    return folder / "empty.mp4"


def text(folder: Path) -> Path:
    (folder / "text.mp4").write_text("no video at all\n" * 50)
    return folder / "text.mp4"


def without_index(folder: Path) -> Path:
    clip = write_clip(folder / "clip.mp4", STEADY_MS)
    cut(clip)
    return clip


def index_only(folder: Path) -> Path:
    clip = write_clip(folder / "clip.mp4", STEADY_MS, container_options={"movflags": "faststart"})
    data = clip.read_bytes()
    clip.write_bytes(data[: data.index(b"mdat") + 4])
    return clip


def one_picture(folder: Path) -> Path:
    return write_clip(folder / "clip.mp4", [0])


def too_wide(folder: Path) -> Path:
    return write_clip(folder / "clip.mp4", [0, 33, 66], size=(2048, 64))


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (no_clip, "no clip"),
        (a_folder, "no clip"),
        (empty, "cannot be opened as a video"),
        (text, "cannot be opened as a video"),
        (without_index, "index is missing"),
        (index_only, "cannot be opened as a video|No picture can be read"),
        (one_picture, "no two pictures"),
        (too_wide, "2048 x 64 px"),
    ],
)
def test_what_is_no_usable_clip_is_refused_with_advice(
    tmp_path: Path, make: Callable[[Path], Path], says: str
) -> None:
    path = make(tmp_path)
    with pytest.raises(BadInput, match=says) as caught:
        Clip(path)
    assert str(path) in caught.value.what
    assert caught.value.advice


def test_a_clip_can_be_gone_through_again(tmp_path: Path) -> None:
    clip = Clip(write_clip(tmp_path / "clip.mp4", STEADY_MS))
    assert times_ms(clip) == times_ms(clip)


def test_a_closed_clip_gives_no_pictures(tmp_path: Path) -> None:
    clip = Clip(write_clip(tmp_path / "clip.mp4", STEADY_MS))
    pictures = iter(clip)
    next(pictures)
    clip.close()
    assert list(pictures) == []
    with pytest.raises(RuntimeError, match="closed"):
        next(iter(clip))


def test_opencv_leaves_nothing_for_the_windows_to_trip_over(tmp_path: Path) -> None:
    """In a process of its own, since what an import leaves behind can be seen only once."""
    program = (
        "import os, sys\n"
        "from pathlib import Path\n"
        "from posewatch.camera.clip import Clip\n"
        "from posewatch.errors import BadInput\n"
        "try: Clip(Path(sys.argv[1]))\n"
        "except BadInput: pass\n"
        "print(sorted(name for name in os.environ if name.startswith('QT_QPA_')"
        " and name != 'QT_QPA_PLATFORM'))\n"
    )
    broken = tmp_path / "text.mp4"
    broken.write_text("no video at all\n" * 50)
    done = subprocess.run(
        [sys.executable, "-c", program, str(broken)],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert done.stdout == "[]\n"
    assert done.stderr == ""
