"""A video is kept only where the rider has agreed to it; what is said of it, and how it goes."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest
from command_runs import Ran, Run
from made_rides import find_rider
from made_videos import N_PICTURES, short_clip
from visit_setting import Setting

from posewatch.camera.kept_video import see_all
from posewatch.runtime import video_thread
from posewatch.store.session_reader import SessionReader
from posewatch.store.visit_record import read_visit


class Keys(io.StringIO):
    """Somebody at a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return short_clip(tmp_path_factory.mktemp("clips") / "short.mkv")


@pytest.fixture(autouse=True)
def _rider(monkeypatch: pytest.MonkeyPatch) -> None:
    find_rider(monkeypatch)
    monkeypatch.setattr(video_thread, "WAITING", 1000)


class Watch:
    """Watches the clip with a video."""

    def __init__(self, run: Run, clip: Path, target: Path, session: Path) -> None:
        self.run, self.session = run, session
        self._given = ("--source", clip, "--target", target, "--session", session)

    def __call__(self, *more: object) -> Ran:
        return self.run("watch", *self._given, "--fast", "--any-chain", *more)


@pytest.fixture
def watch(run: Run, clip: Path, target_file: Path, tmp_path: Path) -> Watch:
    return Watch(run, clip, target_file, tmp_path / "s")


def test_a_video_is_kept_shown_checked_and_deleted(watch: Watch, tmp_path: Path) -> None:
    ran = watch("--video", "--video-agreed-by", "rider", "--blur-faces")
    assert (ran.status, ran.err) == (0, "")
    assert "0:00.0  Video is being kept, faces blurred." in ran.out
    words = f"video: {N_PICTURES} of {N_PICTURES} pictures, faces blurred"
    assert f"\n{words}, in {watch.session / 'video'}\nlogged in " in ran.out
    shown = watch.run("session", "show", watch.session).out
    assert f"\n{words}, in {watch.session / 'video'}; video v1 agreed to by rider 2" in shown
    checked = watch.run("session", "check", watch.session)
    assert (checked.status, checked.err) == (0, "")
    assert f"\n  {words}\n" in checked.out
    assert watch.run("session", "export", watch.session, "-o", tmp_path / "out").status == 0
    assert not any("video" in path.name for path in (tmp_path / "out").rglob("*"))
    gone = watch.run("session", "delete", watch.session, "--yes").out.splitlines()
    names = [Path(line.strip()).name for line in gone[:-1]]
    assert "video.mkv" in names
    assert "times.csv" in names
    assert not watch.session.exists()


def test_the_video_alone_can_be_deleted(watch: Watch) -> None:
    watch("--video", "--video-agreed-by", "rider")
    with SessionReader(watch.session) as reader:
        assert reader.header.video is not None
        assert not reader.header.video.blur_faces
    ran = watch.run("session", "delete", watch.session, "--video", "--yes")
    assert ran.last_line == f"deleted 2 files; all else of {watch.session} is left"
    assert not (watch.session / "video").exists()
    checked = watch.run("session", "check", watch.session)
    assert checked.status == 0
    assert "video: it is not there any more" in checked.out
    assert "video: it is not there any more" in watch.run("session", "show", watch.session).out


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (("--video",), "The rider has not agreed to a video."),
        (("--video", "--video-agreed-by", "r18"), "r18 has agreed to a video, but the rider is"),
        (("--video-agreed-by", "rider"), "--video-agreed-by is given, and no video is kept."),
        (("--blur-faces",), "--blur-faces is given, and no video is kept."),
    ],
)
def test_without_an_agreement_nothing_begins(
    watch: Watch, given: tuple[str, ...], says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("y\n"))
    ran = watch(*given)
    assert ran.status == 2
    assert says in ran.err
    assert not watch.session.exists()


def test_at_a_terminal_the_rider_is_asked(watch: Watch, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", Keys("\n"))
    ran = watch("--video", "--blur-faces")
    assert ran.status == 2
    assert "A video of you is kept: every picture that is watched" in ran.out
    assert "Has rider agreed to this? y = yes" in ran.out
    assert not watch.session.exists()
    monkeypatch.setattr(sys, "stdin", Keys("y\n"))
    assert watch("--video", "--blur-faces").status == 0
    assert (watch.session / "video" / "video.mkv").is_file()


def test_landmarks_have_no_pictures(
    run: Run, reference_recording: Path, target_file: Path, tmp_path: Path
) -> None:
    ran = run(
        *("watch", "--source", reference_recording, "--target", target_file, "--headless"),
        *("--session", tmp_path / "s", "--video", "--video-agreed-by", "rider"),
    )
    assert ran.status == 2
    assert "holds landmarks and no pictures" in ran.err
    assert not (tmp_path / "s").exists()


def test_the_help_says_who_is_not_blurred(run: Run) -> None:
    for command in (("watch",), ("trial", "run")):
        said = " ".join(run(*command, "--help").out.replace("│", " ").split())
        assert "Other people's faces are NOT found and not blurred." in said


def test_trials_of_a_visit_keep_theirs(
    setting: Setting, clip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rider = setting.target.rider
    given = ("--plan", setting.plan, "--codes", setting.codes, "--session", setting.visit)
    more = ("--source", clip, "--fast", "--any-chain", "--answers", setting.answers())
    refused = setting.run("trial", "run", *given, *more, "--video")
    assert refused.status == 2
    assert "The rider has not agreed to a video." in refused.err
    assert not setting.visit.exists()
    ran = setting.run("trial", "run", *given, *more, "--video", "--video-agreed-by", rider)
    assert (ran.status, ran.err) == (0, "")
    assert f"  video: {N_PICTURES} of {N_PICTURES} pictures, faces NOT blurred" in ran.out
    header, _ = read_visit(setting.visit)
    assert header.consent.startswith(f"video v1 agreed to by {rider}")
    trials = sorted((setting.visit / "trials").iterdir())
    assert len(trials) == 3
    for trial in trials:
        assert see_all(trial / "video").n_pictures == N_PICTURES
    shown = setting.run("session", "show", setting.visit).out
    assert "videos are kept of 3 trials" in shown
    assert setting.run("session", "check", setting.visit).status == 0


def test_a_rehearsal_keeps_no_video(setting: Setting) -> None:
    ran = setting.conduct("--rehearse", "--video", "--video-agreed-by", "rider")
    assert ran.status == 2
    assert "A rehearsal keeps nothing, and so no video." in ran.err
