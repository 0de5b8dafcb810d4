"""The file of a camera's still background."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from posewatch.core.view_motion import Background
from posewatch.errors import BadInput
from posewatch.store.background_file import read_background, write_background

N = 12


def made(seed: int = 0) -> Background:
    seeded = np.random.default_rng(seed)
    return Background(
        640,
        480,
        seeded.integers(0, 256, (N, 20, 20)).astype(np.uint8),
        seeded.uniform(20, 460, (N, 2)),
        seeded.uniform(0.02, 0.3, N),
    )


def write(path: Path) -> Path:
    write_background(path, made())
    return path


def test_what_was_written_is_read_back_exactly(tmp_path: Path) -> None:
    back, as_made = read_background(write(tmp_path / "studio.background.npz")), made()
    assert (back.width_px, back.height_px) == (640, 480)
    for name in ("patches", "places_px", "sharpness"):
        values, expected = getattr(back, name), getattr(as_made, name)
        assert values.dtype == expected.dtype
        assert np.array_equal(values, expected)


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    one, other = write(tmp_path / "one.npz"), write(tmp_path / "other.npz")
    assert one.read_bytes() == other.read_bytes()
    with zipfile.ZipFile(one) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_an_older_file_of_that_name_is_replaced_whole(tmp_path: Path) -> None:
    path = write(tmp_path / "studio.background.npz")
    write_background(path, made(1))
    assert np.array_equal(read_background(path).patches, made(1).patches)
    assert list(tmp_path.iterdir()) == [path]


def test_an_unwritable_place_is_explained(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="cannot be written"):
        write(tmp_path / "missing" / "studio.background.npz")


@pytest.mark.parametrize(
    "changes",
    [
        {"patches": np.zeros((N, 20, 20))},
        {"patches": np.zeros((N, 17, 17), np.uint8)},
        {"places_px": np.full((N, 2), 700.0)},
        {"sharpness": np.zeros(N)},
        {"sharpness": np.full(N, np.nan)},
        {"sharpness": np.ones(N - 1)},
    ],
)
def test_parts_that_do_not_fit_are_not_written(tmp_path: Path, changes: dict[str, Any]) -> None:
    whole = made()
    parts: dict[str, Any] = {
        "patches": whole.patches,
        "places_px": whole.places_px,
        "sharpness": whole.sharpness,
    }
    with pytest.raises(ValueError, match=r"background|patches"):
        write_background(tmp_path / "a.npz", Background(640, 480, **(parts | changes)))
    assert list(tmp_path.iterdir()) == []


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


def flipped_bits(path: Path) -> None:
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 40] = bytes(255 - value for value in data[middle : middle + 40])
    path.write_bytes(data)


SPOILERS: list[Callable[[Path], object]] = [
    lambda path: path.write_bytes(path.read_bytes()[:-200]),
    flipped_bits,
    lambda path: path.write_bytes(b""),
    lambda path: path.write_text("no background"),
    lambda path: replaced(path, patches=np.array([{"a": 1}], dtype=object)),
    lambda path: replaced(path, patches=None),
    lambda path: replaced(path, patches=np.zeros((N, 20, 20), np.float32)),
    lambda path: replaced(path, patches=np.zeros((0, 20, 20), np.uint8)),
    lambda path: replaced(path, places_px=np.zeros((N, 3))),
    lambda path: replaced(path, places_px=np.full((N, 2), np.nan)),
    lambda path: replaced(path, places_px=np.full((N, 2), 900.0)),
    lambda path: replaced(path, sharpness=np.zeros(N)),
    lambda path: replaced(path, header=np.zeros(4, np.uint8)),
    lambda path: header(path, format="something else"),
    lambda path: header(path, width_px=0),
    lambda path: header(path, height_px="480"),
]


@pytest.mark.parametrize("spoil", SPOILERS)
def test_a_bad_file_is_refused_with_advice(tmp_path: Path, spoil: Callable[[Path], object]) -> None:
    path = write(tmp_path / "studio.background.npz")
    spoil(path)
    with pytest.raises(BadInput, match="not a camera's background, or is damaged") as caught:
        read_background(path)
    assert str(path) in caught.value.what
    assert caught.value.advice


def test_a_newer_version_asks_for_a_newer_program(tmp_path: Path) -> None:
    path = write(tmp_path / "studio.background.npz")
    header(path, version=2, width_px=None)
    with pytest.raises(BadInput, match="version 2"):
        read_background(path)


def test_a_missing_file_is_explained(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="There is no camera background"):
        read_background(tmp_path / "nothing.background.npz")
