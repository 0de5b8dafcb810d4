"""A watch stopped, killed, or with a log that fails: what was recorded is kept and replays.

Each watch is a process of its own. Its recorded landmarks come as from a camera that, after the
last of them, has one more to give only when standard input is closed.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from command_runs import Run
from linkage_rider import ride
from made_rides import write_ride

from posewatch.store.session_header import HowEnded
from posewatch.store.session_reader import SessionReader

pytestmark = pytest.mark.skipif(os.name != "posix", reason="uses POSIX signals and limits")

CLIPS = Path(__file__).parents[2] / "demo_clips"
N_FRAMES = 600
PROGRAM = """
import sys
from dataclasses import replace
from posewatch.cli import main
from posewatch.pose.recorded import RecordedLandmarks
from posewatch.runtime import writer_thread

writer_thread.COMMIT_EVERY_NS = 5_000_000
recorded = RecordedLandmarks.__iter__


def then_wait(self):
    for frame in recorded(self):
        yield frame
    print("waiting", flush=True)
    sys.stdin.read()
    yield replace(frame, t_ns=frame.t_ns + 33_000_000)


{prologue}
RecordedLandmarks.__iter__ = then_wait
main()
"""
SMALL_FILES = """
import resource
resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, resource.RLIM_INFINITY))
"""


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """20 s of riding."""
    path = tmp_path_factory.mktemp("rides") / "ride.landmarks.npz"
    return write_ride(path, ride(N_FRAMES / 30.0, seed=4))


@pytest.fixture
def session(tmp_path: Path) -> Path:
    return tmp_path / "session"


def start(
    recording: Path, target: Path, session: Path, prologue: str = ""
) -> subprocess.Popen[str]:
    arguments = ["watch", "--fast", "--source", recording, "--target", target]
    arguments += ["--session", session]
    return subprocess.Popen(
        [sys.executable, "-c", PROGRAM.format(prologue=prologue), *map(str, arguments)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )


def read_to(process: subprocess.Popen[str], line: str) -> None:
    assert process.stdout is not None
    assert any(said == f"{line}\n" for said in process.stdout), process.communicate()


def n_inputs(session: Path) -> int:
    with SessionReader(session) as reader:
        return sum(1 for _ in reader.inputs())


def await_inputs(process: subprocess.Popen[str], session: Path, n: int) -> None:
    while n_inputs(session) < n:
        assert process.poll() is None


def test_ctrl_c_ends_a_watch_with_its_counts_and_an_ending(
    run: Run, recording: Path, target_file: Path, session: Path
) -> None:
    process = start(recording, target_file, session)
    read_to(process, "waiting")
    await_inputs(process, session, N_FRAMES)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=30)
    assert (process.returncode, err) == (0, "")
    closing = out.splitlines()[-1]
    assert re.fullmatch(r"counted [1-9]\d+ strokes, .* in 1 intervals", closing)
    with SessionReader(session) as reader:
        assert reader.ending is not None
        assert reader.ending.how is HowEnded.STOPPED
    shown = run("session", "show", session)
    assert shown.last_line == closing
    assert "ended: stopped\n" in shown.out
    assert run("replay", session).last_line.endswith("1 recorded intervals: identical")
    assert [path.name for path in session.iterdir()] == ["session.sqlite"]


def test_a_killed_watch_replays_as_far_as_it_was_kept(
    run: Run, recording: Path, target_file: Path, session: Path
) -> None:
    process = start(recording, target_file, session)
    read_to(process, "waiting")
    await_inputs(process, session, N_FRAMES // 2)
    process.kill()
    process.communicate(timeout=30)
    assert process.returncode == -signal.SIGKILL
    kept = n_inputs(session)
    assert N_FRAMES // 2 <= kept <= N_FRAMES
    shown = run("session", "show", session)
    assert shown.status == 0
    assert shown.last_line.startswith("the session was cut off")
    assert "in position" in shown.out
    again = run("replay", session)
    assert again.status == 0
    assert "the session was cut off" in again.out
    assert again.last_line == f"{kept} inputs, 0 recorded intervals: identical"
    # Reading has changed nothing.
    assert n_inputs(session) == kept


def test_a_log_that_fails_stops_the_watch_loudly_and_keeps_what_it_had(
    run: Run, recording: Path, target_file: Path, session: Path
) -> None:
    """No file may grow beyond 150 kB: the session's write fails in the middle of the ride.

    How far the watch has come when the writer finds out depends on the machine; it cannot end well.
    """
    process = start(recording, target_file, session, SMALL_FILES)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 2
    assert "counted" not in out
    assert err.startswith(f"posewatch: The session {session} cannot be written any more")
    assert err.count("\n") == 1
    assert 0 < n_inputs(session) < N_FRAMES
    assert run("session", "show", session).last_line.startswith("the session was cut off")
    assert run("replay", session).last_line.endswith("identical")


@pytest.mark.model
def test_a_paced_clip_is_stopped_by_ctrl_c(run: Run, target_file: Path, session: Path) -> None:
    clip = CLIPS / "hoods_reference.mp4"
    arguments = ["--source", clip, "--target", target_file, "--session", session, "--any-chain"]
    process = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "from posewatch.cli import main; main()",
            "watch",
            *map(str, arguments),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    while not (session / "session.sqlite").exists():
        assert process.poll() is None, process.communicate()
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, "")
    assert out.splitlines()[-1].startswith("[other chain] counted 0 strokes")
    with SessionReader(session) as reader:
        assert reader.ending is not None
        assert reader.ending.how is HowEnded.STOPPED
