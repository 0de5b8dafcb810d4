"""The windows with nobody before them, for benchmarks: polled here, painted on no display."""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable

from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication

from posewatch.studio import Studio
from posewatch.ui.application import POLL_MS, opened

#: Between looks whether the next poll is due.
ROUND_S = 0.002


def watch_unattended(
    studio: Studio, seconds: float, on_round: Callable[[float], None]
) -> dict[str, float]:
    """Watch what the studio has chosen for so long, in operator's and rider's window.

    on_round: is told the seconds gone, often.

    Returns:
        the median time of a poll's painting, ms, by window.

    Raises:
        BaseException: whatever ended the watch.
    """
    app = QApplication.instance() or QApplication(["posewatch"])
    windows = opened(studio)
    paint_ms: dict[str, list[float]] = {"operator's window": [], "rider's window": []}
    try:
        windows.start(lambda: None, polls=False)
        windows.operator.resize(1920, 1080)
        windows.rider.resize(1920, 1080)
        windows.rider.show()
        app.processEvents()
        begun_s = due_s = time.perf_counter()
        while (now_s := time.perf_counter()) - begun_s < seconds and studio.engine.is_busy:
            if now_s >= due_s:
                due_s = max(due_s + POLL_MS / 1000, now_s)
                windows.poll()
                for name, window in zip(paint_ms, (windows.operator, windows.rider), strict=True):
                    before_s = time.perf_counter()
                    QCoreApplication.sendPostedEvents(window, QEvent.Type.UpdateRequest.value)
                    paint_ms[name].append(1e3 * (time.perf_counter() - before_s))
            app.processEvents()
            on_round(now_s - begun_s)
            time.sleep(ROUND_S)
        if studio.error is not None:
            raise studio.error
    finally:
        windows.end()
    return {name: statistics.median(took) for name, took in paint_ms.items() if took}


def use_no_display() -> None:
    """Let windows be painted without a display; before the first of them is made."""
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
