"""Small video clips made on the spot."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray


def picture(number: int, width: int, height: int) -> NDArray[np.uint8]:
    """RGB: the top left quarter is red, the rest grey of a shade that tells the number."""
    rgb = np.full((height, width, 3), 40 + 20 * (number % 10), np.uint8)
    rgb[: height // 2, : width // 2] = (220, 20, 20)
    return rgb


def turn_display_matrix(path: Path, degrees: int) -> None:
    """Write a rotation into the track header, as phones do.

    ISO/IEC 14496-12, 8.3.2: the matrix (a b u c d v x y w, 16.16 fixed point, w 2.30) follows 40
    bytes after the type of a version 0 tkhd box: 4 version and flags, 20 times, number and
    length, 8 reserved, 8 layer to reserved.
    """
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 4 + 4 + 20 + 8 + 8
    a, b, c, d = {90: (0, 1, -1, 0), 180: (-1, 0, 0, -1)}[degrees]
    one = 1 << 16
    struct.pack_into(">9i", data, at, a * one, b * one, 0, c * one, d * one, 0, 0, 0, 1 << 30)
    path.write_bytes(data)


def write_clip(
    path: Path,
    times_ms: Sequence[int],
    size: tuple[int, int] = (64, 48),
    options: dict[str, str] | None = None,
    container_options: dict[str, str] | None = None,
    still: bool = False,
) -> Path:
    """Write an H.264 clip with these presentation times; the file name tells the container.

    options: of the encoder, None = no pictures stored out of order. still: every picture is the
    first one.
    """
    with av.open(path, "w", container_options=container_options or {}) as container:
        stream = container.add_stream("libx264", rate=30, options=options or {"bf": "0"})
        stream.width, stream.height = size
        stream.pix_fmt = "yuv420p"
        stream.codec_context.time_base = Fraction(1, 1000)
        for number, t_ms in enumerate(times_ms):
            frame = av.VideoFrame.from_ndarray(picture(0 if still else number, *size))
            frame.pts = t_ms
            frame.time_base = stream.codec_context.time_base
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    return path
