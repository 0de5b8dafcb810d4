"""A live camera read on the thread ``capture``, reopened when it was gone, never waited for."""

from __future__ import annotations

import logging
import math
import threading
from collections.abc import Callable, Iterator

from posewatch.core.camera_watch import Glimpse
from posewatch.core.records import NS_PER_S
from posewatch.core.sources import LiveCamera, StreamInfo, TimedPicture
from posewatch.errors import BadInput, PosewatchError
from posewatch.runtime import clock
from posewatch.runtime.capture_thread import NEWEST
from posewatch.runtime.handover import LatestSlot, Worker
from posewatch.runtime.picture_meter import PictureMeter, usual_rate_hz
from posewatch.runtime.read_ahead import LOOK_EVERY_S, GaveUp

logger = logging.getLogger(__name__)

#: The rate is measured over so many pictures and this long at least, or this long.
MEASURED = 45
MEASURE_LEAST_NS, MEASURE_MOST_NS = 1 * NS_PER_S, 2 * NS_PER_S
#: Opening and measuring take no longer, or the camera does not answer.
OPEN_LIMIT_NS = 30 * NS_PER_S
#: Reads may fail for so long before the camera is taken to be gone; its first picture takes longer.
GONE_NS, FIRST_NS = 1 * NS_PER_S, 5 * NS_PER_S
#: A driver may repeat the last picture of a camera that was unplugged; only opening it anew helps.
FROZEN_NS = 5 * NS_PER_S
#: Between failed reads, and before each try to open a camera that is gone.
READ_PAUSE_NS = NS_PER_S // 50
PAUSES_NS = (NS_PER_S // 2, 1 * NS_PER_S, 2 * NS_PER_S, 4 * NS_PER_S, 5 * NS_PER_S)
#: A read that does not return is not waited for longer when closing.
JOIN_S = 2.0


class LivePictures:
    """A ``PictureSource`` of a camera that may go and come back.

    Ready once its rate is measured. Pictures are handed over from the moment the first is asked
    for: the newest win, overtaken ones are counted. Time is the session clock, 0 = the first
    picture handed over; it goes on while the camera is away.

    Attributes:
        info: size and measured rate.
        n_dropped_times: pictures left out because their time did not rise.
        left_behind: whether the thread hung in the camera when this was closed.

    Args:
        open_camera: opens the camera, on the thread, each time it is needed; it stamps pictures
            with ``clock.monotonic_ns``.
        give_up: set while the camera is still being opened, ends the wait.

    Raises:
        PosewatchError: whatever opening raises the first time, or the camera gives no pictures.
        GaveUp: give_up was set.
    """

    def __init__(
        self, open_camera: Callable[[], LiveCamera], give_up: threading.Event | None = None
    ) -> None:
        self.n_dropped_times = 0
        self.left_behind = False
        self._open_camera = open_camera
        self._handover: LatestSlot[TimedPicture] = LatestSlot(NEWEST)
        self._stop = threading.Event()
        self._ready = threading.Event()
        # Guards all below: what the thread writes and others read.
        self._lock = threading.Lock()
        self._meter = PictureMeter()
        self._newest: TimedPicture | None = None
        self._origin_ns: int | None = None
        self._why = ""
        self._retry_ns: int | None = None
        self._n_tries = 0
        self._info: StreamInfo | None = None
        self._worker = Worker("capture", self._run)
        self._worker.start()
        self._wait_ready(give_up)
        if self._info is None:
            self.close()
            raise self._worker.error or RuntimeError("The thread capture ended without a word.")
        self.info: StreamInfo = self._info

    @property
    def n_overwritten(self) -> int:
        """Pictures that a newer one replaced before they could be used."""
        return self._handover.n_overwritten

    def __iter__(self) -> Iterator[TimedPicture]:
        with self._lock:
            if self._origin_ns is None and self._newest is not None:
                self._origin_ns = self._newest.t_ns
                self._handover.put(TimedPicture(0, self._newest.rgb))
        while (picture := self._handover.take()) is not None:
            yield picture
        self._worker.join(JOIN_S)
        if self._worker.error is not None:
            raise self._worker.error

    def now_ns(self) -> int:
        """Return the time on the session clock; before it runs, the newest picture's age."""
        with self._lock:
            return clock.monotonic_ns() - self._zero_ns()

    def glimpse(self) -> Glimpse:
        """Return what is measured up to now; for any thread."""
        with self._lock:
            zero_ns, meter = self._zero_ns(), self._meter
            same_ns = meter.same_since_ns
            return Glimpse(
                0 if self._newest is None else self._newest.t_ns - zero_ns,
                None if same_ns is None else same_ns - zero_ns,
                meter.brightness,
                meter.rate_hz,
                self._why,
                math.nan if self._info is None else self._info.rate_hz,
                None if self._retry_ns is None else self._retry_ns - zero_ns,
            )

    def close(self) -> None:
        """Stop reading and end the thread, unless it hangs; closing twice is harmless."""
        self._stop.set()
        self._handover.close()
        if self.left_behind:
            return
        self._worker.join(JOIN_S)
        self.left_behind = self._worker.is_alive()
        if self.left_behind:
            logger.warning("The camera does not answer; the thread that reads it is left behind.")

    def _zero_ns(self) -> int:
        """Return the session clock's zero; the newest picture's time before it runs."""
        if self._origin_ns is not None:
            return self._origin_ns
        return clock.monotonic_ns() if self._newest is None else self._newest.t_ns

    def _wait_ready(self, give_up: threading.Event | None) -> None:
        until_ns = clock.monotonic_ns() + OPEN_LIMIT_NS
        while not self._ready.wait(LOOK_EVERY_S):
            if give_up is not None and give_up.is_set():
                self._stop.set()
                self._handover.close()
                raise GaveUp
            if clock.monotonic_ns() > until_ns:
                self.close()
                raise BadInput(
                    "The camera does not answer.", "Unplug it, plug it in again, and try again."
                )

    # What follows runs on the thread.

    def _run(self) -> None:
        try:
            camera: LiveCamera | None = self._opened_and_measured()
            self._ready.set()
            while camera is not None:
                why = self._follow(camera)
                camera = self._reopened(why)
        finally:
            self._ready.set()
            self._handover.close()

    def _opened_and_measured(self) -> LiveCamera:
        camera = self._open_camera()
        try:
            self._info = self._measured(camera)
        except BaseException:
            _close(camera)
            raise
        return camera

    def _measured(self, camera: LiveCamera) -> StreamInfo | None:
        """Read the first pictures; None = stopped before it was done."""
        times_ns: list[int] = []
        due_ns = clock.monotonic_ns() + FIRST_NS
        while not self._stop.is_set():
            picture = camera.read()
            now_ns = clock.monotonic_ns()
            if picture is not None and self._take(picture):
                times_ns.append(picture.t_ns)
                due_ns = now_ns + FIRST_NS
                over_ns = times_ns[-1] - times_ns[0]
                enough = len(times_ns) >= MEASURED and over_ns >= MEASURE_LEAST_NS
                if enough or (over_ns >= MEASURE_MOST_NS and len(times_ns) > 1):
                    height_px, width_px = picture.rgb.shape[:2]
                    rate_hz = usual_rate_hz(times_ns)
                    return StreamInfo(camera.info.name, width_px, height_px, rate_hz, 0)
            elif now_ns > due_ns:
                raise BadInput(
                    f"{camera.info.name} gives no pictures.",
                    "Unplug it, plug it in again, and close other programs that use it.",
                )
            elif picture is None:
                clock.wait_until(now_ns + READ_PAUSE_NS, self._stop)
        return None

    def _follow(self, camera: LiveCamera) -> str:
        """Read an open camera until it is gone or this is stopped, and close it; returns why."""
        try:
            good_ns = clock.monotonic_ns()
            while not self._stop.is_set():
                picture = camera.read()
                now_ns = clock.monotonic_ns()
                if picture is None:
                    if now_ns - good_ns > GONE_NS:
                        return "The camera gave no more pictures."
                    clock.wait_until(now_ns + READ_PAUSE_NS, self._stop)
                    continue
                good_ns = now_ns
                wrong = self._other_size(picture.rgb.shape[1], picture.rgb.shape[0])
                if wrong:
                    return wrong
                self._take(picture)
                same_ns = self._meter.same_since_ns
                if same_ns is not None and picture.t_ns - same_ns > FROZEN_NS:
                    return "The camera repeated one picture."
            return ""
        except Exception as error:
            return _words(error)
        finally:
            _close(camera)

    def _reopened(self, why: str) -> LiveCamera | None:
        """Return the camera, open again; None = stopped before it came back."""
        while not self._stop.is_set():
            due_ns = clock.monotonic_ns() + PAUSES_NS[min(self._n_tries, len(PAUSES_NS) - 1)]
            self._n_tries += 1
            self._tell(why, due_ns)
            if not clock.wait_until(due_ns, self._stop):
                return None
            self._tell(why, None)
            try:
                camera = self._open_camera()
            except Exception as error:
                why = _words(error)
                continue
            wrong = self._other_size(camera.info.width_px, camera.info.height_px)
            if not wrong:
                self._meter.begin_anew()
                self._tell("", None)
                return camera
            _close(camera)
            why = wrong
        return None

    def _take(self, picture: TimedPicture) -> bool:
        """Measure a picture and hand it over; False = its time did not rise."""
        with self._lock:
            if self._newest is not None and picture.t_ns <= self._newest.t_ns:
                self.n_dropped_times += 1
                return False
            self._newest = picture
            self._meter.take(picture.t_ns, picture.rgb)
            if self._meter.same_since_ns is None:
                self._n_tries = 0
            if self._origin_ns is not None:
                t_ns = picture.t_ns - self._origin_ns
                self._handover.put(TimedPicture(t_ns, picture.rgb))
            return True

    def _other_size(self, width_px: int, height_px: int) -> str:
        assert self._info is not None
        info = self._info
        if (width_px, height_px) == (info.width_px, info.height_px):
            return ""
        return (
            f"The camera came back with pictures of {width_px} x {height_px} px; they were "
            f"{info.width_px} x {info.height_px} px; set it back to that."
        )

    def _tell(self, why: str, retry_ns: int | None) -> None:
        with self._lock:
            if why != self._why:
                logger.warning(why or "The camera is open again.")
            self._why, self._retry_ns = why, retry_ns


def _words(error: Exception) -> str:
    """Return what happened as a sentence; the rest goes into the log."""
    if isinstance(error, PosewatchError):
        return error.what
    logger.warning("The camera failed.", exc_info=error)
    return f"The camera failed ({type(error).__name__})."


def _close(camera: LiveCamera) -> None:
    try:
        camera.close()
    except Exception:
        logger.warning("The camera could not be closed.", exc_info=True)
