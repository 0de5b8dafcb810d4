"""A camera that is open: one of this machine, or a stream from the network.

Opened, read and closed by one thread. A picture's time is taken right after it was grabbed, before
it is decoded or converted.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlsplit

import numpy as np

from posewatch.camera.clip import MAX_SIDE_PX
from posewatch.camera.opencv import cv2
from posewatch.camera.webcams import Webcam, find_webcam, list_webcams
from posewatch.core.sources import Picture, StreamInfo, TimedPicture
from posewatch.errors import BadInput

logger = logging.getLogger(__name__)

#: What an address of a stream begins with.
STREAMS = ("http://", "https://", "rtsp://")
#: A stream that does not answer, or falls silent, is given up after so long.
OPEN_TIMEOUT_S, READ_TIMEOUT_S = 5.0, 4.0


@dataclass(frozen=True, slots=True)
class CameraMode:
    """How a camera is to give its pictures; fourcc: how they travel, empty = not known."""

    width_px: int
    height_px: int
    rate_hz: float
    fourcc: str = "MJPG"


#: What most webcams give at full rate. Uncompressed, this size comes at 10 Hz over USB 2.
USUAL_MODE = CameraMode(1280, 720, 30.0)


class OpenCamera:
    """A ``LiveCamera`` read through OpenCV.

    Attributes:
        info: name; size as read back; the rate is what the driver claims, 0 = it does not.
        wished: the mode asked for, None = whatever comes.
        mode: the mode as read back.
        controls: for locking exposure and the like (:mod:`posewatch.camera.locks`).

    Raises:
        BadInput: its pictures are too large.
    """

    def __init__(
        self,
        capture: cv2.VideoCapture,
        name: str,
        now_ns: Callable[[], int],
        wished: CameraMode | None = None,
    ) -> None:
        self.controls = capture
        self.wished = wished
        self.mode = _read_mode(capture)
        self._now_ns = now_ns
        mode = self.mode
        self.info = StreamInfo(name, mode.width_px, mode.height_px, mode.rate_hz, 0)
        self._require_size(mode.height_px, mode.width_px)

    def differences(self) -> tuple[str, ...]:
        """Return what the camera does otherwise than wished, in words."""
        got, wish = self.mode, self.wished
        if wish is None:
            return ()
        found = []
        if (got.width_px, got.height_px) != (wish.width_px, wish.height_px):
            found.append(
                f"{got.width_px} x {got.height_px} px instead of {wish.width_px} x {wish.height_px}"
            )
        if got.fourcc != wish.fourcc:
            found.append(f"{got.fourcc or 'an unknown coding'} instead of {wish.fourcc}")
        if got.rate_hz and abs(got.rate_hz - wish.rate_hz) > 0.5:
            found.append(f"{got.rate_hz:g} pictures a second instead of {wish.rate_hz:g}")
        return tuple(found)

    def read(self) -> TimedPicture | None:
        """Wait for a picture, stamped after the grab; None = none came, or it was broken.

        Raises:
            BadInput: the camera fails altogether, or its pictures have become too large.
        """
        try:
            grabbed = self.controls.grab()
            t_ns = self._now_ns()
            there, image = self.controls.retrieve() if grabbed else (False, None)
        except cv2.error as error:
            raise BadInput(
                f"{self.info.name} cannot be read any more.", "Plug it in again."
            ) from error
        if not there or image is None:
            return None
        self._require_size(*image.shape[:2])
        return TimedPicture(t_ns, _rgb(image))

    def close(self) -> None:
        """Let the camera go; closing twice is harmless."""
        self.controls.release()

    def _require_size(self, height_px: int, width_px: int) -> None:
        if max(width_px, height_px) > MAX_SIDE_PX:
            self.close()
            raise BadInput(
                f"The pictures of {self.info.name} are {width_px} x {height_px} px; more than "
                f"{MAX_SIDE_PX} px in width or height cannot be stored.",
                "Set the camera to a smaller size, for example 1280 x 720.",
            )


def open_webcam(
    webcam: Webcam, now_ns: Callable[[], int], wished: CameraMode | None = USUAL_MODE
) -> OpenCamera:
    """Open a camera of this machine and ask for a mode; what it made of it is in ``mode``.

    Raises:
        BadInput: it cannot be opened, or gives too large pictures.
    """
    capture = cv2.VideoCapture(webcam.index, webcam.backend)
    if not capture.isOpened():
        capture.release()
        raise BadInput(
            f"The camera {webcam.name} cannot be opened.",
            "Close other programs that use it, allow camera access in the system's settings, or "
            "plug it in again.",
        )
    if wished is not None:
        _ask_for(capture, wished)
    capture.set(cv2.CAP_PROP_BUFFERSIZE, 1)
    camera = OpenCamera(capture, webcam.name, now_ns, wished)
    for difference in camera.differences():
        logger.warning("The camera %s gives %s.", webcam.name, difference)
    return camera


def open_stream(
    address: str,
    now_ns: Callable[[], int],
    open_timeout_s: float = OPEN_TIMEOUT_S,
    read_timeout_s: float = READ_TIMEOUT_S,
) -> OpenCamera:
    """Open a stream by its address: JPEG pictures over HTTP, or RTSP.

    Raises:
        BadInput: nothing answers there in time that can be read, or its pictures are too large.
    """
    params = {
        cv2.CAP_PROP_OPEN_TIMEOUT_MSEC: round(1000 * open_timeout_s),
        cv2.CAP_PROP_READ_TIMEOUT_MSEC: round(1000 * read_timeout_s),
        # Each further thread of a video decoder holds back one picture.
        cv2.CAP_PROP_N_THREADS: 1,
    }
    capture = cv2.VideoCapture(
        address, cv2.CAP_FFMPEG, [number for pair in params.items() for number in pair]
    )
    name = stream_name(address)
    if not capture.isOpened():
        capture.release()
        raise BadInput(
            f"No pictures can be had from {name}.",
            "Check that the camera is on and in this network, and its address; many show it in a "
            "browser.",
        )
    return OpenCamera(capture, name, now_ns)


def live_opener(
    word: str, now_ns: Callable[[], int], wished: CameraMode | None = USUAL_MODE
) -> Callable[[], OpenCamera]:
    """Return what opens the camera that a word means, and the very same one every time.

    Args:
        word: a stream's address, or a webcam's stable id, name or number.
        now_ns: the clock that stamps pictures.
        wished: the mode for a webcam.

    Raises:
        BadInput: there is no such camera; the opener raises what opening raises.
    """
    if is_address(word):
        return lambda: open_stream(word, now_ns)
    # Its number may be another camera's when it comes back.
    remembered = find_webcam(word)

    def open_again() -> OpenCamera:
        there = [one for one in list_webcams() if one.stable_id == remembered.stable_id]
        if not there:
            raise BadInput(
                f"The camera {remembered.name} is not plugged in.",
                f"Plug it in where it was ({remembered.stable_id}).",
            )
        return open_webcam(there[0], now_ns, wished)

    return open_again


def open_live(
    word: str, now_ns: Callable[[], int], wished: CameraMode | None = USUAL_MODE
) -> OpenCamera:
    """Open the camera that a word means; as :func:`live_opener`.

    Raises:
        BadInput: there is no such camera, or it cannot be opened.
    """
    return live_opener(word, now_ns, wished)()


def is_address(word: str) -> bool:
    """Tell whether a word is a stream's address."""
    return word.lower().startswith(STREAMS)


def stream_name(address: str) -> str:
    """Return an address without the user's name and password, and without its query."""
    parts = urlsplit(address)
    return f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}{parts.path}"


def _ask_for(capture: cv2.VideoCapture, wish: CameraMode) -> None:
    """Set a mode: coding, size, rate, in that order, since each limits the next.

    Some drivers take back the coding with the size; the second time it stays.
    """
    for _ in range(2):
        if wish.fourcc:
            capture.set(cv2.CAP_PROP_FOURCC, cv2.VideoWriter.fourcc(*wish.fourcc))
        capture.set(cv2.CAP_PROP_FRAME_WIDTH, wish.width_px)
        capture.set(cv2.CAP_PROP_FRAME_HEIGHT, wish.height_px)
        capture.set(cv2.CAP_PROP_FPS, wish.rate_hz)
        if _read_mode(capture).fourcc == wish.fourcc:
            return


def _read_mode(capture: cv2.VideoCapture) -> CameraMode:
    rate_hz = float(capture.get(cv2.CAP_PROP_FPS))
    return CameraMode(
        int(capture.get(cv2.CAP_PROP_FRAME_WIDTH)),
        int(capture.get(cv2.CAP_PROP_FRAME_HEIGHT)),
        rate_hz if rate_hz > 0 else 0.0,
        _fourcc(int(capture.get(cv2.CAP_PROP_FOURCC))),
    )


def _fourcc(code: int) -> str:
    letters = (max(code, 0)).to_bytes(8, "little")[:4].decode("latin-1")
    return letters if letters.isascii() and letters.isprintable() else ""


def _rgb(image: np.ndarray) -> Picture:
    """Return contiguous RGB of a colour (BGR) or grey picture."""
    grey = image.ndim == 2 or image.shape[2] == 1
    code = cv2.COLOR_GRAY2RGB if grey else cv2.COLOR_BGR2RGB
    return np.ascontiguousarray(cv2.cvtColor(image, code), np.uint8)
