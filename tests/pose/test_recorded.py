"""The file of recorded landmarks."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_landmarks import INFO, MODEL, TIMES_NS, landmarks, same_frames

from posewatch.core.landmark_codec import decode
from posewatch.errors import BadInput
from posewatch.pose.recorded import RecordedFrom, RecordedLandmarks, write_recording

SOURCE = RecordedFrom("made.mp4", "cd" * 32)


def write(path: Path, times_ns: tuple[int, ...] = TIMES_NS, seed: int = 0) -> Path:
    found = [landmarks(seed + number) for number in range(len(times_ns))]
    write_recording(path, INFO, MODEL, SOURCE, times_ns, found)
    return path


@settings(max_examples=25)
@given(st.lists(st.integers(1, 10**12), max_size=20), st.integers(0, 1000))
def test_what_was_written_is_read_back_exactly(
    tmp_path_factory: pytest.TempPathFactory, steps_ns: list[int], seed: int
) -> None:
    times = tuple(int(t_ns) for t_ns in np.cumsum([0, *steps_ns]))
    path = write(tmp_path_factory.mktemp("recorded") / "made.landmarks.npz", times, seed)
    expected = [decode(t_ns, landmarks(seed + number)) for number, t_ns in enumerate(times)]
    assert same_frames(list(RecordedLandmarks(path)), expected)


def test_a_recording_can_be_gone_through_again(tmp_path: Path) -> None:
    recording = RecordedLandmarks(write(tmp_path / "made.landmarks.npz"))
    assert same_frames(list(recording), list(recording))


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    one, other = write(tmp_path / "one.npz"), write(tmp_path / "other.npz")
    assert one.read_bytes() == other.read_bytes()
    with zipfile.ZipFile(one) as archive:
        dates = {entry.date_time for entry in archive.infolist()}
    assert dates == {(1980, 1, 1, 0, 0, 0)}


@pytest.mark.parametrize("times_ns", [(5, 10), (0, 10, 10), (0, 10, 5), ()])
def test_times_must_begin_at_zero_and_rise(tmp_path: Path, times_ns: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="Times must"):
        write(tmp_path / "made.landmarks.npz", times_ns)
    assert list(tmp_path.iterdir()) == []


def test_each_picture_has_one_time(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="one time"):
        write_recording(tmp_path / "a.npz", INFO, MODEL, SOURCE, (0, 1), [landmarks(0)])


def test_an_unwritable_place_is_explained(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="cannot be written"):
        write(tmp_path / "missing" / "made.landmarks.npz")


def replaced(path: Path, **arrays: np.ndarray | None) -> None:
    """Write the file again with some arrays exchanged, or left out (None)."""
    with np.load(path) as archive:
        kept: dict[str, Any] = {name: archive[name] for name in archive.files} | arrays
    packed = io.BytesIO()
    np.savez_compressed(packed, **{k: v for k, v in kept.items() if v is not None})
    path.write_bytes(packed.getvalue())


def header(path: Path, **changes: object) -> None:
    with np.load(path) as archive:
        values = json.loads(archive["header"].tobytes()) | changes
    replaced(path, header=np.frombuffer(json.dumps(values).encode(), np.uint8))


def truncated(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-200])


def flipped_bits(path: Path) -> None:
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 40] = bytes(255 - value for value in data[middle : middle + 40])
    path.write_bytes(data)


def with_pickle(path: Path) -> None:
    replaced(path, points=np.array([{"a": 1}], dtype=object))


def single_array(path: Path) -> None:
    with path.open("wb") as file:
        np.save(file, np.zeros(3))


SPOILERS: list[Callable[[Path], None]] = [
    truncated,
    flipped_bits,
    with_pickle,
    single_array,
    lambda path: path.write_bytes(b""),
    lambda path: path.write_text("no recording"),
    lambda path: replaced(path, t_ns=None),
    lambda path: replaced(path, header=np.zeros(4, np.uint8)),
    lambda path: replaced(path, t_ns=np.array([0, 5, 5, 6, 7])),
    lambda path: replaced(path, t_ns=np.array([1, 5, 6, 7, 8])),
    lambda path: replaced(path, t_ns=np.array([0.0, 5, 6, 7, 8])),
    lambda path: replaced(path, points=np.zeros((33, 2, 4), np.int16)),
    lambda path: replaced(path, points=np.zeros((33, 2, 5), np.float32)),
    lambda path: replaced(path, visibility=np.zeros((32, 5), np.uint8)),
    lambda path: header(path, format="something else"),
    lambda path: header(path, stream={"name": "only a name"}),
    lambda path: header(path, model=None),
    lambda path: header(path, source={"name": 3, "sha256": "x"}),
]


@pytest.mark.parametrize("spoil", SPOILERS)
def test_a_bad_file_is_refused_with_advice(tmp_path: Path, spoil: Callable[[Path], None]) -> None:
    path = write(tmp_path / "made.landmarks.npz")
    spoil(path)
    with pytest.raises(BadInput, match="not a recording of landmarks, or is damaged") as caught:
        RecordedLandmarks(path)
    assert str(path) in caught.value.what
    assert caught.value.advice


def test_a_newer_version_asks_for_a_newer_program(tmp_path: Path) -> None:
    path = write(tmp_path / "made.landmarks.npz")
    header(path, version=2, model={"renamed": True})
    with pytest.raises(BadInput, match="version 2"):
        RecordedLandmarks(path)


def test_a_missing_file_is_explained(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="There is no recording"):
        RecordedLandmarks(tmp_path / "nothing.landmarks.npz")
