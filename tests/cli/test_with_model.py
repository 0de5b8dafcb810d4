"""The commands on a real clip, with the pose model."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest
from command_runs import Run

from posewatch.capturing import capture_target
from posewatch.core.capture import Subject
from posewatch.store.target_shelf import copy_target
from posewatch.watched_source import Source

pytestmark = pytest.mark.model

CLIPS = Path(__file__).parents[2] / "demo_clips"


@pytest.fixture(scope="module")
def hoods_target(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The target of the first 35 s of the reference clip."""
    source = Source(CLIPS / "landmarks" / "hoods_reference.landmarks.npz", "full", end_s=35.0)
    path = tmp_path_factory.mktemp("hoods") / "target.json"
    copy_target(capture_target([source], Subject("r", "b", "hoods"), lambda *_: None), path)
    return path


@pytest.mark.parametrize("pace", [("--fast",), ()])
def test_watching_a_real_clip(
    run: Run, tmp_path: Path, hoods_target: Path, pace: tuple[str, ...]
) -> None:
    clip, session = CLIPS / "hoods_steady.mp4", tmp_path / "s"
    arguments = ("--source", clip, "--target", hoods_target, "--session", session)
    ran = run("watch", *arguments, "--end", "3", *pace)
    assert (ran.status, ran.err) == (0, "")
    assert ran.last_line.startswith("counted 0 strokes, 0.0 s of ")
    assert ran.last_line.endswith(" s, in 0 intervals")
    again = run("replay", session)
    assert again.status == 0
    n_frames = int(again.last_line.split()[0])
    if pace:
        assert n_frames == 90
        assert "pictures not used" not in ran.out
        strokes = run("session", "show", session, "--strokes").out
        # 78 to 98 rpm, as the clip's page says, and all of it in the fitted position.
        assert 1 <= strokes.count("rpm  good") <= 5
    else:
        # On a slow machine the newest picture wins, and the lost ones are told.
        lost = [line for line in ran.out.splitlines() if line.startswith("pictures not used")]
        assert n_frames == 90 or lost


def test_another_model_is_another_chain(run: Run, tmp_path: Path, target_file: Path) -> None:
    arguments = ("--source", CLIPS / "hoods_steady.mp4", "--target", target_file, "--fast")
    ran = run("watch", *arguments, "--model", "lite", "--session", tmp_path / "s")
    assert ran.status == 3
    assert "model_name: full / lite" in ran.err
    assert not (tmp_path / "s").exists()


def test_a_bumped_camera_loses_the_hold(run: Run, tmp_path: Path, hoods_target: Path) -> None:
    """From 4.5 s on the whole picture is 6 px further to the right, as a camera turned left."""
    clip = shifted(CLIPS / "hoods_steady.mp4", tmp_path / "bumped.mp4", 4.5, 7.5, 6)
    arguments = ("--source", clip, "--target", hoods_target, "--fast", "--sit-in", "0")
    ran = run("watch", *arguments, "--session", tmp_path / "s")
    assert (ran.status, ran.err) == (0, "")
    lines = ran.out.splitlines()
    at = next(n for n, line in enumerate(lines) if "lost: camera's view moved" in line)
    assert "The camera has moved by 6 px to the left." in lines[at - 1]
    assert any("in position" in line for line in lines[:at])
    assert run("replay", tmp_path / "s").status == 0


def shifted(source: Path, path: Path, from_s: float, to_s: float, by_px: int) -> Path:
    """Write a clip again, its pictures moved to the right from a moment on."""
    with av.open(source) as given, av.open(path, "w") as made:
        stream = made.add_stream("libx264", rate=30, options={"bf": "0"})
        stream.width, stream.height = 640, 480
        stream.pix_fmt = "yuv420p"
        for n, frame in enumerate(given.decode(video=0)):
            if n >= 30 * to_s:
                break
            rgb = frame.to_ndarray(format="rgb24")
            if n >= 30 * from_s:
                rgb = np.concatenate((rgb[:, :1].repeat(by_px, axis=1), rgb[:, :-by_px]), axis=1)
            made.mux(stream.encode(av.VideoFrame.from_ndarray(np.ascontiguousarray(rgb))))
        made.mux(stream.encode())
    return path
