"""The live loop with windows for a long time: memory that grows, queues that age."""

from __future__ import annotations

import statistics
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from posewatch.bench.rides import SUBJECT, record
from posewatch.bench.tables import Row
from posewatch.bench.windows import Look, watch_in_windows
from posewatch.core.capture import capture
from posewatch.store.settings import Settings

CLIP, REFERENCE = "hoods_steady", "hoods_reference"
LOOK_EVERY_S = 10.0
#: Growth over the second half that is no leak: the larger of these.
GROWTH_SHARE, GROWTH_BYTES = 0.02, 5_000_000
#: A log that is further behind than this many entries, or seconds, at any look is behind.
MOST_WAITING, MOST_COMMIT_AGE_S = 60, 2.0


def measure_endurance(
    settings: Settings, minutes: float, progress: Callable[[float], None]
) -> list[Row]:
    """Return the table of a watch of so many minutes. progress: is told the seconds done.

    Raises:
        PosewatchError: the clips or the model cannot be used.
    """
    recording = record(REFERENCE, None, lambda *_: None)
    target = capture([recording.frames], recording.chain, recording.plane, SUBJECT, REFERENCE)
    with tempfile.TemporaryDirectory() as folder:
        kept_here = settings.model_copy(update={"data_folder": Path(folder)})
        live = watch_in_windows(
            kept_here,
            target,
            CLIP,
            60.0 * minutes,
            LOOK_EVERY_S,
            lambda look: progress(look.t_s),
        )
    return [
        Row(f"live with windows for {minutes:g} min, handled", f"{live.share:.1%}"),
        memory_row(live.looks),
        log_row(live.looks),
        paint_row(live.looks),
    ]


def memory_row(looks: Sequence[Look]) -> Row:
    """Return how the memory grew over the second half: its end against its beginning."""
    half = [look.rss_bytes for look in looks[len(looks) // 2 :]]
    fifth = max(1, len(half) // 5)
    before, after = (statistics.median(part) for part in (half[:fifth], half[-fifth:]))
    allowed = max(GROWTH_SHARE * before, GROWTH_BYTES)
    return Row(
        "memory, growth over the second half",
        f"{(after - before) / 1e6:+.1f} MB of {before / 1e6:.0f}",
        "at most 2 % or 5 MB",
        after - before <= allowed,
    )


def log_row(looks: Sequence[Look]) -> Row:
    """Return how far the log was ever behind."""
    waiting = max(look.health.log_lag for look in looks)
    age_s = max(look.health.log_age_s for look in looks)
    return Row(
        "log behind, at the most",
        f"{waiting} entries, {age_s:.1f} s since a commit",
        f"at most {MOST_WAITING} and {MOST_COMMIT_AGE_S:g} s",
        waiting <= MOST_WAITING and age_s <= MOST_COMMIT_AGE_S,
    )


def paint_row(looks: Sequence[Look]) -> Row:
    """Return how late pictures were shown, in the first and in the last third."""
    third = max(1, len(looks) // 3)
    first, last = (
        statistics.median(look.health.paint.p95_ms for look in part)
        for part in (looks[:third], looks[-third:])
    )
    return Row("grab to paint, p95, first and last third", f"{first:.0f} and {last:.0f} ms")
