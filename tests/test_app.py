"""The parts wired together, from recorded landmarks and from small clips."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import pytest
from linkage_rider import WIDTH_PX, Pose, ride
from made_clips import write_clip
from made_rides import find_rider, write_ride

from posewatch import app
from posewatch.app import Watcher, WatchResult
from posewatch.capturing import capture_target
from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.core.outputs import HoldLost, StrokeJudged, ValidInterval
from posewatch.core.records import Frame
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import BadInput, ChainMismatch
from posewatch.opening import open_frames
from posewatch.replaying import replay
from posewatch.store.session_header import HowEnded, SessionEnding
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import Settings, load_settings
from posewatch.watched_source import Source

SUBJECT = Subject("rider", "bike", "hoods")


def nothing(*_: object) -> None:
    pass


def watcher(source: Path, target: Target, session: Path | None = None, **more: object) -> Watcher:
    return Watcher(
        Source(source, "full"),
        target,
        WatchPlan(),
        load_settings(),
        session,
        **more,  # type: ignore[arg-type]
    )


def watch(source: Path, target: Target, session: Path | None = None) -> WatchResult:
    return watcher(source, target, session).run(nothing, nothing)


def ending_of(session: Path) -> SessionEnding | None:
    with SessionReader(session) as reader:
        return reader.ending


@pytest.fixture
def long_ride(tmp_path: Path) -> Path:
    """15 s in the fitted position, 5 s with the torso low, 10 s in position again."""

    def pose(t_s: float, crank_deg: float) -> Pose:
        return Pose(crank_deg, torso_deg=34.0 if 15.0 <= t_s < 20.0 else 42.0)

    return write_ride(tmp_path / "ride.landmarks.npz", ride(30.0, pose, seed=5))


def test_the_same_recording_gives_the_same_outputs_and_so_does_its_replay(
    tmp_path: Path, ridden_target: Target, long_ride: Path
) -> None:
    first = watch(long_ride, ridden_target, tmp_path / "first")
    second = watch(long_ride, ridden_target, tmp_path / "second")
    without_log = watch(long_ride, ridden_target)
    assert any(isinstance(o, HoldLost) for o in first.outputs)
    assert sum(isinstance(o, ValidInterval) and o.confirmed for o in first.outputs) == 2
    # As text, since an unknown value is NaN and NaN is not equal to itself.
    assert repr(first.outputs) == repr(second.outputs) == repr(without_log.outputs)
    assert first.totals == second.totals
    for session in (tmp_path / "first", tmp_path / "second"):
        again = replay(session, nothing)
        assert repr(again.outputs) == repr(first.outputs)
        assert again.recorded == again.intervals
        assert again.finished
        assert again.same
        assert again.n_inputs == 900


def test_a_session_keeps_what_the_watch_said_and_came_to(
    tmp_path: Path, ridden_target: Target, long_ride: Path
) -> None:
    result = watch(long_ride, ridden_target, tmp_path / "s")
    with SessionReader(tmp_path / "s") as reader:
        header, ending = reader.header, reader.ending
        strokes = [o for o in result.outputs if isinstance(o, StrokeJudged)]
        assert repr(list(reader.strokes())) == repr(strokes)
        assert tuple(reader.intervals()) == tuple(
            o for o in result.outputs if isinstance(o, ValidInterval)
        )
        assert len(list(reader.anchors())) >= 1
    assert header.target == ridden_target
    assert header.chain.differences(ridden_target.chain) == ()
    assert datetime.fromisoformat(header.created).utcoffset() is not None
    assert header.versions["python"] == ".".join(map(str, sys.version_info[:3]))
    assert "data_folder" in header.settings_text
    assert ending is not None
    assert (ending.how, ending.message) == (HowEnded.SOURCE_ENDED, "")
    assert (ending.n_counted, ending.counted_ns) == (
        result.totals.n_counted,
        result.totals.counted_ns,
    )
    assert result.totals.n_counted > 15


def test_a_replay_that_comes_out_otherwise_is_told(
    tmp_path: Path, ridden_target: Target, long_ride: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    watch(long_ride, ridden_target, tmp_path / "s")
    recorded = SessionReader.intervals
    monkeypatch.setattr(SessionReader, "intervals", lambda self: list(recorded(self))[1:])
    assert not replay(tmp_path / "s", nothing).same


@pytest.mark.parametrize(
    ("start_s", "end_s", "n_frames"),
    [(0.0, None, 900), (10.0, None, 600), (0.0, 1.5, 45), (10.0, 20.0, 300), (29.0, 90.0, 30)],
)
def test_a_part_is_read_and_its_frames_are_expected(
    long_ride: Path, start_s: float, end_s: float | None, n_frames: int
) -> None:
    with open_frames(Source(long_ride, "full", start_s=start_s, end_s=end_s)) as opened:
        times = [frame.t_ns / 1e9 for frame in opened.seen()]
        assert (opened.n_expected, opened.lost()) == (n_frames, {})
    assert times[0] == pytest.approx(start_s)
    assert len(times) == n_frames


@pytest.mark.parametrize(
    ("start_s", "end_s"), [(-1.0, None), (5.0, 5.0), (6.0, 5.0), (float("nan"), None)]
)
def test_a_part_that_cannot_be_is_refused(
    long_ride: Path, start_s: float, end_s: float | None
) -> None:
    source = Source(long_ride, "full", start_s=start_s, end_s=end_s)
    with (
        pytest.raises(BadInput, match=r"ride\.landmarks\.npz has no part from"),
        open_frames(source),
    ):
        pass


def test_a_capture_from_beyond_the_end_says_so(long_ride: Path) -> None:
    with pytest.raises(BadInput, match="is over before 31 s"):
        capture_target([Source(long_ride, "full", start_s=31.0)], SUBJECT, nothing)


def test_a_rider_seen_from_the_other_side_is_refused_and_leaves_nothing(
    tmp_path: Path, ridden_target: Target
) -> None:
    left = write_ride(tmp_path / "left.landmarks.npz", ride(5.0, facing=-1))
    with pytest.raises(ChainMismatch, match="near side: right / left"):
        watch(left, ridden_target, tmp_path / "s")
    assert not (tmp_path / "s").exists()
    seen_anyhow = watcher(left, ridden_target, tmp_path / "s", any_chain=True)
    assert seen_anyhow.run(nothing, nothing).totals.n_counted == 0
    assert seen_anyhow.differences == ["near side: right / left"]
    ending = ending_of(tmp_path / "s")
    assert ending is not None
    assert "near side: right / left" in ending.message


def test_a_side_mistaken_later_does_not_cost_the_session(
    tmp_path: Path, ridden_target: Target
) -> None:
    """Someone else, who looks the other way, takes the rider's place after 12 s."""
    frames = [*ride(12.0), *ride(6.0, start_s=12.0, facing=-1)]
    mixed = write_ride(tmp_path / "mixed.landmarks.npz", frames)
    result = watch(mixed, ridden_target, tmp_path / "s")
    assert result.totals.n_counted >= 8
    counted = [o for o in result.outputs if isinstance(o, StrokeJudged) and o.counted]
    assert counted[-1].end_ns < 13e9
    assert ending_of(tmp_path / "s") is not None


@pytest.mark.parametrize(
    ("error", "how", "message"),
    [
        (BadInput("The camera went away.", "Plug it in."), HowEnded.FAILED, "The camera went away"),
        (KeyboardInterrupt(), HowEnded.STOPPED, ""),
        (SystemExit(1), HowEnded.STOPPED, ""),
    ],
)
def test_an_error_in_the_middle_keeps_what_was_recorded_and_says_why(
    tmp_path: Path,
    ridden_target: Target,
    long_ride: Path,
    error: BaseException,
    how: HowEnded,
    message: str,
) -> None:
    n_seen = 0

    def seen(*_: object) -> None:
        nonlocal n_seen
        n_seen += 1
        if n_seen == 400:
            raise error

    with pytest.raises(type(error)):
        watcher(long_ride, ridden_target, tmp_path / "s").run(seen, nothing)
    ending = ending_of(tmp_path / "s")
    assert ending is not None
    assert (ending.how, ending.n_frames) == (how, 400)
    assert ending.message.startswith(message)
    again = replay(tmp_path / "s", nothing)
    assert (again.n_inputs, again.same) == (400, True)
    assert ending.n_counted == sum(o.n_strokes for o in again.intervals if o.confirmed) > 0


def test_stopping_ends_the_session_as_stopped(
    tmp_path: Path, ridden_target: Target, long_ride: Path
) -> None:
    one = watcher(long_ride, ridden_target, tmp_path / "s")

    def seen(frame: Frame, *_: object) -> None:
        if frame.t_ns > 1e9:
            one.stop.set()

    one.run(seen, nothing)
    ending = ending_of(tmp_path / "s")
    assert ending is not None
    assert ending.how is HowEnded.STOPPED
    assert ending.watched_ns < 1.1e9


def test_sessions_without_a_name_never_share_a_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Noon(datetime):
        @classmethod
        def now(cls, tz: object = None) -> Noon:
            return cls(2026, 1, 2, 12, 0, 0)

    monkeypatch.setattr(app, "datetime", Noon)
    settings = Settings(data_folder=tmp_path)
    names = []
    for _ in range(3):
        folder = app.new_session_folder(settings)
        folder.mkdir(parents=True)
        names.append(folder.relative_to(tmp_path / "sessions").as_posix())
    assert names == ["2026-01-02_12-00-00", "2026-01-02_12-00-00_2", "2026-01-02_12-00-00_3"]


CLIP_S = 32.0
QUICK = {"bf": "0", "preset": "ultrafast"}


def uneven_ms(seconds: float) -> list[int]:
    """Times of a phone clip: 20 to 50 ms apart, and a hole of half a second in the middle."""
    steps = [20, 33, 50, 33, 40, 25]
    times, n = [0], 0
    while times[-1] < 1000 * seconds:
        hole = 500 if times[-1] < 500 * seconds <= times[-1] + steps[n % 6] else 0
        times.append(times[-1] + steps[n % 6] + hole)
        n += 1
    return times


@pytest.fixture(scope="module")
def uneven_clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("clips") / "uneven.mp4"
    return write_clip(path, uneven_ms(CLIP_S), size=(640, 480), options=QUICK, still=True)


def test_a_clip_of_a_variable_rate_is_timed_by_its_pictures(
    uneven_clip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Captured and watched; 90 rpm comes out only if presentation times are used."""
    find_rider(monkeypatch)
    target = capture_target([Source(uneven_clip, "full")], SUBJECT, nothing)
    assert target.cadence_rpm == pytest.approx(90.0, abs=0.3)
    result = watch(uneven_clip, target)
    strokes = [o for o in result.outputs if isinstance(o, StrokeJudged)]
    assert {round(o.cadence_rpm) for o in strokes if o.counted} <= {89, 90, 91}
    assert result.totals.n_frames == len(uneven_ms(CLIP_S))
    assert result.totals.watched_ns == pytest.approx(1e6 * uneven_ms(CLIP_S)[-1], abs=1e6)
    assert result.totals.n_counted > 25
    # Nothing counts over the hole, which begins in the middle.
    assert not any(o.counted for o in strokes if o.start_ns < 16.4e9 and o.end_ns > 16.1e9)


def test_a_clip_cut_short_tells_how_much_is_missing(
    tmp_path: Path, ridden_target: Target, monkeypatch: pytest.MonkeyPatch
) -> None:
    find_rider(monkeypatch)
    times = [round(number * 100 / 3) for number in range(300)]
    whole = write_clip(tmp_path / "whole.mkv", times, options={"bf": "0", "g": "30"})
    cut = tmp_path / "cut.mkv"
    cut.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    one = watcher(cut, ridden_target, any_chain=True)
    result = one.run(nothing, nothing)
    assert 0 < result.totals.n_frames < 300
    assert result.lost == {"missing at the end of the file": 300 - result.totals.n_frames}


def test_half_a_second_of_facing_the_other_way_at_the_start_refuses_nothing(
    ridden_target: Target, tmp_path: Path
) -> None:
    frames = list(ride(20.0, seed=3))
    for frame in frames[:18]:
        frame.points_px[:, 0] = WIDTH_PX - frame.points_px[:, 0]
    mounting = write_ride(tmp_path / "mounting.landmarks.npz", frames)
    watching = watcher(mounting, ridden_target, tmp_path / "session")
    result = watching.run(nothing, nothing)
    assert watching.differences == []
    assert result.totals.n_counted > 0
