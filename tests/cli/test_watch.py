"""``posewatch watch``: what it prints, and what it refuses."""

from __future__ import annotations

import importlib.resources
import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from command_runs import Run
from exact_rider import task
from linkage_rider import CHAIN, Pose, ride
from made_clips import turn_display_matrix, write_clip
from made_rides import find_rider, standing_still, write_ride

from posewatch.cli.watch import why_not_seen
from posewatch.core import pipeline
from posewatch.core.belief import nothing
from posewatch.core.crank import UNKNOWN
from posewatch.core.doubts import Doubt
from posewatch.core.envelope import Target
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.tracking import Tracked
from posewatch.pose import bundles
from posewatch.store.target_shelf import copy_target

CLOSING = re.compile(r"counted \d+ strokes, \d+\.\d s of \d+\.\d s, in \d+ intervals")
NOTHING = re.compile(r"counted 0 strokes, 0\.0 s of \d+\.\d s, in 0 intervals")


@pytest.fixture
def drifting(tmp_path: Path) -> Path:
    """15 s in position, 4 s with the torso low, 6 s in position: the last run stays short."""

    def pose(t_s: float, crank_deg: float) -> Pose:
        return Pose(crank_deg, torso_deg=34.0 if 15.0 <= t_s < 19.0 else 42.0)

    return write_ride(tmp_path / "drifting.landmarks.npz", ride(25.0, pose, seed=5))


def test_a_watch_tells_what_happens_and_ends_with_the_counts(
    run: Run, drifting: Path, target_file: Path, tmp_path: Path
) -> None:
    session = tmp_path / "a folder [/x]" / "s"
    ran = run(
        "watch", "--fast", "--source", drifting, "--target", target_file, "--session", session
    )
    assert (ran.status, ran.err) == (0, "")
    assert CLOSING.fullmatch(ran.last_line)
    assert not NOTHING.fullmatch(ran.last_line)
    assert ran.last_line.endswith("of 25.0 s, in 1 intervals")
    lines = ran.out.splitlines()
    assert lines[-2] == f"logged in {session}"
    said = "\n".join(lines)
    assert "in position" in said
    assert 'cue: "taller' in said
    assert "lost: position drifted, torso" in said
    assert "valid interval:" in said
    assert lines[-3].endswith("to 0:24.7") or "too short to count" in lines[-3]
    assert "\x1b" not in ran.out
    assert "\r" not in ran.out
    shown = run("session", "show", session)
    assert shown.last_line == ran.last_line
    assert "ended: source ended" in shown.out
    told = next(n for n, line in enumerate(lines) if re.match(r" *\d+:\d\d\.\d  ", line))
    for line in lines[told:-2]:
        assert line in shown.out
    with_strokes = run("session", "show", session, "--strokes")
    n_counted = int(ran.last_line.split()[1])
    assert len(re.findall(r"rpm +good +counted", with_strokes.out)) >= n_counted
    again = run("replay", session)
    assert again.status == 0
    assert again.last_line == "750 inputs, 2 recorded intervals: identical"


def test_without_a_name_the_session_goes_into_the_data_folder(
    run: Run, drifting: Path, target_file: Path
) -> None:
    arguments = ("watch", "--source", drifting, "--target", target_file, "--end", "1", "--fast")
    folders = set()
    for _ in range(2):
        logged = run(*arguments).out.splitlines()[-2]
        folders.add(Path(logged.removeprefix("logged in ")))
    assert len(folders) == 2
    assert all(folder.parent.name == "sessions" and folder.is_dir() for folder in folders)


def test_a_planned_cadence_is_held(run: Run, drifting: Path, target_file: Path) -> None:
    arguments = ("watch", "--fast", "--source", drifting, "--target", target_file, "--end", "12")
    assert not NOTHING.fullmatch(run(*arguments, "--cadence", "91").last_line)
    ran = run(*arguments, "--cadence", "80")
    assert NOTHING.fullmatch(ran.last_line)
    assert 'cue: "spin slower" (cadence)' in ran.out


def test_the_sit_in_comes_before_steadying(run: Run, tmp_path: Path, target_file: Path) -> None:
    def pose(t_s: float, crank_deg: float) -> Pose:
        stops_at, goes_on_at = 8.0, 11.0
        turned_s = min(t_s, stops_at) + max(0.0, t_s - goes_on_at)
        return Pose(540.0 * turned_s)

    stopping = write_ride(tmp_path / "stopping.landmarks.npz", ride(30.0, pose))
    arguments = ("watch", "--fast", "--source", stopping, "--target", target_file, "--sit-in")
    short, long = run(*arguments, "1"), run(*arguments, "600")
    assert short.out.count("in position") == 2
    assert "lost: coasting" in short.out
    assert long.out.count("in position") == 1


@pytest.mark.parametrize("empty", ["nobody", "still", "no frame"])
def test_a_watch_in_which_nothing_can_count_is_a_normal_zero(
    run: Run, tmp_path: Path, target_file: Path, drifting: Path, empty: str
) -> None:
    poses = {
        "nobody": lambda t_s, deg: Pose(0.0, seen=False),
        "still": lambda t_s, deg: Pose(90.0),
        "no frame": None,
    }
    source = write_ride(tmp_path / "ride.landmarks.npz", ride(5.0, poses[empty]))
    start = ("--start", "100") if empty == "no frame" else ()
    session = tmp_path / "s"
    ran = run("watch", "--source", source, "--target", target_file, "--session", session, *start)
    assert ran.status == 0
    assert NOTHING.fullmatch(ran.last_line)
    assert run("replay", session).status == 0


def altered(target_file: Path, path: Path, *keys: object, value: object) -> Path:
    document = json.loads(target_file.read_text(encoding="utf-8"))
    part = document
    for key in keys[:-1]:
        part = part[key]
    part[keys[-1]] = value
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("keys", "value", "message"),
    [
        (("format_version",), 3, "has target format version 3; this program reads 2."),
        (("envelopes", 0, "tol"), -3.0, "envelopes[0].tol: input should be greater than 0"),
        (("chain", "model_name"), "lite", "the fingerprint does not belong to this chain"),
    ],
)
def test_a_target_that_cannot_be_used(
    run: Run,
    drifting: Path,
    target_file: Path,
    tmp_path: Path,
    keys: tuple[object, ...],
    value: object,
    message: str,
) -> None:
    target = altered(target_file, tmp_path / "altered.json", *keys, value=value)
    session = tmp_path / "s"
    ran = run("watch", "--fast", "--source", drifting, "--target", target, "--session", session)
    assert (ran.status, ran.out) == (2, "")
    assert message in ran.err
    assert ran.err.count("\n") == 1
    assert not session.exists()


@pytest.mark.parametrize(
    ("option", "value", "message"),
    [
        ("--target", "none.json", "There is no target none.json"),
        ("--source", "none.mp4", "There is no clip none.mp4"),
        ("--source", "none.landmarks.npz", "There is no recording none.landmarks.npz"),
        ("--source", "text.mp4", "text.mp4 cannot be opened as a video"),
        ("--source", "cut.landmarks.npz", "is not a recording of landmarks, or is damaged"),
        ("--session", "there", "there exists already and was left as it is"),
        ("--session", "text.mp4/a/b", "cannot be made"),
        ("--cadence", "-5", "A cadence of -5 rpm cannot be held. Give 40 to 200 rpm"),
        ("--cadence", "nan", "A cadence of nan rpm cannot be held"),
        ("--sit-in", "-1", "sit_in_s cannot be -1"),
        ("--start", "-1", "has no part from -1 s"),
        ("--end", "0", "has no part from 0 s to 0 s"),
        ("--model", "huge", "model cannot be"),
        ("--model", "none.task", "There is no pose model"),
        ("--model", "text.task", "cannot be read as a pose bundle"),
    ],
)
def test_bad_input_is_one_clear_line_and_leaves_nothing(
    run: Run,
    drifting: Path,
    target_file: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    option: str,
    value: str,
    message: str,
) -> None:
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    for name in ("text.mp4", "text.task"):
        Path(name).write_text("no video", encoding="utf-8")
    Path("cut.landmarks.npz").write_bytes(drifting.read_bytes()[:500])
    Path("there").mkdir()
    before = sorted(folder.rglob("*"))
    options = {"--source": drifting, "--target": target_file, "--session": "s", option: value}
    if option == "--model":
        options["--source"] = write_clip(tmp_path / "clip.mp4", [0, 33, 66])
        options["--any-chain"] = None
    given = [part for pair in options.items() for part in pair if part is not None]
    ran = run("watch", *given)
    assert ran.status == 2
    assert message in ran.err
    assert ran.err.count("\n") == 1
    assert not CLOSING.search(ran.out)
    assert sorted(folder.rglob("*")) == before


def test_a_target_of_the_other_side(run: Run, tmp_path: Path, target_file: Path) -> None:
    left = write_ride(tmp_path / "left.landmarks.npz", ride(8.0, facing=-1))
    session = tmp_path / "s"
    arguments = ("watch", "--fast", "--source", left, "--target", target_file, "--session", session)
    ran = run(*arguments)
    assert ran.status == 3
    assert "near side: right / left" in ran.err
    assert ran.err.count("\n") == 1
    assert not session.exists()
    anyhow = run(*arguments, "--any-chain")
    assert anyhow.status == 0
    assert anyhow.last_line.startswith("[other chain] counted 0 strokes")
    assert "near side: right / left" in run("session", "show", session).out


def test_a_target_of_another_model_marks_every_output(
    run: Run, drifting: Path, target_file: Path, tmp_path: Path
) -> None:
    document = json.loads(target_file.read_text(encoding="utf-8"))
    document["chain"]["model_name"] = "lite"
    document["chain"].pop("fingerprint")
    document["chain"]["fingerprint"] = MeasuringChain(**document["chain"]).fingerprint()
    target = tmp_path / "lite.json"
    target.write_text(json.dumps(document), encoding="utf-8")
    session = tmp_path / "s"
    arguments = ("watch", "--fast", "--source", drifting, "--target", target, "--session", session)
    ran = run(*arguments)
    assert ran.status == 3
    assert "model_name: lite / full" in ran.err
    assert not session.exists()
    anyhow = run(*arguments, "--any-chain")
    assert anyhow.status == 0
    said = [line for line in anyhow.out.splitlines() if re.search(r"\d:\d\d\.\d|counted", line)]
    assert len(said) > 4
    assert all(line.startswith("[other chain] ") for line in said)
    shown = run("session", "show", session)
    assert shown.last_line == anyhow.last_line
    assert "other chain: model_name: lite / full" in shown.out


def test_a_rotated_clip_is_another_chain(
    run: Run, tmp_path: Path, target_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A phone held upright: the pictures are turned, and as wide as they were high."""
    find_rider(monkeypatch)
    times = [round(number * 100 / 3) for number in range(90)]
    clip = write_clip(tmp_path / "turned.mp4", times, size=(640, 480), still=True)
    turn_display_matrix(clip, 90)
    ran = run("watch", "--source", clip, "--target", target_file, "--fast")
    assert ran.status == 3
    assert "width_px: 640 / 480; height_px: 480 / 640" in ran.err
    anyhow = run("watch", "--source", clip, "--target", target_file, "--fast", "--any-chain")
    assert anyhow.status == 0
    assert anyhow.last_line.endswith("s of 3.0 s, in 0 intervals")


def test_a_clip_of_one_picture_a_second_counts_nothing(
    run: Run, tmp_path: Path, target_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    find_rider(monkeypatch)
    clip = write_clip(
        tmp_path / "slow.mp4", [1000 * n for n in range(50)], size=(640, 480), still=True
    )
    ran = run("target", "capture", clip, "--hands", "hoods")
    assert ran.status == 2
    assert ran.err.count("\n") == 1
    assert "slow.mp4" in ran.err
    arguments = ("watch", "--source", clip, "--target", target_file, "--fast")
    assert "rate_hz: 30" in run(*arguments).err
    anyhow = run(*arguments, "--any-chain")
    assert anyhow.status == 0
    assert anyhow.last_line == ("[other chain] counted 0 strokes, 0.0 s of 49.0 s, in 0 intervals")


def test_a_clip_in_which_the_rider_never_pedals(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ridden_target: Target
) -> None:
    find_rider(monkeypatch, standing_still)
    times = [round(number * 100 / 3) for number in range(150)]
    clip = write_clip(tmp_path / "still.mp4", times, size=(640, 480), still=True)
    captured = run("target", "capture", clip, "--hands", "hoods")
    assert captured.status == 2
    assert "Nobody pedals in still.mp4" in captured.err
    # The recording's chain says "no model"; a clip is read with the installed one.
    model = bundles.load_bundle("full").model
    chain = replace(ridden_target.chain, model_sha256=model.sha256, pose_library=model.library)
    copy_target(replace(ridden_target, chain=chain), tmp_path / "t.json")
    ran = run("watch", "--source", clip, "--target", tmp_path / "t.json", "--fast")
    assert (ran.status, ran.err) == (0, "")
    assert NOTHING.fullmatch(ran.last_line)


@pytest.mark.parametrize("damage", ["missing", "altered", "cut short"])
def test_a_pose_model_that_is_not_as_it_was_shipped(
    run: Run, tmp_path: Path, target_file: Path, monkeypatch: pytest.MonkeyPatch, damage: str
) -> None:
    shipped = Path(bundles.__file__).parent / "models"
    models = tmp_path / "models"
    models.mkdir()
    for path in [shipped / "bundles.json", *shipped.glob("*lite*.task")]:
        shutil.copy(path, models)
    (model,) = models.glob("*.task")
    data = model.read_bytes()
    if damage == "missing":
        model.unlink()
    else:
        model.write_bytes(data[:-1] + bytes([data[-1] ^ 1]) if damage == "altered" else data[:-1])
    monkeypatch.setattr(importlib.resources, "files", lambda _: models)
    clip = write_clip(tmp_path / "clip.mp4", [0, 33, 66])
    arguments = ("--source", clip, "--target", target_file, "--model", "lite", "--any-chain")
    ran = run("watch", "--fast", *arguments, "--session", tmp_path / "s")
    assert ran.status == 2
    assert "The pose model" in ran.err
    assert "Install posewatch again." in ran.err
    assert ran.err.count("\n") == 1
    assert not (tmp_path / "s").exists()


def test_the_progress_says_which_joint_is_not_believed_and_why() -> None:
    state = pipeline.start(task(), CHAIN, None)
    assert why_not_seen(state) == ""
    hidden = replace(state, last=Tracked(0, None, nothing(0, Doubt.BEHIND_ARM), UNKNOWN))
    assert why_not_seen(hidden) == "; shoulder behind the arm"
