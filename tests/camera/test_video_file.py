"""The video of a watch: it fits its times, hides the face, and outlives a kill."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_bodies import head_frame, nobody

from posewatch.camera import kept_video
from posewatch.camera.clip import Clip
from posewatch.camera.kept_video import n_closed_with, read_times, see_all
from posewatch.camera.video_file import VideoFile, seconds_text
from posewatch.core.records import Frame
from posewatch.core.sources import Picture, StreamInfo, TimedPicture
from posewatch.errors import BadInput, PosewatchError

INFO = StreamInfo("made", 320, 240, 30.0, 0)
STEP_NS = 33_333_333
EAR = (160.0, 90.0)
#: MPEG-4 changes colours a little.
COLOUR_TOLERANCE = 12


def chequered() -> Picture:
    """Squares of 4 px, black and white: a face in fine detail."""
    rows, columns = np.indices((INFO.height_px, INFO.width_px)) // 4
    return np.repeat(((rows + columns) % 2 * 255).astype(np.uint8)[..., None], 3, axis=2)


def write(folder: Path, frames: list[Frame], blur: bool) -> Picture:
    """Write one picture with each frame's landmarks; returns the picture."""
    rgb = chequered()
    video = VideoFile(folder, INFO, blur)
    for frame in frames:
        video.add(TimedPicture(frame.t_ns, rgb), frame)
    video.close()
    return rgb


def seen(folder: Path) -> Iterator[Picture]:
    for picture in Clip(folder / "video.mkv"):
        yield picture.rgb


def frames(n: int) -> list[Frame]:
    return [head_frame(n * STEP_NS, EAR, 1.0) for n in range(n)]


def test_pictures_are_those_given_and_their_times_stand_beside_them(tmp_path: Path) -> None:
    given = [replace(one, t_ns=one.t_ns + 5_000_000_001) for one in frames(40)]
    before = write(tmp_path / "video", given, blur=False)
    assert sorted(path.name for path in (tmp_path / "video").iterdir()) == [
        "times.csv",
        "video.mkv",
    ]
    assert (tmp_path / "video" / "times.csv").read_text(encoding="utf-8").splitlines()[:3] == [
        "picture,t_s",
        "1,5.000000001",
        "2,5.033333334",
    ]
    assert read_times(tmp_path / "video", whole=True) == [one.t_ns for one in given]
    assert n_closed_with(tmp_path / "video") == 40
    found = see_all(tmp_path / "video")
    assert (found.width_px, found.height_px, found.n_pictures) == (320, 240, 40)
    shown = list(seen(tmp_path / "video"))
    assert len(shown) == 40
    assert abs(shown[20].astype(int) - before.astype(int)).mean() < COLOUR_TOLERANCE
    assert np.array_equal(before, chequered())  # the windows show the same picture


def test_the_head_is_hidden_before_anything_is_written(tmp_path: Path) -> None:
    write(tmp_path / "video", frames(30), blur=True)
    for rgb in seen(tmp_path / "video"):
        head = rgb[70:110, 140:190].astype(int)
        assert abs(head - 127).max() < 3 * COLOUR_TOLERANCE  # all means of black and white are grey
        away = rgb[180:230, 20:300].astype(int)
        assert away.std() > 100


def test_where_no_head_is_found_nothing_can_be_seen(tmp_path: Path) -> None:
    write(tmp_path / "video", [nobody(n * STEP_NS) for n in range(20)], blur=True)
    for rgb in seen(tmp_path / "video"):
        assert abs(rgb.astype(int) - 127).max() < 3 * COLOUR_TOLERANCE


def test_times_are_exact_as_text() -> None:
    assert seconds_text(0) == "0.000000000"
    assert seconds_text(7_261_000_000_001) == "7261.000000001"


def test_a_folder_that_is_there_already_is_left_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "video").mkdir()
    with pytest.raises(FileExistsError):
        VideoFile(tmp_path / "video", INFO, True)
    assert list((tmp_path / "video").iterdir()) == []


def test_what_the_encoder_cannot_write_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("posewatch.camera.video_file.CODEC", "none")
    with pytest.raises(PosewatchError, match="cannot be written as a video"):
        VideoFile(tmp_path / "video", INFO, True)


@pytest.mark.skipif(not hasattr(signal, "SIGXFSZ"), reason="limits of a file's size are POSIX")
def test_a_file_that_cannot_grow_is_told(tmp_path: Path) -> None:
    """The encoder itself says nothing; the limit is set in a process of its own (setrlimit)."""
    program = (
        "import resource, sys\n"
        "from pathlib import Path\n"
        "import numpy as np\n"
        "from made_bodies import nobody\n"
        "from posewatch.camera import video_file\n"
        "from posewatch.core.sources import StreamInfo, TimedPicture\n"
        "from posewatch.errors import PosewatchError\n"
        "video_file.GROWS_WITHIN = 100\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))\n"
        "file = video_file.VideoFile(Path(sys.argv[1]), StreamInfo('', 320, 240, 30.0, 0), False)\n"
        "random = np.random.default_rng(1)\n"
        "try:\n"
        "    for n in range(1000):\n"
        "        rgb = random.integers(0, 256, (240, 320, 3)).astype(np.uint8)\n"
        "        file.add(TimedPicture(n, rgb), nobody(n))\n"
        "except PosewatchError as error:\n"
        "    print(n, error)\n"
        "finally:\n"
        "    file.close()\n"
    )
    done = python(program, tmp_path / "video")
    said, _ = done.communicate(timeout=60)
    assert "does not grow beyond 300000 bytes. Look whether its drive is full" in said
    assert int(said.split()[0]) < 300


def python(program: str, *arguments: Path) -> subprocess.Popen[str]:
    """Start a program in a process of its own, which finds what the tests find."""
    return subprocess.Popen(
        [sys.executable, "-c", program, *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )


WRITES_FOR_EVER = (
    "import sys\n"
    "from pathlib import Path\n"
    "import numpy as np\n"
    "from made_bodies import nobody\n"
    "from posewatch.camera.video_file import VideoFile\n"
    "from posewatch.core.sources import StreamInfo, TimedPicture\n"
    "file = VideoFile(Path(sys.argv[1]), StreamInfo('', 320, 240, 30.0, 0), False)\n"
    "random, n = np.random.default_rng(1), 0\n"
    "while True:\n"
    "    rgb = random.integers(0, 256, (240, 320, 3)).astype(np.uint8)\n"
    "    file.add(TimedPicture(n, rgb), nobody(n))\n"
    "    n += 1\n"
)


def test_a_killed_program_leaves_a_video_that_can_be_seen(tmp_path: Path) -> None:
    """A real kill, while it writes: all but the last pictures are there, each with its time."""
    folder = tmp_path / "video"
    process = python(WRITES_FOR_EVER, folder)
    with process:
        until_s = time.monotonic() + 60.0
        while not (folder / "times.csv").exists() or len(read_times(folder, whole=False)) < 100:
            assert process.poll() is None
            assert time.monotonic() < until_s
            time.sleep(0.01)
        process.kill()
    times_ns = read_times(folder, whole=False)
    found = see_all(folder)
    assert n_closed_with(folder) == 0, "it was not closed"
    # Such noise takes 40 kB a picture, and the container is written in pieces of 256 kB.
    assert len(times_ns) - 30 < found.n_pictures <= len(times_ns)
    assert times_ns == list(range(len(times_ns)))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "it is empty"),
        ("number,t_s\n", "its first line is another"),
        ("picture,t_s\n1,0.0\n3,0.1\n", "picture 2 is missing"),
        ("picture,t_s\n1,soon\n", "invalid literal"),
        ("picture,t_s\n1\n", "not enough values"),
    ],
)
def test_a_damaged_table_of_times_is_refused(tmp_path: Path, text: str, says: str) -> None:
    (tmp_path / "times.csv").write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match=says):
        read_times(tmp_path, whole=True)


def test_a_line_that_a_kill_cut_off_is_left_out(tmp_path: Path) -> None:
    (tmp_path / "times.csv").write_text("picture,t_s\n1,0.5\n2,1.", encoding="utf-8")
    assert read_times(tmp_path, whole=False) == [500_000_000]


def test_what_is_no_video_shows_nothing(tmp_path: Path) -> None:
    (tmp_path / "video.mkv").write_bytes(b"no video")
    assert n_closed_with(tmp_path) is None
    assert see_all(tmp_path) == kept_video.SeenVideo(0, 0, 0)
    with pytest.raises(BadInput, match=r"times\.csv cannot be read"):
        read_times(tmp_path, whole=False)
