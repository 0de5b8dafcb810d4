"""The file of a camera's still background, kept at set-up.

The file (``*.background.npz``) is a NumPy archive without pickled objects:

==========  ====================  =========================================================
name        type, shape           meaning
==========  ====================  =========================================================
header      uint8 (bytes,)        JSON, UTF-8: format, version, width_px, height_px
patches     uint8 (n, 20, 20)     grey squares around corners; of a picture wider or higher
                                  than 640 px, of it reduced to 640 px
places_px   float64 (n, 2)        their middles in the picture; x right, y down, (0, 0) at
                                  the outer corner of the top left pixel
sharpness   float64 (n,)          the share of fine detail in each one's contrast
==========  ====================  =========================================================

Whole pictures are never kept.
"""

from __future__ import annotations

import io
import os
import zipfile
import zlib
from pathlib import Path
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, PositiveInt

from posewatch.core.view_motion import Background
from posewatch.errors import BadInput

SUFFIX = ".background.npz"
FORMAT: Final = "posewatch background"
VERSION = 1
SIDE_PX = 20


class _Format(BaseModel, strict=True):
    format: Literal["posewatch background"]
    version: int


class _Header(_Format):
    width_px: PositiveInt
    height_px: PositiveInt


#: What reading a file that is no background may end in: no zip, no NumPy array, no such entry,
#: another type or shape, a header that does not say what it must, damaged packing.
_UNREADABLE = (
    OSError,
    EOFError,
    KeyError,
    NotImplementedError,
    TypeError,
    ValueError,
    zipfile.BadZipFile,
    zlib.error,
)


def write_background(path: Path, background: Background) -> None:
    """Write a background: the whole file or none. The same input gives the same bytes.

    Args:
        path: the file to write; one of that name is replaced.
        background: what to keep.

    Raises:
        ValueError: the background's parts do not fit each other.
        BadInput: the file cannot be written.
    """
    _require_fitting(background)
    header = _Header(
        format=FORMAT,
        version=VERSION,
        width_px=background.width_px,
        height_px=background.height_px,
    )
    packed = io.BytesIO()
    np.savez_compressed(
        packed,
        allow_pickle=False,
        header=np.frombuffer(header.model_dump_json().encode(), np.uint8),
        patches=background.patches,
        places_px=background.places_px,
        sharpness=background.sharpness,
    )
    unfinished = path.with_name(f"{path.name}.unfinished")
    try:
        unfinished.write_bytes(packed.getvalue())
        os.replace(unfinished, path)
    except OSError as cause:
        unfinished.unlink(missing_ok=True)
        raise BadInput(
            f"The camera's background {path} cannot be written ({cause.strerror}).",
            "Choose a folder that exists, may be written to and has space left.",
        ) from cause


def read_background(path: Path) -> Background:
    """Read a background back exactly as it was written.

    Raises:
        BadInput: the file is missing, damaged, or of a newer version.
    """
    if not path.is_file():
        raise BadInput(
            f"There is no camera background {path}.", f"Give the path of a *{SUFFIX} file."
        )
    try:
        # Given a path, np.load leaves a damaged file open (seen with NumPy 2.4.6).
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as archive:
            text = archive["header"].tobytes()
            version = _Format.model_validate_json(text).version
            if version > VERSION:
                raise BadInput(
                    f"The camera's background {path} has version {version}; this program reads up"
                    f" to version {VERSION}.",
                    "Read it with a newer posewatch, or set the camera up again.",
                )
            header = _Header.model_validate_json(text)
            background = Background(
                header.width_px,
                header.height_px,
                archive["patches"],
                archive["places_px"],
                archive["sharpness"],
            )
            _require_fitting(background)
    except _UNREADABLE as cause:
        raise BadInput(
            f"{path} is not a camera's background, or is damaged.", "Set the camera up again."
        ) from cause
    return background


def _require_fitting(background: Background) -> None:
    n = len(background.patches)
    _require(background.patches, np.uint8, (n, SIDE_PX, SIDE_PX))
    _require(background.places_px, np.float64, (n, 2))
    _require(background.sharpness, np.float64, (n,))
    size = np.array([background.width_px, background.height_px])
    inside = (background.places_px >= 0) & (background.places_px <= size)
    if not n or not inside.all() or not (background.sharpness > 0).all():
        raise ValueError("There must be patches, inside the picture and with detail.")


def _require(values: NDArray[np.generic], dtype: type[np.generic], shape: tuple[int, ...]) -> None:
    if values.dtype != dtype or values.shape != shape:
        raise ValueError("A part of the background has another type or shape.")
