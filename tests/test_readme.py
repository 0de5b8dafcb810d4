"""README says what the program does."""

from __future__ import annotations

from pathlib import Path

from posewatch.ui.keys import KEYS

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_key_is_in_its_table() -> None:
    for key in KEYS:
        keys = " or ".join(f"`{one}`" for one in key.keys)
        assert f"| {keys} | {key.act} |" in README


def test_its_pictures_are_there() -> None:
    for part in README.split("](")[1:]:
        name = part.split(")")[0]
        if name.endswith(".png"):
            assert (ROOT / name).is_file(), name
