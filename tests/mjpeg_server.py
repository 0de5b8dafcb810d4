"""A network camera on this machine: pictures as multipart JPEG over HTTP, with faults at will."""

from __future__ import annotations

import socket
import threading
from collections.abc import Sequence
from enum import Enum, auto
from http.server import BaseHTTPRequestHandler
from itertools import islice
from pathlib import Path
from socketserver import BaseRequestHandler, ThreadingTCPServer
from types import TracebackType
from typing import Self

import numpy as np

from posewatch.camera.clip import Clip
from posewatch.camera.opencv import cv2
from posewatch.core.sources import Picture
from posewatch.runtime import clock

BOUNDARY = "picture"
#: A connection with nothing to do looks so often whether that has changed.
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
        n_sent: pictures sent, broken ones too.
    """

    def __init__(self, pictures: Sequence[Picture], rate_hz: float = 30.0) -> None:
        self.fault = Fault.NONE
        self.rate_hz = rate_hz
        self.n_connections = 0
        self.n_sent = 0
        self._ended = threading.Event()
        self.show(pictures)
        camera = self

        class Connection(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                camera._serve(self)

            def log_message(self, *_: object) -> None:
                pass

        self._server = _Server(("127.0.0.1", 0), Connection)
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}/stream.mjpg"
        self._thread = threading.Thread(
            target=lambda: self._server.serve_forever(LOOK_S), name="mjpeg server"
        )
        self._thread.start()

    def show(self, pictures: Sequence[Picture]) -> None:
        """Stream other pictures from now on, with the next picture."""
        self._jpegs = [_jpeg(rgb) for rgb in pictures]

    def close(self) -> None:
        """End every connection and every thread."""
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
        except OSError:
            return

    def _stream(self, connection: BaseHTTPRequestHandler) -> None:
        noise = np.random.default_rng(1).bytes(4000)
        number, due_ns = 0, clock.monotonic_ns()
        while clock.wait_until(due_ns, self._ended) and self.fault is not Fault.GONE:
            if self.fault is Fault.STALLED:
                due_ns = clock.monotonic_ns() + round(1e9 * LOOK_S)
                continue
            jpegs = self._jpegs
            data = jpegs[number % len(jpegs)]
            if self.fault is Fault.BROKEN:
                data = data[:200] + noise
            connection.wfile.write(
                f"--{BOUNDARY}\r\nContent-Type: image/jpeg\r\n"
                f"Content-Length: {len(data)}\r\n\r\n".encode()
                + data
                + b"\r\n"
            )
            self.n_sent += 1
            number += self.fault is not Fault.FROZEN
            due_ns += round(1e9 / self.rate_hz)


class _Server(ThreadingTCPServer):
    """Joins its connections' threads when it closes."""

    allow_reuse_address = True
    daemon_threads = False

    def process_request(
        self, request: socket.socket | tuple[bytes, socket.socket], client_address: object
    ) -> None:
        if isinstance(request, socket.socket):
            request.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        super().process_request(request, client_address)  # type: ignore[arg-type]


def _jpeg(rgb: Picture) -> bytes:
    there, data = cv2.imencode(".jpg", cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR))
    assert there
    return np.asarray(data).tobytes()


__all__ = ["BaseRequestHandler", "Fault", "MjpegServer", "clip_pictures"]
