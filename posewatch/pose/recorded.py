"""Recorded landmarks: what a pose model found in a stream of pictures, kept in one file.

The file (``*.landmarks.npz``) is a NumPy archive without pickled objects:

==========  ==================  =========================================================
name        type, shape         meaning
==========  ==================  =========================================================
header      uint8 (bytes,)      JSON, UTF-8: format, version, stream, model, source
t_ns        int64 (n,)          time of each picture, rising, the first is 0
points      int16 (33, 2, n)    sixteenths of a pixel; -32768 = nobody found
visibility  uint8 (33, n)       255 = 1
presence    uint8 (33, n)       255 = 1
==========  ==================  =========================================================

points, visibility and presence are differences along time, which pack better: the running sum,
in the same type with wrap-around, gives the values back exactly.
"""

from __future__ import annotations

import io
import os
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from posewatch.core.landmark_codec import StoredLandmarks, decode
from posewatch.core.records import N_LANDMARKS, Frame
from posewatch.core.sources import PoseModelInfo, StreamInfo
from posewatch.errors import BadInput

SUFFIX = ".landmarks.npz"
FORMAT: Final = "posewatch landmarks"
VERSION = 1

#: Type and shape of one picture's values.
_SHAPES: dict[str, tuple[type[np.integer[Any]], tuple[int, ...]]] = {
    "points": (np.int16, (N_LANDMARKS, 2)),
    "visibility": (np.uint8, (N_LANDMARKS,)),
    "presence": (np.uint8, (N_LANDMARKS,)),
}


@dataclass(frozen=True, slots=True)
class RecordedFrom:
    """The clip that was recorded from: its file name and SHA-256 (empty = not a file)."""

    name: str
    sha256: str


class _Format(BaseModel, strict=True):
    format: Literal["posewatch landmarks"]
    version: int


class _Header(_Format):
    stream: StreamInfo
    model: PoseModelInfo
    source: RecordedFrom


#: What reading a file that is no recording may end in: no zip, no NumPy array, no such entry,
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


def write_recording(
    path: Path,
    info: StreamInfo,
    model: PoseModelInfo,
    source: RecordedFrom,
    t_ns: Sequence[int],
    landmarks: Sequence[StoredLandmarks],
) -> None:
    """Write a recording: the whole file or none. The same input gives the same bytes.

    Args:
        path: the file to write; one of that name is replaced.
        info: what the source says of its pictures.
        model: which model found the landmarks.
        source: what was recorded from.
        t_ns: (n,) times in ns, rising, the first 0; at least one.
        landmarks: (n,) what was found at each time.

    Raises:
        ValueError: times do not fit the landmarks, do not begin at 0 or do not rise.
        BadInput: the file cannot be written.
    """
    times = np.array(t_ns, np.int64)
    _require_rising(times)
    if len(times) != len(landmarks):
        raise ValueError("There must be one time for each picture.")
    header = _Header(format=FORMAT, version=VERSION, stream=info, model=model, source=source)
    arrays: dict[str, NDArray[Any]] = {
        "header": np.frombuffer(header.model_dump_json().encode(), np.uint8),
        "t_ns": times,
    }
    for name in _SHAPES:
        values = np.stack([getattr(found, name) for found in landmarks], axis=-1)
        arrays[name] = np.diff(values, axis=-1, prepend=np.zeros_like(values[..., :1]))
    packed = io.BytesIO()
    np.savez_compressed(packed, allow_pickle=False, **arrays)
    unfinished = path.with_name(f"{path.name}.unfinished")
    try:
        unfinished.write_bytes(packed.getvalue())
        os.replace(unfinished, path)
    except OSError as cause:
        unfinished.unlink(missing_ok=True)
        raise BadInput(
            f"The recording {path} cannot be written ({cause.strerror}).",
            "Choose a folder that exists, may be written to and has space left.",
        ) from cause


class RecordedLandmarks:
    """A recording read back; a ``FrameSource`` that can be gone through again and again.

    Attributes:
        source: the clip it was recorded from.

    Raises:
        BadInput: the file is missing, damaged, or of a newer version.
    """

    def __init__(self, path: Path) -> None:
        if not path.is_file():
            raise BadInput(f"There is no recording {path}.", f"Give the path of a *{SUFFIX} file.")
        try:
            # Given a path, np.load leaves a damaged file open (seen with NumPy 2.4.6).
            with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as archive:
                text = archive["header"].tobytes()
                version = _Format.model_validate_json(text).version
                if version > VERSION:
                    raise BadInput(
                        f"The recording {path} has version {version}; this program reads up to"
                        f" version {VERSION}.",
                        "Read it with a newer posewatch.",
                    )
                header = _Header.model_validate_json(text)
                self._t_ns = archive["t_ns"]
                _require_rising(self._t_ns)
                self._points, self._visibility, self._presence = (
                    _undo_differences(archive[name], name, len(self._t_ns)) for name in _SHAPES
                )
        except _UNREADABLE as cause:
            raise BadInput(
                f"{path} is not a recording of landmarks, or is damaged.",
                "Record the landmarks again, or fetch the file again from where it came.",
            ) from cause
        self.info = header.stream
        self.model = header.model
        self.source = header.source
        self._closed = False

    def __len__(self) -> int:
        return len(self._t_ns)

    def __iter__(self) -> Iterator[Frame]:
        for i, t_ns in enumerate(self._t_ns):
            if self._closed:
                raise RuntimeError("The recording is closed.")
            yield decode(
                int(t_ns),
                StoredLandmarks(self._points[i], self._visibility[i], self._presence[i]),
            )

    def close(self) -> None:
        """End the reading; closing twice is harmless."""
        self._closed = True


def _require_rising(t_ns: NDArray[Any]) -> None:
    if t_ns.dtype != np.int64 or t_ns.ndim != 1 or not len(t_ns):
        raise ValueError("Times must be one row of whole nanoseconds.")
    if t_ns[0] != 0 or np.any(np.diff(t_ns) <= 0):
        raise ValueError("Times must begin at 0 and rise.")


def _undo_differences(differences: NDArray[Any], name: str, n_frames: int) -> NDArray[Any]:
    """Return values with time first, or raise ValueError if type or shape are not as written."""
    dtype, shape = _SHAPES[name]
    if differences.dtype != dtype or differences.shape != (*shape, n_frames):
        raise ValueError(f"{name} has another type or shape")
    values = np.cumsum(differences, axis=-1, dtype=dtype)
    return np.ascontiguousarray(np.moveaxis(values, -1, 0))
