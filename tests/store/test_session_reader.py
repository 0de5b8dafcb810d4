"""A session gives back what was written, changes nothing, and says why it cannot be read."""

from __future__ import annotations

import itertools
import sqlite3
from dataclasses import replace
from pathlib import Path

import made_profiles
import numpy as np
import pytest
from older_sessions import older_session

from posewatch.core import landmark_codec
from posewatch.core.envelope import Unit
from posewatch.core.outputs import (
    BriefDrift,
    ChannelValue,
    CreepWarning,
    CueChanged,
    HoldGained,
    HoldLost,
    LengthsDiffer,
    Output,
    Phase,
    Reason,
    StrokeJudged,
    ValidInterval,
)
from posewatch.core.records import (
    Channel,
    Command,
    CommandKind,
    Effort,
    Frame,
    Input,
    SourceCondition,
    SourceState,
    Tick,
    Verdict,
)
from posewatch.core.sensor_use import SensorUse
from posewatch.core.video_use import VideoUse
from posewatch.errors import BadInput
from posewatch.store.session_header import Anchor, SessionEnding, SessionHeader
from posewatch.store.session_reader import SessionReader
from posewatch.store.session_writer import SessionWriter

STROKE = StrokeJudged(
    10,
    700_000_010,
    Verdict.GOOD,
    True,
    Phase.IN_POSITION,
    (
        ChannelValue(Channel.TORSO, 0.1, 0.2, Verdict.GOOD, True, None, 0.0, 0.0),
        ChannelValue(Channel.HAND_PLACE, 1 / 3, 0.02, Verdict.OUT, False, Reason.HOLE, -0.3, 0.1),
    ),
    None,
)
INTERVALS = (ValidInterval(10, 20, 9, True), ValidInterval(30, 40, 2, False))
EVENTS: tuple[Output, ...] = (
    HoldGained(5),
    CueChanged(6, Channel.HIP, "forward"),
    BriefDrift(7, 9, 2, None, ""),
    HoldLost(10, Reason.DRIFT, Channel.TORSO, "down"),
    CueChanged(11, None, ""),
    CreepWarning(12, Channel.SITTING_PLACE, -4.5, 180, Unit.MM),
    LengthsDiffer(13, "thigh", -0.2),
)


def some_inputs(n: int = 40) -> list[Input]:
    random = np.random.default_rng(3)
    items: list[Input] = []
    for k in range(n):
        points = random.normal(320, 100, (33, 2))
        stored = landmark_codec.encode(points, random.random(33), random.random(33))
        items.append(landmark_codec.decode(k * 33_366_700, stored))
        if k % 10 == 0:
            items.append(Effort(k * 33_366_700, 180.0 + k, 85.5))
    items[5:5] = [
        SourceState(1, "camera", SourceCondition.LOST, "unplugged"),
        Tick(2),
        Command(3, CommandKind.MARK, "größer"),
    ]
    return items


@pytest.fixture
def finished(tmp_path: Path, header: SessionHeader, ending: SessionEnding) -> Path:
    folder = tmp_path / "with space #1?"
    with SessionWriter.create(folder, header) as writer:
        for seq, item in reversed(list(enumerate(some_inputs()))):
            writer.add_input(seq, item)
        for output in (STROKE, *INTERVALS, *EVENTS):
            writer.add_output(output)
        writer.add_wall_time(0, 1_740_820_272_000_000_001)
        writer.finish(ending)
    return folder


def same_input(first: Input, second: Input) -> bool:
    if isinstance(first, Frame) and isinstance(second, Frame):
        return (
            first.t_ns == second.t_ns
            and np.array_equal(first.points_px, second.points_px)
            and np.array_equal(first.visibility, second.visibility)
            and np.array_equal(first.presence, second.presence)
        )
    return first == second


def test_everything_comes_back(
    finished: Path, header: SessionHeader, ending: SessionEnding
) -> None:
    before = (finished / "session.sqlite").read_bytes()
    with SessionReader(finished) as reader:
        assert reader.header == header
        assert reader.ending == ending
        numbers, items = zip(*reader.inputs(), strict=True)
        assert numbers == tuple(range(47))
        assert all(map(same_input, items, some_inputs()))
        (stroke,) = reader.strokes()
        assert stroke.channels[1] == STROKE.channels[1]
        assert stroke == STROKE
        assert tuple(reader.intervals()) == INTERVALS
        assert tuple(reader.events()) == EVENTS
        assert list(reader.anchors()) == [Anchor(0, 1_740_820_272_000_000_001)]
    assert (finished / "session.sqlite").read_bytes() == before
    assert [path.name for path in finished.iterdir()] == ["session.sqlite"]


def test_a_camera_s_profile_comes_back_to_the_bit(tmp_path: Path, header: SessionHeader) -> None:
    profile = made_profiles.saved().profile
    with SessionWriter.create(tmp_path / "s", replace(header, profile=profile)):
        pass
    with SessionReader(tmp_path / "s") as reader:
        assert reader.header.profile == profile
        assert reader.header.profile.fingerprint() == profile.fingerprint()


def test_which_sensor_gave_what_comes_back(tmp_path: Path, header: SessionHeader) -> None:
    names = (("F1:00:00:00:00:01", "Crank"), ("F1:00:00:00:00:02", "Größe"))
    use = SensorUse("F1:00:00:00:00:01", "Pod", "", Path("ride.jsonl"), "Trainer", names)
    with SessionWriter.create(tmp_path / "s", replace(header, sensors=use)) as writer:
        writer.commit()
    with SessionReader(tmp_path / "s") as reader:
        assert reader.header.sensors == use


def test_a_session_of_an_older_schema_opens_and_stays_as_it_was(
    finished: Path, tmp_path: Path, header: SessionHeader, ending: SessionEnding
) -> None:
    """Version 2 knew neither sensors, a date until which it is kept, nor a video."""
    old = older_session(finished, tmp_path / "old", 2)
    before = (old / "session.sqlite").read_bytes()
    with SessionReader(old) as reader:
        assert reader.header == header
        assert reader.header.sensors == SensorUse()
        assert reader.header.keep_until == ""
        assert reader.header.video is None
        assert reader.ending == ending
        assert [seq for seq, _ in reader.inputs()] == list(range(47))
        assert tuple(reader.intervals()) == INTERVALS
        assert tuple(reader.events()) == EVENTS
        assert reader.damage() == []
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            reader._connection.execute("DELETE FROM inputs")
    assert (old / "session.sqlite").read_bytes() == before
    assert [path.name for path in old.iterdir()] == ["session.sqlite"]


def test_an_older_session_that_was_cut_off_opens_too(tmp_path: Path, header: SessionHeader) -> None:
    with SessionWriter.create(tmp_path / "s", header) as writer:
        writer.add_input(0, Tick(1))
        writer.commit()
    old = older_session(tmp_path / "s", tmp_path / "old", 2)
    with SessionReader(old) as reader:
        assert reader.ending is None
        assert list(reader.inputs()) == [(0, Tick(1))]


def test_until_when_it_is_kept_comes_back(tmp_path: Path, header: SessionHeader) -> None:
    with SessionWriter.create(tmp_path / "s", replace(header, keep_until="2026-02-28")) as writer:
        writer.commit()
    with SessionReader(tmp_path / "s") as reader:
        assert reader.header.keep_until == "2026-02-28"


def test_the_video_that_was_agreed_to_comes_back(tmp_path: Path, header: SessionHeader) -> None:
    use = VideoUse("video v1 agreed to by r17", True)
    with SessionWriter.create(tmp_path / "s", replace(header, video=use)) as writer:
        writer.commit()
    with SessionReader(tmp_path / "s") as reader:
        assert reader.header.video == use


def test_a_broken_page_is_found(tmp_path: Path, header: SessionHeader) -> None:
    with SessionWriter.create(tmp_path / "s", header) as writer:
        for seq, item in enumerate(some_inputs(400)):
            writer.add_input(seq, item)
        writer.commit()
    path = tmp_path / "s" / "session.sqlite"
    content = bytearray(path.read_bytes())
    # A page of the inputs' tree, from the middle of the file; what it says of itself is wiped out.
    middle = len(content) // 2 // 4096 * 4096
    content[middle : middle + 12] = bytes(12)
    path.write_bytes(content)
    with SessionReader(tmp_path / "s") as reader:
        assert reader.damage() != []


def test_a_reader_cannot_write(finished: Path) -> None:
    with (
        SessionReader(finished) as reader,
        pytest.raises(sqlite3.OperationalError, match="readonly"),
    ):
        reader._connection.execute("DELETE FROM inputs")


def test_a_running_session_can_be_read_up_to_its_last_commit(
    tmp_path: Path, header: SessionHeader, ending: SessionEnding
) -> None:
    folder = tmp_path / "s"
    with SessionWriter.create(folder, header) as writer:
        writer.add_input(0, Tick(1))
        writer.commit()
        writer.add_input(1, Tick(2))
        with SessionReader(folder) as reader:
            assert list(reader.inputs()) == [(0, Tick(1))]
            assert reader.ending is None
            writer.finish(ending)
            assert list(reader.inputs()) == [(0, Tick(1)), (1, Tick(2))]
    with SessionReader(folder) as reader:
        assert reader.ending == ending


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"There is no session folder .*gone"):
        SessionReader(tmp_path / "gone")


def test_a_folder_without_a_session_is_refused_and_left_alone(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"is not a session: it holds no session\.sqlite"):
        SessionReader(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_foreign_database_is_refused(tmp_path: Path) -> None:
    connection = sqlite3.connect(tmp_path / "session.sqlite")
    connection.execute("CREATE TABLE meta (key, value)")
    connection.close()
    with pytest.raises(BadInput, match="was not begun by posewatch"):
        SessionReader(tmp_path)


def change(folder: Path, statement: str) -> None:
    connection = sqlite3.connect(folder / "session.sqlite")
    connection.execute(statement)
    connection.commit()
    connection.close()


def test_a_newer_schema_is_refused_with_both_versions(finished: Path) -> None:
    change(finished, "PRAGMA user_version = 5")
    with pytest.raises(BadInput, match=r"schema version 5; this program reads up to 4\."):
        SessionReader(finished)


@pytest.mark.parametrize(
    "statement",
    [
        "DROP TABLE meta",
        "DROP TABLE ending",
        "DELETE FROM meta WHERE key = 'plan'",
        "UPDATE meta SET value = '{' WHERE key = 'chain'",
        "UPDATE meta SET value = '{}' WHERE key = 'stream'",
        "UPDATE meta SET value = '{\"lens\": 1}' WHERE key = 'profile'",
        "UPDATE meta SET value = '\"nothing\"' WHERE key = 'target'",
        "UPDATE meta SET value = '\"other\"' WHERE key = 'format'",
        "UPDATE ending SET how = 'somehow'",
    ],
)
def test_a_damaged_header_is_refused_in_one_line(finished: Path, statement: str) -> None:
    change(finished, statement)
    with pytest.raises(BadInput) as caught:
        SessionReader(finished)
    assert "with space #1?" in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE inputs SET payload = x'00' WHERE seq = 20",
        "UPDATE inputs SET kind = 'smell' WHERE seq = 20",
        "UPDATE strokes SET verdict = 'fine'",
        "UPDATE strokes SET channels = '[{}]'",
        "UPDATE events SET kind = 'yawn' WHERE id = 2",
        "UPDATE events SET channel = 'ankle' WHERE id = 2",
        "DROP TABLE intervals",
    ],
)
def test_damage_found_while_reading_is_told(finished: Path, statement: str) -> None:
    change(finished, statement)
    with SessionReader(finished) as reader:
        tables = (reader.inputs(), reader.strokes(), reader.events(), reader.intervals())
        with pytest.raises(BadInput, match="cannot be read"):
            list(itertools.chain(*tables))


@pytest.mark.parametrize("cut", [0, 50, 3000])
def test_a_file_cut_short_or_overwritten_is_refused(finished: Path, cut: int) -> None:
    path = finished / "session.sqlite"
    path.write_bytes(path.read_bytes()[:cut] + b"\x55" * (cut % 2000))
    with pytest.raises(BadInput):
        SessionReader(finished)
