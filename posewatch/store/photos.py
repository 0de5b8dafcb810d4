"""Pictures of mountings, kept beside the record that speaks of them."""

from __future__ import annotations

import hashlib
import os
from itertools import count
from pathlib import Path

from posewatch.errors import BadInput

FOLDER = "photos"
KINDS = (".jpg", ".jpeg", ".png")


def copy_photo(picture: Path, visit: Path, stem: str) -> tuple[str, str]:
    """Copy a picture into a visit's folder; return its name there and the SHA-256 of its bytes.

    The name is made of ``stem`` and a number: that of the original could tell the item.

    Raises:
        BadInput: it is no picture, cannot be read, or there is no room.
    """
    kind = picture.suffix.lower()
    if kind not in KINDS:
        raise BadInput(f"{picture} is no picture.", f"Give one of {', '.join(KINDS)}.")
    folder = visit / FOLDER
    try:
        data = picture.read_bytes()
        folder.mkdir(exist_ok=True)
        path = _write_new(folder, stem, kind, data)
    except OSError as error:
        raise BadInput(
            f"The picture {picture} cannot be kept ({error.strerror or error}).",
            "Check that it can be read, and that the visit's drive has room.",
        ) from error
    return f"{FOLDER}/{path.name}", hashlib.sha256(data).hexdigest()


def photo_damage(visit: Path, file: str, sha256: str) -> str:
    """Return what is wrong with a picture that was kept, empty = nothing."""
    try:
        data = (visit / file).read_bytes()
    except OSError:
        return f"The picture {file} is gone."
    same = hashlib.sha256(data).hexdigest() == sha256
    return "" if same else f"The picture {file} is not as it was kept."


def _write_new(folder: Path, stem: str, kind: str, data: bytes) -> Path:
    """Write a file under the next free name; a failure leaves nothing."""
    for number in count(1):
        path = folder / f"{stem}-{number}{kind}"
        try:
            file = path.open("xb")
        except FileExistsError:
            continue
        try:
            with file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
        except BaseException:
            path.unlink(missing_ok=True)
            raise
        return path
    raise AssertionError("numbers never run out")
