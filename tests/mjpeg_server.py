"""A network camera on this machine: pictures as multipart JPEG over HTTP, with faults at will."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from enum import Enum, auto
from http.server import BaseHTTPRequestHandler
from itertools import islice
from pathlib import Path
from socketserver import ThreadingTCPServer
from types import TracebackType
from typing import Self

import numpy as np

from posewatch.camera.clip import Clip
from posewatch.camera.opencv import cv2
from posewatch.core.sources import Picture
from posewatch.runtime import clock

BOUNDARY = "picture"
#: A connection with nothing to send looks so often whether that has changed.
LOOK_S = 0.005


class Fault(Enum):
    """What the camera does wrong."""

    NONE = auto()
    #: Sends the same picture again and again.
    FROZEN = auto()
    #: Keeps the connection, sends nothing.
    STALLED = auto()
    #: Every picture's JPEG data is noise.
    BROKEN = auto()
    #: Cuts every connection, and answers none.
    GONE = auto()


def clip_pictures(path: Path, n: int) -> list[Picture]:
    """Return the first pictures of a clip."""
    clip = Clip(path)
    try:
        return [timed.rgb for timed in islice(clip, n)]
    finally:
        clip.close()


class MjpegServer:
    """Streams pictures in turn, at a rate, to whoever asks on :attr:`url`.

    Attributes:
        fault, rate_hz: may be changed at any time.
        n_connections: how often somebody asked.
    """

    def __init__(self, pictures: Sequence[Picture], rate_hz: float = 30.0) -> None:
        self.fault = Fault.NONE
        self.rate_hz = rate_hz
        self.n_connections = 0
        self._ended = threading.Event()
        self.show(pictures)
        camera = self

        class Connection(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                camera._serve(self)

            def log_message(self, *_: object) -> None:
                pass

        self._server = ThreadingTCPServer(("127.0.0.1", 0), Connection)
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}/stream.mjpg"
        self._thread = threading.Thread(
            target=lambda: self._server.serve_forever(LOOK_S), name="mjpeg server"
        )
        self._thread.start()

    def show(self, pictures: Sequence[Picture]) -> None:
        """Stream other pictures, from the next one on."""
        self._jpegs = [_jpeg(rgb) for rgb in pictures]

    def close(self) -> None:
        """End every connection, and wait for their threads."""
        self._ended.set()
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _serve(self, connection: BaseHTTPRequestHandler) -> None:
        self.n_connections += 1
        connection.close_connection = True
        if self.fault is Fault.GONE:
            return
        connection.send_response(200)
        content = f"multipart/x-mixed-replace; boundary={BOUNDARY}"
        connection.send_header("Content-Type", content)
        connection.end_headers()
        try:
            self._stream(connection)
        except OSError:  # whoever asked has gone
            return

    def _stream(self, connection: BaseHTTPRequestHandler) -> None:
        noise = np.random.default_rng(1).bytes(4000)
        number, due_ns = 0, clock.monotonic_ns()
        while clock.wait_until(due_ns, self._ended) and self.fault is not Fault.GONE:
            if self.fault is Fault.STALLED:
                due_ns = clock.monotonic_ns() + round(1e9 * LOOK_S)
                continue
            data = self._jpegs[number % len(self._jpegs)]
            if self.fault is Fault.BROKEN:
                data = data[:200] + noise
            head = (
                f"--{BOUNDARY}\r\nContent-Type: image/jpeg\r\nContent-Length: {len(data)}\r\n\r\n"
            )
            connection.wfile.write(head.encode() + data + b"\r\n")
            number += self.fault is not Fault.FROZEN
            due_ns += round(1e9 / self.rate_hz)


def _jpeg(rgb: Picture) -> bytes:
    there, data = cv2.imencode(".jpg", cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR))
    assert there
    return np.asarray(data).tobytes()
