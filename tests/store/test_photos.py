"""Pictures of mountings: copied under names that say nothing, whole or not at all."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from posewatch.errors import BadInput
from posewatch.store.photos import copy_photo, photo_damage


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    path = tmp_path / "Zebu-Gel on the rails.JPG"
    path.write_bytes(b"\xff\xd8 a picture \xff\xd9")
    return path


def test_a_picture_is_copied_under_a_name_that_says_nothing(picture: Path, tmp_path: Path) -> None:
    visit = tmp_path / "visit"
    visit.mkdir()
    first, second = (copy_photo(picture, visit, "m02") for _ in range(2))
    assert (first[0], second[0]) == ("photos/m02-1.jpg", "photos/m02-2.jpg")
    assert (visit / first[0]).read_bytes() == picture.read_bytes()
    assert first[1] == hashlib.sha256(picture.read_bytes()).hexdigest()
    assert photo_damage(visit, *first) == ""


def test_one_that_was_changed_or_is_gone_is_told(picture: Path, tmp_path: Path) -> None:
    kept = copy_photo(picture, tmp_path, "m01")
    (tmp_path / kept[0]).write_bytes(b"another")
    assert photo_damage(tmp_path, *kept) == "The picture photos/m01-1.jpg is not as it was kept."
    (tmp_path / kept[0]).unlink()
    assert photo_damage(tmp_path, *kept) == "The picture photos/m01-1.jpg is gone."


@pytest.mark.parametrize(
    ("name", "said"), [("notes.txt", "is no picture"), ("gone.png", "cannot be kept")]
)
def test_what_cannot_be_kept_is_refused_and_leaves_nothing(
    tmp_path: Path, name: str, said: str
) -> None:
    (tmp_path / "notes.txt").write_text("none")
    with pytest.raises(BadInput, match=said):
        copy_photo(tmp_path / name, tmp_path, "m01")
    assert not (tmp_path / "photos").exists()
